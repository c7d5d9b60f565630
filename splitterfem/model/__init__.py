"""The one place where a design becomes operators on a mesh."""

from __future__ import annotations

from splitterfem.model.assembly import Model, ModelRib, ModelSupport, build, mesh_design, pad_polygon
from splitterfem.model.loads import AirLoad, CaseLoad, case_load, clearance_datum

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
]
