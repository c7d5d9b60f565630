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
        "plot_envelope",
        "report",
        "solve",
        "worst_of_cases",
    ),
    "splitterfem.design": (
        "Bodywork",
        "Bolt",
        "Car",
        "CutOut",
        "Doubler",
        "Envelope",
        "FunctionMap",
        "GapLawMap",
        "Gravel",
        "GridMap",
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
        "PatchForce",
        "Pin",
        "PointForce",
        "PushTest",
        "RearPocket",
        "Rib",
        "Shaking",
        "Sheet",
        "Splitter",
        "Standing",
        "StrengthSettings",
        "Strut",
        "TapMap",
        "Tunnel",
        "UniformMap",
        "Weather",
        "json_schema",
        "load",
        "read_dxf",
        "read_offsets",
        "save",
        "usual_handling",
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
        plot_envelope,
        report,
        solve,
        worst_of_cases,
    )
    from splitterfem.design import (
        Bodywork,
        Bolt,
        Car,
        CutOut,
        Doubler,
        Envelope,
        FunctionMap,
        GapLawMap,
        Gravel,
        GridMap,
        KerbStrike,
        Lifting,
        LoadCase,
        MeshMap,
        MeshSettings,
        Nose,
        Outline,
        Pad,
        Panel,
        PanelDrawing,
        PatchForce,
        Pin,
        PointForce,
        PushTest,
        RearPocket,
        Rib,
        Shaking,
        Sheet,
        Splitter,
        Standing,
        StrengthSettings,
        Strut,
        TapMap,
        Tunnel,
        UniformMap,
        Weather,
        json_schema,
        load,
        read_dxf,
        read_offsets,
        save,
        usual_handling,
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
    "Bodywork",
    "Bolt",
    "Car",
    "CutOut",
    "DesignError",
    "Doubler",
    "Envelope",
    "FileError",
    "FunctionMap",
    "GapLawMap",
    "Gravel",
    "GridMap",
    "KerbStrike",
    "Lifting",
    "LoadCase",
    "MechanismError",
    "MeshError",
    "MeshMap",
    "MeshSettings",
    "MissingExtraError",
    "Nose",
    "Outline",
    "Pad",
    "Panel",
    "PanelDrawing",
    "PatchForce",
    "Pin",
    "PointForce",
    "PushTest",
    "RearPocket",
    "Rib",
    "Shaking",
    "Sheet",
    "Solution",
    "SolveError",
    "Splitter",
    "SplitterError",
    "Standing",
    "StrengthSettings",
    "Strut",
    "TapMap",
    "Tunnel",
    "UniformMap",
    "UnitError",
    "Weather",
    "bill_of_materials",
    "build",
    "demo",
    "envelope",
    "json_schema",
    "load",
    "lose_one",
    "plot_design",
    "plot_envelope",
    "read_dxf",
    "read_offsets",
    "report",
    "save",
    "solve",
    "usual_handling",
    "worst_of_cases",
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
