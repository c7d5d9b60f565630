"""Structured meshes against closed-form areas and counts."""

from __future__ import annotations

import math

import numpy as np
import pytest

from splitterfem.errors import DesignError
from splitterfem.fem.structured import disc_mesh, distorted, rectangle_mesh, rhombus_mesh


def areas(points, triangles):
    u, v = (
        points[:, triangles[1]] - points[:, triangles[0]],
        points[:, triangles[2]] - points[:, triangles[0]],
    )
    return 0.5 * (u[0] * v[1] - u[1] * v[0])


def outer_edges(triangles):
    pairs = np.sort(np.concatenate([triangles[[0, 1]], triangles[[1, 2]], triangles[[2, 0]]], axis=1), axis=0)
    edges, counts = np.unique(pairs, axis=1, return_counts=True)
    assert counts.max() <= 2
    return edges[:, counts == 1]


MESHES = {
    "cross": (rectangle_mesh(2.0, 1.0, 5, 3), 2.0, 60, 16),
    "diagonal": (rectangle_mesh(2.0, 1.0, 5, 3, pattern="diagonal"), 2.0, 30, 16),
    "rhombus": (rhombus_mesh(2.0, math.pi / 6, 5), 2.0, 100, 20),
    "graded rhombus": (rhombus_mesh(2.0, math.pi / 6, 8, grade_to_obtuse=True), 2.0, 2 * (4 * 32 - 4), 32),
    "one ring": (disc_mesh(2.0, 1), 3 * 4.0 * math.sin(math.pi / 3), 6, 6),
    "disc": (disc_mesh(2.0, 7), 21 * 4.0 * math.sin(math.tau / 42), 6 * 49, 42),
}


@pytest.mark.parametrize("name", MESHES)
def test_area_counts_and_orientation(name):
    (points, triangles), area, count, rim = MESHES[name]
    assert areas(points, triangles).min() > 0
    assert areas(points, triangles).sum() == pytest.approx(area, rel=1e-12)
    assert triangles.shape == (3, count)
    assert outer_edges(triangles).shape == (2, rim)
    assert len(np.unique(triangles)) == points.shape[1]
    assert np.unique(np.round(points, 13), axis=1).shape == points.shape


def test_disc_vertices_lie_on_the_circle_and_come_last():
    points, triangles = disc_mesh(0.7, 5)
    radii = np.hypot(*points)
    assert np.abs(radii[-30:] - 0.7).max() < 1e-15
    assert radii[:-30].max() < 0.6
    assert set(outer_edges(triangles).ravel()) == set(range(points.shape[1] - 30, points.shape[1]))


def test_rhombus_has_its_corners_and_smallest_cells_at_the_obtuse_ones():
    points, triangles = rhombus_mesh(1.0, math.pi / 6, 10, grade_to_obtuse=True)
    corners = np.array([(0, 0), (1, 0), (math.cos(math.pi / 6), 0.5), (1 + math.cos(math.pi / 6), 0.5)])
    nearest = [np.linalg.norm(points.T - corner, axis=1).min() for corner in corners]
    assert max(nearest) < 1e-14
    smallest = areas(points, triangles).argmin()
    middle = points[:, triangles[:, smallest]].mean(axis=1)
    assert min(np.linalg.norm(middle - corner) for corner in corners[1:3]) < 1e-3


def test_distortion_moves_interior_vertices_only_and_repeats_itself():
    mesh = rectangle_mesh(1.0, 0.6, 6, 4)
    points, triangles = distorted(*mesh, 0.3, 7)
    rim = np.unique(outer_edges(triangles))
    assert (points[:, rim] == mesh[0][:, rim]).all()
    inner = np.setdiff1d(np.arange(points.shape[1]), rim)
    assert (np.linalg.norm(points - mesh[0], axis=0)[inner] > 0).all()
    assert areas(points, triangles).min() > 0
    assert areas(points, triangles).sum() == pytest.approx(0.6, rel=1e-13)
    assert (distorted(*mesh, 0.3, 7)[0] == points).all()
    assert not (distorted(*mesh, 0.3, 8)[0] == points).all()


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: rectangle_mesh(0.0, 1.0, 2, 2), "lx = 0.0"),
        (lambda: rectangle_mesh(1.0, 1.0, 2, 0), "ny = 0"),
        (lambda: rectangle_mesh(1.0, 1.0, 2, 2, pattern="crossed"), "'cross' or 'diagonal'"),
        (lambda: rhombus_mesh(1.0, 2.0, 3), "acute angle"),
        (lambda: disc_mesh(math.inf, 3), "radius = inf"),
        (lambda: distorted(*rectangle_mesh(1.0, 1.0, 2, 2), 0.7, 1), "fraction from 0 to 0.4"),
    ],
)
def test_bad_numbers_are_refused(make, words):
    with pytest.raises(DesignError, match=words):
        make()
