"""Spreading a pressure map over the elements of a mesh, finely enough to keep its force and its centre.

The load of an element is the integral of the pressure times each of its shape functions. The quadrature is refined
by cutting the element into equal triangles, there only where it matters: where the map bends, jumps or peaks
inside the element.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from splitterfem.aero.overlap import Area
from splitterfem.aero.pressure_map import PressureField
from splitterfem.aero.resultant import Resultant

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

CUTS = (1, 2, 4, 8, 16, 32)
"""Into how many parts the sides of an element are cut, coarse to fine."""

SETTLED = 0.05
"""An element is fine enough when its load changes by less than this share of the mean load of its area."""

AIM = 1e-3
"""Deviation from the map's own force and centre that ends the refinement."""

ALLOWED = 5e-3
"""Deviation that a load may have."""

LEAST_FORCE = 0.02
"""Where suction and pressure cancel, deviations are compared with this share of the gross force."""

MOST_POINTS = 3_000_000
_CHUNK = 200_000


@dataclass(frozen=True)
class Spread:
    """A pressure map as loads of elements.

    Parameters
    ----------
    loads : ndarray, shape (n_elements, n_shapes)
        Downforce on each shape function of each element, N.
    force : float
        Total downforce, N.
    moments : tuple of float
        Integral of the pressure times x and times y, N m.
    gross : float
        Integral of the pressure regardless of its sign, N.
    points : int
        Places at which the map was evaluated.
    """

    loads: FloatArray
    force: float
    moments: tuple[float, float]
    gross: float
    points: int

    @property
    def centre(self) -> tuple[float, float]:
        """Centre of pressure x, y in m; nan where suction and pressure cancel."""
        if abs(self.force) <= 1e-9 * self.gross or self.gross == 0.0:
            return float("nan"), float("nan")
        return self.moments[0] / self.force, self.moments[1] / self.force

    def deviation(self, source: Resultant, area: Area) -> float:
        """Largest deviation from the map's own integral over the panel.

        That of the force over the force, and those of the moments about the middle of the panel over the force
        times the panel's length and width: how far the centre of pressure is off, as a share of the panel's size.
        """
        x0, y0, x1, y1 = area.bounds
        force = max(abs(source.force), LEAST_FORCE * self.gross)
        if force == 0.0:
            return 0.0
        off = self.force - source.force
        turns = [
            (mine - its - 0.5 * (low + high) * off) / (high - low)
            for mine, its, low, high in zip(self.moments, source.moments, (x0, y0), (x1, y1), strict=True)
        ]
        return float(max(abs(off), *(abs(turn) for turn in turns)) / force)


@dataclass(frozen=True)
class Elements:
    """Straight-sided triangular elements.

    Parameters
    ----------
    corners : ndarray, shape (n, 3, 2)
        m.
    shapes : callable
        Shape functions at reference points (2, k): an array (k, n_shapes). They add up to one everywhere.
    rule : tuple of ndarray, shapes (2, k) and (k,)
        Points and weights of a quadrature of the reference triangle (0,0), (1,0), (0,1).
    """

    corners: FloatArray
    shapes: Callable[[FloatArray], FloatArray]
    rule: tuple[FloatArray, FloatArray]


def spread(field: PressureField, elements: Elements, source: Resultant, area: Area) -> Spread:
    """Spread a pressure map over elements, refining until its own force and centre come out.

    Parameters
    ----------
    field : PressureField
        Pa.
    elements : Elements
    source : Resultant
        The map's own integral over the panel.
    area : shapely Polygon or MultiPolygon
        Of the panel, m.

    Returns
    -------
    Spread
        As near to `source` as the finest quadrature comes; the caller judges by its `deviation`.
    """
    first = _evaluated(field, elements, np.arange(len(elements.corners)), CUTS[0])
    areas, points = first.areas, first.points
    loads, moments, gross = first.loads, first.moments, first.gross
    change, settled = np.full(len(areas), np.inf), SETTLED
    for cuts in CUTS[1:]:
        limit = settled * gross.sum() / areas.sum() * areas
        if not (change > limit).any():
            if _sum(loads, moments, gross, points).deviation(source, area) <= AIM:
                break
            settled *= 0.2
            limit *= 0.2
            if not (change > limit).any():
                change[:] = np.inf  # something narrow has fallen between the points: look everywhere
        active = np.flatnonzero(change > limit)
        asked = len(active) * cuts**2 * len(elements.rule[1])
        if points + asked > MOST_POINTS:
            break
        finer = _evaluated(field, elements, active, cuts)
        change[active] = np.abs(finer.loads - loads[active]).sum(axis=1)
        loads[active], moments[active], gross[active] = finer.loads, finer.moments, finer.gross
        points += finer.points
    return _sum(loads, moments, gross, points)


@dataclass(frozen=True)
class _Evaluated:
    loads: FloatArray
    moments: FloatArray
    gross: FloatArray
    areas: FloatArray
    points: int


def _evaluated(field: PressureField, elements: Elements, chosen: IntArray, cuts: int) -> _Evaluated:
    """Integrate over some elements with their sides cut into so many parts."""
    X, w = _finer(*elements.rule, cuts)
    N = elements.shapes(X)
    parts = []
    step = max(1, _CHUNK // len(w))
    for start in range(0, len(chosen), step):
        corners = elements.corners[chosen[start : start + step]]
        a, b = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
        double = np.abs(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])
        x, y = (corners[:, 0, c, None] + a[:, c, None] * X[0] + b[:, c, None] * X[1] for c in (0, 1))
        push = field.at(x, y) * (double[:, None] * w)
        moments = np.column_stack([(push * x).sum(axis=1), (push * y).sum(axis=1)])
        parts.append((push @ N, moments, np.abs(push).sum(axis=1), 0.5 * double))
    loads, moments, gross, areas = (np.concatenate(column) for column in zip(*parts, strict=True))
    return _Evaluated(loads, moments, gross, areas, len(chosen) * len(w))


def _finer(X: FloatArray, w: FloatArray, cuts: int) -> tuple[FloatArray, FloatArray]:
    """Repeat a rule in each of the cuts^2 equal triangles of the reference triangle."""
    i, j = (c.ravel() for c in np.meshgrid(np.arange(cuts), np.arange(cuts), indexing="ij"))
    up, down = i + j < cuts, i + j < cuts - 1
    upright = np.stack([i[up], j[up]])[:, :, None] + X[:, None, :]
    turned = np.stack([i[down] + 1, j[down] + 1])[:, :, None] - X[:, None, :]
    points = np.concatenate([upright, turned], axis=1).reshape(2, -1) / cuts
    return points, np.tile(w / cuts**2, cuts**2)


def _sum(loads: FloatArray, moments: FloatArray, gross: FloatArray, points: int) -> Spread:
    x, y = moments.sum(axis=0)
    return Spread(loads, float(loads.sum()), (float(x), float(y)), float(gross.sum()), points)
