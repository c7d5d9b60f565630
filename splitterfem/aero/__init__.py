"""Air, and the net pressure over the panel."""

from __future__ import annotations

from splitterfem.aero.air import Air, air_density, dynamic_pressure, standard_air
from splitterfem.aero.pressure_map import FunctionMap, PressureField, TapMap, UniformMap
from splitterfem.aero.resultant import Resultant, resultant
from splitterfem.aero.taps import Taps, read_taps

__all__ = [
    "Air",
    "FunctionMap",
    "PressureField",
    "Resultant",
    "TapMap",
    "Taps",
    "UniformMap",
    "air_density",
    "dynamic_pressure",
    "read_taps",
    "resultant",
    "standard_air",
]
