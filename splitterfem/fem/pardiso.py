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

WHOLE, NUMERICAL, SOLUTION = 12, 22, 33
"""Phases of PARDISO: ordering and factors, factors with a known ordering, solution."""

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


class Analysis:
    """Orderings of one pattern of entries that PARDISO has made, for the next matrix that has it.

    Each belongs to the factors that were made with it, which overwrite those before them; it is free again when they
    are gone.  One is kept.
    """

    def __init__(self) -> None:
        self._free: list[Any] = []
        self._open = True

    def taken(self) -> Any | None:
        """Take a solver that knows the pattern, if one is free."""
        try:
            return self._free.pop()
        except IndexError:  # asked beforehand, another thread could take it in between
            return None

    def given_back(self, solver: Any) -> None:
        """Keep the solver of factors that are gone, or release its memory."""
        if self._open and not self._free:
            self._free.append(solver)
        else:
            _released(solver)

    def close(self) -> None:
        """Release what is kept; what is still in use is released when it is given back."""
        self._open = False
        while self._free:
            _released(self._free.pop())


class PardisoFactor:
    """Cholesky factors of a symmetric positive definite matrix.

    Parameters
    ----------
    upper : csr_matrix, shape (n, n)
        Its upper half, see `upper_half`.
    analysis : Analysis, optional
        Of matrices with the same pattern: their ordering is taken.

    Raises
    ------
    NotPositiveDefiniteError
        If there are none.
    SolveError
        If the library fails for another reason, such as too little memory.
    """

    def __init__(self, upper: sp.csr_matrix, analysis: Analysis | None = None) -> None:
        from pypardiso.pardiso_wrapper import PyPardisoError

        if not np.all(np.diff(upper.indptr)):
            raise NotPositiveDefiniteError("a row is empty, at which PARDISO would crash")
        self._upper = upper
        known = None if analysis is None else analysis.taken()
        self._solver = solver = _fresh(upper.shape[0]) if known is None else known
        release = weakref.finalize(self, _released if analysis is None else analysis.given_back, solver)
        try:
            with _mkl().limit(limits=cores()):
                _run(solver, WHOLE if known is None else NUMERICAL, upper, np.zeros((upper.shape[0], 1)))
        except PyPardisoError as error:
            release.detach()
            _released(solver)
            if error.value in NO_FACTORS:
                raise NotPositiveDefiniteError(str(error)) from error
            raise SolveError(
                f"PARDISO gave up on the stiffness matrix (its error {error.value}; -2 is too little memory): set "
                "SPLITTERFEM_SOLVER=superlu, or make mesh.size larger."
            ) from error

    def solve(self, rhs: Array, *, overwrite: bool = False) -> Array:
        """Solve for one (n,) or several (n, k) right-hand sides."""
        if not rhs.size:  # PARDISO refuses none
            return np.zeros(rhs.shape)
        with _mkl().limit(limits=cores()):
            return _run(self._solver, SOLUTION, self._upper, np.asarray(rhs, dtype=np.float64))


def _fresh(unknowns: int) -> Any:
    """Solver that knows no matrix yet."""
    solver = copy(_unused())
    solver.pt, solver.iparm = solver.pt.copy(), solver.iparm.copy()
    settings = {NOT_OF_THE_DEFAULTS: 1, ORDERING: 2 if unknowns > LARGE else 0, REFINEMENTS: 0}
    for place, value in settings.items():
        solver.set_iparm(place, value)
    return solver


def _run(solver: Any, phase: int, upper: sp.csr_matrix, rhs: Array) -> Array:
    """Run a phase of PARDISO.

    The wrapper's own methods keep a copy of the matrix, compare it at every solution and order every new one.
    """
    solver.set_phase(phase)
    return np.asarray(solver._call_pardiso(upper, np.asfortranarray(rhs)))


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
