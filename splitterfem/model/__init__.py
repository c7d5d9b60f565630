"""The one place where a design becomes operators on a mesh."""

from __future__ import annotations

from splitterfem.model.airload import AirLoad
from splitterfem.model.assembly import Model, build
from splitterfem.model.clearance import clearance_datum
from splitterfem.model.feedback import SagFollower, sag_follower
from splitterfem.model.loads import CaseLoad, case_load, following
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
    "SagFollower",
    "build",
    "case_load",
    "clearance_datum",
    "following",
    "mesh_design",
    "pad_polygon",
    "sag_follower",
    "written_out",
]
