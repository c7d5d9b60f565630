"""Finite elements for one-off race-car front splitters: sag, clearance, forces, report.

Everything public is listed in ``__all__`` and loaded on first use, so that the import stays quick.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

from splitterfem.version import __version__ as __version__

_HOME = {
    "splitterfem.api": (
        "Solution",
        "bill_of_materials",
        "build",
        "demo",
        "envelope",
        "lose_one",
        "plot_design",
        "report",
        "solve",
    ),
    "splitterfem.design": (
        "Bolt",
        "Car",
        "CutOut",
        "Envelope",
        "LoadCase",
        "MeshSettings",
        "Outline",
        "Pad",
        "Panel",
        "PatchForce",
        "Pin",
        "PointForce",
        "RearPocket",
        "Rib",
        "Sheet",
        "Splitter",
        "Strut",
        "json_schema",
        "load",
        "save",
    ),
    "splitterfem.errors": (
        "DesignError",
        "FileError",
        "MechanismError",
        "MeshError",
        "MissingExtraError",
        "SolveError",
        "SplitterError",
        "UnitError",
    ),
}

_WHERE = {name: module for module, names in _HOME.items() for name in names}

if TYPE_CHECKING:
    from splitterfem.api import (
        Solution,
        bill_of_materials,
        build,
        demo,
        envelope,
        lose_one,
        plot_design,
        report,
        solve,
    )
    from splitterfem.design import (
        Bolt,
        Car,
        CutOut,
        Envelope,
        LoadCase,
        MeshSettings,
        Outline,
        Pad,
        Panel,
        PatchForce,
        Pin,
        PointForce,
        RearPocket,
        Rib,
        Sheet,
        Splitter,
        Strut,
        json_schema,
        load,
        save,
    )
    from splitterfem.errors import (
        DesignError,
        FileError,
        MechanismError,
        MeshError,
        MissingExtraError,
        SolveError,
        SplitterError,
        UnitError,
    )

__all__ = [
    "Bolt",
    "Car",
    "CutOut",
    "DesignError",
    "Envelope",
    "FileError",
    "LoadCase",
    "MechanismError",
    "MeshError",
    "MeshSettings",
    "MissingExtraError",
    "Outline",
    "Pad",
    "Panel",
    "PatchForce",
    "Pin",
    "PointForce",
    "RearPocket",
    "Rib",
    "Sheet",
    "Solution",
    "SolveError",
    "Splitter",
    "SplitterError",
    "Strut",
    "UnitError",
    "bill_of_materials",
    "build",
    "demo",
    "envelope",
    "json_schema",
    "load",
    "lose_one",
    "plot_design",
    "report",
    "save",
    "solve",
]


def __getattr__(name: str) -> Any:
    """Load a public name from its module on first use."""
    if name not in _WHERE:
        from splitterfem.errors import nearest

        raise AttributeError(f"splitterfem has no '{name}'; {nearest(name, __all__)}")
    value = getattr(importlib.import_module(_WHERE[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    """Public names."""
    return [*__all__, "__version__"]
