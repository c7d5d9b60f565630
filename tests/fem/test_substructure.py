"""Factors made part by part: they solve the same equations, and only what changes is made again.

Beside them stands SuperLU (SciPy), which knows nothing of parts.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import scipy.sparse as sp
from tiny_panel import tiny_panel

import splitterfem as sf
from splitterfem.errors import SolveError
from splitterfem.fem import pardiso
from splitterfem.fem.factor import CHOICE, SuperLUFactor
from splitterfem.fem.panel import Panel, generalised_stiffness
from splitterfem.fem.space import PanelSpace
from splitterfem.fem.structured import rectangle_mesh
from splitterfem.fem.substructure import SubstructuredFactor, Substructures, pays
from splitterfem.fem.textbook import Homogeneous
from splitterfem.fem.ties import tied
from splitterfem.model import build


def design(**changes: object) -> sf.Splitter:
    """A panel with a tube bonded across it and one screwed on, so that some ribs have unknowns of their own."""
    tube: dict[str, Any] = {
        "section": {"shape": "tube", "width": "20 mm", "height": "20 mm", "wall": "2 mm"},
        "material": "6061-T6 extrusion",
        "side": "above",
    }
    first = tube | {"name": "bonded", "points": [["100 mm", "-150 mm"], ["100 mm", "150 mm"]]}
    screws = {"kind": "screws", "diameter": "4 mm", "pitch": "60 mm"}
    second = tube | {
        "name": "screwed",
        "points": [["200 mm", "-120 mm"], ["320 mm", "-120 mm"]],
        "joint": screws,
    }
    return tiny_panel().with_(ribs=[first, second], mesh=sf.MeshSettings(size="30 mm"), **changes)


@pytest.fixture(autouse=True)
def _without_pardiso(monkeypatch):
    """Its kept orderings take the place of parts where a rib moves."""
    monkeypatch.setattr(pardiso, "available", lambda: False)


@pytest.fixture(scope="module")
def model():
    return build(design())


def factors(model, last: Substructures | None = None) -> SubstructuredFactor:
    base = model.structure.base
    on = model.panel.space.substructures if last is None else last
    return on.factorise(base.matrix, base.rows, base.reference)


def afresh(model) -> SubstructuredFactor:
    return factors(model, Substructures(model.panel.space.substructures.dissection))


def test_every_entry_is_eliminated_once(model):
    space = model.panel.space
    dissection = space.substructures.dissection
    parts = dissection.parts
    assert np.array_equal(np.sort(dissection.order), np.arange(space.n_dofs))
    assert [part.first for part in parts[1:]] == [part.last for part in parts[:-1]]
    rows, columns = space.pattern.numbers()
    seen = sp.coo_array((np.ones(len(rows)), (rows, columns))).tocsr()
    for part in parts:
        assert np.all(part.others >= part.last)
        assert np.all(np.diff(part.others) > 0)
        names = dissection.order[np.concatenate([np.arange(part.first, part.last), part.others])]
        assert np.array_equal(names[part.rows], rows[part.entries])
        assert np.array_equal(names[part.columns], columns[part.entries])
    whole = np.concatenate([part.entries for part in parts])
    assert len(np.unique(whole)) == len(whole)
    found = sp.coo_array((np.ones(len(whole)), (rows[whole], columns[whole])), shape=seen.shape).tocsr()
    assert ((found + found.T) != 0).nnz == seen.nnz
    assert not parts[-1].others.size


def test_the_same_answers_as_from_the_whole_matrix(model):
    base = model.structure.base
    assert model.structure.n_extra > 0
    whole = tied(base.matrix, base.rows, base.reference)
    some = np.random.default_rng(1).normal(size=(whole.shape[0], 3))
    mine, other = factors(model), SuperLUFactor(whole)
    for rhs in (some, some[:, 0]):
        found = mine.solve(rhs)
        assert found.shape == rhs.shape
        assert np.allclose(found, other.solve(rhs), rtol=0.0, atol=1e-9 * np.abs(found).max())
    forces = base.rows.T.toarray()
    pushed = other.solve(forces)
    assert np.allclose(mine.influence(), pushed, rtol=0.0, atol=1e-9 * np.abs(pushed).max())
    assert np.allclose(
        mine.flexibility(), base.rows @ pushed, rtol=1e-9, atol=1e-12 * np.abs(base.rows @ pushed).max()
    )
    push = np.random.default_rng(4).normal(size=forces.shape[1])
    reached = mine.eliminated(some[:, 0])
    expected = other.solve(some[:, 0] + forces @ push)
    assert np.allclose(reached.motion, base.rows @ other.solve(some[:, 0]), rtol=1e-9)
    assert np.allclose(reached.answer(push), expected, rtol=0.0, atol=1e-9 * np.abs(expected).max())
    half, full = mine.lower, other.lower
    mixed = half.forward(forces).T @ (half.forward(some) / half.pivots[:, None])
    assert np.allclose(mixed, full.forward(forces).T @ (full.forward(some) / full.pivots[:, None]))


@pytest.mark.parametrize(
    ("change", "most"),
    [
        (lambda m: m.moved("bonded", dx="4 mm"), 0.95),
        (lambda m: m.moved("screwed", dy="6 mm"), 0.8),
        (lambda m: m.with_part("bonded", material="mild steel"), 0.95),
        (lambda m: m.without("screwed"), 0.8),
        (lambda m: m.for_design(m.design), 0.0),
    ],
)
def test_only_what_changes_is_made_again_and_nothing_else_is_different(model, change, most):
    factors(model)
    changed = change(model)
    held = changed.structure.base.factor
    assert isinstance(held, SubstructuredFactor)
    parts = len(changed.panel.space.substructures.dissection.parts)
    assert held.made <= most * parts
    rhs = np.random.default_rng(2).normal(size=changed.structure.matrix.shape[0])
    assert np.array_equal(held.solve(rhs), afresh(changed).solve(rhs))


def test_a_matrix_that_nothing_holds_is_refused(model):
    base, on = model.structure.base, model.panel.space.substructures
    with pytest.raises(SolveError, match="held by nothing"):
        on.factorise(sp.csc_array(-base.matrix), base.rows, base.reference)
    with pytest.raises(SolveError, match="held by nothing"):
        on.factorise(base.matrix, 0.0 * base.rows, base.reference)


def test_large_meshes_and_many_ties_are_factorised_as_a_whole(model, monkeypatch):
    assert pays(20_000, 40)
    assert not pays(200_000, 40)
    assert not pays(20_000, 4_000)
    assert not pays(20_000, 0)
    monkeypatch.setenv(CHOICE, "superlu")
    whole = model.moved("bonded", dx="4 mm")
    assert not isinstance(whole.structure.base.factor, SubstructuredFactor)
    monkeypatch.delenv(CHOICE)
    parts = model.moved("bonded", dx="4 mm")
    load = sf.solve(design(), "lean").load.vector
    one, other = (m.structure.solve(load).x for m in (whole, parts))
    assert np.allclose(one, other, rtol=0.0, atol=1e-9 * np.abs(one).max())


def test_halves_that_share_no_node():
    """Two plates apart, each with a spring at every unknown: the part above their halves has none of its own."""
    points, triangles = rectangle_mesh(1.0, 0.5, 8, 4)
    both = (
        np.hstack([points, points + np.array([[3.0], [0.0]])]),
        np.hstack([triangles, triangles + points.shape[1]]),
    )
    panel = Panel(PanelSpace(*both), generalised_stiffness(Homogeneous(0.01, E1=10e9, nu12=0.3)))
    on = panel.space.substructures
    assert on.dissection.parts[-1].first == on.dissection.parts[-1].last
    matrix = panel.matrix.copy()
    matrix.setdiag(matrix.diagonal() * 1.01)
    rows = sp.csr_array((np.ones(2), ([0, 1], [2, panel.space.n_dofs - 3])), shape=(2, panel.space.n_dofs))
    stiffness = np.array([1e4, 1e6])
    found = on.factorise(matrix, rows, stiffness)
    rhs = np.random.default_rng(3).normal(size=panel.space.n_dofs)
    exact = SuperLUFactor(tied(matrix, rows, stiffness)).solve(rhs)
    assert np.allclose(found.solve(rhs), exact, rtol=0.0, atol=1e-10 * np.abs(exact).max())
