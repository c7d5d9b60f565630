"""Rigid motions of the panel: equilibrium of forces, and the naming of motions that nothing stops."""

from __future__ import annotations

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from splitterfem.errors import SolveError
from splitterfem.fem.factor import SINGULAR
from splitterfem.fem.space import PanelSpace

Array = NDArray[np.float64]

MOTIONS = (
    "slides fore and aft",
    "slides sideways",
    "moves up and down",
    "rolls about the fore-and-aft axis",
    "pitches about the crosswise axis",
    "turns in plan",
)
"""Plain names of the six rigid motions, in the order of the columns of :func:`rigid_motions`."""

MENDS = (
    "something that holds x (a pin, a bolt or an inclined strut)",
    "something that holds y (a pin, a bolt or an inclined strut)",
    "something that holds z (a strut, a bolt or a rear pocket)",
    "a second support that holds z, apart from the first in y",
    "a second support that holds z, apart from the first in x",
    "a second support that holds x or y, apart from the first in plan",
)

NEGLIGIBLE = 1e-7
"""A rigid motion stretches its supports by less than this share of its size when nothing stops it."""


def rigid_motions(space: PanelSpace, about: Array | None = None, *, height: Array | None = None) -> Array:
    """Six rigid motions of the panel as unknown vectors, shape (n_dofs, 6).

    Translations along x, y, z, then unit rotations about the axes through ``about`` (default: origin).  A panel whose
    nodes have come to ``height`` (n_nodes,) in m turns with these: its von Karman strains stay as they are.
    """
    x, y = space.node_points - (np.zeros((2, 1)) if about is None else np.asarray(about)[:, None])
    motions = np.zeros((space.n_nodes, 5, 6))
    motions[:, 0, 0] = motions[:, 1, 1] = motions[:, 2, 2] = 1.0
    motions[:, 2, 3], motions[:, 4, 3] = y, 1.0
    motions[:, 2, 4], motions[:, 3, 4] = -x, -1.0
    motions[:, 0, 5], motions[:, 1, 5] = -y, x
    if height is not None:
        motions[:, 1, 3], motions[:, 0, 4] = -height, height
    return motions.reshape(space.n_dofs, 6)


def unit_rigid_motions(space: PanelSpace) -> Array:
    """Six rigid motions about the panel's middle, rotations scaled by half its diagonal; shape (n_dofs, 6)."""
    x, y = space.node_points
    centre = np.array([0.5 * (x.min() + x.max()), 0.5 * (y.min() + y.max())])
    size = 0.5 * float(np.hypot(np.ptp(x), np.ptp(y)))
    return np.asarray(rigid_motions(space, centre) / np.array([1.0, 1.0, 1.0, size, size, size]))


def followed_motions(space: PanelSpace, matrix: sp.csc_array) -> Array:
    """Six rigid motions of all unknowns of a stiffness (n, n), shape (n, 6), to which it answers with no force.

    Those of the panel are unit ones; the ribs' own unknowns, which are behind the panel's, follow them.

    Raises
    ------
    SolveError
        If nothing holds the ribs' own unknowns.
    """
    panel, n = unit_rigid_motions(space), space.n_dofs
    if matrix.shape[0] == n:
        return panel
    columns = matrix[:, n:]
    try:
        own = np.linalg.solve(columns[n:].toarray(), -(columns[:n].T @ panel))
    except np.linalg.LinAlgError as error:
        raise SolveError(SINGULAR) from error
    return np.vstack([panel, own])


def balanced(forces: Array, motions: Array) -> Array:
    """Take from forces (n,) what does work on rigid motions (n, 6), spread like those motions.

    The forces of a panel and its ribs do none.  What a stored matrix gives is the rounding of its entries, which is not
    small beside light loads where stiff ribs move along with a thin sheet that bends far.
    """
    amounts = np.linalg.solve(motions.T @ motions, motions.T @ forces)
    return np.asarray(forces - motions @ amounts)


def free_motions(space: PanelSpace, rows: sp.csr_array) -> list[int]:
    """Rigid motions that the given restraint rows leave free.

    Parameters
    ----------
    space : PanelSpace
    rows : csr_array, shape (m, n_dofs)

    Returns
    -------
    list of int
        Indices into :data:`MOTIONS`, the clearest first; empty when the panel is held.  A free motion that
        mixes several is named by its largest parts.
    """
    motions = unit_rigid_motions(space)
    stretch = rows @ motions if rows.shape[0] else np.zeros((1, 6))
    _, values, vectors = np.linalg.svd(np.vstack([stretch, np.zeros((6, 6))]), full_matrices=False)
    free = vectors[values[:6] <= NEGLIGIBLE]
    if not len(free):
        return []
    share = np.sqrt(np.sum(free**2, axis=0))
    order = np.argsort(-share, kind="stable")
    return [int(i) for i in order[: len(free)]]


def mechanism_message(free: list[int], *, when: str) -> str:
    """Sentence that names the free motions and what would stop them."""
    if len(free) == len(MOTIONS):
        return (
            f"Nothing holds the panel{when}: add supports, for example two rear pockets, two struts near the front "
            "and two pins that hold x and y."
        )
    motions = " and ".join(MOTIONS[i] for i in free)
    mends = ", and ".join(MENDS[i] for i in free)
    return f"Nothing stops the panel as it {motions}{when}: add {mends}."
