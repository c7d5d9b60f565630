"""Natural frequencies and buckling factors: the two eigenproblems of a panel in its supports.

Both use the sparse factor that static solutions use and Lanczos iterations (ARPACK, Lehoucq, Sorensen & Yang 1998, by
way of scipy).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.sparse.linalg import ArpackError, ArpackNoConvergence, LinearOperator, eigsh

from splitterfem.errors import SolveError
from splitterfem.fem.factor import factorise
from splitterfem.fem.ties import local_stiffness, submatrix, tied

Array = NDArray[np.float64]
Index = NDArray[np.int64]

STIFF = 1e6
"""Stiffness of a rigid support over that of the panel at its place: errors of a millionth."""


@dataclass(frozen=True)
class Eigenpairs:
    """Eigenvalues in rising order and their shapes.

    Attributes
    ----------
    values : ndarray, shape (k,)
    shapes : ndarray, shape (n, k)
    residual : float
        Largest norm of the eigenvalue equation's miss over that of its terms.
    """

    values: Array
    shapes: Array
    residual: float


def supported(matrix: sp.csc_array, rows: sp.csr_array, compliance: Array) -> sp.csc_array:
    """Add acting supports to a stiffness matrix as springs.

    Parameters
    ----------
    matrix : csc_array, shape (n, n)
    rows : csr_array, shape (m, n)
        Motions that the supports hold.
    compliance : ndarray, shape (m,)
        In m/N; zero for rigid ones, which become stiff springs.
    """
    if rows.shape[0] == 0:
        return matrix
    local = 1.0 / local_stiffness(matrix, rows)
    return tied(matrix, rows, 1.0 / np.where(compliance > 0.0, compliance, local / STIFF))


def vibration(
    stiffness: sp.csc_array, mass: sp.csc_array, free: Index, count: int, *, shift: float
) -> Eigenpairs:
    """Lowest squares of angular frequencies, ``K v = omega^2 M v``.

    Parameters
    ----------
    stiffness : csc_array, shape (n, n)
        Supports included.
    mass : csc_array, shape (n, n)
    free : ndarray of int
        Unknowns that are not held at zero.
    count : int
        How many.
    shift : float
        Positive, in 1/s2, of the order of the lowest elastic one: eigenvalues are found from ``-shift`` upwards, so
        that a panel that moves freely has an inverse too.

    Returns
    -------
    Eigenpairs
        Shapes have a modal mass of 1 kg.

    Raises
    ------
    SolveError
        If the eigenvalues do not converge.
    """
    K, M = (submatrix(sp.csc_array(part), free) for part in (stiffness, mass))
    factor = factorise(sp.csc_array(K + shift * M))
    inverse = LinearOperator(K.shape, matvec=lambda v: factor.solve(np.ravel(v)), dtype=np.float64)
    values, vectors = _converged(
        lambda: eigsh(K, k=min(count, K.shape[0] - 1), M=M, sigma=-shift, OPinv=inverse, v0=_start(M)), count
    )
    miss = K @ vectors - (M @ vectors) * values
    scale = abs(K) @ np.abs(vectors) + (abs(M) @ np.abs(vectors)) * np.abs(values)
    residual = float((np.linalg.norm(miss, axis=0) / np.linalg.norm(scale, axis=0)).max())
    return Eigenpairs(values, _whole(vectors, free, stiffness.shape[0]), residual)


def buckling(stiffness: sp.csc_array, geometric: sp.csc_array, free: Index, count: int) -> Eigenpairs:
    """Lowest positive factors on a load at which a panel buckles, ``K v = -factor G v``.

    Parameters
    ----------
    stiffness : csc_array, shape (n, n)
        Of a panel that its supports hold.
    geometric : csc_array, shape (n, n)
        Stiffness G that the stresses of the load add.
    free : ndarray of int
        Unknowns that are not held at zero.
    count : int
        How many; fewer come back when the load does not buckle the panel in so many ways.

    Raises
    ------
    SolveError
        If the eigenvalues do not converge.
    """
    K, G = (submatrix(sp.csc_array(part), free) for part in (stiffness, geometric))
    factor = factorise(K)
    inverse = LinearOperator(K.shape, matvec=lambda v: factor.solve(np.ravel(v)), dtype=np.float64)
    softening = sp.csc_array(-G)

    def found(which: str, k: int, **more: float) -> tuple[Array, Array]:
        k = min(k, K.shape[0] - 1)
        return eigsh(softening, k=k, M=K, Minv=inverse, which=which, v0=_start(K), tol=1e-9, **more)  # type: ignore[no-any-return]

    try:
        values, vectors = _converged(lambda: found("LA", count, maxiter=100), count)
    except SolveError:
        if float(_converged(lambda: found("LM", 1), 1)[0][0]) > 0.0:
            raise
        # zero is the end of the spectrum, a multiple eigenvalue that Lanczos iterations do not converge to
        values, vectors = np.zeros(0), np.zeros((K.shape[0], 0))
    kept = np.flatnonzero(values > 1e-9 * np.abs(values).max(initial=0.0))[::-1]
    factors, shapes = 1.0 / values[kept], vectors[:, kept]
    miss = K @ shapes + (G @ shapes) * factors
    scale = abs(K) @ np.abs(shapes)
    residual = float((np.linalg.norm(miss, axis=0) / np.linalg.norm(scale, axis=0)).max(initial=0.0))
    return Eigenpairs(factors, _whole(shapes, free, stiffness.shape[0]), residual)


def _start(matrix: sp.csc_array) -> Array:
    """Return a fixed start without symmetry, so that runs repeat and no mode is missed."""
    return np.asarray(np.random.default_rng(0).standard_normal(matrix.shape[0]), dtype=np.float64)


def _converged(solve: Callable[[], tuple[Array, Array]], count: int) -> tuple[Array, Array]:
    try:
        values, vectors = solve()
    except ArpackNoConvergence as problem:
        raise SolveError(
            f"Only {len(problem.eigenvalues)} of {count} modes converged: ask for fewer."
        ) from None
    except ArpackError as problem:
        raise SolveError(f"The modes could not be found ({problem}): check the supports.") from None
    order = np.argsort(values)
    return values[order], vectors[:, order]


def _whole(vectors: Array, free: Index, n: int) -> Array:
    shapes = np.zeros((n, vectors.shape[1]))
    shapes[free] = vectors
    return shapes
