"""A solution as files for other programs: the mesh with its fields, contour lines, and tables."""

from __future__ import annotations

import csv
import io
import os
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from splitterfem.analysis import Solution
from splitterfem.fem.recover import resultants
from splitterfem.model.airload import pressure_field
from splitterfem.model.clearance import clearance_datum
from splitterfem.output import files, style
from splitterfem.output.followed import followed_pressure

Array = NDArray[np.float64]

MM = 1e3
NOISE = 1e-9


def write_vtu(solution: Solution, path: str | os.PathLike[str]) -> Path:
    """Write the mesh with displacements, sag, clearance and stress resultants as a VTK unstructured grid.

    Cells are quadratic triangles of six nodes. Units are in the names of the arrays; lengths of the mesh are
    in m, x forward, y left, z up.

    At the nodes: ``displacement_m`` (3), ``rotation_rad`` (2: of the panel's normal towards x and y),
    ``sag_mm``, ``clearance_mm`` (panel's lower face to ground) and ``net_pressure_Pa`` (positive down; only
    with a pressure map, with the sag where it follows that). In each cell, at its centroid: membrane forces
    ``N_x_N_per_m``, ``N_y_N_per_m``, ``N_xy_N_per_m``, moments ``M_x_Nm_per_m``, ``M_y_Nm_per_m``,
    ``M_xy_Nm_per_m`` (positive stretches the lower face), transverse shear forces ``Q_x_N_per_m``,
    ``Q_y_N_per_m``, and ``ground_force_N``, that of the ground on the cell, up.

    Parameters
    ----------
    solution : Solution
    path : path
        An existing file is replaced when the new one is complete.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    FileError
        The file cannot be written.
    """
    import meshio

    space = solution.model.panel.space
    x, y = space.node_points
    mesh = meshio.Mesh(
        points=np.column_stack([x, y, np.zeros_like(x)]),
        cells=[("triangle6", space.nodes.T)],
        point_data=_at_nodes(solution),
        cell_data={name: [values] for name, values in _in_cells(solution).items()},
    )
    with files.replaced(path) as temporary:
        mesh.write(temporary, file_format="vtu")
    return Path(path)


def _at_nodes(solution: Solution) -> dict[str, Array]:
    x, y = solution.model.panel.space.node_points
    motion = _nodal_motion(solution)
    datum = clearance_datum(solution.model.design, solution.case)
    arrays = {
        "displacement_m": np.ascontiguousarray(motion[:, :3]),
        "rotation_rad": np.ascontiguousarray(motion[:, 3:]),
        "sag_mm": -MM * motion[:, 2],
        "clearance_mm": MM * (datum(x) + motion[:, 2]),
    }
    followed = followed_pressure(solution)
    if followed is not None:
        arrays["net_pressure_Pa"] = followed.at(x, y)
    elif solution.case.pressure is not None:
        arrays["net_pressure_Pa"] = pressure_field(solution.model.design, solution.case).at(x, y)
    return arrays


def _nodal_motion(solution: Solution) -> Array:
    """(u, v, w, phi_x, phi_y) of every node, shape (n_nodes, 5)."""
    return solution.response.x.reshape(-1, 5)


def _in_cells(solution: Solution) -> dict[str, Array]:
    panel, response = solution.model.panel, solution.response
    elements = np.arange(panel.space.n_elements, dtype=np.int64)
    found = resultants(panel, response.x, elements, panel.space.centroids.T, large=response.large)
    names = (
        (found.membrane, ("N_x_N_per_m", "N_y_N_per_m", "N_xy_N_per_m")),
        (found.moment, ("M_x_Nm_per_m", "M_y_Nm_per_m", "M_xy_Nm_per_m")),
        (found.shear, ("Q_x_N_per_m", "Q_y_N_per_m")),
    )
    arrays = {
        name: np.ascontiguousarray(values[:, i]) for values, parts in names for i, name in enumerate(parts)
    }
    # the places of the ground begin with the panel's elements; there are none without ground
    ground = response.ground if response.ground.size else np.zeros(len(elements))
    return arrays | {"ground_force_N": np.ascontiguousarray(ground[: len(elements)])}


def write_contours(solution: Solution, path: str | os.PathLike[str], *, step_mm: float | None = None) -> Path:
    """Write contour lines of the sag as comma-separated values.

    Columns ``level_mm`` (sag, positive down), ``line`` (number of the line, from 1), ``x_mm`` (forward) and
    ``y_mm`` (to the left). A line that is closed ends where it starts.

    Parameters
    ----------
    solution : Solution
    path : path
        An existing file is replaced when the new one is complete.
    step_mm : float, optional
        Sag between lines in mm; a round one when left out.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    UnitError
        The step is not positive or asks for more than 500 levels.
    FileError
        The file cannot be written.
    """
    from splitterfem.output.contours import contour_lines

    levels = style.contour_levels(MM * solution.sag.values, step_mm)
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(["level_mm", "line", "x_mm", "y_mm"])
    for number, (level, points) in enumerate(contour_lines(solution.sag, levels / MM), start=1):
        label = f"{MM * level:.6g}"
        table.writerows([label, number, f"{MM * x:.3f}", f"{MM * y:.3f}"] for x, y in points)
    return files.write_text(path, text.getvalue())


def write_tables(
    solution: Solution, directory: str | os.PathLike[str], *, tail: str = ""
) -> tuple[Path, ...]:
    """Write the tables of supports, contacts and ribs as comma-separated values.

    Parameters
    ----------
    solution : Solution
    directory : path
        Folder for ``supports.csv``, ``contacts.csv`` and ``ribs.csv``; made if it is not there.
    tail : str
        Put before the ``.csv``, to tell load cases apart.

    Returns
    -------
    tuple of Path
        The files; a table without rows has no file.

    Raises
    ------
    FileError
        A file cannot be written.
    """
    place = files.folder(directory)
    tables = {"supports": solution.supports, "contacts": solution.contacts, "ribs": solution.ribs}
    return tuple(
        write_table(table, place / f"{name}{tail}.csv") for name, table in tables.items() if len(table)
    )


def write_table(table: pd.DataFrame, path: str | os.PathLike[str]) -> Path:
    """Write a table as comma-separated values, six figures to a number; what is not known is empty.

    Parameters
    ----------
    table : pandas.DataFrame
    path : path
        An existing file is replaced when the new one is complete.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    FileError
        The file cannot be written.
    """
    text = _clean(table).to_csv(index=False, float_format="%.6g", lineterminator="\n")
    return files.write_text(path, text)


def _clean(table: pd.DataFrame) -> pd.DataFrame:
    """Return the table with rounding noise, a billionth of a column's largest value, and -0 written as 0."""

    def quiet(column: pd.Series) -> pd.Series:
        if not pd.api.types.is_float_dtype(column):
            return column
        return column.where(~(column.abs() <= NOISE * column.abs().max()), 0.0)

    return table.apply(quiet)
