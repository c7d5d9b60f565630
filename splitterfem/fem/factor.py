"""Sparse factorisation of symmetric positive definite matrices.

By SuperLU, or by MKL's PARDISO where pypardiso is installed.
"""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from functools import cached_property
from typing import Protocol

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.sparse.linalg import SuperLU, splu

from splitterfem.errors import SolveError
from splitterfem.fem import pardiso
from splitterfem.threads import cores, one_blas_thread

Array = NDArray[np.float64]

RELAXED = 1
"""Columns up to which a subtree is factorised as one block whatever it fills in: the unknowns of a node make blocks by
themselves, and larger ones cost a third of the time."""

WIDTH = 22
"""Right-hand sides that are solved for at once: more take longer each.  The same on all machines, as rounding hangs on
it."""

MANY = 100_000
"""Unknowns from which half as many right-hand sides at once take a hundredth longer, and half the memory."""

SMALL = 3000
"""Unknowns below which loading another library does not pay."""

CHOICE = "SPLITTERFEM_SOLVER"
"""Environment variable that may name the library: ``superlu`` or ``pardiso``."""

SINGULAR = (
    "The stiffness matrix cannot be factorised: part of the panel is held by nothing; check that the panel is in one "
    "piece."
)


class Forward(Protocol):
    """Half of a factorised matrix A: ``b' A^-1 c = forward(b)' (forward(c) / pivots)``."""

    pivots: Array

    def forward(self, rhs: Array) -> Array:
        """Forward substitution for right-hand sides (n, k)."""


class Factor(Protocol):
    """A factorised matrix."""

    def solve(self, rhs: Array, *, overwrite: bool = False) -> Array:
        """Solve for one (n,) or several (n, k) right-hand sides, which may be overwritten to save memory."""

    @property
    def lower(self) -> Forward:
        """Lower half of the factors."""


class Lower:
    """Lower half L of a matrix A = L D L', in the order in which it was factorised.

    With ``y = forward(b)`` and ``z = forward(c)``, ``b' A^-1 c = y' D^-1 z``: less than half the work of solving when
    nothing but such products is asked for.

    Parameters
    ----------
    lu : SuperLU
        Factors of a symmetric matrix, pivots on its diagonal.

    Attributes
    ----------
    pivots : ndarray, shape (n,)
        D.
    matrix : csc_array, shape (n, n)
        L, of which every column begins with its one on the diagonal.
    place : ndarray of int, shape (n,)
        Where each unknown stands in the order of the factorisation.
    """

    def __init__(self, lu: SuperLU) -> None:
        if not np.array_equal(lu.perm_r, lu.perm_c):
            raise SolveError(
                "The stiffness matrix has no pivots on its diagonal: part of the panel is held by nothing; "
                "check that the panel is in one piece."
            )
        self.pivots = np.asarray(lu.U.diagonal())
        self.matrix, self.place = sp.csc_array(lu.L), lu.perm_r
        self._lower = lower_half(self.matrix)

    def forward(self, rhs: Array) -> Array:
        """Forward substitution for right-hand sides (n, k)."""
        ordered = np.zeros_like(rhs, order="F")
        ordered[self.place] = rhs
        with one_blas_thread():
            return np.asarray(self._lower.solve(ordered))


def lower_half(matrix: sp.csc_array) -> SuperLU:
    """Make a lower triangular matrix with ones on its diagonal ready for forward substitution in blocks."""
    with one_blas_thread():
        return splu(
            sp.csc_matrix(matrix),
            permc_spec="NATURAL",
            diag_pivot_thresh=0.0,
            options={"SymmetricMode": True, "Equil": False},
        )


def _as_asked(matrix: sp.csc_array) -> sp.csc_matrix:
    """Return the matrix in the class that SuperLU's wrapper asks for, known to be sorted: it would sort it again."""
    found = sp.csc_matrix(matrix)
    if matrix.has_canonical_format:
        found.has_canonical_format = found.has_sorted_indices = True
    return found


def _width(rhs: Array) -> int:
    """Right-hand sides that SuperLU solves for at once: of large matrices two blocks at least, and less memory each."""
    if rhs.ndim == 1 or len(rhs) < MANY:
        return WIDTH
    return min(WIDTH // 2, max(1, -(-int(rhs.shape[1]) // 2)))


class SuperLUFactor:
    """SuperLU with the ordering that suits a symmetric positive definite matrix.

    The default column ordering costs three times the time and twice the memory on these matrices.
    """

    def __init__(self, matrix: sp.csc_array) -> None:
        try:
            with one_blas_thread():
                self._lu = splu(
                    _as_asked(matrix),
                    permc_spec="MMD_AT_PLUS_A",
                    diag_pivot_thresh=0.0,
                    relax=RELAXED,
                    options={"SymmetricMode": True},
                )
        except RuntimeError as error:
            raise SolveError(SINGULAR) from error

    def solve(self, rhs: Array, *, overwrite: bool = False) -> Array:
        """Solve for one (n,) or several (n, k) right-hand sides, which may be overwritten to save memory."""
        with one_blas_thread():
            width = _width(rhs)
            if rhs.ndim == 1 or rhs.shape[1] <= width:
                return np.asarray(self._lu.solve(np.asfortranarray(rhs)))
            found = rhs if overwrite else np.empty_like(rhs, order="F")

            def solve(first: int) -> None:
                some = slice(first, first + width)
                found[:, some] = self._lu.solve(np.asfortranarray(rhs[:, some]))

            with ThreadPoolExecutor(cores()) as workers:
                list(workers.map(solve, range(0, rhs.shape[1], width)))
            return found

    @cached_property
    def lower(self) -> Lower:
        """Lower half of the factors, taken out at the first call and kept."""
        return Lower(self._lu)


class PardisoFactor(pardiso.PardisoFactor):
    """Cholesky factors by PARDISO, whose lower half SuperLU makes where it is asked for."""

    def __init__(self, matrix: sp.csc_array) -> None:
        super().__init__(pardiso.upper_half(matrix))
        self._matrix = matrix

    @cached_property
    def lower(self) -> Lower:
        """Lower half of the factors, made at the first call and kept."""
        return SuperLUFactor(self._matrix).lower


def factorise(matrix: sp.csc_array) -> Factor:
    """Factorise a symmetric positive definite sparse matrix.

    Large matrices go to PARDISO where pypardiso is installed, unless the environment variable `CHOICE` says otherwise;
    one that turns out not to be positive definite, such as a tangent beyond a buckling load, goes to SuperLU.

    Raises
    ------
    SolveError
        If the matrix is singular, or the variable names a library that there is not.
    """
    if not np.all(matrix.data):
        # In a plane panel stretch and bending meet only at its ribs: stored zeros would fill in as other entries do.
        matrix = matrix.copy()
        matrix.eliminate_zeros()
    if library(matrix.shape[0]) == "pardiso":
        try:
            return PardisoFactor(matrix)
        except pardiso.NotPositiveDefiniteError:
            pass
    return SuperLUFactor(matrix)


def asked_for() -> str:
    """Name of the library that the environment asks for, in small letters; empty when it asks for none."""
    return os.environ.get(CHOICE, "").strip().lower()


def library(unknowns: int) -> str:
    """Name of the library for a matrix of so many unknowns.

    Raises
    ------
    SolveError
        If the environment names one that there is not.
    """
    asked = asked_for()
    if asked not in ("", "superlu", "pardiso"):
        raise SolveError(f"{CHOICE} is '{asked}'; set it to superlu or pardiso, or unset it.")
    if asked == "pardiso" and not pardiso.available():
        raise SolveError(
            f"{CHOICE} asks for pardiso, which is not installed: pip install 'splitterfem[fast]', or unset it."
        )
    if asked:
        return asked
    return "pardiso" if pardiso.available() and unknowns >= SMALL else "superlu"
