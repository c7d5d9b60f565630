"""Air that gives way or pulls after as the panel moves: its stiffness among the natural modes.

The pressure follows the gap at every instant, as if the air settled at once: there is no damping and no delay in it.
Divergence and the change of frequencies come out; flutter, which lives on damping and delay, does not.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from splitterfem.fem.follower import Follower

Array = NDArray[np.float64]

SPARE = 24
"""Natural modes above those asked for that take part; `AirModes.truncation` tells what leaving out the rest costs."""

MERGED = 1e-6
"""Imaginary part of an eigenvalue, over the eigenvalue, above which two modes have merged; below it is rounding."""

FLUTTER = (
    "FLUTTER IS NOT JUDGED: the air's stiffness alone makes these modes swing at one frequency, which is how flutter "
    "can begin; whether it grows is a matter of the air's damping and delay, which are not in the model."
)
"""What is said when modes merge."""

DIVERGES = (
    "The air pulls harder than the panel and its supports push back: at this speed the panel diverges, and what is "
    "given as 0 Hz does not vibrate but goes on bowing until it touches or breaks."
)
"""What is said of modes without a frequency."""


@dataclass(frozen=True)
class AirModes:
    """Natural modes with the stiffness of the air.

    Attributes
    ----------
    values : ndarray, shape (k,)
        Squares of angular frequencies in 1/s2, lowest first; negative where the panel diverges.
    shapes : ndarray, shape (n, k)
        Unknowns; of a pair that has merged the parts in phase and a quarter of a period later.
    merged : tuple of int
        Places, from 0, of the modes that swing at one frequency with another.
    truncation : float
        Largest change of a square, over the largest of all, when half of the spare modes are left out as well.
    """

    values: Array
    shapes: Array
    merged: tuple[int, ...]
    truncation: float


def with_air(
    values: Array, shapes: Array, follower: Follower, x: Array, count: int, *, n_dofs: int
) -> AirModes:
    """Add the stiffness of the air to natural modes, by projection on them.

    With ``M phi_i`` normalised, ``A_ij = phi_i . slope(phi_j)`` and the squares of angular frequencies ``Omega^2`` on a
    diagonal, the modes in air are the eigenvectors of ``Omega^2 - A`` (Bisplinghoff, Ashley & Halfman, Aeroelasticity,
    1955, ch. 8, on modes as generalised coordinates; from memory).

    Parameters
    ----------
    values : ndarray, shape (m,)
        Squares of angular frequencies without air in 1/s2, lowest first.
    shapes : ndarray, shape (n, m)
        Their shapes, of a modal mass of 1 kg.
    follower : Follower
        Load of the air.
    x : ndarray, shape (n_dofs,)
        Unknowns of the panel about which it vibrates.
    count : int
        How many are wanted, at most m.
    n_dofs : int
        Number of the panel's own unknowns, the first of each shape.
    """
    slope = follower.slope(x)
    stiffness = shapes[:n_dofs].T @ np.column_stack([slope(shape) for shape in shapes[:n_dofs].T])
    matrix = np.diag(values) - stiffness
    squares, mixes = _lowest(matrix, count)
    fewer = (len(values) + count) // 2
    rough = _lowest(matrix[:fewer, :fewer], count)[0]
    merged = np.flatnonzero(np.abs(squares.imag) > MERGED * np.abs(squares))
    return AirModes(
        values=_real_squares(squares),
        shapes=shapes @ _real_mixes(squares, mixes),
        merged=tuple(int(place) for place in merged),
        truncation=float(np.abs(rough - squares).max() / np.abs(squares).max()),
    )


def _lowest(matrix: Array, count: int) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
    """Eigenvalues of least real part and their vectors."""
    values, vectors = np.linalg.eig(matrix)
    order = np.lexsort((-values.imag, values.real))[:count]
    return values[order].astype(complex), vectors[:, order].astype(complex)


def _real_squares(squares: NDArray[np.complex128]) -> Array:
    """Squares of the real angular frequencies; those of modes that diverge stay negative."""
    merged = np.abs(squares.imag) > MERGED * np.abs(squares)
    return np.where(merged, np.sqrt(squares).real ** 2, squares.real)


def _real_mixes(squares: NDArray[np.complex128], mixes: NDArray[np.complex128]) -> Array:
    """Real columns of unit length: of each vector its part in phase, of the second of a pair the part out of phase."""
    found = np.zeros(mixes.shape)
    for i, mix in enumerate(mixes.T):
        turned = mix * np.exp(-0.5j * np.angle(mix @ mix))
        second = squares[i].imag < -MERGED * abs(squares[i])
        part = turned.imag if second else turned.real
        size = np.linalg.norm(part)
        found[:, i] = part / size if size > 0.0 else turned.real
    return found
