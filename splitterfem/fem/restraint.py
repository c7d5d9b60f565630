"""Restraints: what each support measures on the panel, and the law by which it pushes back."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
import shapely
from numpy.typing import NDArray

from splitterfem.curves import in_mm
from splitterfem.errors import DesignError
from splitterfem.fem.locate import Locator, Samples
from splitterfem.fem.panel import Panel

Array = NDArray[np.float64]
Index = NDArray[np.int64]

FREE = float("inf")


@dataclass(frozen=True)
class Restraint:
    """One restrained motion.

    Attributes
    ----------
    support : str
        Name of the support that it belongs to.
    label : str
        Which motion of it, e.g. ``"x"`` or ``"mouth 2"``.
    row : csr_array, shape (1, n_dofs)
        Measures the motion in m.
    lower, upper : float
        Limits of the free play in m.
    compliance : float
        In m/N; zero for a rigid bound.
    place : tuple of float
        Where it acts in plan, in m; (nan, nan) when its support knows better.
    """

    support: str
    label: str
    row: sp.csr_array
    lower: float = 0.0
    upper: float = 0.0
    compliance: float = 0.0
    place: tuple[float, float] = (float("nan"), float("nan"))


def mean_rows(panel: Panel, samples: Samples) -> sp.csr_array:
    """Rows (5, n_dofs) of the mean (u, v, w, phi_x, phi_y) over a pad or a line."""
    rows = panel.displacement_rows(samples.elements, samples.xy)
    weighted = np.einsum("n,nck->nck", samples.weights / samples.measure, rows)
    dofs = panel.space.dofs[samples.elements]
    data = weighted.transpose(1, 0, 2).ravel()
    row = np.repeat(np.arange(5), dofs.size)
    shape = (5, panel.space.n_dofs)
    matrix = sp.coo_array((data, (row, np.tile(dofs.ravel(), 5))), shape=shape).tocsr()
    matrix.eliminate_zeros()
    return matrix


OVERHANG = 0.02
"""Share of a pad that may be off the mesh, on which round pads and curved edges are polygons: one that touches the edge
of the drawn panel loses up to about a hundredth. Its force and motion are those of the rest."""


def pad_samples(locator: Locator, pad: shapely.Polygon, *, name: str) -> Samples:
    """Quadrature over a pad.

    Raises
    ------
    DesignError
        If the pad is not wholly on the panel.
    """
    samples = locator.area(pad)
    off = 1.0 - samples.measure / pad.area
    if off > OVERHANG:
        raise DesignError(
            f"The pad of {name} at {in_mm((pad.centroid.x, pad.centroid.y))} mm lies {100.0 * off:.0f} % off the panel "
            "or over an opening: move it inwards or make it smaller."
        )
    return samples


def held_directions(
    rows: sp.csr_array, directions: dict[str, tuple[float, float, float]], *, support: str
) -> list[Restraint]:
    """Rigid two-way restraints of the mean displacement of a pad along unit directions (x, y, z)."""
    return [
        Restraint(support, label, sp.csr_array(sp.csr_array(np.array([direction])) @ rows[:3]))
        for label, direction in directions.items()
    ]


def strut(
    rows: sp.csr_array,
    direction: Array,
    *,
    support: str,
    bracket_height: float,
    stiffness: float,
    preload: float = 0.0,
    slack: float = 0.0,
    tension_only: bool = False,
) -> Restraint:
    """Bar from a bracket on a pad to the chassis; its motion is its elongation, its force the tension.

    Parameters
    ----------
    rows : csr_array, shape (5, n_dofs)
        Mean motion of the pad.
    direction : ndarray, shape (3,)
        Unit vector from the bracket to the chassis end.
    bracket_height : float
        Height of the bracket's eye above the panel's mid-surface in m.
    stiffness : float
        In N/m.
    preload : float
        Tension at zero elongation in N.
    slack : float
        Elongation before a tension-only strut pulls, in m.
    tension_only : bool
        Whether it goes slack instead of pushing.
    """
    dx, dy, dz = direction
    h = bracket_height
    weights = np.array([[-dx, -dy, -dz, h * dx, h * dy]])
    start = slack - preload / stiffness
    return Restraint(
        support,
        "axial",
        sp.csr_array(sp.csr_array(weights) @ rows),
        lower=-FREE if tension_only else start,
        upper=start,
        compliance=1.0 / stiffness,
    )


def pocket(
    panel: Panel,
    locator: Locator,
    *,
    support: str,
    mouth: tuple[float, float],
    width: float,
    overlap: float,
    clearance_up: float,
    clearance_down: float,
    stations: int = 6,
) -> list[Restraint]:
    """Both lips of a slot that a strip of the rear edge slides into.

    The strip is watched along three lines across the overlap (mouth, middle and the rear end), each in
    ``stations`` stretches; a stretch touches the upper or the lower lip where its mean deflection uses up
    the clearance.  The couple of the two lips over the overlap is the slot's only resistance to rotation.

    Raises
    ------
    DesignError
        If part of the strip is not on the panel.
    """
    x, y = mouth
    edges = np.linspace(y - 0.5 * width, y + 0.5 * width, stations + 1)
    found = []
    for label, at in (("mouth", x), ("middle", x - 0.5 * overlap), ("end", x - overlap)):
        ends = np.array([[at, edges[0]], [at, edges[-1]]])
        samples = locator.line(ends, stations=edges[[0, -1]], cuts=edges[1:-1])
        owner = np.clip(np.searchsorted(edges, samples.s) - 1, 0, stations - 1)
        length = np.bincount(owner, samples.weights, minlength=stations)
        short = np.flatnonzero(length < np.diff(edges) * (1.0 - 1e-6))
        if len(short):
            a, b = edges[short[0]], edges[short[0] + 1]
            raise DesignError(
                f"Rear pocket {support} reaches off the panel at x {1e3 * at:.1f} mm, "
                f"y {1e3 * a:.1f} to {1e3 * b:.1f} mm: reduce its overlap or width, or move its mouth."
            )
        rows = _mean_deflections(panel, samples, owner, samples.weights / length[owner], stations)
        for k in range(stations):
            place = (at, 0.5 * (edges[k] + edges[k + 1]))
            row = sp.csr_array(rows[[k]])
            found.append(
                Restraint(support, f"{label} {k + 1}", row, -clearance_down, clearance_up, place=place)
            )
    return found


def _mean_deflections(
    panel: Panel, samples: Samples, owner: Index, weights: Array, count: int
) -> sp.csr_array:
    """Rows (count, n_dofs) of weighted sums of the deflection over the samples of each owner."""
    rows = weights[:, None] * panel.displacement_rows(samples.elements, samples.xy)[:, 2]
    dofs = panel.space.dofs[samples.elements]
    place = (np.repeat(owner, dofs.shape[1]), dofs.ravel())
    matrix = sp.coo_array((rows.ravel(), place), shape=(count, panel.space.n_dofs)).tocsr()
    matrix.eliminate_zeros()
    return matrix
