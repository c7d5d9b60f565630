"""Exact cutting of lines and areas at element edges, against closed forms of geometry."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from splitterfem.errors import MeshError
from splitterfem.fem.locate import Locator
from splitterfem.fem.space import PanelSpace
from splitterfem.fem.structured import distorted, rectangle_mesh

POINTS, TRIANGLES = rectangle_mesh(1.0, 0.7, 6, 5)
SPACE = PanelSpace(*distorted(POINTS, TRIANGLES, 0.3, 11))
REGULAR = PanelSpace(POINTS, TRIANGLES)
LOCATOR = Locator(SPACE)
inside = st.tuples(st.floats(0, 1), st.floats(0, 0.7))


@settings(max_examples=200, deadline=None)
@given(inside, inside)
def test_a_line_is_covered_once(a, b):
    ends = np.array([a, b])
    length = np.hypot(*(ends[1] - ends[0]))
    if length < 1e-6:
        return
    for locator in (LOCATOR, Locator(REGULAR)):
        samples = locator.line(ends)
        assert samples.measure == pytest.approx(length, rel=1e-7)
        assert samples.weights @ samples.xy.T == pytest.approx(length * ends.mean(axis=0), abs=1e-7)
        assert locator.space.to_local(samples.elements, samples.xy).min() > -1e-6


@pytest.mark.parametrize("y", [0.0, 0.14, 0.28])
def test_a_line_along_edges_counts_once(y):
    samples = Locator(REGULAR).line(np.array([[0.0, y], [1.0, y]]))
    assert samples.measure == pytest.approx(1.0, rel=1e-12)


def test_a_line_off_the_mesh_is_short():
    assert LOCATOR.line(np.array([[-0.5, 0.3], [0.5, 0.3]])).measure == pytest.approx(0.5, rel=1e-9)


@settings(max_examples=100, deadline=None)
@given(st.floats(0.2, 0.8), st.floats(0.2, 0.5), st.floats(0.01, 0.19))
def test_a_disc_has_its_area_and_centroid(x, y, r):
    disc = shapely.Point(x, y).buffer(r, 32)
    samples = LOCATOR.area(disc)
    assert samples.measure == pytest.approx(disc.area, rel=1e-9)
    assert samples.weights @ samples.xy.T == pytest.approx(disc.area * np.array([x, y]), rel=1e-7)


def test_a_ring_is_cut_although_it_is_not_convex():
    ring = shapely.Point(0.5, 0.35).buffer(0.2).difference(shapely.Point(0.52, 0.35).buffer(0.1))
    samples = LOCATOR.area(ring)
    assert samples.measure == pytest.approx(ring.area, rel=1e-9)
    assert samples.weights @ samples.xy[0] == pytest.approx(ring.area * ring.centroid.x, rel=1e-9)


def test_points_are_found_in_bulk():
    rng = np.random.default_rng(3)
    xy = np.vstack([rng.uniform(0, 1, 5000), rng.uniform(0, 0.7, 5000)])
    elements = LOCATOR.find(xy)
    local = SPACE.to_local(elements, xy)
    assert elements.min() >= 0
    assert local.min() > -1e-9
    assert (local.sum(axis=0)).max() < 1 + 1e-9
    assert LOCATOR.find(np.array([[1.4], [0.2]]))[0] == -1
    assert LOCATOR.find(np.array([[1.0005], [0.2]]), reach=1e-3)[0] >= 0


def test_bad_meshes_are_refused():
    with pytest.raises(MeshError, match=r"points of shape \(2, n\)"):
        PanelSpace(POINTS.T, TRIANGLES)
    with pytest.raises(MeshError, match="must belong to a triangle"):
        PanelSpace(np.hstack([POINTS, [[5.0], [5.0]]]), TRIANGLES)
    with pytest.raises(MeshError, match=r"triangle without area at x 500\.0 mm"):
        PanelSpace(np.array([[0, 0.5, 1.0], [0, 0, 0]]), np.array([[0], [1], [2]]))
