"""Structured triangle meshes of plain shapes, for benchmarks and tests against closed forms."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from ..errors import DesignError

Mesh = tuple[NDArray[np.float64], NDArray[np.int64]]


def _check(**values: float) -> None:
    for name, value in values.items():
        if not (math.isfinite(value) and value > 0):
            raise DesignError(f"The structured mesh has {name} = {value!r}; give a positive number.")


def rectangle_mesh(lx: float, ly: float, nx: int, ny: int, *, pattern: str = "cross") -> Mesh:
    """Mesh the rectangle from (0, 0) to (lx, ly).

    Parameters
    ----------
    lx, ly : float
        Sides (m).
    nx, ny : int
        Number of cells along them.
    pattern : {"cross", "diagonal"}
        Four triangles to a cell round its middle, or two on either side of its rising diagonal.

    Returns
    -------
    points : ndarray, shape (2, nv)
        Vertices (m).
    triangles : ndarray of int, shape (3, nt)
        Vertices of each triangle, counter-clockwise.

    Raises
    ------
    DesignError
        When a side or a count is not positive, or the pattern is unknown.
    """
    _check(lx=lx, ly=ly, nx=nx, ny=ny)
    x, y = np.linspace(0.0, lx, nx + 1), np.linspace(0.0, ly, ny + 1)
    return _mapped_grid(x, y, pattern)


def _mapped_grid(x: NDArray[np.float64], y: NDArray[np.float64], pattern: str) -> Mesh:
    if pattern not in ("cross", "diagonal"):
        raise DesignError(f"The mesh pattern is {pattern!r}; give 'cross' or 'diagonal'.")
    nx, ny = len(x) - 1, len(y) - 1
    corners = np.stack([np.tile(x, ny + 1), np.repeat(y, nx + 1)])
    a = (np.arange(nx)[None] + (nx + 1) * np.arange(ny)[:, None]).ravel()
    b, c, d = a + 1, a + nx + 2, a + nx + 1
    if pattern == "diagonal":
        return corners, np.concatenate([np.stack([a, b, c]), np.stack([a, c, d])], axis=1)
    middles = 0.25 * (corners[:, a] + corners[:, b] + corners[:, c] + corners[:, d])
    m = corners.shape[1] + np.arange(nx * ny)
    sides = [np.stack([p, q, m]) for p, q in ((a, b), (b, c), (c, d), (d, a))]
    return np.concatenate([corners, middles], axis=1), np.concatenate(sides, axis=1)


def rhombus_mesh(side: float, angle: float, n: int, *, grade_to_obtuse: bool = False) -> Mesh:
    """Mesh the rhombus with one acute corner at the origin and one side along x.

    Parameters
    ----------
    side : float
        Side (m).
    angle : float
        Angle at the origin (rad), more than 0 and up to π/2; the obtuse corners are the two next to it.
    n : int
        Number of cells along each side.
    grade_to_obtuse : bool
        Whether the two obtuse corners are the centres of rings whose radii grow with the fourth power: the
        bending moments of a simply supported rhombus are singular there (Morley, Skew Plates, 1963).

    Returns
    -------
    points : ndarray, shape (2, nv)
        Vertices (m).
    triangles : ndarray of int, shape (3, nt)
        Vertices of each triangle, counter-clockwise; nt is 4 n², or about as many if graded.

    Raises
    ------
    DesignError
        When a number is out of its range.
    """
    _check(side=side, angle=angle, n=n)
    if angle > 0.5 * math.pi + 1e-12:
        raise DesignError(f"The rhombus has an acute angle of {angle!r} rad; give at most π/2.")
    slant = np.array([[math.cos(angle)], [math.sin(angle)]])
    if grade_to_obtuse:
        return _two_fans(side, slant, n)
    (x, y), triangles = rectangle_mesh(side, side, n, n)
    return np.stack([x, np.zeros_like(x)]) + slant * y, triangles


def _two_fans(side: float, slant: NDArray[np.float64], n: int) -> Mesh:
    """Fans round the obtuse corners that meet on the long diagonal."""
    (r, s), cells = _mapped_grid(
        np.linspace(0.0, 1.0, n + 1) ** 4, np.linspace(0.0, 1.0, max(1, n // 2) + 1), "cross"
    )
    right, left = side * np.array([[1.0], [0.0]]), side * slant
    fans = [corner + r * ((right + left) * s - corner) for corner in (right, left)]
    points = np.concatenate(fans, axis=1)
    triangles = np.concatenate([cells[::-1], cells + len(r)], axis=1)
    _, kept, renumbered = np.unique(
        np.round(points / side, 14), axis=1, return_index=True, return_inverse=True
    )
    triangles = renumbered.ravel()[triangles]
    a, b, c = triangles
    return points[:, kept], triangles[:, (a != b) & (b != c) & (c != a)]


def disc_mesh(radius: float, n: int) -> Mesh:
    """Mesh the disc round the origin in rings; the outer vertices lie on the circle.

    Parameters
    ----------
    radius : float
        Radius (m).
    n : int
        Number of rings; ring k has 6 k vertices.

    Returns
    -------
    points : ndarray, shape (2, 1 + 3 n (n + 1))
        Vertices (m), the centre first and the circle last.
    triangles : ndarray of int, shape (3, 6 n²)
        Vertices of each triangle, counter-clockwise.

    Raises
    ------
    DesignError
        When the radius or the number of rings is not positive.
    """
    _check(radius=radius, n=n)
    rings = [np.zeros((2, 1))]
    triangles = []
    for k in range(1, n + 1):
        angle = math.tau * np.arange(6 * k) / (6 * k)
        rings.append(radius * k / n * np.stack([np.cos(angle), np.sin(angle)]))
        triangles.append(_ring(k))
    return np.concatenate(rings, axis=1), np.concatenate(triangles, axis=1)


def _ring(k: int) -> NDArray[np.int64]:
    """Triangles between ring k - 1 and ring k, a sixth of the circle at a time."""
    outer = 1 + 3 * k * (k - 1)
    inner = 1 + 3 * (k - 1) * (k - 2) if k > 1 else 0
    sixth, step = np.divmod(np.arange(6 * k), k)
    low = outer + np.arange(6 * k)
    high = outer + (np.arange(6 * k) + 1) % (6 * k)
    around = max(1, 6 * (k - 1))
    first = inner + (sixth * (k - 1) + step) % around
    pointing_in = np.stack([low, high, first])
    wide = step < k - 1
    second = inner + (sixth * (k - 1) + step + 1) % around
    return np.concatenate([pointing_in, np.stack([first, high, second])[:, wide]], axis=1)


def distorted(points: NDArray[np.float64], triangles: NDArray[np.int64], amount: float, seed: int) -> Mesh:
    """Move the interior vertices of a mesh at random.

    Parameters
    ----------
    points : ndarray, shape (2, nv)
        Vertices (m).
    triangles : ndarray of int, shape (3, nt)
        Vertices of each triangle, counter-clockwise.
    amount : float
        Largest move, as a fraction of the shortest edge at the vertex; 0 to 0.4.
    seed : int
        Seed of the random numbers.

    Returns
    -------
    points : ndarray, shape (2, nv)
        New vertices; those on the boundary stay.
    triangles : ndarray of int, shape (3, nt)
        The same triangles.

    Raises
    ------
    DesignError
        When the amount is out of its range, or would turn a triangle over.
    """
    if not 0.0 <= amount <= 0.4:
        raise DesignError(f"The distortion is {amount!r}; give a fraction from 0 to 0.4.")
    pairs = np.concatenate([triangles[[0, 1]], triangles[[1, 2]], triangles[[2, 0]]], axis=1)
    shortest = np.full(points.shape[1], np.inf)
    lengths = np.linalg.norm(points[:, pairs[0]] - points[:, pairs[1]], axis=0)
    for ends in pairs:
        np.minimum.at(shortest, ends, lengths)
    edges, counts = np.unique(np.sort(pairs, axis=0), axis=1, return_counts=True)
    inside = np.ones(points.shape[1], bool)
    inside[edges[:, counts == 1]] = False
    random = np.random.default_rng(seed)
    angle, far = random.uniform(0.0, math.tau, len(inside)), random.uniform(0.0, amount, len(inside))
    moved = points + np.where(inside, far * shortest, 0.0) * np.stack([np.cos(angle), np.sin(angle)])
    u, v = moved[:, triangles[1]] - moved[:, triangles[0]], moved[:, triangles[2]] - moved[:, triangles[0]]
    if not (u[0] * v[1] - u[1] * v[0] > 0.0).all():
        raise DesignError(
            f"A distortion of {amount!r} turns triangles over on this mesh; give a smaller one."
        )
    return np.asarray(moved), triangles
