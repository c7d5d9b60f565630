"""Air, and the net pressure over the panel."""

from __future__ import annotations

from splitterfem.aero.air import Air, air_density, dynamic_pressure, standard_air
from splitterfem.aero.combined import FacesMap, WeightedMap
from splitterfem.aero.gap_flags import GapFlags
from splitterfem.aero.gap_flow import StripFlow, lower_cp, strip_flow
from splitterfem.aero.gap_grid import StripGrid, Tunnel
from splitterfem.aero.gap_law import GAP_CAUTIONS, Band, GapLaw, gap_laws
from splitterfem.aero.gap_map import GapMap, gap_maps
from splitterfem.aero.gap_nose import NoseZone, UpperSide, nose_zones
from splitterfem.aero.gap_relief import displacement_thickness, rectangle_relief, relief_profile
from splitterfem.aero.grid import Grid, read_grid
from splitterfem.aero.grid_map import GridMap
from splitterfem.aero.mesh_file import Surface, read_surface
from splitterfem.aero.mesh_map import MeshMap
from splitterfem.aero.pressure_map import FunctionMap, PressureField, SourceField, UniformMap
from splitterfem.aero.resultant import Resultant, resultant
from splitterfem.aero.surface import surface_map
from splitterfem.aero.tap_map import TapMap
from splitterfem.aero.taps import Taps, read_taps

__all__ = [
    "GAP_CAUTIONS",
    "Air",
    "Band",
    "FacesMap",
    "FunctionMap",
    "GapFlags",
    "GapLaw",
    "GapMap",
    "Grid",
    "GridMap",
    "MeshMap",
    "NoseZone",
    "PressureField",
    "Resultant",
    "SourceField",
    "StripFlow",
    "StripGrid",
    "Surface",
    "TapMap",
    "Taps",
    "Tunnel",
    "UniformMap",
    "UpperSide",
    "WeightedMap",
    "air_density",
    "displacement_thickness",
    "dynamic_pressure",
    "gap_laws",
    "gap_maps",
    "lower_cp",
    "nose_zones",
    "read_grid",
    "read_surface",
    "read_taps",
    "rectangle_relief",
    "relief_profile",
    "resultant",
    "standard_air",
    "strip_flow",
    "surface_map",
]
