"""Where a panel is asked how far it sags for the air under it, and how the pressure found there becomes a load."""

from __future__ import annotations

from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from splitterfem.aero.gap_grid import StripGrid
from splitterfem.errors import MeshError
from splitterfem.fem.loads import deflection_matrix, surface_deflection, surface_points
from splitterfem.fem.panel import Panel
from splitterfem.model.assembly import Model

Array = NDArray[np.float64]

REACH = 2e-3
"""Stations this far outside the mesh still count as on the panel, in m: a curved edge bulges past its chords."""


@dataclass(frozen=True, eq=False)
class PanelPoints:
    """Quadrature points of a panel.

    Attributes
    ----------
    xy : ndarray, shape (2, n)
        In m.
    deflection : csr_array, shape (n, n_dofs)
        Takes unknowns of the panel to its deflection there in m, up.
    load : csr_array, shape (n_dofs, n)
        Takes net pressures there in Pa, positive down, to a load vector.
    """

    xy: Array
    deflection: sp.csr_array
    load: sp.csr_array


@dataclass(frozen=True, eq=False)
class Stations:
    """Stations of the strips of the gap law under a panel.

    Attributes
    ----------
    grid : StripGrid
    deflection : csr_array, shape (n_strips * n_stations, n_dofs)
        Takes unknowns of the panel to its deflection there in m, up.  Over openings and off the mesh it is linear
        along the strip between the nearest stations on the panel, and constant beyond them.
    load : csr_array, shape (n_dofs, n_strips * n_stations)
        Takes net pressures there in Pa, positive down and interpolated as by the grid, to a load vector.
    """

    grid: StripGrid
    deflection: sp.csr_array
    load: sp.csr_array

    def fits(self, grid: StripGrid) -> bool:
        """Whether another grid has the same stations."""
        mine = self.grid
        pairs = (
            (mine.edges, grid.edges),
            (mine.lip, grid.lip),
            (mine.rear, grid.rear),
            (mine.shares, grid.shares),
        )
        return all(np.array_equal(one, other) for one, other in pairs)


# Geometry of a panel that lives as long as it does, so that a second load case or speed costs nothing.
_points: WeakKeyDictionary[Panel, PanelPoints] = WeakKeyDictionary()
_stations: WeakKeyDictionary[Panel, Stations] = WeakKeyDictionary()


def panel_points(panel: Panel) -> PanelPoints:
    """Quadrature points of a panel for pressures, made once."""
    if panel not in _points:
        xy, areas = surface_points(panel)
        deflection = surface_deflection(panel)
        load = sp.csr_array(-(deflection.T @ sp.diags_array(areas)))
        _points[panel] = PanelPoints(xy, deflection, load)
    return _points[panel]


def stations(model: Model, grid: StripGrid) -> Stations:
    """Stations of a strip grid under the panel of a model, made once.

    Raises
    ------
    MeshError
        If a strip has no station on the mesh.
    """
    known = _stations.get(model.panel)
    if known is None or not known.fits(grid):
        points = panel_points(model.panel)
        load = sp.csr_array(points.load @ grid.interpolation(*points.xy))
        known = Stations(grid, _deflection(model, grid), load)
        _stations[model.panel] = known
    return known


def _deflection(model: Model, grid: StripGrid) -> sp.csr_array:
    """Deflection at all stations of a grid from the panel's unknowns."""
    xy = np.vstack([c.ravel() for c in grid.points])
    elements = model.locator.find(xy, reach=max(REACH, 2.0 * float(model.design.mesh.chord)))
    on = elements >= 0
    known = deflection_matrix(model.panel, elements[on], xy[:, on])
    return sp.csr_array(_along_strips(grid, on.reshape(grid.distance.shape)) @ known)


def _along_strips(grid: StripGrid, on: NDArray[np.bool_]) -> sp.csr_array:
    """Matrix that takes values at the stations on the panel, strip after strip, to all stations."""
    first = np.concatenate([[0], np.cumsum(on.sum(axis=1))])
    left, right, share = (np.zeros(on.shape, dtype=kind) for kind in (np.int64, np.int64, np.float64))
    for k, (here, s) in enumerate(zip(on, grid.distance, strict=True)):
        held = s[here]
        if not len(held):
            raise MeshError(
                f"The mesh has nothing under the panel's strip at y = {1e3 * grid.middle[k]:.1f} mm: make mesh.chord "
                "smaller."
            )
        place = np.interp(s, held, np.arange(len(held)))
        low = np.minimum(place.astype(np.int64), max(len(held) - 2, 0))
        left[k], right[k] = first[k] + low, first[k] + np.minimum(low + 1, len(held) - 1)
        share[k] = place - low
    rows = np.tile(np.arange(on.size), 2)
    columns = np.concatenate([left.ravel(), right.ravel()])
    weights = np.concatenate([1.0 - share.ravel(), share.ravel()])
    matrix = sp.coo_array((weights, (rows, columns)), shape=(on.size, int(first[-1]))).tocsr()
    matrix.eliminate_zeros()
    return matrix
