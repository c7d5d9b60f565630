"""Elastic solids made of boxes: bodies, materials, supports, loads and the grid they are meshed with.

Panels, tubes and angles are unions of axis-aligned boxes, and one tensor-product grid runs through all of
their faces.  This module holds the plain data (numpy only); `solid3d` meshes and solves it.

Axes: x and y in the panel, z up, z = 0 the panel's mid-surface.  SI units throughout.
Voigt order of strains and stresses: xx, yy, zz, yz, xz, xy (engineering shear strains).
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Point = tuple[float, float, float]
Rectangles = tuple[tuple[float, float, float, float], ...]
SNAP = 1e-9
"""Coordinates closer than this (m) are the same grid line."""


@dataclass(frozen=True)
class Box:
    """An axis-aligned box; flat in one direction it is a surface patch.

    Parameters
    ----------
    lower, upper : tuple of float
        Opposite corners (m).
    """

    lower: Point
    upper: Point

    def holds(self, points: Floats) -> NDArray[np.bool_]:
        """Tell which of the points, shape (n, 3), lie in the box or on its surface; shape (n,)."""
        inside = (points >= np.array(self.lower) - SNAP) & (points <= np.array(self.upper) + SNAP)
        return np.asarray(inside.all(axis=1))


@dataclass(frozen=True)
class Part:
    """A body made of boxes of one material.

    Parameters
    ----------
    name : str
        Name of the part.
    boxes : tuple of Box
        Boxes that touch but do not overlap.
    stiffness : ndarray, shape (6, 6)
        Elastic stiffness (Pa), see `isotropic` and `orthotropic`.
    """

    name: str
    boxes: tuple[Box, ...]
    stiffness: Floats


@dataclass(frozen=True)
class Spacing:
    """Wanted cell size along one axis.

    Parameters
    ----------
    size : float
        Largest cell (m).
    fine : mapping of float to float
        Cell size (m) at given coordinates, from which it grows linearly.
    growth : float
        Increase of the cell size per distance from such a coordinate.
    lines : tuple of float
        Coordinates that must be grid lines besides those of the boxes.
    """

    size: float
    fine: Mapping[float, float] = field(default_factory=dict)
    growth: float = 0.6
    lines: tuple[float, ...] = ()


@dataclass(frozen=True)
class SolidModel:
    """Bodies, supports and loads.

    Parameters
    ----------
    parts : tuple of Part
        Bodies; faces that touch are joined.
    spacing : tuple of Spacing
        Mesh density along x, y and z.
    patches : mapping of str to Box
        Flat boxes that name pieces of the outer surface; their edges become grid lines.
    fixed : mapping of str to str
        Patch name to the displacement components held at zero, for example ``{"clamp": "xyz"}``.
    tractions : mapping of str to (float or ngsolve CoefficientFunction) triples
        Patch name to the surface traction (Pa).
    """

    parts: tuple[Part, ...]
    spacing: tuple[Spacing, Spacing, Spacing]
    patches: Mapping[str, Box]
    fixed: Mapping[str, str]
    tractions: Mapping[str, tuple[Any, Any, Any]]


def orthotropic(*, E: ArrayLike, nu: ArrayLike, G: ArrayLike) -> Floats:
    """Stiffness of an orthotropic solid with axes along x, y, z.

    Parameters
    ----------
    E : array_like, shape (3,)
        Young's moduli E1, E2, E3 (Pa).
    nu : array_like, shape (3,)
        Poisson's ratios nu12, nu13, nu23, where nu_ij = -strain_j / strain_i under stress along i
        (nu_ij / E_i = nu_ji / E_j).
    G : array_like, shape (3,)
        Shear moduli G12, G13, G23 (Pa).

    Returns
    -------
    ndarray, shape (6, 6)
        Inverse of the compliance matrix (Lekhnitskii, Theory of Elasticity of an Anisotropic Body).
    """
    (E1, E2, E3), (n12, n13, n23) = np.asarray(E, float), np.asarray(nu, float)
    G12, G13, G23 = np.asarray(G, float)
    compliance = np.diag([1 / E1, 1 / E2, 1 / E3, 1 / G23, 1 / G13, 1 / G12])
    for i, j, value in ((0, 1, n12 / E1), (0, 2, n13 / E1), (1, 2, n23 / E2)):
        compliance[i, j] = compliance[j, i] = -value
    if np.linalg.eigvalsh(compliance).min() <= 0:
        raise ValueError("The moduli and Poisson's ratios give a negative strain energy; lower a ratio.")
    return np.asarray(np.linalg.inv(compliance))


def isotropic(E: float, nu: float) -> Floats:
    """Stiffness, shape (6, 6) (Pa), of an isotropic solid with Young's modulus `E` (Pa) and ratio `nu`."""
    G = E / (2 * (1 + nu))
    return orthotropic(E=(E, E, E), nu=(nu, nu, nu), G=(G, G, G))


def square_tube(side: float, wall: float) -> Rectangles:
    """Four wall rectangles of a sharp-cornered square tube, for `extruded`."""
    h = side / 2
    return (
        (-h, h, 0.0, wall),
        (-h, h, side - wall, side),
        (-h, wall - h, wall, side - wall),
        (h - wall, h, wall, side - wall),
    )


def angle(leg: float, wall: float) -> Rectangles:
    """Foot and upright of a sharp-cornered equal angle, for `extruded`.

    The upright stands at the foot's edge of greatest transverse coordinate.
    """
    h = leg / 2
    return ((-h, h, 0.0, wall), (h - wall, h, wall, leg))


def centroid(section: Rectangles) -> tuple[float, float]:
    """Transverse coordinate and depth (m) of the centroid of a section made of rectangles."""
    s0, s1, d0, d1 = np.array(section).T
    area = (s1 - s0) * (d1 - d0)
    return float(area @ (s0 + s1) / 2 / area.sum()), float(area @ (d0 + d1) / 2 / area.sum())


def extruded(
    section: Rectangles,
    *,
    along: str,
    span: tuple[float, float],
    centre: float,
    face: float,
) -> tuple[Box, ...]:
    """Extrude a section under a panel.

    Parameters
    ----------
    section : tuple of (s0, s1, d0, d1)
        Rectangles: transverse interval about the rib line and interval of the depth below `face` (m).
    along : {"x", "y"}
        Direction of the rib; the transverse coordinate is the other one of x and y.
    span : tuple of float
        Ends of the rib along its direction (m).
    centre : float
        Transverse coordinate of the rib line, the middle of the foot (m).
    face : float
        z of the face that the foot is bonded to (m).

    Returns
    -------
    tuple of Box
    """
    if along not in ("x", "y"):
        raise ValueError(f"A rib runs along 'x' or 'y', not along '{along}'.")
    boxes = []
    for s0, s1, d0, d1 in section:
        lower, upper = [span[0], centre + s0], [span[1], centre + s1]
        if along == "y":
            lower, upper = lower[::-1], upper[::-1]
        boxes.append(Box((lower[0], lower[1], face - d1), (upper[0], upper[1], face - d0)))
    return tuple(boxes)


def grid_lines(breaks: ArrayLike, spacing: Spacing) -> Floats:
    """Place grid lines through all breaks with the wanted cell sizes between them.

    Parameters
    ----------
    breaks : array_like
        Coordinates that must be lines (m), in any order, repetitions allowed.
    spacing : Spacing
        Wanted sizes; every interval between breaks is divided so that its cells are in proportion to them.

    Returns
    -------
    ndarray
        Ascending coordinates.
    """
    ordered = np.sort(np.asarray(breaks, float))
    ordered = ordered[np.concatenate([[True], np.diff(ordered) > SNAP])]
    lines = [ordered[:1]]
    for a, b in itertools.pairwise(ordered):
        s = np.linspace(a, b, 4001)
        size = np.full_like(s, spacing.size)
        for at, small in spacing.fine.items():
            size = np.minimum(size, small + spacing.growth * np.abs(s - at))
        density = 1 / size
        count = np.concatenate([[0.0], np.cumsum((density[1:] + density[:-1]) / 2 * np.diff(s))])
        n = max(1, int(np.ceil(count[-1] - 1e-6)))
        inner = np.interp(np.arange(1, n) / n * count[-1], count, s)
        lines.append(np.concatenate([inner, [b]]))
    return np.concatenate(lines)


def model_grid(model: SolidModel) -> tuple[Floats, Floats, Floats]:
    """Grid lines along x, y and z through every face of the boxes and every edge of the patches."""
    boxes = [box for part in model.parts for box in part.boxes] + list(model.patches.values())
    axes = []
    for k in range(3):
        breaks = [box.lower[k] for box in boxes] + [box.upper[k] for box in boxes]
        axes.append(grid_lines(breaks + list(model.spacing[k].lines), model.spacing[k]))
    return axes[0], axes[1], axes[2]
