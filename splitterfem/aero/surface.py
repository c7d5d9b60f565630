"""A surface mesh as a pressure map: net values on a sheet, or the air on the two sides of a body."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from splitterfem.aero.combined import FacesMap
from splitterfem.aero.mesh_file import Surface
from splitterfem.aero.mesh_map import MeshMap
from splitterfem.errors import FileError

FloatArray = NDArray[np.float64]

SAME_POINT = 1e-6
"""Corners of neighbouring cells nearer than this are one, m."""

OVERLAP = 1e-3
"""Share of a mesh of net values that may lie above itself, for rounding and sloppy seams."""

FLATTEST = 1e-5
"""Least mean thickness of a body over its length."""

UPRIGHT = 1e-9
"""Triangles whose area in plan view is less than this share of their own stand upright and carry nothing down."""


def surface_map(surface: Surface, values: Literal["net", "surface"]) -> MeshMap | FacesMap:
    """Make a pressure map of a surface mesh.

    Parameters
    ----------
    surface : Surface
        Values in Pa.
    values : {"net", "surface"}
        ``net``: each value is the net pressure at its place, and heights do not matter. ``surface``: each value
        is the pressure of the air on the surface of a body. Its force is normal to the surface, so that the
        down-going part on a cell of area A and outward normal n is p n_z A: cells that look up count plus, those
        that look down minus, each with its area in plan view.

    Raises
    ------
    FileError
        If net values lie above each other, or the sides of a body cannot be told apart.
    """
    if values == "net":
        return _sheet(surface)
    return _body(surface)


def _sheet(surface: Surface) -> MeshMap:
    flat = surface.triangles[:, :, :2]
    if not _turns(flat).any():
        raise FileError(f"{surface.name} has no area in plan view; check its axes (x forward, y left, z up).")
    found = MeshMap(flat, surface.values)
    if found.total_area > (1.0 + OVERLAP) * found.cover.area:
        raise FileError(
            f"{surface.name} covers {100.0 * (found.total_area / found.cover.area - 1.0):.0f} % of its area more than "
            f'once; if it is the surface of a body, set values = "surface".'
        )
    return found


def _body(surface: Surface) -> FacesMap:
    flat = surface.triangles[:, :, :2]
    _check_orientation(surface)
    outward = np.sign(_volume(surface)) * _turns(flat)
    lowest = UPRIGHT * np.linalg.norm(_normals(surface.triangles), axis=1)
    sides = {"upper": outward > lowest, "lower": outward < -lowest}
    areas = {side: float(np.abs(outward[chosen]).sum()) for side, chosen in sides.items()}
    for side, area in areas.items():
        if area < 0.01 * sum(areas.values()):
            raise FileError(
                f"{surface.name} has no {side} side, and the net pressure needs both; export the whole surface of "
                f'the panel, or set values = "net".'
            )
    upper, lower = (MeshMap(flat[chosen], surface.values[chosen]) for chosen in sides.values())
    return FacesMap(upper, lower)


def _normals(triangles: FloatArray) -> FloatArray:
    """Return normals as long as twice the area."""
    return np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])


def _turns(flat: FloatArray) -> FloatArray:
    """Twice the signed area in plan view."""
    a, b = flat[:, 1] - flat[:, 0], flat[:, 2] - flat[:, 0]
    return np.asarray(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])


def _volume(surface: Surface) -> float:
    """Volume that the surface encloses (divergence theorem); negative when its normals look inward."""
    triangles = surface.triangles - surface.triangles.mean(axis=(0, 1))
    normals = _normals(triangles)
    volume = float(np.einsum("nc,nc->", triangles[:, 0], normals)) / 6.0
    area = 0.5 * float(np.linalg.norm(normals, axis=1).sum())
    length = float(np.ptp(triangles.reshape(-1, 3), axis=0).max())
    if abs(volume) <= FLATTEST * length * area:
        raise FileError(
            f"{surface.name} encloses no volume, so its upper and lower side cannot be told apart; export the panel "
            f'with its thickness, or net values with values = "net".'
        )
    return volume


def _check_orientation(surface: Surface) -> None:
    """Refuse a surface on which neighbours are numbered round in opposite senses.

    Two triangles that look to the same side run along their common edge in opposite directions.
    """
    corners = surface.triangles.reshape(-1, 3)
    cells = np.floor(corners / SAME_POINT + 0.2371).astype(np.int64)
    _, number = np.unique(cells, axis=0, return_inverse=True)
    ring = number.reshape(-1, 3)
    start, end = ring.ravel(), np.roll(ring, -1, axis=1).ravel()
    real = start != end
    start, end = start[real], end[real]
    edges = np.minimum(start, end) * (ring.max() + 1) + np.maximum(start, end)
    _, which, count = np.unique(edges, return_inverse=True, return_counts=True)
    sense = np.bincount(which.ravel(), np.where(start < end, 1.0, -1.0))
    wrong = int(((count == 2) & (sense != 0.0)).sum())
    if wrong:
        raise FileError(
            f"{surface.name} has {wrong} edges where the normals of the two cells look to different sides; orient the "
            f"normals before the export."
        )
