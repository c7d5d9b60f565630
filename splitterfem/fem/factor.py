"""Sparse factorisation of symmetric positive definite matrices."""

from __future__ import annotations

from typing import Protocol

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.sparse.linalg import splu

from splitterfem.errors import SolveError
from splitterfem.threads import one_blas_thread

Array = NDArray[np.float64]


class Factor(Protocol):
    """A factorised matrix."""

    def solve(self, rhs: Array) -> Array:
        """Solve for one (n,) or several (n, k) right-hand sides."""


class SuperLUFactor:
    """SuperLU with the ordering that suits a symmetric positive definite matrix.

    The default column ordering costs three times the time and twice the memory on these matrices.
    """

    def __init__(self, matrix: sp.csc_array) -> None:
        try:
            with one_blas_thread():
                self._lu = splu(
                    sp.csc_matrix(matrix),
                    permc_spec="MMD_AT_PLUS_A",
                    diag_pivot_thresh=0.0,
                    options={"SymmetricMode": True},
                )
        except RuntimeError as error:
            raise SolveError(
                "The stiffness matrix cannot be factorised: part of the panel is held by nothing; "
                "check that the panel is in one piece."
            ) from error

    def solve(self, rhs: Array) -> Array:
        """Solve for one (n,) or several (n, k) right-hand sides."""
        with one_blas_thread():
            return np.asarray(self._lu.solve(np.asfortranarray(rhs)))


def factorise(matrix: sp.csc_array) -> Factor:
    """Factorise a symmetric positive definite sparse matrix.

    Raises
    ------
    SolveError
        If the matrix is singular.
    """
    return SuperLUFactor(matrix)
