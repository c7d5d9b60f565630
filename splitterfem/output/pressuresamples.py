"""Net pressure as values on a triangulation, for its picture."""

from __future__ import annotations

from typing import Protocol

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import Delaunay

from splitterfem.aero.overlap import Area
from splitterfem.analysis.fields import Field
from splitterfem.output import style
from splitterfem.output.fieldview import Look
from splitterfem.output.style import Scale
from splitterfem.units import convert

PRESSURE_UNITS = {"mm": "Pa", "in": "psf"}
JUMP, FINER = 0.12, 8
"""Share of the range of a map over one triangle of samples that counts as a jump, and parts of its sides there."""
FINENESS = 320
"""Samples of a pressure map over the longer side of the panel: 5 mm on one 1.6 m wide."""


class Pressed(Protocol):
    """A pressure that can be asked for at points."""

    def at(self, x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
        """Net pressure in Pa at points in m."""


def sampled(field: Pressed, area: Area) -> Field:
    """Sample a map in Pa over the panel and a little beyond, for it may jump at the edge; finer where it jumps within.

    Parameters
    ----------
    field : Pressed
    area : Area
        Panel in m.
    """
    x0, y0, x1, y1 = area.bounds
    step = max(x1 - x0, y1 - y0) / FINENESS
    x, y = (np.linspace(low, high, 2 + int((high - low) / step)) for low, high in ((x0, x1), (y0, y1)))
    X, Y = np.meshgrid(x, y, indexing="ij")
    near = shapely.dwithin(area, shapely.points(X, Y), 2.0 * step)
    number = np.cumsum(near).reshape(near.shape) - 1
    corners = [number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:]]
    whole = near[:-1, :-1] & near[1:, :-1] & near[1:, 1:] & near[:-1, 1:]
    halves = [np.column_stack([corners[k][whole] for k in three]) for three in ((0, 1, 2), (0, 2, 3))]
    coarse = Field(X[near], Y[near], np.concatenate(halves), field.at(X[near], Y[near]))
    return _finer(field, coarse, step)


def _finer(field: Pressed, coarse: Field, step: float) -> Field:
    """Add samples where a map jumps, so that a line along the jump has no stairs."""
    corners = coarse.values[coarse.triangles]
    sudden = coarse.triangles[np.ptp(corners, axis=1) > JUMP * np.ptp(coarse.values)]
    if not len(sudden):
        return coarse
    first, second = np.meshgrid(np.arange(FINER + 1), np.arange(FINER + 1), indexing="ij")
    inside = first + second <= FINER
    weights = np.column_stack([first[inside], second[inside]]) / FINER
    weights = np.column_stack([1.0 - weights.sum(axis=1), weights])
    old = np.column_stack([coarse.x, coarse.y])
    points = np.concatenate([old, np.einsum("kc,tcd->tkd", weights, old[sudden]).reshape(-1, 2)])
    grid = np.rint((points - old[0]) * (FINER / step)).astype(np.int64)  # nearest place, and none twice
    _, kept = np.unique(grid, axis=0, return_index=True)
    points = points[np.sort(kept)]
    triangles = Delaunay(points).simplices
    sides = points[triangles] - np.roll(points[triangles], 1, axis=1)
    triangles = triangles[np.hypot(*np.moveaxis(sides, -1, 0)).max(axis=1) < 1.5 * step]  # none across a gap
    return Field(points[:, 0], points[:, 1], triangles, field.at(points[:, 0], points[:, 1]))


def in_units(field: Field, scale: Scale) -> Field:
    """Return a field in Pa in the unit of pressure of the picture.

    Contours scale the values of a field like its places, for most fields are lengths.
    """
    pressure = convert(1.0, PRESSURE_UNITS[scale.unit], dimension="pressure") * field.values
    return Field(field.x, field.y, field.triangles, pressure / scale.per_metre)


def steep(field: Field, look: Look, scale: Scale) -> Area:
    """Area where lines of several levels lie on each other, as at the step ahead of a nose: no room for labels.

    Parameters
    ----------
    field : Field
    look : Look
    scale : Scale
    """
    values = field.values * scale.per_metre
    levels = style.contour_levels(values, look.step, look.span)
    corners = values[field.triangles]
    sudden = field.triangles[np.ptp(corners, axis=1) > levels[1] - levels[0]]
    if not len(sudden):
        return shapely.MultiPolygon()
    x, y = field.x[sudden], field.y[sudden]
    widest = float(np.max(np.hypot(x - np.roll(x, 1, axis=1), y - np.roll(y, 1, axis=1))))
    return shapely.multipoints(np.column_stack([x.mean(axis=1), y.mean(axis=1)])).buffer(1.4 * widest)
