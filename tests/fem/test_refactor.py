"""Factors made again in the ordering that is kept: they solve the same equations as SuperLU (SciPy), made anew."""

from __future__ import annotations

import resource
from typing import Any

import numpy as np
import pytest
import scipy.sparse as sp
from tiny_panel import tiny_panel

import splitterfem as sf
from splitterfem.fem import pardiso
from splitterfem.fem.factor import CHOICE, SuperLUFactor
from splitterfem.fem.refactor import RefactoredFactor, Refactoring, TiedPattern
from splitterfem.fem.substructure import SubstructuredFactor
from splitterfem.fem.ties import factorise_tied, tied
from splitterfem.model import build


def design(**changes: object) -> sf.Splitter:
    """A panel with a tube bonded across it."""
    tube: dict[str, Any] = {
        "name": "bonded",
        "points": [["100 mm", "-150 mm"], ["100 mm", "150 mm"]],
        "section": {"shape": "tube", "width": "20 mm", "height": "20 mm", "wall": "2 mm"},
        "material": "6061-T6 extrusion",
        "side": "above",
    }
    return tiny_panel().with_(ribs=[tube], mesh=sf.MeshSettings(size="30 mm"), **changes)


@pytest.fixture(scope="module")
def model():
    return build(design())


@pytest.fixture
def by_pardiso(monkeypatch):
    """PARDISO whatever the size, and how often it orders a pattern."""
    monkeypatch.setenv(CHOICE, "pardiso")
    made = []
    fresh = pardiso._fresh
    monkeypatch.setattr(pardiso, "_fresh", lambda unknowns: made.append(unknowns) or fresh(unknowns))
    return made


def expected(structure, rhs):
    base = structure.base
    return SuperLUFactor(tied(base.matrix, base.rows, base.reference)).solve(rhs)


def same(factor, structure, seed=1):
    rhs = np.random.default_rng(seed).normal(size=structure.matrix.shape[0])
    found, other = factor.solve(rhs), expected(structure, rhs)
    return np.allclose(found, other, rtol=0.0, atol=1e-9 * np.abs(other).max())


def test_the_upper_half_is_that_of_the_sum(model):
    base = model.structure.base
    pattern = TiedPattern(base.matrix, base.rows)
    rng = np.random.default_rng(1)
    for turn in range(3):
        stiffness = base.reference * rng.uniform(0.5, 2.0, len(base.reference))
        matrix = sp.csc_array(base.matrix * (1.0 + turn))
        rows = base.rows.copy()
        rows.data *= rng.uniform(0.9, 1.1, rows.nnz)
        assert pattern.fits(matrix, rows)
        upper = pattern.upper(matrix, rows, stiffness)
        whole = tied(matrix, rows, stiffness)
        assert abs(upper - sp.triu(whole)).max() <= 1e-12 * abs(whole).max()
        assert upper.has_sorted_indices
        assert np.all(np.diff(upper.indptr) > 0)
    assert not pattern.fits(base.matrix, base.rows[:-1])


@pytest.mark.fast
def test_moves_of_a_rib_order_the_pattern_once(by_pardiso):
    model = build(design())
    by_pardiso.clear()
    moved = [model.moved("bonded", dx="4 mm")]
    assert len(by_pardiso) == 1
    # each model keeps its factors, so the second has an ordering of its own; later ones take that of the last
    moved.append(model.moved("bonded", dx="6 mm"))
    assert len(by_pardiso) == 2
    for step in range(3, 7):
        moved[1] = None
        moved[1] = model.moved("bonded", dx=f"{2 * step} mm")
    assert len(by_pardiso) == 2
    for one in moved:
        assert isinstance(one.structure.base.factor, RefactoredFactor)
        assert same(one.structure.base.factor, one.structure)


@pytest.mark.fast
def test_the_load_case_is_the_same_as_on_parts_and_as_a_whole(model, by_pardiso, monkeypatch):
    def case(moved):
        return sf.solve(moved, moved.design.cases[0].name)

    mine = case(model.moved("bonded", dx="4 mm"))
    monkeypatch.delenv(CHOICE)
    monkeypatch.setattr(pardiso, "available", lambda: False)
    parts = model.moved("bonded", dx="4 mm")
    assert isinstance(parts.structure.base.factor, SubstructuredFactor)
    monkeypatch.setenv(CHOICE, "superlu")
    whole = case(model.moved("bonded", dx="4 mm"))
    for other in (case(parts), whole):
        assert mine.sag.values == pytest.approx(other.sag.values, abs=1e-9 * other.max_sag)
        force = np.abs(other.response.force).max()
        assert mine.response.force == pytest.approx(other.response.force, abs=1e-8 * force)


@pytest.mark.fast
def test_a_moved_support_goes_to_the_parts_and_a_rib_after_it_comes_back(model, monkeypatch):
    monkeypatch.delenv(CHOICE, raising=False)
    support = model.design.bolts[0].name
    first = model.moved("bonded", dx="2 mm")
    second = first.moved(support, dy="45 mm")
    third = second.moved("bonded", dx="2 mm")
    kinds = [type(one.structure.base.factor) for one in (first, second, third)]
    assert kinds == [RefactoredFactor, SubstructuredFactor, RefactoredFactor]
    for one in (first, second, third):
        assert same(one.structure.base.factor, one.structure)


@pytest.mark.fast
def test_what_has_no_cholesky_factors_is_factorised_all_the_same(model, by_pardiso):
    base = model.structure.base
    on = Refactoring()
    shifted = sp.csc_array(base.matrix, copy=True)
    shifted.data *= -1.0
    rhs = np.random.default_rng(2).normal(size=shifted.shape[0])
    for _ in range(2):  # with an ordering made anew, and with a known one
        found = on.factorise(shifted, base.rows, base.reference, substructures=lambda: None)
        assert not isinstance(found, RefactoredFactor)
        every = np.arange(shifted.shape[0])
        other = factorise_tied(shifted, base.rows, base.reference, free=every)
        assert found.solve(rhs) == pytest.approx(other.solve(rhs), rel=1e-6)
        good = on.factorise(base.matrix, base.rows, base.reference, substructures=lambda: None)
        assert isinstance(good, RefactoredFactor)
        del good


@pytest.mark.fast
def test_the_lower_half_is_that_of_the_same_matrix(model, by_pardiso):
    base = model.structure.base
    held = model.moved("bonded", dx="0.001 mm").structure.base.factor
    forces = base.rows.T.toarray()[:, :4]
    half = held.lower.forward(forces)
    pushed = held.solve(forces)
    assert half.T @ (half / held.lower.pivots[:, None]) == pytest.approx(forces.T @ pushed, rel=1e-8)


@pytest.mark.fast
def test_memory_comes_back(model, by_pardiso):
    """A set of factors of this panel has about a megabyte; three hundred left behind would show."""
    base = model.structure.base
    before = 0
    for turn in range(300):
        on = Refactoring()
        for _ in range(2):
            on.factorise(base.matrix, base.rows, base.reference, substructures=lambda: None)
        if turn == 50:
            before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    grown = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before
    assert grown < 30_000  # kB
