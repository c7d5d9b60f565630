"""Plies to plate stiffness: classical lamination theory with an energy-consistent shear stiffness.

Conventions are those of `PlateStiffness`; plies are listed from the bottom face to the top face and z is
measured up from the laminate's mid-surface.

The transverse shear stiffness is that of the true shear flow and not 5/6 of the ply moduli: cylindrical
bending along a direction with the ply stiffnesses ``Q(z)`` has the neutral height ``z0 = int Q z / int Q``,
the shear flow ``g(z) = -int Q (z' - z0) dz'`` from the bottom face up, the stiffness
``EI = int Q (z - z0)^2`` and the shear energy ``(V / EI)^2 int g^2 / G / 2``, hence the shear stiffness
``EI^2 / int g^2 / G``. It is evaluated for bending along two directions at a right angle, with the mixed
energy of the two flows, so that ``S`` is a full 2 x 2 matrix. In a cross-ply laminate the two directions are
those of the plies. In any other laminate they are the ones that the fourth harmonic of the ply stiffness
over the angle picks (the main directions of a cross-ply laminate again), so that the answer turns with the
laminate; there the formula is an approximation.

References
----------
Reddy, J. N. (2004). Mechanics of Laminated Composite Plates and Shells, 2nd ed., chapters 2 and 3.
Whitney, J. M. (1973). Shear correction factors for orthotropic laminates under static load.
Journal of Applied Mechanics 40, 302-304.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from splitterfem.errors import DesignError
from splitterfem.materials.ply import Ply
from splitterfem.materials.sheet import reduced_stiffness
from splitterfem.materials.stiffness import PlateStiffness, shear_rotation, strain_rotation

FloatArray = NDArray[np.float64]

_GAUSS = np.polynomial.legendre.leggauss(3)  # exact for the fourth degree of a squared shear flow


def laminate(plies: Sequence[Ply]) -> PlateStiffness:
    """Stiffness of a stack of plies in its own axes.

    Parameters
    ----------
    plies : sequence of Ply
        From the bottom face to the top face.

    Returns
    -------
    PlateStiffness

    Raises
    ------
    DesignError
        If there is no ply, or the stack gives way without resistance in some direction.
    """
    if not plies:
        raise DesignError("The layup has no ply; give at least one.")
    A, B, D = _moments(plies)
    if np.abs(B).max() < 1e-12 * np.sqrt(np.abs(A).max() * np.abs(D).max()):
        B = np.zeros((3, 3))  # what rounding leaves of a symmetric stack
    return PlateStiffness(
        A=A,
        B=B,
        D=D,
        S=shear_stiffness(plies),
        mass_per_area=float(sum(ply.material.density * ply.thickness for ply in plies)),
        thickness=float(sum(ply.thickness for ply in plies)),
    )


def coupling(plies: Sequence[Ply]) -> float:
    """Largest entry of ``B`` over the root of the largest of ``A`` times that of ``D``; 0 if symmetric."""
    A, B, D = _moments(plies)
    return float(np.abs(B).max() / np.sqrt(np.abs(A).max() * np.abs(D).max()))


def shear_stiffness(plies: Sequence[Ply]) -> FloatArray:
    """Energy-consistent transverse shear stiffness (xz, yz) of a stack, N/m, shape (2, 2).

    See the head of the module for the formula.
    """
    axis = shear_axis(plies)
    r = shear_rotation(axis)
    flow = _ShearFlow.of(plies, axis)
    x, w = _GAUSS
    half = np.diff(flow.z) / 2
    z = flow.z[:-1, None] + half[:, None] * (1 + x)
    index = np.repeat(np.arange(len(plies)), len(x))
    g = flow.at(index, z.ravel())
    weights = (half[:, None] * w).ravel()
    compliance = np.einsum("q,qi,qj,qij->ij", weights, g, g, np.linalg.inv(flow.G)[index])
    return np.asarray(r.T @ np.linalg.inv(compliance) @ r)


def shear_axis(plies: Sequence[Ply]) -> float:
    """Angle of the axes in which the shear stiffness is evaluated, rad in (-pi/4, pi/4].

    The argument of the ply stiffness's fourth harmonic over the angle, every ply weighted by its
    anisotropy and its share of the bending stiffness; 0 when no direction stands out.
    """
    z = _levels(plies)
    weights = np.diff(z**3) / 3 * np.array([_anisotropy(ply) for ply in plies])
    harmonic = np.sum(weights * np.exp(4j * np.array([ply.angle for ply in plies])))
    if abs(harmonic) <= 1e-9 * np.sum(weights):
        return 0.0
    return float(np.angle(harmonic) / 4)


def ply_stresses(plies: Sequence[Ply], strain: ArrayLike, curvature: ArrayLike) -> FloatArray:
    """In-plane stresses at the faces of every ply, in the ply's own axes.

    Parameters
    ----------
    plies : sequence of Ply
        From the bottom face to the top face.
    strain : array_like, shape (..., 3)
        Of the mid-surface, in the layup's axes.
    curvature : array_like, shape (..., 3)
        1/m, in the layup's axes; the strain at height z is ``strain - z curvature``.

    Returns
    -------
    ndarray, shape (..., n_plies, 2, 3)
        Stresses (11, 22, 12) in Pa at the bottom and the top face of each ply.
    """
    z = _levels(plies)
    faces = np.stack([z[:-1], z[1:]], axis=1)
    eps, kappa = np.asarray(strain, dtype=np.float64), np.asarray(curvature, dtype=np.float64)
    at_faces = eps[..., None, None, :] - faces[:, :, None] * kappa[..., None, None, :]
    turn = np.array([_in_plane(ply, 0.0) @ strain_rotation(ply.angle) for ply in plies])
    return np.asarray(np.einsum("pij,...pfj->...pfi", turn, at_faces))


def ply_shear_stresses(plies: Sequence[Ply], shear_force: ArrayLike) -> FloatArray:
    """Transverse shear stresses at the bottom, middle and top of every ply, in the ply's own axes.

    From equilibrium in cylindrical bending, the same flow as behind `shear_stiffness`.

    Parameters
    ----------
    plies : sequence of Ply
        From the bottom face to the top face.
    shear_force : array_like, shape (..., 2)
        Shear force per width (xz, yz) in the layup's axes, N/m.

    Returns
    -------
    ndarray, shape (..., n_plies, 3, 2)
        Stresses (13, 23) in Pa; 23 is rolling shear in a veneer.
    """
    axis = shear_axis(plies)
    flow = _ShearFlow.of(plies, axis)
    z = np.stack([flow.z[:-1], (flow.z[:-1] + flow.z[1:]) / 2, flow.z[1:]], axis=1)
    index = np.repeat(np.arange(len(plies)), 3)
    g = flow.at(index, z.ravel()).reshape(len(plies), 3, 2)
    force = np.asarray(shear_force, dtype=np.float64) @ shear_rotation(axis).T
    stress = g * force[..., None, None, :]
    turn = np.array([shear_rotation(ply.angle - axis) for ply in plies])
    return np.asarray(np.einsum("pij,...pfj->...pfi", turn, stress))


@dataclass(frozen=True)
class _ShearFlow:
    """Shear stress per unit shear force over the thickness, for bending along two directions."""

    z: FloatArray  # heights of the ply faces, (n + 1,)
    Q: FloatArray  # ply stiffness along each direction, (n, 2)
    G: FloatArray  # ply transverse shear stiffness, (n, 2, 2)
    z0: FloatArray  # neutral heights, (2,)
    EI: FloatArray  # (2,)
    start: FloatArray  # flow at the bottom face of each ply, before division by EI, (n, 2)

    @classmethod
    def of(cls, plies: Sequence[Ply], axis: float) -> _ShearFlow:
        z = _levels(plies)
        Q = np.array([_in_plane(ply, ply.angle - axis).diagonal()[:2] for ply in plies])
        if np.any(Q.sum(axis=0) <= 0):
            raise DesignError(
                "All plies of the layup run in one direction and have no stiffness across; add a ply across."
            )
        z0 = (np.diff(z**2) / 2) @ Q / (np.diff(z) @ Q)
        d = z[:, None] - z0
        return cls(
            z=z,
            Q=Q,
            G=np.array([_transverse(ply, ply.angle - axis) for ply in plies]),
            z0=z0,
            EI=np.sum(Q * np.diff(d**3, axis=0) / 3, axis=0),
            start=-np.cumsum(np.vstack([np.zeros(2), Q * np.diff(d**2, axis=0) / 2]), axis=0)[:-1],
        )

    def at(self, index: NDArray[np.intp], z: FloatArray) -> FloatArray:
        """Flow over EI at heights ``z`` in the plies ``index``, (n, 2), 1/m."""
        d, d_start = z[:, None] - self.z0, self.z[index, None] - self.z0
        return np.asarray((self.start[index] - self.Q[index] * (d**2 - d_start**2) / 2) / self.EI)


def _levels(plies: Sequence[Ply]) -> FloatArray:
    """Heights of the ply faces above the mid-surface, bottom first, (n + 1,)."""
    z = np.concatenate([[0.0], np.cumsum([float(ply.thickness) for ply in plies])])
    return np.asarray(z - z[-1] / 2)


def _moments(plies: Sequence[Ply]) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Ply stiffnesses integrated over the thickness, times z and times z^2: A, B and D."""
    z = _levels(plies)
    Q = np.array([_in_plane(ply, ply.angle) for ply in plies])
    A, B, D = (np.einsum("p,pij->ij", np.diff(z**k) / k, Q) for k in (1, 2, 3))
    return A, B, D


def _in_plane(ply: Ply, angle: float) -> FloatArray:
    """Plane-stress stiffness of a ply at an angle, Pa."""
    m = ply.material.moduli
    R = strain_rotation(angle)
    return np.asarray(R.T @ reduced_stiffness(m.E1, m.E2, m.nu12, m.G12) @ R)


def _transverse(ply: Ply, angle: float) -> FloatArray:
    """Transverse shear stiffness of a ply at an angle, Pa, (2, 2)."""
    m = ply.material.moduli
    r = shear_rotation(angle)
    return np.asarray(r.T @ np.diag([m.G13, m.G23]) @ r)


def _anisotropy(ply: Ply) -> float:
    """Sizes of the second and fourth harmonic of a ply's stiffness over the angle, added, Pa."""
    Q = _in_plane(ply, 0.0)
    second = abs(Q[0, 0] - Q[1, 1]) / 2
    fourth = abs(Q[0, 0] + Q[1, 1] - 2 * Q[0, 1] - 4 * Q[2, 2]) / 8
    return float(second + fourth)
