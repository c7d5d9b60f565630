"""Fields of a solution at the nodes and in the cells of its mesh, their units in their names.

At the nodes: ``displacement_m`` (3), ``rotation_rad`` (2: of the panel's normal towards x and y), ``sag_mm``,
``clearance_mm`` (lower face of the panel to ground) and ``net_pressure_Pa`` (positive down; only with a pressure map,
with the sag where it follows that).

In each cell, at its centroid: membrane forces ``N_x_N_per_m``, ``N_y_N_per_m``, ``N_xy_N_per_m``, moments
``M_x_Nm_per_m``, ``M_y_Nm_per_m``, ``M_xy_Nm_per_m`` (positive stretches the lower face), transverse shear forces
``Q_x_N_per_m``, ``Q_y_N_per_m``, doublers included, and ``ground_force_N``, that of the ground on the cell, up. Of the
panel's own sheet ``stress_upper_MPa`` and ``stress_lower_MPa`` (3: xx, yy, xy in the axes of the panel, nominal over
the whole section); of a layup ``stress_ply_1_lower_MPa`` and so on from the lowest ply up (3: along, across and shear
in the axes of the ply). ``utilisation_panel`` is the largest utilisation of the sheet in the cell, averaged as
`splitterfem.strength` judges it, where its strengths are known.
"""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from splitterfem.analysis import Solution
from splitterfem.errors import DesignError
from splitterfem.fem.panel import generalised_stiffness
from splitterfem.fem.recover import resultants, strains
from splitterfem.materials import Layup, ply_stresses
from splitterfem.model.airload import pressure_field
from splitterfem.model.clearance import clearance_datum
from splitterfem.output.followed import followed_pressure
from splitterfem.strength.assess_panel import panel_state, panel_utilisations
from splitterfem.strength.utilisation import Forces, faces
from splitterfem.units import quantity

Array = NDArray[np.float64]

MM, MPA = 1e3, 1e6
MOST_POINTS = 250_000


def at_nodes(solution: Solution) -> dict[str, Array]:
    """Return the fields at the nodes."""
    x, y = solution.model.panel.space.node_points
    motion = solution.response.x.reshape(-1, 5)  # u, v, w, phi_x, phi_y
    fields = {
        "displacement_m": np.ascontiguousarray(motion[:, :3]),
        "rotation_rad": np.ascontiguousarray(motion[:, 3:]),
        "sag_mm": -MM * motion[:, 2],
        "clearance_mm": MM * (clearance_datum(solution.model.design, solution.case)(x) + motion[:, 2]),
    }
    pressure = _pressure(solution, x, y)
    return fields if pressure is None else fields | {"net_pressure_Pa": pressure}


def in_cells(solution: Solution) -> dict[str, Array]:
    """Return the fields in the cells."""
    panel, response = solution.model.panel, solution.response
    elements = np.arange(panel.space.n_elements, dtype=np.int64)
    found = resultants(panel, response.x, elements, panel.space.centroids.T, large=response.large)
    names = (
        (found.membrane, ("N_x_N_per_m", "N_y_N_per_m", "N_xy_N_per_m")),
        (found.moment, ("M_x_Nm_per_m", "M_y_Nm_per_m", "M_xy_Nm_per_m")),
        (found.shear, ("Q_x_N_per_m", "Q_y_N_per_m")),
    )
    fields = {
        name: np.ascontiguousarray(values[:, i]) for values, parts in names for i, name in enumerate(parts)
    }
    # the places of the ground begin with the panel's elements; there are none without ground
    ground = response.ground if response.ground.size else np.zeros(len(elements))
    fields["ground_force_N"] = np.ascontiguousarray(ground[: len(elements)])
    return fields | _stresses(solution) | _utilisation(solution)


def _pressure(solution: Solution, x: Array, y: Array) -> Array | None:
    """Net pressure at points; None without a pressure map."""
    followed = followed_pressure(solution)
    if followed is not None:
        return np.asarray(followed.at(x, y))
    if solution.case.pressure is None:
        return None
    return np.asarray(pressure_field(solution.model.design, solution.case).at(x, y))


def _stresses(solution: Solution) -> dict[str, Array]:
    """Stresses at the faces of the panel's own sheet, or of its plies."""
    panel, response, sheet = solution.model.panel, solution.response, solution.model.design.panel.sheet
    elements = np.arange(panel.space.n_elements, dtype=np.int64)
    strain = strains(panel, response.x, elements, panel.space.centroids.T, large=response.large)
    material = sheet.resolved
    if not isinstance(material, Layup):
        acting = strain @ generalised_stiffness(solution.model.sheet.base).T
        stress = faces(Forces(acting[:, :3], acting[:, 3:6], acting[:, 6:]), float(sheet.thickness)) / MPA
        return {
            f"stress_{face}_MPa": np.ascontiguousarray(stress[:, i])
            for i, face in enumerate(("lower", "upper"))
        }
    turned = _in_axes_of(strain, float(sheet.grain_angle))
    plies = ply_stresses(material.plies, turned[:, :3], turned[:, 3:6]) / MPA
    return {
        f"stress_ply_{k + 1}_{face}_MPa": np.ascontiguousarray(plies[:, k, i])
        for k in range(len(material.plies))
        for i, face in enumerate(("lower", "upper"))
    }


def _in_axes_of(strain: Array, angle: float) -> Array:
    """Strains and curvatures in axes turned by an angle."""
    from splitterfem.materials.stiffness import strain_rotation

    turn = strain_rotation(angle)
    return np.hstack([strain[:, :3] @ turn.T, strain[:, 3:6] @ turn.T])


def _utilisation(solution: Solution) -> dict[str, Array]:
    """Largest utilisation of the sheet in every cell; nothing where its strengths are not known."""
    try:
        state = panel_state(solution).averaged(solution.model.sheet.base.thickness)
        ratio = panel_utilisations(solution, state).envelope
    except DesignError:
        return {}
    largest = np.zeros(solution.model.panel.space.n_elements)
    np.maximum.at(largest, state.elements, ratio)
    return {"utilisation_panel": largest}


def sag_table(solution: Solution, *, spacing: object = None) -> pd.DataFrame:
    """Tabulate sag, gap and net pressure at the nodes of the mesh, or at the points of a square grid.

    Parameters
    ----------
    solution : Solution
    spacing : length, optional
        Of the grid, which has a point at the origin.

    Raises
    ------
    UnitError
        The spacing is no length.
    DesignError
        The spacing is not positive, gives too many points or none on the panel.
    """
    x, y = solution.model.panel.space.node_points
    sag = -solution.response.x.reshape(-1, 5)[:, 2]
    if spacing is not None:
        x, y = _grid(x, y, float(quantity(spacing, "length", name="spacing")))
        sag = solution.sag_at(x, y)
        on = np.isfinite(sag)
        if not on.any():
            raise DesignError("No point of the grid lies on the panel; give a smaller spacing.")
        x, y, sag = x[on], y[on], sag[on]
    gap = clearance_datum(solution.model.design, solution.case)(x) - sag
    table = pd.DataFrame({"x_mm": MM * x, "y_mm": MM * y, "sag_mm": MM * sag, "clearance_mm": MM * gap})
    pressure = _pressure(solution, x, y)
    return table if pressure is None else table.assign(net_pressure_Pa=pressure)


def _grid(x: Array, y: Array, step: float) -> tuple[Array, Array]:
    """Points of a square grid about the origin within the extent of some points."""
    if not (math.isfinite(step) and step > 0.0):
        raise DesignError(f"The spacing of the grid is {MM * step:g} mm; give one above zero.")
    ranges = [(math.ceil(c.min() / step - 1e-9), math.floor(c.max() / step + 1e-9) + 1) for c in (x, y)]
    count = math.prod(max(b - a, 0) for a, b in ranges)
    if count > MOST_POINTS:
        raise DesignError(
            f"A spacing of {MM * step:g} mm gives {count} points, more than {MOST_POINTS}; give a wider one."
        )
    X, Y = np.meshgrid(*(step * np.arange(a, b) for a, b in ranges), indexing="ij")
    return X.ravel(), Y.ravel()
