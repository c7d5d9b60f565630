"""Stiffness of a sheet per unit width, and how it turns with the sheet."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from splitterfem.errors import DesignError

FloatArray = NDArray[np.float64]

SHAPES = {"A": (3, 3), "B": (3, 3), "D": (3, 3), "S": (2, 2)}


def strain_rotation(angle: float) -> FloatArray:
    """Turn strains (xx, yy, engineering xy) into axes that stand at an angle.

    Parameters
    ----------
    angle : float
        From the old x axis to the new one, anticlockwise seen from above, rad.

    Returns
    -------
    ndarray, shape (3, 3)
        ``R`` with ``strain_new = R @ strain_old``; a stiffness given in the new axes is ``R.T @ Q @ R``
        in the old ones (Reddy 2004, section 2.3).
    """
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[c * c, s * s, c * s], [s * s, c * c, -c * s], [-2 * c * s, 2 * c * s, c * c - s * s]])


def shear_rotation(angle: float) -> FloatArray:
    """Turn transverse shear strains (xz, yz) into axes that stand at an angle in rad; shape (2, 2)."""
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[c, s], [-s, c]])


@dataclass(frozen=True, eq=False)
class PlateStiffness:
    """Stiffness of a sheet per unit width about its mid-surface.

    ``N = A eps0 - B kappa``, ``M = -B eps0 + D kappa``, ``Q = S gamma``, with z up, strains ordered
    (xx, yy, engineering xy), shear ordered (xz, yz), ``gamma = grad w - phi`` and
    ``kappa = (phi_x,x, phi_y,y, phi_x,y + phi_y,x)``: the strain at height z is ``eps0 - z kappa``.
    The arrays are read-only; two of them are equal when all their numbers are.

    Parameters
    ----------
    A : array_like, shape (3, 3)
        Membrane stiffness, N/m.
    B : array_like, shape (3, 3)
        First moment of the ply stiffnesses, N; zero for a symmetric layup.
    D : array_like, shape (3, 3)
        Bending stiffness about the mid-surface, N m.
    S : array_like, shape (2, 2)
        Transverse shear stiffness, shear correction included, N/m.
    mass_per_area : float
        kg/m2.
    thickness : float
        m.

    Raises
    ------
    DesignError
        If a matrix has the wrong shape, is not finite, not symmetric or not positive definite.
    """

    A: FloatArray
    B: FloatArray
    D: FloatArray
    S: FloatArray
    mass_per_area: float
    thickness: float

    def __post_init__(self) -> None:
        for name, shape in SHAPES.items():
            object.__setattr__(self, name, _finite(name, getattr(self, name), shape))
        sizes = {name: float(np.abs(getattr(self, name)).max()) for name in SHAPES}
        sizes["B"] = float(np.sqrt(sizes["A"] * sizes["D"]))  # B itself may be nothing but rounding
        for name, size in sizes.items():
            object.__setattr__(self, name, _read_only_symmetric(name, getattr(self, name), size))
        if not (np.isfinite(self.thickness) and self.thickness > 0):
            raise DesignError(f"The sheet's thickness is {self.thickness:g} m; give one above zero.")
        if not (np.isfinite(self.mass_per_area) and self.mass_per_area >= 0):
            raise DesignError(
                f"The sheet's mass per area is {self.mass_per_area:g} kg/m2; give zero or more."
            )
        if not (_is_positive(np.block([[self.A, -self.B], [-self.B, self.D]])) and _is_positive(self.S)):
            raise DesignError(
                "The sheet gives way without resistance in some direction (its stiffness is not positive "
                "definite); check its moduli and Poisson's ratio, or add a ply across the first."
            )

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, PlateStiffness):
            return NotImplemented
        return self._key() == other._key()

    def __hash__(self) -> int:
        return hash(self._key())

    def _key(self) -> tuple[float, ...]:
        numbers = [float(value) for name in SHAPES for value in getattr(self, name).ravel()]
        return (*numbers, self.mass_per_area, self.thickness)

    def rotated(self, angle: float) -> PlateStiffness:
        """Stiffness in the same axes of the sheet turned by ``angle`` (rad, anticlockwise from above)."""
        R, r = strain_rotation(angle), shear_rotation(angle)
        return PlateStiffness(
            A=R.T @ self.A @ R,
            B=R.T @ self.B @ R,
            D=R.T @ self.D @ R,
            S=r.T @ self.S @ r,
            mass_per_area=self.mass_per_area,
            thickness=self.thickness,
        )

    def flipped(self) -> PlateStiffness:
        """Stiffness in the same axes of the sheet turned over about its x axis, bottom face up."""
        mirror = np.array([1.0, 1.0, -1.0])
        signs = np.outer(mirror, mirror)
        return PlateStiffness(
            A=self.A * signs,
            B=-self.B * signs,
            D=self.D * signs,
            S=self.S * np.array([[1.0, -1.0], [-1.0, 1.0]]),
            mass_per_area=self.mass_per_area,
            thickness=self.thickness,
        )

    @property
    def tension_moduli(self) -> tuple[float, float]:
        """Young's moduli (x, y) in Pa of a strip that is pulled, free to narrow and kept from bending."""
        C = np.linalg.inv(self.A)
        return float(1 / (C[0, 0] * self.thickness)), float(1 / (C[1, 1] * self.thickness))

    @property
    def bending_moduli(self) -> tuple[float, float]:
        """Young's moduli (x, y) in Pa that a strip shows in bending, free to curl across and to slide."""
        C = np.linalg.inv(self.D - self.B @ np.linalg.solve(self.A, self.B))
        factor = 12 / self.thickness**3
        return float(factor / C[0, 0]), float(factor / C[1, 1])


def _finite(name: str, value: object, shape: tuple[int, int]) -> FloatArray:
    matrix = np.array(value, dtype=np.float64)
    if matrix.shape != shape:
        raise DesignError(f"The sheet's {name} matrix has shape {matrix.shape}; it must be {shape}.")
    if not np.all(np.isfinite(matrix)):
        raise DesignError(f"The sheet's {name} matrix holds a number that is not finite; check its moduli.")
    return matrix


def _read_only_symmetric(name: str, matrix: FloatArray, size: float) -> FloatArray:
    if float(np.abs(matrix - matrix.T).max()) > 1e-9 * size:
        raise DesignError(f"The sheet's {name} matrix is not symmetric; check how it was entered.")
    matrix = 0.5 * (matrix + matrix.T)
    matrix.setflags(write=False)
    return matrix


def _is_positive(matrix: FloatArray) -> bool:
    """Whether a symmetric matrix is positive definite, judged free of its units."""
    diagonal = matrix.diagonal()
    if np.any(diagonal <= 0):
        return False
    scale = 1 / np.sqrt(diagonal)
    return bool(np.linalg.eigvalsh(matrix * np.outer(scale, scale)).min() > 1e-12)
