"""Static divergence: how nearly a load that follows the deflection overcomes a structure in its supports.

The load that a small deflection v brings about is ``A v``, and the structure answers a load with the flexibility H that
it has with the supports that act.  Eigenvalues of ``H A`` tell how much of a shape the load gives back to itself: below
one it fades, at one there is no equilibrium left to go back to (Bisplinghoff, Ashley & Halfman, Aeroelasticity, 1955,
ch. 8; from memory).  A load in proportion to the dynamic pressure q diverges at ``q / eigenvalue``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse.linalg import ArpackError, ArpackNoConvergence, LinearOperator, eigs

from splitterfem.errors import SolveError
from splitterfem.fem.feedback import Slope
from splitterfem.fem.supported import SupportedMatrix

Array = NDArray[np.float64]
Sides = NDArray[np.int64]

REAL = 1e-7
"""Imaginary part of an eigenvalue over its size below which it is rounding."""

SEVERAL = 20
"""Eigenvalues, the largest in size, that are looked at where the largest one of all is not a positive real one."""

EIGEN_TOLERANCE = 1e-9
LARGEST_MISS = 1e-6
MEND = ": look for extreme stiffness ratios between sheet, ribs and struts."


@dataclass(frozen=True, eq=False)
class Feedback:
    """How much of a deflection the load that it brings about gives back.

    Attributes
    ----------
    factor : float
        Largest real eigenvalue of ``H A``: an equilibrium is amplified by about ``1 / (1 - factor)``, and is lost at
        one.  Zero where the load gives nothing back or only stiffens.
    shape : ndarray, shape (n,), or None
        Its shape, the largest value of which is 1; None where the factor is zero.
    swinging : float
        Largest real part of a pair of complex eigenvalues above the factor, zero without such a pair.  It is no static
        divergence.
    """

    factor: float
    shape: Array | None
    swinging: float = 0.0


NO_FEEDBACK = Feedback(0.0, None)


def feedback(held: SupportedMatrix, side: Sides, slope: Slope | None) -> Feedback:
    """Find the leading real eigenvalue of what a deflection gives back to itself.

    Parameters
    ----------
    held : SupportedMatrix
        Tangent stiffness in its supports.
    side : ndarray of int, shape (m,)
        Supports that act, 0 for those that do not.
    slope : callable or None
        Derivative of the load: takes changes of the unknowns (n,) to changes of the load (n,).

    Raises
    ------
    SolveError
        If the eigenvalue does not converge.
    """
    if slope is None:
        return NO_FEEDBACK
    n = held.matrix.shape[0]

    def given_back(v: Array) -> Array:
        return held.answer(side, slope(np.ravel(v)))

    # a fixed start without symmetry, so that runs repeat and no shape is missed
    start = given_back(np.random.default_rng(0).standard_normal(n))
    if not np.any(start):
        return NO_FEEDBACK
    values, vectors = _largest(given_back, start, 1)
    if not _is_real(values)[0] or values[0].real < 0.0:
        # the largest by their real parts would not be found: zero, to which all fade, may be the largest
        values, vectors = _largest(given_back, start, min(SEVERAL, held.free.size - 2))
    return _leading(values, vectors, given_back)


def _is_real(values: NDArray[np.complex128]) -> NDArray[np.bool_]:
    return np.asarray(np.abs(values.imag) <= REAL * np.abs(values).max())


def _leading(values: NDArray[np.complex128], vectors: NDArray[np.complex128], given_back: Slope) -> Feedback:
    real = _is_real(values)
    pairs = values.real[~real]
    rising = np.flatnonzero(real & (values.real > 0.0))
    if not len(rising):
        return Feedback(0.0, None, float(pairs.max(initial=0.0)))
    best = int(rising[np.argmax(values.real[rising])])
    factor, v = float(values[best].real), vectors[:, best]
    shape = np.asarray((v / v[np.argmax(np.abs(v))]).real)
    miss = float(np.linalg.norm(given_back(shape) - factor * shape) / (factor * np.linalg.norm(shape)))
    if not miss <= LARGEST_MISS:
        raise SolveError(
            f"The share of the sag that the air gives back was found to {100.0 * miss:.1g} % only{MEND}"
        )
    return Feedback(factor, shape, float(pairs[pairs > factor].max(initial=0.0)))


def _largest(
    given_back: Slope, start: Array, count: int
) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
    """Eigenvalues of largest size, and their vectors."""
    n = len(start)
    operator = LinearOperator((n, n), matvec=given_back, dtype=np.float64)
    try:
        values, vectors = eigs(operator, k=count, which="LM", v0=start, tol=EIGEN_TOLERANCE, maxiter=300)
    except ArpackNoConvergence as problem:
        values, vectors = problem.eigenvalues, problem.eigenvectors
        if not len(values):
            raise SolveError(f"The share of the sag that the air gives back did not converge{MEND}") from None
    except ArpackError as problem:
        raise SolveError(
            f"The share of the sag that the air gives back was not found ({problem}){MEND}"
        ) from None
    return np.asarray(values, dtype=np.complex128), np.asarray(vectors, dtype=np.complex128)
