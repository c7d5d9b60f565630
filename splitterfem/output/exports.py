"""A solution as files for other programs: the mesh with its fields, contour lines, and tables."""

from __future__ import annotations

import csv
import io
import os
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from splitterfem.analysis import Solution
from splitterfem.errors import DesignError, nearest
from splitterfem.output import files, style
from splitterfem.output.csv_text import csv_text
from splitterfem.output.exportfields import at_nodes, in_cells, sag_table
from splitterfem.output.origin import COLUMN, Made, full_origin, origin
from splitterfem.output.range_words import with_doubts
from splitterfem.output.vtu_note import add_note
from splitterfem.output.xdmf import xdmf_bytes
from splitterfem.strength.assess import utilisation_of

MM = 1e3


def write_vtu(solution: Solution, path: str | os.PathLike[str]) -> Path:
    """Write the mesh and its fields as a VTK unstructured grid.

    Cells are quadratic triangles of six nodes. Units are in the names of the arrays; the mesh is in m, x forward, y
    left, z up. What is at the nodes and in the cells is told in `splitterfem.output.exportfields`; what the file was
    made of stands in its field data as ``made_by``, the codes of the letters.

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

    points, triangles = _mesh(solution)
    mesh = meshio.Mesh(
        points=points,
        cells=[("triangle6", triangles)],
        point_data=at_nodes(solution),
        cell_data={name: [values] for name, values in in_cells(solution).items()},
    )
    with files.replaced(path) as temporary:
        mesh.write(temporary, file_format="vtu")
        add_note(temporary, with_doubts(full_origin(solution), solution))
    return Path(path)


def write_xdmf(solution: Solution, path: str | os.PathLike[str]) -> Path:
    """Write the mesh and its fields as XDMF, all in one file; what is in it is the same as in `write_vtu`.

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
    files.ready(path)
    content = xdmf_bytes(
        *_mesh(solution),
        at_nodes(solution),
        in_cells(solution),
        note=with_doubts(full_origin(solution), solution),
    )
    return files.write_bytes(path, content)


def _mesh(solution: Solution) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Nodes (n, 3) in m, x forward, y left, z up, and the six nodes of each triangle (m, 6)."""
    space = solution.model.panel.space
    x, y = space.node_points
    return np.column_stack([x, y, np.zeros_like(x)]), np.ascontiguousarray(space.nodes.T)


def write_sag(solution: Solution, path: str | os.PathLike[str], *, spacing: object = None) -> Path:
    """Write sag, gap and net pressure at points of the panel as comma-separated values.

    Columns ``x_mm`` (forward), ``y_mm`` (to the left), ``sag_mm`` (positive down), ``clearance_mm`` (lower face to
    ground) and, with a pressure map, ``net_pressure_Pa`` (positive down).

    Parameters
    ----------
    solution : Solution
    path : path
        An existing file is replaced when the new one is complete.
    spacing : length, optional
        Of the points of a square grid about the origin; the nodes of the mesh when left out.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    UnitError
        The spacing is no length.
    DesignError
        The spacing is not positive, gives more than 250 000 points or none on the panel.
    FileError
        The file cannot be written.
    """
    return write_table(sag_table(solution, spacing=spacing), path, solution)


def write_contours(solution: Solution, path: str | os.PathLike[str], *, step_mm: float | None = None) -> Path:
    """Write contour lines of the sag as comma-separated values.

    Columns ``level_mm`` (sag, positive down), ``line`` (number of the line, from 1), ``x_mm`` (forward), ``y_mm`` (to
    the left) and ``made_by`` as in `write_table`. A line that is closed ends where it starts.

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
    text, made_by = io.StringIO(), with_doubts(origin(solution), solution)
    table = csv.writer(text, lineterminator="\n")
    table.writerow(["level_mm", "line", "x_mm", "y_mm", COLUMN])
    for number, (level, points) in enumerate(contour_lines(solution.sag, levels / MM), start=1):
        label = f"{MM * level:.6g}"
        for x, y in points:
            table.writerow([label, number, f"{MM * x:.3f}", f"{MM * y:.3f}", made_by])
            made_by = ""  # the first row says it
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
        write_table(table, place / f"{name}{tail}.csv", solution)
        for name, table in tables.items()
        if len(table)
    )


CSV = ("sag", "contours", "supports", "contacts", "ribs", "joints", "utilisation")
"""What of a solution can be written as comma-separated values."""


def write_csv(solution: Solution, path: str | os.PathLike[str], what: str = "sag", **options: Any) -> Path:
    """Write one kind of result as comma-separated values, units in the column names.

    Parameters
    ----------
    solution : Solution
    path : path
        An existing file is replaced when the new one is complete.
    what : {"sag", "contours", "supports", "contacts", "ribs", "joints", "utilisation"}
    **options
        ``spacing`` of "sag", ``step_mm`` of "contours".

    Returns
    -------
    Path
        The file.

    Raises
    ------
    DesignError
        There is no such kind, or no such option of it.
    UnitError, FileError
        As `write_sag` and `write_contours`.
    """
    if what not in CSV:
        raise DesignError(f"A solution has no table '{what}'; {nearest(str(what), CSV)}")
    known = {"sag": ("spacing",), "contours": ("step_mm",)}.get(what, ())
    for name in options:
        if name not in known:
            hint = nearest(name, known) if known else "leave it out"
            raise DesignError(f"The table '{what}' has no option '{name}'; {hint}")
    if what == "sag":
        return write_sag(solution, path, **options)
    if what == "contours":
        return write_contours(solution, path, **options)
    table = utilisation_of(solution) if what == "utilisation" else getattr(solution, what)
    return write_table(table, path, solution)


def write_table(table: pd.DataFrame, path: str | os.PathLike[str], made: Made) -> Path:
    """Write a table as comma-separated values, six figures to a number; what is not known is empty.

    The last column, ``made_by``, has in its first row the version of this library, the fingerprint of the input, and
    why the figures should be doubted, such as ``outside the range of a linear solution``.

    Parameters
    ----------
    table : pandas.DataFrame
    path : path
        An existing file is replaced when the new one is complete.
    made : Splitter, Solution or sequence of Solution
        What the table was made of.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    FileError
        The file cannot be written.
    """
    return files.write_text(path, csv_text(table, with_doubts(origin(made), made)))
