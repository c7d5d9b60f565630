"""Reading a surface mesh with a pressure field: what is in the file, checked and cut into triangles."""

from __future__ import annotations

import contextlib
import importlib
import io
import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from splitterfem.aero._base64 import padding_ends_a_piece
from splitterfem.aero._mesh_guard import check_size
from splitterfem.aero._tap_rows import FARTHEST, MOST
from splitterfem.aero._tap_table import short
from splitterfem.errors import FileError, nearest
from splitterfem.units import quantity

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

READERS = {
    ".vtu": "vtu",
    ".vtk": "vtk",
    ".msh": "gmsh",
    ".avs": "avsucd",
}
"""Endings of files that can be read, with the module of meshio that does it.

All of these are single files of text or bytes. Formats that keep their values in other files or need further
libraries are left out, and so are PLY and Tecplot, whose readers never end when the file does so too early.
"""

MOST_CELLS = 500_000

_FLAT = {"triangle": (0, 1, 2), "quad": (0, 1, 2, 3), "pixel": (0, 1, 3, 2)}
_IGNORED = ("vertex", "line", "line3")


@dataclass(frozen=True, eq=False)
class Surface:
    """A surface of triangles with a value at each of their corners.

    Parameters
    ----------
    triangles : ndarray, shape (n, 3, 3)
        Corners x, y, z, m, round each triangle in the order of the file.
    values : ndarray, shape (n, 3)
        Coefficients, or pressures in Pa; three equal ones where the file has a value for each cell.
    where : {"cells", "points"}
        What the file's values belong to.
    name : str
        Of the file, for messages.
    """

    triangles: FloatArray
    values: FloatArray
    where: Literal["cells", "points"]
    name: str


def read_surface(
    path: str | Path,
    field: str,
    *,
    kind: Literal["cp", "pressure"],
    length_unit: str = "m",
    pressure_unit: str = "Pa",
) -> Surface:
    """Read a surface mesh with one of its fields.

    Quadrilaterals and polygons are cut into triangles about their middle. A field that the file has for cells
    and for points is taken for the cells, for that is where a finite-volume program has its own integral.

    Parameters
    ----------
    path : str or Path
        VTU, VTK, Gmsh MSH or AVS UCD, told by its ending.
    field : str
        Name of the field in the file.
    kind : {"cp", "pressure"}
        What the field is.
    length_unit : str
        Of the places.
    pressure_unit : str
        Of the field when it is a pressure.

    Raises
    ------
    FileError
        One sentence that names the file and the mend.
    """
    file = Path(path)
    mesh = _read(file)
    where, values = _field(mesh, field, file.name)
    points = _points(mesh, float(quantity(f"1 {length_unit}", "length")), file.name)
    factor = 1.0 if kind == "cp" else float(quantity(f"1 {pressure_unit}", "pressure"))
    triangles, corners = [np.empty((0, 3, 3))], [np.empty((0, 3))]
    count = 0
    for number, block in enumerate(mesh.cells):
        if block.type in _IGNORED or not len(block.data):
            continue
        rings = _rings(block, len(points), file.name)
        count += rings.size
        if count > 4 * MOST_CELLS:
            raise FileError(
                f"{file.name} has more than {MOST_CELLS} cells; cut it to the panel or thin it out."
            )
        found = values[number] if where == "cells" else values[0][rings]
        shapes, at = _fans(points[rings], _spread(np.asarray(found, dtype=np.float64), rings.shape))
        triangles.append(shapes)
        corners.append(at)
    with np.errstate(over="ignore"):
        found = factor * np.concatenate(corners)
    surface = Surface(np.concatenate(triangles), found, where, file.name)
    if not len(surface.triangles):
        raise FileError(f"{file.name} has no triangles or quadrilaterals; export the surface of the panel.")
    _check_finite(surface, field)
    return surface


def _read(file: Path) -> Any:
    """Let meshio read the file; it prints and leaves the program when it cannot, which must not come through."""
    ending = file.suffix.lower()
    if ending not in READERS:
        raise FileError(
            f"{file.name} is not a kind of mesh that can be read; export one of {', '.join(READERS)}, best .vtu."
        )
    check_size(file)
    try:
        with (
            contextlib.redirect_stdout(io.StringIO()),
            contextlib.redirect_stderr(io.StringIO()),
            padding_ends_a_piece(),
            warnings.catch_warnings(),
            np.errstate(all="ignore"),
        ):
            warnings.simplefilter("ignore")
            # numpy only warns when text stops in the middle of an array
            warnings.filterwarnings("error", message=".*could not be read to its end.*")
            return importlib.import_module(f"meshio.{READERS[ending]}").read(file)
    except MemoryError:
        raise FileError(f"{file.name} asks for more memory than there is; cut it to the panel.") from None
    except (Exception, SystemExit) as problem:  # a damaged file can make the reader raise anything
        raise FileError(
            f"{file.name} cannot be read as {ending} ({_why(problem)}); it may be damaged or cut short, so export it "
            "again."
        ) from None


def _why(problem: BaseException) -> str:
    """Say what a reader found wrong, unless it speaks of its own workings."""
    if isinstance(problem, UnicodeDecodeError):
        return "there are bytes where text should be"
    text = " ".join(str(problem).split()).rstrip(".")
    if type(problem).__module__.startswith("meshio") and text:
        return text if len(text) <= 80 else text[:77] + "..."
    return "its structure is damaged"


def _points(mesh: Any, length: float, name: str) -> FloatArray:
    points = np.asarray(mesh.points, dtype=np.float64)
    if points.ndim != 2 or points.shape[1] not in (2, 3):
        raise FileError(f"{name} has points of shape {points.shape}, not x, y and z; export it again.")
    if points.shape[1] == 2:
        points = np.column_stack([points, np.zeros(len(points))])
    if not np.isfinite(points).all():
        raise FileError(f"{name} has a point that is not finite; export it again.")
    farthest = min(float(np.abs(points).max(initial=0.0)), 1e30) * length
    if farthest > FARTHEST:
        raise FileError(
            f"{name} reaches {farthest:.3g} m from the front axle; check length_unit, or cut the mesh to the panel."
        )
    return length * points


def _field(mesh: Any, field: str, name: str) -> tuple[Literal["cells", "points"], Sequence[Any]]:
    """Find the field; the error offers the nearest names."""
    cells: Mapping[str, Any] = mesh.cell_data or {}
    points: Mapping[str, Any] = mesh.point_data or {}
    if field not in cells and field not in points:
        known = {short(str(one)) for one in (*cells, *points)}
        if not known:
            raise FileError(f"{name} has no field at all; export the pressure with the mesh.")
        raise FileError(f"{name} has no field '{short(field)}'; {nearest(field, known)}")
    found: Sequence[Any] = cells[field] if field in cells else [points[field]]
    for values in found:
        width = np.asarray(values).reshape(len(values), -1).shape[1] if len(values) else 1
        if width != 1:
            raise FileError(
                f"{name}: field '{short(field)}' has {width} components; name a pressure, which has one."
            )
    flat = [np.asarray(values).reshape(-1) for values in found]
    return ("cells" if field in cells else "points"), flat


def _rings(block: Any, count: int, name: str) -> IntArray:
    """Corners of flat cells in their order round the cell, (n, k)."""
    if block.type != "polygon" and block.type not in _FLAT:
        raise FileError(
            f"{name} has cells of the kind '{short(str(block.type))}'; export the surface, cut into triangles, "
            f"quadrilaterals or polygons with straight sides."
        )
    data = np.asarray(block.data, dtype=np.intp)
    rings = data[:, _FLAT[block.type]] if block.type in _FLAT else data
    if rings.min() < 0 or rings.max() >= count:
        raise FileError(
            f"{name} has a cell with a corner that is not there; it is damaged, so export it again."
        )
    return np.asarray(rings)


def _spread(values: FloatArray, shape: tuple[int, ...]) -> FloatArray:
    """Values (n,) of cells or (n, k) of corners, as (n, k)."""
    return np.broadcast_to(values[:, None], shape) if values.ndim == 1 else values


def _fans(corners: FloatArray, values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Cut cells (n, k, 3) with corner values (n, k) into triangles: as they are, or k about the middle."""
    if corners.shape[1] == 3:
        return corners, np.array(values)
    middle = np.broadcast_to(corners.mean(axis=1, keepdims=True), corners.shape)
    mean = np.broadcast_to(values.mean(axis=1, keepdims=True), values.shape)
    fans = np.stack([corners, np.roll(corners, -1, axis=1), middle], axis=2)
    at = np.stack([values, np.roll(values, -1, axis=1), mean], axis=2)
    return fans.reshape(-1, 3, 3), at.reshape(-1, 3)


def _check_finite(surface: Surface, field: str) -> None:
    bad = ~(np.abs(surface.values) <= MOST["pressure"]).all(axis=1)
    if bad.any():
        x, y, _ = 1e3 * surface.triangles[int(np.argmax(bad))].mean(axis=0)
        what = "out of all reason" if np.isfinite(surface.values).all() else "not a number"
        raise FileError(
            f"{surface.name}: field '{short(field)}' is {what} at x = {x:.1f}, y = {y:.1f} mm; repair it, or "
            f"cut those cells away."
        )
