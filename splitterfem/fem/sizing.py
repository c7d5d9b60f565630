"""Element sizes: where the mesh must be finer than asked in general, and how many triangles that makes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from ..curves import Arc, Curve, Line, Points, Spline, in_mm
from ..errors import DesignError
from .embedding import Network
from .geometry import Domain

MAX_TRIANGLES = 2_000_000  #: Meshes that would be larger are refused before meshing.
CORNER_TURN = np.deg2rad(10.0)  #: Boundary turns up to this count as smooth (rad).
FULL_CIRCLE = 8  #: Least number of edges round a full circle.
FINER = (
    0.85  #: Factor on the sizes in discs: edges there come out a sixth longer than asked of the generator.
)
_EQUILATERAL = math.sqrt(3.0) / 4.0


@dataclass(frozen=True)
class Refinement:
    """A disc in which smaller elements are wanted.

    Parameters
    ----------
    x, y : float
        Centre (m).
    radius : float
        Radius (m); 0 for a point.
    size : float
        Edge length of the elements inside (m).
    """

    x: float
    y: float
    radius: float
    size: float


@dataclass(frozen=True)
class Sizes:
    """Wanted element sizes.

    Parameters
    ----------
    size : float
        Largest edge length (m).
    line_size : float or None
        Edge length along embedded lines (m).
    corner_size : float or None
        Edge length at re-entrant corners, and along arcs that round them off (m).
    grading : float
        How fast sizes may grow with the distance, 0 to 1.
    chord : float
        Largest distance between a curved edge and its chord (m).
    refinements : sequence of Refinement
        Discs with smaller elements.

    Raises
    ------
    DesignError
        When a size is not a positive number, or the grading is not between 0.05 and 1.
    """

    size: float
    line_size: float | None = None
    corner_size: float | None = None
    grading: float = 0.3
    chord: float = 0.5e-3
    refinements: Sequence[Refinement] = ()

    def __post_init__(self) -> None:
        wanted = {"size": self.size, "line size": self.line_size, "corner size": self.corner_size}
        wanted["chord error"] = self.chord
        for i, disc in enumerate(self.refinements, start=1):
            wanted[f"size of refinement {i} at {in_mm((disc.x, disc.y))} mm"] = disc.size
            if not (math.isfinite(disc.x + disc.y) and math.isfinite(disc.radius) and disc.radius >= 0.0):
                raise DesignError(f"Refinement {i} is {disc}; give finite numbers and a radius of 0 or more.")
        for name, value in wanted.items():
            if value is not None and not (math.isfinite(value) and value > 0.0):
                raise DesignError(f"The mesh {name} is {value!r} m; give a positive length such as 0.03.")
        if not 0.05 <= self.grading <= 1.0:
            raise DesignError(
                f"The mesh grading is {self.grading!r}; give a number from 0.05 to 1, such as 0.3."
            )


def size_points(domain: Domain, network: Network, sizes: Sizes, *, curve_factor: float = 1.0) -> Points:
    """Points with the element size wanted there.

    Parameters
    ----------
    domain : Domain
        The region to mesh.
    network : Network
        Embedded lines.
    sizes : Sizes
        Wanted sizes.
    curve_factor : float
        Factor on the sizes along curves.

    Returns
    -------
    ndarray, shape (n, 3)
        Rows x, y, size (m), without those that ask for `sizes.size` or more.

    Raises
    ------
    DesignError
        When a refinement lies off the domain, or the mesh would have more than `MAX_TRIANGLES` triangles.
    """
    runs = np.concatenate([*_curve_runs(domain, sizes, curve_factor), *_line_runs(network, sizes)])
    spots = np.concatenate([_corner_spots(domain, sizes), _close_spots(domain, network)])
    _check_budget(estimate_triangles(domain, sizes, runs, spots), sizes)
    discs = [_disc(domain, i, d) for i, d in enumerate(sizes.refinements, start=1) if d.size < sizes.size]
    points = np.concatenate([runs[:, :3], spots, *discs])
    return np.asarray(points[points[:, 2] < sizes.size])


def _curve_runs(domain: Domain, sizes: Sizes, factor: float) -> list[Points]:
    """Points along curved edges: x, y, the size wanted there and the length that each stands for (m)."""
    runs = [np.empty((0, 4))]
    bends = domain.bends(sizes.size)
    for curve, bend in zip(domain.curves, bends, strict=True):
        limit = sizes.corner_size if bend and sizes.corner_size is not None else math.inf
        if isinstance(curve, Arc):
            # just below an even division, so that rounding to whole edges never makes them longer
            count = math.ceil(curve.length / _follows(1.0 / curve.radius, sizes.chord) - 1e-9)
            runs.append(_along(curve, min(0.98 * factor * curve.length / count, limit), sizes))
        elif isinstance(curve, Spline):
            runs.append(_along_spline(curve, sizes, factor))
    return runs


def _follows(bend: Any, chord: float) -> Any:
    """Length of an edge that follows a curvature (1/m) to within `chord`: sagitta = bend h² / 8."""
    bend = np.maximum(bend, 1e-12)
    return np.minimum(np.sqrt(8.0 * chord / bend), math.tau / FULL_CIRCLE / bend)


def _along_spline(curve: Spline, sizes: Sizes, factor: float) -> Points:
    t = np.linspace(0.0, 1.0, 1 + 8 * len(curve.breaks(sizes.chord)))
    slope = curve.derivative(t)
    turn = np.unwrap(np.arctan2(slope[:, 1], slope[:, 0]))
    ds = np.linalg.norm(slope, axis=1) * np.gradient(t)
    bend = np.abs(np.gradient(turn)) / ds
    h = 0.85 * factor * _follows(bend, sizes.chord)
    return np.column_stack([curve.at(t), h, ds])


def _line_runs(network: Network, sizes: Sizes) -> list[Points]:
    if sizes.line_size is None:
        return []
    ends = network.nodes[network.edges]
    return [_along(Line(tuple(a), tuple(b)), sizes.line_size, sizes) for a, b in ends]


def _along(curve: Curve, h: float, sizes: Sizes) -> Points:
    """Even points along a curve: x, y, size, length that each stands for (m)."""
    if h >= sizes.size:
        return np.empty((0, 4))
    count = curve.length / (0.6 * h)
    _check_budget(count, sizes)
    t = np.linspace(0.0, 1.0, 2 + math.floor(count))
    return np.column_stack([curve.at(t), np.full(len(t), h), np.full(len(t), curve.length / len(t))])


def _corner_spots(domain: Domain, sizes: Sizes) -> Points:
    if sizes.corner_size is None:
        return np.empty((0, 3))
    sharp = domain.corners[domain.turns < -CORNER_TURN]
    return np.column_stack([sharp, np.full(len(sharp), sizes.corner_size)])


def _close_spots(domain: Domain, network: Network) -> Points:
    """Nodes that lie close to a piece of a line or of the boundary that they do not belong to."""
    if not len(network.nodes):
        return np.empty((0, 3))
    to_edge = domain.nearest(network.nodes).distance
    paths = shapely.linestrings(network.nodes[network.edges])
    gaps = shapely.distance(shapely.points(network.nodes)[:, None], paths[None])
    gaps[network.edges[:, 0], np.arange(len(paths))] = np.inf
    gaps[network.edges[:, 1], np.arange(len(paths))] = np.inf
    gap = np.minimum(np.where(to_edge > 1e-7, to_edge, np.inf), gaps.min(axis=1))
    return np.column_stack([network.nodes, gap])


def _disc(domain: Domain, number: int, disc: Refinement) -> Points:
    """Triangular grid of points over a disc and a little more, so that edges inside come out as wanted."""
    if shapely.distance(domain.polygon, shapely.Point(disc.x, disc.y)) > disc.radius:
        raise DesignError(
            f"Refinement {number} at {in_mm((disc.x, disc.y))} mm, radius {1e3 * disc.radius:.1f} mm, lies "
            "off the panel; move it onto the panel."
        )
    wanted, radius = FINER * disc.size, disc.radius + 0.5 * disc.size
    step = 0.9 * wanted
    n = math.ceil(radius / step)
    i, j = np.meshgrid(np.arange(-n, n + 1), np.arange(-2 * n, 2 * n + 1))
    grid = step * np.column_stack([(i + 0.5 * (j % 2)).ravel(), (0.5 * math.sqrt(3.0) * j).ravel()])
    grid = grid[np.linalg.norm(grid, axis=1) <= radius]
    return np.column_stack([grid + np.array([disc.x, disc.y]), np.full(len(grid), wanted)])


def estimate_triangles(domain: Domain, sizes: Sizes, runs: Points, spots: Points) -> float:
    """Estimate the number of triangles from ∫ dA / (√3/4 h²) with h growing by the grading from each source.

    Parameters
    ----------
    domain : Domain
        The region to mesh.
    sizes : Sizes
        Wanted sizes.
    runs : ndarray, shape (n, 4)
        Points along refined curves: x, y, size, length that each stands for (m).
    spots : ndarray, shape (n, 3)
        Refined points: x, y, size (m).

    Returns
    -------
    float
        Number of triangles.
    """
    g, size = sizes.grading, sizes.size
    finer = runs[runs[:, 2] < size]
    count = domain.area / size**2 + 2.0 / g * float(finer[:, 3] @ (1.0 / finer[:, 2] - 1.0 / size))
    for radius, h in [(d.radius, d.size) for d in sizes.refinements] + [(0.0, h) for h in spots[:, 2]]:
        if h < size:
            ring = radius / g * (1.0 / h - 1.0 / size) + math.log(size / h) / g**2
            count += math.pi * radius**2 / h**2 + math.tau * ring
    return count / _EQUILATERAL


def _check_budget(count: float, sizes: Sizes) -> None:
    if count > MAX_TRIANGLES:
        wanted = {"general size": sizes.size, "line size": sizes.line_size, "corner size": sizes.corner_size}
        wanted |= {"chord error": sizes.chord}
        wanted |= {f"refinement at {in_mm((d.x, d.y))} mm": d.size for d in sizes.refinements}
        name, least = min(((n, v) for n, v in wanted.items() if v is not None), key=lambda item: item[1])
        raise DesignError(
            f"The mesh would have about {count:.1g} triangles, more than {MAX_TRIANGLES}; ask for larger "
            f"elements (the smallest length asked for is the {name}, {1e3 * least:.3g} mm)."
        )
