"""Shared pieces of the meshing tests: invented regions, and what every mesh must be."""

from __future__ import annotations

import numpy as np
import pytest

from splitterfem import curves
from splitterfem.fem.meshing import EmbeddedLine, Refinement, Region, mesh_region

CHORD = 0.5e-3
PLATE = curves.polyline([(0, 0), (1, 0), (1, 0.6), (0, 0.6)])


def lines(*paths):
    return [EmbeddedLine(f"L{i + 1}", np.array(path, dtype=float)) for i, path in enumerate(paths)]


def sides(mesh):
    """Vertex pairs of all edges, each once."""
    t = mesh.triangles
    pairs = np.sort(np.concatenate([t[[0, 1]], t[[1, 2]], t[[2, 0]]], axis=1), axis=0)
    return np.unique(pairs, axis=1)


def lengths(mesh, pairs):
    return np.linalg.norm(mesh.points[:, pairs[0]] - mesh.points[:, pairs[1]], axis=0)


def check(mesh):
    """What every mesh must be, worked out here again from its arrays."""
    x, y = mesh.points
    a, b, c = mesh.triangles
    areas = 0.5 * ((x[b] - x[a]) * (y[c] - y[a]) - (x[c] - x[a]) * (y[b] - y[a]))
    assert areas.min() > 0
    assert areas.sum() == pytest.approx(mesh.area, rel=1e-12)
    assert len(np.unique(mesh.triangles)) == mesh.points.shape[1]
    assert mesh.points.shape[1] - sides(mesh).shape[1] + mesh.triangles.shape[1] == 2 - len(
        mesh.boundaries
    )  # Euler
    known = set(map(tuple, sides(mesh).T.tolist()))
    for pairs in mesh.lines.values():
        assert set(map(tuple, np.sort(pairs, axis=0).T.tolist())) <= known
        assert (pairs[1, :-1] == pairs[0, 1:]).all()
    for pairs in mesh.boundaries.values():
        assert (pairs[1] == np.roll(pairs[0], -1)).all()
    return mesh


def line_length(mesh, name):
    return lengths(mesh, mesh.lines[name]).sum()


def demo_like():
    """A panel of invented size with two cut-outs, three lines and eight pads."""
    outer = curves.rounded([(-0.3, -0.8), (0.3, -0.8), (0.3, 0.8), (-0.3, 0.8)], [0, 0.15, 0.15, 0])
    left = curves.rounded([(-0.1, 0.2), (0.15, 0.2), (0.15, 0.55), (-0.1, 0.55)], 0.03)
    region = Region(outer, (left, curves.mirrored(left)), ("left", "right"))
    ribs = lines([(-0.2, -0.7), (-0.2, 0.7)], [(-0.28, 0.1), (0.25, 0.1)], [(-0.28, -0.1), (0.25, -0.1)])
    places = [(-0.2, 0.65, 0.03), (0.2, 0.65, 0.03), (-0.28, 0.3, 0.02), (0.2, 0.1, 0.015)]
    pads = [Refinement(x, s * y, r, 0.012) for x, y, r in places for s in (1, -1)]
    return region, ribs, pads


def demo_mesh():
    region, ribs, pads = demo_like()
    return mesh_region(region, size=0.036, lines=ribs, refinements=pads, corner_size=0.018)


def circle_region(*centres, names=None):
    holes = tuple(curves.circle(centre, 0.1) for centre in centres)
    return Region(PLATE, holes, names or tuple(f"h{i + 1}" for i in range(len(holes))))
