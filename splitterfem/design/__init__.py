"""What is built and what is asked of it: plain validated data and its file format; no numerics.

Every record is frozen and compared by value. A field takes an SI number, a text with a unit, or a pint
quantity. What does not fit is refused with a `DesignError` that has a line for each fault.
"""

from __future__ import annotations

from splitterfem.design._finding import Finding
from splitterfem.design.cases import AppliedForce, Car, LoadCase, MeshSettings, PatchForce, PointForce
from splitterfem.design.check import check
from splitterfem.design.crossing import pieces
from splitterfem.design.doublers import Doubler
from splitterfem.design.file import dumps, json_schema, load, save
from splitterfem.design.joints import Adhesive, Bond, Fasteners, Joint
from splitterfem.design.outline import Circle, Edge, Outline, Rectangle
from splitterfem.design.pad import Pad
from splitterfem.design.panel import CutOut, Panel, Sheet
from splitterfem.design.parts import Part, Rib
from splitterfem.design.pressure import FunctionMap, PressureMap, TapMap, UniformMap
from splitterfem.design.settings import StrengthSettings
from splitterfem.design.splitter import Splitter
from splitterfem.design.strut import Strut
from splitterfem.design.supports import Bolt, Pin, RearPocket

__all__ = [
    "Adhesive",
    "AppliedForce",
    "Bolt",
    "Bond",
    "Car",
    "Circle",
    "CutOut",
    "Doubler",
    "Edge",
    "Fasteners",
    "Finding",
    "FunctionMap",
    "Joint",
    "LoadCase",
    "MeshSettings",
    "Outline",
    "Pad",
    "Panel",
    "Part",
    "PatchForce",
    "Pin",
    "PointForce",
    "PressureMap",
    "RearPocket",
    "Rectangle",
    "Rib",
    "Sheet",
    "Splitter",
    "StrengthSettings",
    "Strut",
    "TapMap",
    "UniformMap",
    "check",
    "dumps",
    "json_schema",
    "load",
    "pieces",
    "save",
]
