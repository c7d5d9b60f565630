"""Sheet goods, bars, sections of ribs, and laminate theory."""

from __future__ import annotations

from splitterfem.materials.bar import BarMaterial
from splitterfem.materials.laminate import (
    Layup,
    Ply,
    Sheet,
    laminate,
    ply_shear_stresses,
    ply_stresses,
    shear_stiffness,
)
from splitterfem.materials.lookup import bar, bar_names, sheet, sheet_names
from splitterfem.materials.section_properties import SectionProperties, WebLine
from splitterfem.materials.sections import AngleSection, FlatSection, Section, TubeSection
from splitterfem.materials.sheet import Moduli, SheetMaterial, SheetStrength
from splitterfem.materials.stiffness import PlateStiffness
from splitterfem.materials.veneer import veneer_layup

__all__ = [
    "AngleSection",
    "BarMaterial",
    "FlatSection",
    "Layup",
    "Moduli",
    "PlateStiffness",
    "Ply",
    "Section",
    "SectionProperties",
    "Sheet",
    "SheetMaterial",
    "SheetStrength",
    "TubeSection",
    "WebLine",
    "bar",
    "bar_names",
    "laminate",
    "ply_shear_stresses",
    "ply_stresses",
    "shear_stiffness",
    "sheet",
    "sheet_names",
    "veneer_layup",
]
