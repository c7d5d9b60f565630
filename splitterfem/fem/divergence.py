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
from splitterfem.fem.equilibrium import Slope
from splitterfem.fem.supported import SupportedMatrix

Array = NDArray[np.float64]
Sides = NDArray[np.int64]

REAL = 1e-7
"""Imaginary part of an eigenvalue over its size below which it is rounding."""

NOTHING = 1e-8
"""Eigenvalues below this share of the largest one are none: the load stiffens, or does nothing."""

SEVERAL = 6
"""Eigenvalues that are looked at where the largest one is not a positive real one."""

EIGEN_TOLERANCE = 1e-9
LARGEST_MISS = 1e-6


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
    values, vectors = _eigs(given_back, n, start, "LM", 1)
    largest = float(np.abs(values).max())
    if not (abs(values[0].imag) <= REAL * largest and values[0].real > 0.0):
        # moved up by the size of the largest, zero is no end of the spectrum to converge to
        values, vectors = _eigs(lambda v: given_back(v) + largest * np.ravel(v), n, start, "LR", SEVERAL)
        values = values - largest
    return _leading(values, vectors, largest, given_back)


def _leading(values: NDArray[np.complex128], vectors: NDArray[np.complex128], largest: float, given_back: Slope) -> Feedback:
    real = (np.abs(values.imag) <= REAL * largest) & (values.real > NOTHING * largest)
    pairs = values.real[np.abs(values.imag) > REAL * largest]
    if not real.any():
        return Feedback(0.0, None, max(float(pairs.max(initial=0.0)), 0.0))
    best = int(np.flatnonzero(real)[np.argmax(values.real[real])])
    factor = float(values[best].real)
    v = vectors[:, best]
    shape = np.asarray((v * np.exp(-1j * np.angle(v[np.argmax(np.abs(v))]))).real)
    miss = float(np.linalg.norm(given_back(shape) - factor * shape) / (factor * np.linalg.norm(shape)))
    if not miss <= LARGEST_MISS:
        raise SolveError(
            f"How much of the sag the air gives back was found to {100.0 * miss:.1g} % only: look for extreme stiffness "
            "ratios between sheet, ribs and struts."
        )
    above = pairs[pairs > factor]
    return Feedback(factor, shape / shape[np.argmax(np.abs(shape))], float(above.max(initial=0.0)))


def _eigs(
    given_back: Slope, n: int, start: Array, which: str, count: int
) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
    operator = LinearOperator((n, n), matvec=given_back, dtype=np.float64)
    count = min(count, n - 2)
    try:
        values, vectors = eigs(operator, k=count, which=which, v0=start, tol=EIGEN_TOLERANCE, maxiter=200)
    except ArpackNoConvergence as problem:
        values, vectors = problem.eigenvalues, problem.eigenvectors
        if not len(values):
            raise SolveError(
                "How much of the sag the air gives back did not converge: look for extreme stiffness ratios between "
                "sheet, ribs and struts."
            ) from None
    except ArpackError as problem:
        raise SolveError(f"How much of the sag the air gives back could not be found ({problem}).") from None
    return np.asarray(values, dtype=np.complex128), np.asarray(vectors, dtype=np.complex128)
