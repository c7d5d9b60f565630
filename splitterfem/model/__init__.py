"""The one place where a design becomes operators on a mesh."""

from __future__ import annotations

from splitterfem.model.airload import AirLoad
from splitterfem.model.assembly import Model, build
from splitterfem.model.clearance import clearance_datum
from splitterfem.model.loads import CaseLoad, case_load
from splitterfem.model.meshsize import mesh_design
from splitterfem.model.pads import pad_polygon, written_out
from splitterfem.model.ribs import ModelRib
from splitterfem.model.supports import ModelSupport

__all__ = [
    "AirLoad",
    "CaseLoad",
    "Model",
    "ModelRib",
    "ModelSupport",
    "build",
    "case_load",
    "clearance_datum",
    "mesh_design",
    "pad_polygon",
    "written_out",
]
