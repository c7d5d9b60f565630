"""What is built and what is asked of it: plain validated data and its file format; no numerics.

Every record is frozen and compared by value. A field takes an SI number, a text with a unit, or a pint
quantity. What does not fit is refused with a `DesignError` that has a line for each fault.
"""

from __future__ import annotations

from splitterfem.design._finding import Finding
from splitterfem.design._inches import places_in_both
from splitterfem.design.behaviour import AddedMass, SpeedSweep, Vibration
from splitterfem.design.bodywork import Bodywork
from splitterfem.design.cases import (
    AppliedForce,
    Car,
    CasePart,
    LoadCase,
    MeshSettings,
    PatchForce,
    PointForce,
)
from splitterfem.design.check import check
from splitterfem.design.crossing import pieces
from splitterfem.design.cutout import CutOut
from splitterfem.design.doublers import Doubler
from splitterfem.design.drawing import Drawing, read_dxf, read_offsets
from splitterfem.design.drawing_record import PanelDrawing
from splitterfem.design.envelope import (
    CaseClearance,
    ClearanceLimits,
    CornerRadius,
    DeflectionLimit,
    EdgeRadius,
    Envelope,
    ForwardLimit,
    WidthLimit,
)
from splitterfem.design.file import dumps, json_schema, load, save
from splitterfem.design.gap import GapLawMap, Nose, PressureMap
from splitterfem.design.handling import (
    Gravel,
    Handling,
    KerbStrike,
    Lifting,
    PushTest,
    Shaking,
    Standing,
)
from splitterfem.design.joints import Adhesive, Bond, Fasteners, Joint
from splitterfem.design.outline import Circle, Edge, Outline, Rectangle
from splitterfem.design.pad import Pad
from splitterfem.design.panel import Panel, Sheet
from splitterfem.design.parts import Part, Rib
from splitterfem.design.pressure import FunctionMap, GridMap, MeshMap, TapMap, UniformMap
from splitterfem.design.settings import StrengthSettings
from splitterfem.design.splitter import Splitter
from splitterfem.design.stop import Stop
from splitterfem.design.strut import Strut
from splitterfem.design.supports import Bolt, Pin, RearPocket
from splitterfem.design.tunnel import Tunnel
from splitterfem.design.usual_cases import usual_handling
from splitterfem.design.weather import Weather

__all__ = [
    "AddedMass",
    "Adhesive",
    "AppliedForce",
    "Bodywork",
    "Bolt",
    "Bond",
    "Car",
    "CaseClearance",
    "CasePart",
    "Circle",
    "ClearanceLimits",
    "CornerRadius",
    "CutOut",
    "DeflectionLimit",
    "Doubler",
    "Drawing",
    "Edge",
    "EdgeRadius",
    "Envelope",
    "Fasteners",
    "Finding",
    "ForwardLimit",
    "FunctionMap",
    "GapLawMap",
    "Gravel",
    "GridMap",
    "Handling",
    "Joint",
    "KerbStrike",
    "Lifting",
    "LoadCase",
    "MeshMap",
    "MeshSettings",
    "Nose",
    "Outline",
    "Pad",
    "Panel",
    "PanelDrawing",
    "Part",
    "PatchForce",
    "Pin",
    "PointForce",
    "PressureMap",
    "PushTest",
    "RearPocket",
    "Rectangle",
    "Rib",
    "Shaking",
    "Sheet",
    "SpeedSweep",
    "Splitter",
    "Standing",
    "Stop",
    "StrengthSettings",
    "Strut",
    "TapMap",
    "Tunnel",
    "UniformMap",
    "Vibration",
    "Weather",
    "WidthLimit",
    "check",
    "dumps",
    "json_schema",
    "load",
    "pieces",
    "places_in_both",
    "read_dxf",
    "read_offsets",
    "save",
    "usual_handling",
]
