"""Stress and utilisation of a solved panel as fields over it, with the very figures that are judged."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from splitterfem.analysis import Solution
from splitterfem.analysis.fields import Field
from splitterfem.errors import DesignError, nearest
from splitterfem.fem.panel import generalised_stiffness
from splitterfem.fem.reference import quadrature
from splitterfem.materials import Layup, laminate, ply_stresses
from splitterfem.strength.assess_panel import ORDER, PanelState, panel_state, panel_utilisations
from splitterfem.strength.utilisation import Forces, faces, forces, von_mises

Array = NDArray[np.float64]

Face = Literal["lower", "upper"]
Direction = Literal["along", "across", "shear", "von Mises"]

FACES: tuple[Face, ...] = ("lower", "upper")
DIRECTIONS: tuple[Direction, ...] = ("along", "across", "shear", "von Mises")


def averaged_state(solution: Solution) -> PanelState:
    """Strains of the panel as they are judged: averaged over a disc of one thickness in radius."""
    return panel_state(solution).averaged(solution.model.sheet.base.thickness)


def utilisation_field(solution: Solution) -> Field:
    """Largest utilisation of all modes of the panel's own sheet; 1 is the limit.

    Raises
    ------
    DesignError
        If the sheet has no strength to judge it by.
    """
    state = averaged_state(solution)
    return _field(solution, state, panel_utilisations(solution, state).envelope)


def usual_direction(solution: Solution) -> Direction:
    """Direction of stress that is looked at first: along the grain, or all together in metal."""
    sheet = solution.model.design.panel.sheet.resolved
    strength = None if isinstance(sheet, Layup) else sheet.strength
    return "von Mises" if strength is not None and strength.yield_strength is not None else "along"


def stress_field(solution: Solution, *, face: Face = "lower", direction: Direction | None = None) -> Field:
    """Stress in Pa at a face of the panel, without the load factor; tension is positive.

    Of a board or plate the nominal edge stress ``N / t + 6 M / t^2`` at the lower face and ``N / t - 6 M / t^2`` at the
    upper one (plate theory), in the axes of the face grain; of a layup that of its outermost ply, in the axes of the
    ply.

    Parameters
    ----------
    solution : Solution
    face : {"lower", "upper"}
    direction : {"along", "across", "shear", "von Mises"}, optional
        To the grain or fibre; `usual_direction` when left out.

    Raises
    ------
    DesignError
        Another face or direction.
    """
    chosen = usual_direction(solution) if direction is None else direction
    for word, known in ((face, FACES), (chosen, DIRECTIONS)):
        if word not in known:
            raise DesignError(f"There is no stress '{word}' of a panel; {nearest(str(word), known)}")
    state, sheet = averaged_state(solution), solution.model.design.panel.sheet
    found = state.strains @ generalised_stiffness(solution.model.sheet.base).T
    acting = forces(found[:, :3], found[:, 3:6], found[:, 6:], load=1.0).turned(float(sheet.grain_angle))
    resolved = sheet.resolved
    stress = (
        _of_layup(acting, resolved) if isinstance(resolved, Layup) else faces(acting, float(sheet.thickness))
    )
    own = stress[:, FACES.index(face)]
    values = von_mises(own) if chosen == "von Mises" else own[:, DIRECTIONS.index(chosen)]
    return _field(solution, state, values)


def _of_layup(acting: Forces, layup: Layup) -> Array:
    """Stresses (n, 2, 3) at the lower face of the lowest ply and at the upper face of the highest, in their axes."""
    stiffness = laminate(layup.plies)
    whole = np.block([[stiffness.A, -stiffness.B], [-stiffness.B, stiffness.D]])
    strains = np.linalg.solve(whole, np.hstack([acting.N, acting.M]).T).T
    found = ply_stresses(layup.plies, strains[:, :3], strains[:, 3:])
    return np.stack([found[:, 0, 0], found[:, -1, 1]], axis=1)


def _field(solution: Solution, state: PanelState, values: Array) -> Field:
    """Field with the values at the points of a state, and at corners of elements the mean of the points nearest there.

    Every element becomes a triangle of its three points and a frame of six between them and its corners.
    """
    space = solution.model.panel.space
    places, _ = quadrature(ORDER)
    shares = np.vstack([1.0 - places.sum(axis=0), places])  # (corner, point)
    own = np.argmax(shares, axis=1)  # the point of each corner
    count = space.n_elements
    point = space.points.shape[1] + 3 * np.arange(count)[:, None] + own  # (element, corner)
    corner = space.triangles.T
    at_corners = values.reshape(count, 3)[:, own]
    total = np.bincount(corner.ravel(), at_corners.ravel(), minlength=space.points.shape[1])
    shared = np.bincount(corner.ravel(), minlength=space.points.shape[1])
    pieces = [point]
    for a, b in ((0, 1), (1, 2), (2, 0)):
        pieces += [
            np.column_stack([corner[:, a], corner[:, b], point[:, b]]),
            np.column_stack([corner[:, a], point[:, b], point[:, a]]),
        ]
    xy = np.concatenate([space.points, state.xy], axis=1)
    every = np.concatenate([total / np.maximum(shared, 1), values])
    return Field(xy[0], xy[1], np.concatenate(pieces).astype(np.int64), every)
