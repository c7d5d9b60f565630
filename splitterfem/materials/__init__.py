"""Sheet goods, bars, sections of ribs, and laminate theory."""

from __future__ import annotations

from splitterfem.materials.bar import BarMaterial
from splitterfem.materials.laminate import (
    laminate,
    ply_shear_stresses,
    ply_stresses,
    shear_stiffness,
)
from splitterfem.materials.layup import Layup, Sheet
from splitterfem.materials.lookup import CURRENCY, bar, bar_names, has_catalogue_price, sheet, sheet_names
from splitterfem.materials.ply import Ply
from splitterfem.materials.ply_materials import VENEER, ply_material, ply_material_names
from splitterfem.materials.ply_strength import strength_by_plies
from splitterfem.materials.section_properties import Cell, FootStrip, SectionProperties, WebLine
from splitterfem.materials.sections import (
    AngleSection,
    ChannelSection,
    FlatSection,
    HatSection,
    PolygonSection,
    RoundTubeSection,
    Section,
    TeeSection,
    TubeSection,
)
from splitterfem.materials.sheet import Moduli, SheetMaterial, SheetStrength
from splitterfem.materials.stiffness import PlateStiffness
from splitterfem.materials.veneer import Veneers, veneer_layup

__all__ = [
    "CURRENCY",
    "VENEER",
    "AngleSection",
    "BarMaterial",
    "Cell",
    "ChannelSection",
    "FlatSection",
    "FootStrip",
    "HatSection",
    "Layup",
    "Moduli",
    "PlateStiffness",
    "Ply",
    "PolygonSection",
    "RoundTubeSection",
    "Section",
    "SectionProperties",
    "Sheet",
    "SheetMaterial",
    "SheetStrength",
    "TeeSection",
    "TubeSection",
    "Veneers",
    "WebLine",
    "bar",
    "bar_names",
    "has_catalogue_price",
    "laminate",
    "ply_material",
    "ply_material_names",
    "ply_shear_stresses",
    "ply_stresses",
    "shear_stiffness",
    "sheet",
    "sheet_names",
    "strength_by_plies",
    "veneer_layup",
]
