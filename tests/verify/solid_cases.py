"""Reference cases: panels with and without bonded ribs under uniform pressure, as three-dimensional solids.

The geometry and the loads are invented for the comparison.  The plywood is one homogeneous orthotropic solid,
not a stack of plies, so that a plate model of it needs no layup.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from solid_model import (
    Box,
    Floats,
    Part,
    Rectangles,
    SolidModel,
    Spacing,
    angle,
    centroid,
    extruded,
    isotropic,
    orthotropic,
    square_tube,
)

RUNS = {
    "light": (("working", 2), ("working", 3), ("working", 4), ("fine", 3), ("fine", 4)),
    "half": (("working", 2), ("working", 3), ("fine", 3), ("working", 4)),
    "full": (("working", 2), ("working", 3), ("coarse", 3), ("coarse", 4)),
}
"""Meshes and orders to run, by how heavy a case is; the numbers of the last run are the stored ones."""


@dataclass(frozen=True)
class Rib:
    """A rib under the panel.

    Parameters
    ----------
    name : str
        Name of the rib.
    section : {"tube", "angle"}
        Square tube or equal angle.
    side, wall : float
        Outer side or leg, and wall thickness (m).
    along : {"x", "y"}
        Direction.
    centre : float
        Transverse coordinate of the middle of the foot (m).
    span : tuple of float
        Its ends (m).
    """

    name: str
    section: str
    side: float
    wall: float
    along: str
    centre: float
    span: tuple[float, float]

    def rectangles(self) -> Rectangles:
        """Rectangles that make up the section."""
        return {"tube": square_tube, "angle": angle}[self.section](self.side, self.wall)


@dataclass(frozen=True)
class Case:
    """One reference case; lengths in m, pressure in Pa.

    Parameters
    ----------
    name, material : str
        Names; the material is one of `MATERIALS`.
    length, width, thickness : float
        Panel size along x, along y and through z.
    clamps : tuple of (x, y0, y1)
        Clamped edge, x = 0 or x = length, and the range of y that is clamped on it.
    ribs : tuple of Rib
        Bonded ribs.
    points : mapping of str to (x, y)
        Where w is reported.
    runs : str
        Key of `RUNS`.
    symmetric : bool
        Mesh the half y >= 0 only.
    pressure : float
        Downward pressure on the top face.
    """

    name: str
    material: str
    length: float
    width: float
    thickness: float
    clamps: tuple[tuple[float, float, float], ...]
    points: Mapping[str, tuple[float, float]]
    ribs: tuple[Rib, ...] = ()
    runs: str = "light"
    symmetric: bool = True
    pressure: float = 1000.0


MATERIALS: dict[str, dict[str, Any]] = {
    "plywood": {
        "E": (10719e6, 6781e6, 500e6),
        "nu": (0.05, 0.02, 0.02),
        "G": (620e6, 207e6, 170e6),
        "order": "E1 E2 E3, nu12 nu13 nu23, G12 G13 G23; 1 along x, 2 along y, 3 along z",
    },
    "aluminium": {"E": 69e9, "nu": 0.33},
}


def stiffness(material: str) -> Floats:
    """Elastic stiffness (Pa), shape (6, 6), of a material of the cases."""
    data = MATERIALS[material]
    if isinstance(data["E"], tuple):
        return orthotropic(E=data["E"], nu=data["nu"], G=data["G"])
    return isotropic(data["E"], data["nu"])


def rib_boxes(case: Case, rib: Rib) -> tuple[Box, ...]:
    """Boxes of a rib, cut at y = 0 in a symmetric case."""
    low = max(rib.span[0], 0.0) if case.symmetric and rib.along == "y" else rib.span[0]
    return extruded(
        rib.rectangles(),
        along=rib.along,
        span=(low, rib.span[1]),
        centre=rib.centre,
        face=-case.thickness / 2,
    )


def rib_origin(case: Case, rib: Rib) -> tuple[float, float]:
    """Transverse coordinate and height (m) of the centroid of a rib's own section."""
    s, depth = centroid(rib.rectangles())
    return rib.centre + s, -case.thickness / 2 - depth


def meshed_ribs(case: Case) -> tuple[Rib, ...]:
    """Ribs of a case that are meshed: all, or those of the half y >= 0."""
    return tuple(r for r in case.ribs if not (case.symmetric and r.along == "x" and r.centre < 0))


def spacing(case: Case, mesh: str) -> tuple[Spacing, Spacing, Spacing]:
    """Wanted cell sizes along x, y and z of one mesh.

    The displacement gradients are singular at the ends of the clamps and along the edges of a bonded foot, so
    the lines close up there.
    """
    finer, growth = {"coarse": (1 / 1.5, 1.2), "working": (1.0, 0.8), "fine": (1.5, 0.8)}[mesh]
    x = {0.0: 0.02, case.length: 0.02} | {edge: 0.001 for edge, _, _ in case.clamps}
    y = {end: 0.001 for clamp in case.clamps for end in clamp[1:]}
    for rib in meshed_ribs(case):
        across, lengthwise = (x, y) if rib.along == "y" else (y, x)
        across |= {rib.centre + s: 0.0025 for box in rib.rectangles() for s in box[:2]}
        lengthwise |= dict.fromkeys(rib.span, 0.005)
    t = case.thickness
    through: tuple[float, ...] = (0.0,) if mesh == "fine" else ()
    if case.ribs:
        through = (-5 / 12 * t, -1 / 6 * t) if mesh == "fine" else (-3 / 8 * t,)
    return (
        Spacing(0.05 / finer, {k: v / finer for k, v in x.items()}, growth),
        Spacing(0.05 / finer, {k: v / finer for k, v in y.items()}, growth),
        Spacing(0.025, lines=through),
    )


def build(case: Case, *, mesh: str = "working") -> SolidModel:
    """Solid model of a case.

    Parameters
    ----------
    case : Case
        The case.
    mesh : {"coarse", "working", "fine"}
        Mesh, see `spacing`.

    Returns
    -------
    SolidModel
    """
    half, h = case.width / 2, case.thickness / 2
    low = 0.0 if case.symmetric else -half
    panel = Box((0.0, low, -h), (case.length, half, h))
    parts = [Part("panel", (panel,), stiffness(case.material))]
    ribs = meshed_ribs(case)
    parts += [Part(rib.name, rib_boxes(case, rib), stiffness("aluminium")) for rib in ribs]
    patches = {"top": Box((0.0, low, h), (case.length, half, h))}
    fixed: dict[str, str] = {}
    for k, (edge, start, end) in enumerate(case.clamps):
        if end > low:
            patches[f"clamp {k}"] = Box((edge, max(start, low), -h), (edge, end, h))
            fixed[f"clamp {k}"] = "xyz"
    if case.symmetric:
        bottom = -h - max((rib.side for rib in ribs if rib.along == "y"), default=0.0)
        patches["symmetry"] = Box((0.0, 0.0, bottom), (case.length, 0.0, h))
        fixed["symmetry"] = "y"
    return SolidModel(tuple(parts), spacing(case, mesh), patches, fixed, {"top": (0.0, 0.0, -case.pressure)})


_END_ZONES = ((0.0, -0.5, -0.38), (0.0, 0.38, 0.5))
_BOTH_EDGES = ((0.0, -0.5, 0.5), (0.7, -0.5, 0.5))
_PLAIN_POINTS = {
    "centre": (0.35, 0.0),
    "three quarters, off middle": (0.525, 0.125),
    "middle of free edge": (0.7, 0.0),
    "free corner": (0.7, 0.25),
    "middle of side edge": (0.35, 0.25),
    "near the clamped corner": (0.175, 0.2),
}
_CROSS_POINTS = {
    "rear edge, middle": (0.0, 0.0),
    "behind the rib, middle": (0.14, 0.0),
    "behind the rib, quarter": (0.14, 0.25),
    "behind the rib, end": (0.14, 0.47),
    "on the rib, middle": (0.28, 0.0),
    "on the rib, quarter": (0.28, 0.25),
    "beyond the rib's end": (0.28, 0.47),
    "front edge, middle": (0.4, 0.0),
    "front edge, quarter": (0.4, 0.25),
    "front corner": (0.4, 0.5),
}
_MIXED_POINTS = {
    "rear edge, middle": (0.0, 0.0),
    "on the fore-aft rib": (0.15, 0.44),
    "same place, other side": (0.15, -0.44),
    "behind the cross rib, middle": (0.15, 0.0),
    "on the cross rib, middle": (0.3, 0.0),
    "on the cross rib, left quarter": (0.3, 0.25),
    "on the cross rib, right quarter": (0.3, -0.25),
    "front edge, middle": (0.4, 0.0),
    "front corner, left": (0.4, 0.5),
    "front corner, right": (0.4, -0.5),
}
_PARALLEL_POINTS = {
    "midway between, middle": (0.35, 0.0),
    "midway between, third": (0.2, 0.0),
    "on the rib, middle": (0.35, 0.2),
    "on the rib, third": (0.2, 0.2),
    "behind the rib's end": (0.03, 0.2),
    "outside the rib, middle": (0.35, 0.35),
    "side edge, middle": (0.35, 0.5),
    "side edge, third": (0.2, 0.5),
}


def _tube(name: str, along: str, centre: float, span: tuple[float, float]) -> Rib:
    return Rib(name, "tube", 0.0254, 0.0032, along, centre, span)


def _plain(name: str, material: str, thickness: float) -> Case:
    return Case(name, material, 0.7, 0.5, thickness, ((0.0, -0.25, 0.25),), _PLAIN_POINTS)


def _wide(name: str, points: Mapping[str, tuple[float, float]], **more: Any) -> Case:
    return Case(name, "plywood", 0.4, 1.0, 0.012, _END_ZONES, points, **more)


def _long(name: str, **more: Any) -> Case:
    return Case(name, "plywood", 0.7, 1.0, 0.012, _BOTH_EDGES, _PARALLEL_POINTS, **more)


def _cross(name: str, rib: Rib) -> Case:
    return _wide(name, _CROSS_POINTS, ribs=(rib,), runs="half")


_ALL = (
    _plain("plain plywood panel", "plywood", 0.012),
    _plain("plain aluminium panel", "aluminium", 0.0048),
    _wide("zone-clamped panel without rib", _CROSS_POINTS),
    _cross("cross tube", _tube("cross tube", "y", 0.28, (-0.44, 0.44))),
    _cross("cross angle", Rib("cross angle", "angle", 0.038, 0.0032, "y", 0.28, (-0.44, 0.44))),
    _wide(
        "cross tube and fore-aft tube",
        _MIXED_POINTS,
        ribs=(
            _tube("cross tube", "y", 0.3, (-0.44, 0.44)),
            _tube("fore-aft tube", "x", 0.44, (0.04, 0.26)),
        ),
        runs="full",
        symmetric=False,
    ),
    _long("panel clamped front and rear without ribs"),
    _long(
        "two fore-aft tubes",
        ribs=(
            _tube("left tube", "x", 0.2, (0.05, 0.65)),
            _tube("right tube", "x", -0.2, (0.05, 0.65)),
        ),
        runs="half",
    ),
)
CASES = {case.name: case for case in _ALL}
"""All cases by name."""
