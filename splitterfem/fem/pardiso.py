"""Cholesky factorisation by MKL's PARDISO, through pypardiso (the extra ``fast``): several times as fast as SuperLU."""

from __future__ import annotations

import importlib.util
import weakref
from copy import copy
from functools import cache
from typing import Any

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from threadpoolctl import ThreadpoolController

from splitterfem.errors import SolveError
from splitterfem.threads import cores

Array = NDArray[np.float64]

SYMMETRIC_POSITIVE_DEFINITE = 2
LARGE = 60_000
"""Unknowns from which nested dissection (METIS) beats the minimum degree ordering, its own time counted."""

NO_FACTORS = (-4, -7)
"""Errors of PARDISO that say so: a zero or negative pivot, a singular diagonal matrix."""

NOT_OF_THE_DEFAULTS, ORDERING, REFINEMENTS = 1, 2, 8
"""Places of settings in PARDISO's table, counted from one."""


class NotPositiveDefiniteError(Exception):
    """A matrix that has no Cholesky factors."""


@cache
def available() -> bool:
    """Whether pypardiso is installed."""
    return importlib.util.find_spec("pypardiso") is not None


@cache
def _mkl() -> ThreadpoolController:
    """MKL's own threads: the kernels of other libraries keep to one."""
    return ThreadpoolController().select(internal_api="mkl")


@cache
def _unused() -> Any:
    """Make a solver that is only copied: looking for MKL among the installed files takes longer than factorising."""
    from pypardiso import PyPardisoSolver

    return PyPardisoSolver(mtype=SYMMETRIC_POSITIVE_DEFINITE)


class PardisoFactor:
    """Cholesky factors of a symmetric positive definite matrix.

    Parameters
    ----------
    matrix : csc_array, shape (n, n)

    Raises
    ------
    NotPositiveDefiniteError
        If there are none.
    SolveError
        If the library fails for another reason, such as too little memory.
    """

    def __init__(self, matrix: sp.csc_array) -> None:
        from pypardiso.pardiso_wrapper import PyPardisoError

        self._upper = upper_half(matrix)
        self._solver = solver = copy(_unused())
        solver.pt, solver.iparm = solver.pt.copy(), solver.iparm.copy()
        settings = {NOT_OF_THE_DEFAULTS: 1, ORDERING: 2 if matrix.shape[0] > LARGE else 0, REFINEMENTS: 0}
        for place, value in settings.items():
            solver.set_iparm(place, value)
        weakref.finalize(self, _released, solver)
        try:
            with _mkl().limit(limits=cores()):
                solver.factorize(self._upper)
        except PyPardisoError as error:
            if error.value in NO_FACTORS:
                raise NotPositiveDefiniteError(str(error)) from error
            raise SolveError(
                f"PARDISO gave up on the stiffness matrix (its error {error.value}; -2 is too little memory): set "
                "SPLITTERFEM_SOLVER=superlu, or make mesh.size larger."
            ) from error

    def solve(self, rhs: Array) -> Array:
        """Solve for one (n,) or several (n, k) right-hand sides."""
        with _mkl().limit(limits=cores()):
            return np.asarray(self._solver.solve(self._upper, np.asarray(rhs, dtype=np.float64)))


def upper_half(matrix: sp.csc_array) -> sp.csr_matrix:
    """Upper half of a symmetric matrix by rows, which is its lower half by columns."""
    columns = np.repeat(np.arange(matrix.shape[1], dtype=matrix.indices.dtype), np.diff(matrix.indptr))
    below = matrix.indices >= columns
    before = np.concatenate([[0], np.cumsum(below)])
    half = (matrix.data[below], matrix.indices[below], before[matrix.indptr])
    upper = sp.csr_matrix(half, shape=matrix.shape)
    upper.sort_indices()
    return upper


def _released(solver: Any) -> None:
    """Give back MKL's memory, which nothing else frees."""
    solver.free_memory(everything=True)
