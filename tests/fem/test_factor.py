"""Factorisation by either library: against dense solutions, for one and many right-hand sides.

The dense solutions are LAPACK's through NumPy.
"""

import numpy as np
import pytest
import scipy.sparse as sp

from splitterfem.errors import SolveError
from splitterfem.fem import factor, pardiso
from splitterfem.fem.factor import CHOICE, SMALL, SuperLUFactor, factorise

LIBRARIES = ["superlu", pytest.param("pardiso", marks=pytest.mark.fast)]


def stiff(n=400, *, seed=1):
    """A positive definite matrix with the pattern of a net."""
    side = int(np.sqrt(n))
    line = sp.diags_array(
        [np.full(side - 1, -1.0), np.full(side, 2.0), np.full(side - 1, -1.0)], offsets=[-1, 0, 1]
    )
    net = sp.kronsum(line, line)
    weights = np.random.default_rng(seed).uniform(0.5, 2.0, side * side)
    return sp.csc_array(sp.diags_array(weights) @ net @ sp.diags_array(weights) + sp.eye_array(side * side))


@pytest.mark.parametrize("library", LIBRARIES)
@pytest.mark.parametrize("shape", [(), (0,), (1,), (22,), (23,), (100,)])
def test_solutions_are_those_of_dense_matrices(library, shape, monkeypatch):
    monkeypatch.setenv(CHOICE, library)
    matrix = stiff()
    rhs = np.random.default_rng(2).standard_normal((400, *shape))
    found = factorise(matrix).solve(rhs)
    assert found.shape == rhs.shape
    assert found == pytest.approx(np.linalg.solve(matrix.toarray(), rhs), rel=1e-11, abs=1e-12)


@pytest.mark.parametrize("library", LIBRARIES)
def test_the_lower_half_gives_quadratic_forms(library, monkeypatch):
    monkeypatch.setenv(CHOICE, library)
    matrix = stiff()
    rhs = np.random.default_rng(3).standard_normal((400, 5))
    lower = factorise(matrix).lower
    y = lower.forward(rhs)
    assert y.T @ (y / lower.pivots[:, None]) == pytest.approx(
        rhs.T @ np.linalg.solve(matrix.toarray(), rhs), rel=1e-11
    )


@pytest.mark.parametrize("library", LIBRARIES)
def test_a_matrix_that_is_not_positive_definite_is_solved_too(library, monkeypatch):
    monkeypatch.setenv(CHOICE, library)
    matrix = sp.csc_array(stiff() - 3.0 * sp.eye_array(400))
    assert np.linalg.eigvalsh(matrix.toarray()).min() < 0.0
    rhs = np.random.default_rng(4).standard_normal(400)
    assert factorise(matrix).solve(rhs) == pytest.approx(np.linalg.solve(matrix.toarray(), rhs), rel=1e-8)


def test_blocks_of_right_hand_sides_do_not_depend_on_the_cores(monkeypatch):
    matrix, rhs = stiff(), np.random.default_rng(5).standard_normal((400, 60))
    held = SuperLUFactor(matrix)
    several = held.solve(rhs)
    monkeypatch.setattr(factor, "cores", lambda: 1)
    assert np.array_equal(held.solve(rhs), several)


def test_small_matrices_stay_with_superlu(monkeypatch):
    monkeypatch.delenv(CHOICE, raising=False)
    assert SMALL > 400
    assert isinstance(factorise(stiff()), SuperLUFactor)


def test_a_library_that_there_is_not_is_named(monkeypatch):
    monkeypatch.setenv(CHOICE, "magic")
    with pytest.raises(SolveError, match="SPLITTERFEM_SOLVER is 'magic'; set it to superlu or pardiso"):
        factorise(stiff())
    monkeypatch.setenv(CHOICE, "pardiso")
    monkeypatch.setattr(pardiso, "available", lambda: False)
    with pytest.raises(SolveError, match=r"pip install 'splitterfem\[fast\]'"):
        factorise(stiff())


@pytest.mark.fast
def test_pardiso_gives_its_memory_back():
    """Nothing else does: a thousand factorisations of some 100 kB each would show."""
    import resource

    matrix = stiff(2500)
    before = 0
    for turn in range(600):
        pardiso.PardisoFactor(pardiso.upper_half(matrix))
        if turn == 100:
            before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    grown = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before
    assert grown < 20_000  # kB; one factorisation left behind each time would make 500 x 300 kB
