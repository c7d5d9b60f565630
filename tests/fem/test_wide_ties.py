"""Supports that reach over many unknowns are tied by a few of them and put right: the same answers as tied in full."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.sparse as sp

import splitterfem as sf
from splitterfem.fem import factor, ties
from splitterfem.model import build


@pytest.fixture
def narrow(monkeypatch):
    """Count as wide what every pad of the demonstration is."""
    monkeypatch.setattr(ties, "WIDE", 12)
    monkeypatch.setattr(ties, "KEPT", 6)


def coarse():
    return sf.demo().with_(mesh=sf.MeshSettings(size="150 mm", pad_size="100 mm", chord="1.5 mm"))


def test_a_change_of_low_rank(narrow):
    """Against a dense solver (LAPACK through numpy): solutions, and products from the lower half."""
    rng = np.random.default_rng(3)
    n = 60
    matrix = sp.csc_array(sp.random(n, n, 0.05, random_state=1))
    matrix = sp.csc_array(matrix @ matrix.T + sp.eye_array(n))
    rows = sp.csr_array(
        np.vstack([rng.standard_normal(n) * (rng.random(n) < share) for share in (0.6, 0.05, 0.9)])
    )
    stiffness = np.array([3.0, 50.0, 0.2])
    free = np.setdiff1d(np.arange(n), [4, 17])
    found = ties.factorise_tied(matrix, rows, stiffness, free=free)
    assert isinstance(found, ties.CorrectedFactor)
    dense = (matrix + rows.T @ sp.diags_array(stiffness) @ rows).toarray()[np.ix_(free, free)]
    loads = rng.standard_normal((len(free), 30))
    assert found.solve(loads) == pytest.approx(np.linalg.solve(dense, loads), rel=1e-10, abs=1e-12)
    assert found.solve(loads[:, 0]) == pytest.approx(
        np.linalg.solve(dense, loads[:, 0]), rel=1e-10, abs=1e-12
    )
    half = found.lower.forward(loads)
    products = half.T @ (half / found.lower.pivots[:, None])
    assert products == pytest.approx(loads.T @ np.linalg.solve(dense, loads), rel=1e-9, abs=1e-11)


def test_a_matrix_without_wide_ties_is_factorised_as_it_is():
    rows = sp.csr_array(np.array([[1.0, 0.0, 0.0]]))
    found = ties.factorise_tied(sp.csc_array(np.eye(3)), rows, np.ones(1), free=np.arange(3))
    assert isinstance(found, factor.SuperLUFactor)
    assert found.solve(np.ones(3)) == pytest.approx([0.5, 1.0, 1.0])


def test_the_demonstration_is_the_same(monkeypatch):
    """Sag, support forces and push map of the demonstration (invented), tied in full and by a few entries."""
    case = "straight, 210 km/h"
    whole = build(coarse())
    full, pushes = sf.solve(whole, case), sf.push_map(whole)
    monkeypatch.setattr(ties, "WIDE", 12)
    monkeypatch.setattr(ties, "KEPT", 6)
    model = build(coarse())
    assert isinstance(model.structure.base.factor, ties.CorrectedFactor)
    few = sf.solve(model, case)
    assert few.max_sag == pytest.approx(full.max_sag, rel=1e-9)
    assert few.response.force == pytest.approx(
        full.response.force, abs=1e-8 * np.abs(full.response.force).max()
    )
    assert sf.push_map(model).stiffness.values == pytest.approx(pushes.stiffness.values, rel=1e-7)


def test_submatrix_is_what_scipy_takes():
    rng = np.random.default_rng(5)
    matrix = sp.csc_array(sp.random(50, 50, 0.2, random_state=2))
    matrix.data[::7] = 0.0
    free = np.flatnonzero(rng.random(50) < 0.7)
    found = ties.submatrix(matrix, free)
    assert np.array_equal(found.toarray(), matrix[free][:, free].toarray())
    assert np.all(found.data != 0.0)
    assert found.has_sorted_indices == matrix.has_sorted_indices
