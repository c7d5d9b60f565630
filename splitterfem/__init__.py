"""Finite elements for one-off race-car front splitters: sag, clearance, forces, report.

Everything public is listed in ``__all__`` and loaded on first use, so that the import stays quick.  The module is long
because every public name stands in it three times: where it lives, for type checkers, and in ``__all__``, which these
read only as it is written out.
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
        "template",
        "worst_of_cases",
    ),
    "splitterfem.api_behaviour": (
        "Buckling",
        "Modes",
        "buckling",
        "natural_frequencies",
    ),
    "splitterfem.api_compare": (
        "Comparison",
        "compare",
    ),
    "splitterfem.api_gain": (
        "RibGain",
        "StrutGain",
        "rib_gain",
        "strut_gain",
    ),
    "splitterfem.api_moves": (
        "Gradients",
        "gradients",
    ),
    "splitterfem.api_speed": (
        "Divergence",
        "Sweep",
        "divergence_speed",
        "ground_touch_speed",
        "speed_sweep",
    ),
    "splitterfem.api_studies": (
        "PushMap",
        "push_map",
    ),
    "splitterfem.design": (
        "AddedMass",
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
    "splitterfem.live": ("explore",),
}

_WHERE = {name: module for module, names in _HOME.items() for name in names}

_MODULES = ("study",)
"""Parts of the face that are modules: ``splitterfem.study.sweep`` and its like."""

if TYPE_CHECKING:
    from splitterfem import study
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
        template,
        worst_of_cases,
    )
    from splitterfem.api_behaviour import Buckling, Modes, buckling, natural_frequencies
    from splitterfem.api_compare import Comparison, compare
    from splitterfem.api_gain import RibGain, StrutGain, rib_gain, strut_gain
    from splitterfem.api_moves import Gradients, gradients
    from splitterfem.api_speed import Divergence, Sweep, divergence_speed, ground_touch_speed, speed_sweep
    from splitterfem.api_studies import PushMap, push_map
    from splitterfem.design import (
        AddedMass,
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
        SpeedSweep,
        Splitter,
        Standing,
        Stop,
        StrengthSettings,
        Strut,
        TapMap,
        Tunnel,
        UniformMap,
        Vibration,
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
    from splitterfem.live import explore

__all__ = [
    "AddedMass",
    "Bodywork",
    "Bolt",
    "Buckling",
    "Car",
    "Comparison",
    "CutOut",
    "DesignError",
    "Divergence",
    "Doubler",
    "Envelope",
    "FileError",
    "FunctionMap",
    "GapLawMap",
    "Gradients",
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
    "Modes",
    "Nose",
    "Outline",
    "Pad",
    "Panel",
    "PanelDrawing",
    "PatchForce",
    "Pin",
    "PointForce",
    "PushMap",
    "PushTest",
    "RearPocket",
    "Rib",
    "RibGain",
    "Shaking",
    "Sheet",
    "Solution",
    "SolveError",
    "SpeedSweep",
    "Splitter",
    "SplitterError",
    "Standing",
    "Stop",
    "StrengthSettings",
    "Strut",
    "StrutGain",
    "Sweep",
    "TapMap",
    "Tunnel",
    "UniformMap",
    "UnitError",
    "Vibration",
    "Weather",
    "bill_of_materials",
    "buckling",
    "build",
    "compare",
    "demo",
    "divergence_speed",
    "envelope",
    "explore",
    "gradients",
    "ground_touch_speed",
    "json_schema",
    "load",
    "lose_one",
    "natural_frequencies",
    "plot_design",
    "plot_envelope",
    "push_map",
    "read_dxf",
    "read_offsets",
    "report",
    "rib_gain",
    "save",
    "solve",
    "speed_sweep",
    "strut_gain",
    "study",
    "template",
    "usual_handling",
    "worst_of_cases",
]


def __getattr__(name: str) -> Any:
    """Load a public name from its module on first use."""
    if name in _MODULES:
        return importlib.import_module(f"splitterfem.{name}")
    if name not in _WHERE:
        from splitterfem.errors import nearest

        raise AttributeError(f"splitterfem has no '{name}'; {nearest(name, __all__)}")
    value = getattr(importlib.import_module(_WHERE[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    """Public names."""
    return [*__all__, "__version__"]
