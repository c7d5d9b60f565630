"""Meshes of plane regions: closed-form areas, edges on true curves, lines followed, bad geometry refused."""

from __future__ import annotations

import math
import subprocess
import sys

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from splitterfem import curves
from splitterfem.curves import Arc, Line, Spline
from splitterfem.errors import DesignError, MeshError
from splitterfem.fem import mesh_checks
from splitterfem.fem.embedding import network_of
from splitterfem.fem.geometry import domain_of
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


# --- areas and curves ---


@pytest.mark.parametrize("chord", [1e-3, 1e-4, 1e-5])
def test_rectangle_with_a_round_hole(chord):
    mesh = check(
        mesh_region(Region(PLATE, (curves.circle((0.5, 0.3), 0.1),), ("h",)), size=0.05, chord=chord)
    )
    over = mesh.area - (0.6 - math.pi * 0.1**2)
    # an inscribed polygon with the sagitta s is short of the circle by 2/3 s along its length
    assert 0 < over <= 2 / 3 * chord * 2 * math.pi * 0.1 * 1.001
    x, y = mesh.points[:, mesh.boundaries["h"][0]]
    assert np.abs(np.hypot(x - 0.5, y - 0.3) / 0.1 - 1).max() < 1e-12
    longest = lengths(mesh, mesh.boundaries["h"]).max()
    assert 0.1 - math.sqrt(0.1**2 - longest**2 / 4) <= chord


def test_rounded_rectangle():
    mesh = check(mesh_region(Region(curves.rounded([(0, 0), (1, 0), (1, 0.6), (0, 0.6)], 0.15)), size=0.05))
    short = 0.6 - (4 - math.pi) * 0.15**2 - mesh.area
    assert 0 < short < 2 / 3 * CHORD * 2 * math.pi * 0.15 * 1.001


def test_circular_segment_turned_either_way():
    """Area ½ r² (θ − sin θ)."""
    r, angle = 0.5, 2.0
    a, via, b = ((r * math.cos(s), r * math.sin(s)) for s in (0.0, angle / 2, angle))
    exact = 0.5 * r**2 * (angle - math.sin(angle))
    for loop in ((Arc(a, via, b), Line(b, a)), (Line(a, b), Arc(b, via, a))):
        mesh = check(mesh_region(Region(loop), size=0.04, chord=1e-5))
        assert 0 < exact - mesh.area < 1e-5 * r * angle
        assert mesh.min_angle > 20


def test_hole_may_turn_either_way():
    hole = curves.rounded([(0.3, 0.2), (0.6, 0.2), (0.6, 0.4), (0.3, 0.4)], 0.03)
    mesh = check(mesh_region(Region(PLATE, (hole,), ("h",)), size=0.06))
    backwards = tuple(
        Line(c.end, c.start) if isinstance(c, Line) else Arc(c.end, c.via, c.start) for c in hole[::-1]
    )
    other = check(mesh_region(Region(PLATE, (backwards,), ("h",)), size=0.06))
    assert mesh.area == pytest.approx(other.area, rel=1e-6)


@pytest.mark.parametrize("count", [6, 24])
def test_closed_spline_through_points_of_a_circle(count):
    angle = np.linspace(0, 2 * np.pi, count + 1)
    points = np.column_stack([0.5 + 0.1 * np.cos(angle), 0.3 + 0.1 * np.sin(angle)])
    points[-1] = points[0]
    hole = (Spline(tuple(map(tuple, points))),)
    mesh = check(mesh_region(Region(PLATE, (hole,), ("h",)), size=0.05, chord=1e-4))
    assert_on_spline(mesh, "h", hole[0])
    assert abs(mesh.area - (0.6 - math.pi * 0.01)) < {6: 6e-4, 24: 5e-5}[count]
    assert abs(mesh.area - (0.6 - curves.area(hole))) < 1e-4 * curves.length(hole)


def test_open_spline_front_edge():
    front = Spline(((1, 0.5), (0.8, 0.56), (0.5, 0.6), (0.2, 0.55), (0, 0.45)))
    loop = (Line((0, 0), (1, 0)), Line((1, 0), (1, 0.5)), front, Line((0, 0.45), (0, 0)))
    mesh = check(mesh_region(Region(loop), size=0.05, chord=1e-4))
    assert_on_spline(mesh, "outline", front, keep=lambda x, y: y > 0.4501)
    assert 0 < curves.area(loop) - mesh.area < 1e-4 * front.length


def assert_on_spline(mesh, name, spline, keep=lambda x, y: y > -1):
    """Boundary vertices against a dense polyline of the curve, whose own chord error is about 1e-11 m."""
    fine = shapely.LineString(spline.at(np.linspace(0, 1, 200_001)))
    x, y = mesh.points[:, mesh.boundaries[name][0]]
    on = keep(x, y) & (x < 1) & (x > 0)
    assert on.sum() > 8
    assert shapely.distance(shapely.points(x[on], y[on]), fine).max() < 1e-9
    middles = mesh.points[:, mesh.boundaries[name]].mean(axis=1)
    on = keep(*middles) & (middles[0] < 0.999) & (middles[0] > 0.001)
    assert shapely.distance(shapely.points(middles.T[on]), fine).max() <= 1e-4


def test_tiny_hole_is_round_enough():
    mesh = check(mesh_region(Region(PLATE, (curves.circle((0.3, 0.3), 0.003),), ("bolt",)), size=0.05))
    assert mesh.boundaries["bolt"].shape[1] >= 8
    assert mesh.min_angle > 20


# --- names, lines, sizes ---


def test_demo_like_panel():
    mesh = check(demo_mesh())
    region, _, _ = demo_like()
    assert list(mesh.boundaries) == ["outline", "left", "right"]
    assert list(mesh.lines) == ["L1", "L2", "L3"]
    assert 1800 < mesh.triangles.shape[1] < 2600
    assert mesh.min_angle > 20
    exact = curves.area(region.outer) - 2 * curves.area(region.holes[0])
    assert mesh.area == pytest.approx(exact, rel=2e-4)
    assert mesh.polygon.area == pytest.approx(exact, rel=1e-5)
    assert [line_length(mesh, f"L{i}") for i in (1, 2, 3)] == pytest.approx([1.4, 0.53, 0.53], rel=1e-12)
    for name, sign in (("left", 1), ("right", -1)):
        assert (sign * mesh.points[1, mesh.boundaries[name]] >= 0.2 - 1e-12).all()
    assert set(mesh.seconds) == {"prepare", "generate", "check"}
    assert "3 ribs" not in repr(mesh)
    assert f"{mesh.triangles.shape[1]} triangles" in repr(mesh)


def test_mirror_symmetric_panel_gives_balanced_halves():
    mesh = demo_mesh()
    y = mesh.points[1, mesh.triangles].mean(axis=0)
    assert abs((y > 0).sum() / (y < 0).sum() - 1) < 0.05


def test_the_same_input_gives_the_same_mesh():
    first, second = demo_mesh(), demo_mesh()
    assert (first.points == second.points).all()
    assert (first.triangles == second.triangles).all()


def test_crossing_lines_meet_in_a_vertex():
    mesh = check(
        mesh_region(
            Region(PLATE), size=0.06, lines=lines([(0.1, 0.1), (0.9, 0.5)], [(0.2, 0.5), (0.7, 0.05)])
        )
    )
    s = np.linalg.solve(np.array([[0.8, -0.5], [0.4, 0.45]]), [0.1, 0.4])
    crossing = np.array([0.1 + 0.8 * s[0], 0.1 + 0.4 * s[0]])
    common = np.intersect1d(mesh.lines["L1"], mesh.lines["L2"])
    assert len(common) == 1
    assert np.allclose(mesh.points[:, common[0]], crossing, atol=1e-12)


def test_lines_on_each_other_share_their_edges():
    mesh = check(
        mesh_region(Region(PLATE), size=0.06, lines=lines([(0.1, 0.1), (0.7, 0.4)], [(0.3, 0.2), (0.9, 0.5)]))
    )
    assert line_length(mesh, "L1") == pytest.approx(math.hypot(0.6, 0.3), rel=1e-9)
    assert line_length(mesh, "L2") == pytest.approx(math.hypot(0.6, 0.3), rel=1e-9)
    common = set(map(tuple, mesh.lines["L1"].T.tolist())) & set(map(tuple, mesh.lines["L2"].T.tolist()))
    assert lengths(mesh, np.array(sorted(common)).T).sum() == pytest.approx(math.hypot(0.4, 0.2), rel=1e-9)


def test_line_that_ends_on_an_arc_ends_in_a_vertex_of_it():
    angle = 0.7
    foot = np.array([0.5 + 0.1 * math.cos(angle), 0.3 + 0.1 * math.sin(angle)])
    hole = curves.circle((0.5, 0.3), 0.1)
    mesh = check(mesh_region(Region(PLATE, (hole,), ("h",)), size=0.06, lines=lines([foot, (0.95, 0.55)])))
    assert mesh.lines["L1"][0, 0] in mesh.boundaries["h"]
    assert np.allclose(mesh.points[:, mesh.lines["L1"][0, 0]], foot, atol=1e-14)


def test_line_may_touch_two_cut_outs_and_the_outline():
    holes = (curves.circle((0.3, 0.3), 0.1), curves.circle((0.7, 0.3), 0.1))
    paths = [[(0.4, 0.3), (0.6, 0.3)], [(0, 0.05), (1, 0.05)]]
    mesh = check(mesh_region(Region(PLATE, holes, ("a", "b")), size=0.06, lines=lines(*paths)))
    assert [line_length(mesh, name) for name in ("L1", "L2")] == pytest.approx([0.2, 1.0], rel=1e-12)


def test_bent_line_keeps_its_corners_and_closed_line_closes():
    path = [(0.1, 0.1), (0.5, 0.1), (0.6, 0.3)]
    ring = [(0.7, 0.1), (0.9, 0.1), (0.8, 0.3), (0.7, 0.1)]
    mesh = check(mesh_region(Region(PLATE), size=0.06, lines=lines(path, ring)))
    on = mesh.points[:, mesh.lines["L1"][0]]
    assert np.linalg.norm(on - np.array([[0.5], [0.1]]), axis=0).min() < 1e-14
    assert line_length(mesh, "L1") == pytest.approx(0.4 + math.hypot(0.1, 0.2), rel=1e-12)
    assert mesh.lines["L2"][0, 0] == mesh.lines["L2"][1, -1]


def test_input_is_not_changed_and_output_is_read_only():
    path = lines([(0.1, 0.3), (0.9998, 0.3)])
    before = path[0].points.copy()
    mesh = mesh_region(Region(PLATE), size=0.1, lines=path)
    assert (path[0].points == before).all()
    assert line_length(mesh, "L1") == pytest.approx(0.9, rel=1e-12)
    for array in (mesh.points, mesh.triangles, mesh.boundaries["outline"], mesh.lines["L1"]):
        with pytest.raises(ValueError, match="read-only"):
            array[0, 0] = 0


@pytest.mark.parametrize("size", [0.02, 0.008, 0.003])
def test_refinement_is_honoured_inside_and_fades_outside(size):
    disc = Refinement(0.31, 0.22, 0.04, size)
    mesh = check(mesh_region(Region(PLATE), size=0.06, refinements=[disc]))
    pairs = sides(mesh)
    far = np.linalg.norm(mesh.points[:, pairs].mean(axis=1).T - (disc.x, disc.y), axis=1)
    inside = lengths(mesh, pairs)[far < disc.radius]
    assert len(inside) > 20
    assert 0.8 * size < np.median(inside) <= 1.15 * size
    assert np.percentile(inside, 90) <= 1.4 * size
    assert np.median(lengths(mesh, pairs)[far > 0.3]) > 0.03
    assert mesh.min_angle > 20


def test_refinement_as_a_point():
    mesh = check(mesh_region(Region(PLATE), size=0.06, refinements=[Refinement(0.5, 0.3, 0.0, 0.004)]))
    near = np.linalg.norm(mesh.points[:, sides(mesh)].mean(axis=1).T - (0.5, 0.3), axis=1).argsort()[:6]
    assert np.median(lengths(mesh, sides(mesh)[:, near])) < 1.6 * 0.004


def test_line_size():
    mesh = check(
        mesh_region(Region(PLATE), size=0.06, line_size=0.01, lines=lines([(0.1, 0.3), (0.9, 0.33)]))
    )
    on_line = lengths(mesh, mesh.lines["L1"])
    assert on_line.max() <= 0.0115
    assert on_line.mean() > 0.006


def test_corner_size_at_re_entrant_corners_only():
    hole = curves.polyline([(0.4, 0.2), (0.6, 0.2), (0.6, 0.4), (0.4, 0.4)])
    mesh = check(mesh_region(Region(PLATE, (hole,), ("h",)), size=0.06, corner_size=0.005))
    for name, corner, fine in (("h", (0.4, 0.2), True), ("outline", (0, 0), False)):
        pairs = mesh.boundaries[name]
        at = np.linalg.norm(mesh.points[:, pairs[0]].T - corner, axis=1) < 1e-12
        assert (lengths(mesh, pairs[:, at]) < 0.008).all() == fine


def test_corner_size_along_rounded_corners():
    hole = curves.rounded([(0.4, 0.2), (0.6, 0.2), (0.6, 0.4), (0.4, 0.4)], 0.03)
    mesh = check(mesh_region(Region(PLATE, (hole,), ("h",)), size=0.06, corner_size=0.006))
    pairs = mesh.boundaries["h"]
    x, y = mesh.points[:, pairs].mean(axis=1)
    rounding = (np.abs(x - 0.5) > 0.0701) & (np.abs(y - 0.3) > 0.0701)
    assert rounding.sum() >= 4 * 7
    assert lengths(mesh, pairs[:, rounding]).max() < 0.008


def test_grading_sets_the_number_of_triangles():
    counts = [
        mesh_region(
            Region(PLATE), size=0.1, refinements=[Refinement(0.5, 0.3, 0.0, 0.002)], grading=g
        ).triangles.shape[1]
        for g in (0.15, 0.3, 0.6)
    ]
    assert counts[0] > 1.5 * counts[1] > 1.5 * 1.2 * counts[2]


def test_line_end_close_to_an_edge_gets_small_elements_instead_of_slivers():
    mesh = check(mesh_region(Region(PLATE), size=0.06, lines=lines([(0.1, 0.3), (0.9985, 0.3)])))
    assert mesh.min_angle > 20


def test_narrow_strip_between_a_line_and_a_cut_out_is_resolved():
    hole = curves.rounded([(0.3, 0.2), (0.6, 0.2), (0.6, 0.4), (0.3, 0.4)], 0.02)
    mesh = check(
        mesh_region(Region(PLATE, (hole,), ("h",)), size=0.06, lines=lines([(0.1, 0.19), (0.9, 0.19)]))
    )
    assert mesh.min_angle > 20


def test_skfem_mesh_integrates_the_area_and_keeps_names():
    from skfem import Basis, ElementTriP1, FacetBasis, Functional

    mesh = demo_mesh()
    other = mesh.to_skfem()
    assert (other.p == mesh.points).all()
    one = Functional(lambda w: 1.0 + 0.0 * w.x[0])
    assert one.assemble(Basis(other, ElementTriP1())) == pytest.approx(mesh.area, rel=1e-12)
    for name, pairs in mesh.boundaries.items():
        around = one.assemble(FacetBasis(other, ElementTriP1(), facets=other.boundaries[name]))
        assert around == pytest.approx(lengths(mesh, pairs).sum(), rel=1e-12)


# --- geometry that is hard to mesh ---

SLOTTED = Region(
    curves.rounded([(0, 0), (1.6, 0), (1.6, 0.7), (0, 0.7)], [0, 0.15, 0.15, 0]),
    (
        curves.polyline([(0.4, 0.2), (0.65, 0.2), (0.65, 0.55), (0.4, 0.55)]),
        curves.rounded([(0.95, 0.2), (1.2, 0.2), (1.2, 0.55), (0.95, 0.55)], 0.03),
    ),
    ("sharp", "round"),
)

# paths, the lengths that the lines must have in the mesh, least angle to be reached (degrees)
HARD = {
    "gap of a nanometre to a cut-out": ([[(0.1, 0.3), (0.4 - 1e-9, 0.3)]], [0.3], 20),
    "gap of a micrometre": ([[(0.1, 0.3), (0.4 - 1e-6, 0.3)]], [0.3], 20),
    "gap of 1 mm": ([[(0.1, 0.3), (0.399, 0.3)]], [0.299], 20),
    "overshoot into a cut-out": ([[(0.1, 0.3), (0.4004, 0.3)]], [0.3], 20),
    "overshoot past the outline": ([[(0.1, 0.3), (-0.0004, 0.3)]], [0.1], 20),
    "collinear with a cut-out edge": ([[(0.4, 0.1), (0.4, 0.65)]], [0.55], 20),
    "part of a cut-out edge": ([[(0.4, 0.25), (0.4, 0.45)]], [0.2], 20),
    "through a cut-out corner": ([[(0.25, 0.4), (0.4, 0.55), (0.5, 0.65)]], [math.hypot(0.25, 0.25)], 20),
    "past a cut-out corner by 0.3 mm": ([[(0.25, 0.4), (0.5, 0.6503)]], [math.hypot(0.25, 0.2503)], 20),
    "duplicated and overlapping": (
        [[(0.1, 0.05), (0.9, 0.15)], [(0.3, 0.075), (0.7, 0.125)]],
        [0.80623, 0.40311],
        25,
    ),
    "corner of one line on another": (
        [[(0.1, 0.1), (0.5, 0.1), (0.9, 0.1)], [(0.5, 0.02), (0.5, 0.1)]],
        [0.8, 0.08],
        20,
    ),
    "stops just short of a line": ([[(0.1, 0.1), (1.4, 0.1)], [(0.8, 0.6), (0.8, 0.1004)]], [1.3, 0.5], 20),
    "reaches just over a line": ([[(0.1, 0.1), (1.4, 0.1)], [(0.8, 0.6), (0.8, 0.0996)]], [1.3, 0.5], 20),
    "three lines through nearly one place": (
        [[(0.8, 0), (0.8, 0.7)], [(0.7, 0.1), (0.9, 0.2)], [(0.7, 0.2003), (0.9, 0.1)]],
        [0.7, 0.2236, 0.2237],
        20,
    ),
}


@pytest.mark.parametrize("name", HARD)
def test_hard_geometry_is_meshed(name):
    paths, expected, angle = HARD[name]
    mesh = check(mesh_region(SLOTTED, size=0.05, lines=lines(*paths)))
    assert [line_length(mesh, f"L{i + 1}") for i in range(len(paths))] == pytest.approx(expected, rel=1e-3)
    assert mesh.min_angle > angle


BAD_LINES = {
    "crossing at 0.2 degrees": (
        [[(0.1, 0.1), (1.4, 0.1)], [(0.1, 0.0977), (1.4, 0.1023)]],
        r"'L1' meets line 'L2'.*0.2 deg",
    ),
    "two lines 0.5 mm apart": (
        [[(0.1, 0.1), (1.4, 0.1)], [(0.2, 0.1005), (1.3, 0.1005)]],
        r"'L1' runs 0.5 mm beside line 'L2'",
    ),
    "0.7 mm beside a cut-out": ([[(0.3993, 0.1), (0.3993, 0.6)]], r"'L1' runs 0.7 mm beside hole 'sharp'"),
    "into a cut-out": (
        [[(0.1, 0.3), (0.405, 0.3)]],
        r"'L1' leaves the panel at \(405.0, 300.0\) mm.*hole 'sharp'",
    ),
    "off the panel": (
        [[(0.1, 0.3), (-0.005, 0.3)]],
        r"leaves the panel at \(-5.0, 300.0\) mm, 5.0 mm beyond the outline",
    ),
    "across a cut-out": (
        [[(0.1, 0.3), (0.9, 0.3)]],
        r"over hole 'sharp' from \(400.0, 300.0\) to \(650.0, 300.0\) mm",
    ),
    "tangent to a rounded corner": (
        [[(0.95, 0.1), (0.95, 0.65)]],
        r"meets hole 'round' at only 0.0 degrees at \(950",
    ),
    "chords of a curved edge": (
        [[(1.45 + 0.15 * math.cos(a), 0.55 + 0.15 * math.sin(a)) for a in np.linspace(0.2, 1.2, 12)]],
        r"'L1' runs 0\.\d+ mm beside the outline at \(15",
    ),
    "crossing itself": ([[(0.1, 0.1), (0.3, 0.1), (0.2, 0.15), (0.2, 0.05)]], "crosses itself"),
    "folding back": (
        [[(0.1, 0.1), (0.3, 0.1), (0.1, 0.1004)]],
        r"folds back on itself at \(100.0, 100.0\) mm",
    ),
    "shorter than half a millimetre": ([[(0.1, 0.1), (0.1004, 0.1)]], "has no length"),
    "not finite": ([[(0.1, 0.1), (math.nan, 0.1)]], "Point 2 of line 'L1' is"),
    "three coordinates": ([[(0.1, 0.1, 0), (0.2, 0.1, 0)]], r"shape \(2, 3\)"),
}


@pytest.mark.parametrize("name", BAD_LINES)
def test_bad_lines_are_refused_with_their_name_and_place(name):
    paths, words = BAD_LINES[name]
    with pytest.raises(DesignError, match=words) as caught:
        mesh_region(SLOTTED, size=0.05, lines=lines(*paths))
    assert str(caught.value).endswith(".")


def circle_region(*centres, names=None):
    holes = tuple(curves.circle(centre, 0.1) for centre in centres)
    return Region(PLATE, holes, names or tuple(f"h{i + 1}" for i in range(len(holes))))


BAD_REGIONS = {
    "hole across the outline": (
        circle_region((0.95, 0.3)),
        {},
        r"Hole 'h1' reaches beyond the outline at \(1",
    ),
    "hole outside": (circle_region((3, 3)), {}, r"Hole 'h1' reaches beyond the outline at \(3000"),
    "hole at the outline": (
        circle_region((0.8995, 0.3)),
        {},
        r"'h1' is only 0.5 mm from the outline at \(999.5, 300.0\)",
    ),
    "holes overlap": (circle_region((0.3, 0.3), (0.4, 0.3)), {}, "'h1' is only 0 mm from hole 'h2'"),
    "holes nearly touch": (
        circle_region((0.3, 0.3), (0.5008, 0.3)),
        {},
        "'h1' is only 0.8 mm from hole 'h2'",
    ),
    "hole in a hole": (circle_region((0.3, 0.3), (0.31, 0.3)), {}, "make them one"),
    "two names alike": (
        circle_region((0.3, 0.3), (0.7, 0.3), names=("a", "a")),
        {},
        "'a' is empty or already taken",
    ),
    "name of the outline": (circle_region((0.3, 0.3), names=("outline",)), {}, "already taken"),
    "too few names": (Region(PLATE, (curves.circle((0.5, 0.3), 0.1),)), {}, "1 holes but 0 hole names"),
    "outline crosses itself": (
        Region(curves.polyline([(0, 0), (1, 1), (1, 0), (0, 1)])),
        {},
        "crosses or touches itself",
    ),
    "open outline": (Region(PLATE[:3]), {}, "open by"),
    "size below zero": (Region(PLATE), {"size": -0.1}, "size is -0.1 m"),
    "size not a number": (Region(PLATE), {"size": math.nan}, "size is nan m"),
    "chord of zero": (Region(PLATE), {"chord": 0.0}, "chord error is 0.0 m"),
    "grading": (Region(PLATE), {"grading": 0.0}, "grading is 0.0"),
    "refinement off the panel": (
        Region(PLATE),
        {"refinements": [Refinement(2, 0, 0.1, 0.01)]},
        r"Refinement 1 at \(2000.0",
    ),
    "refinement in a hole": (
        circle_region((0.5, 0.3)),
        {"refinements": [Refinement(0.5, 0.3, 0.05, 0.01)]},
        "off the panel",
    ),
    "refinement below zero": (
        Region(PLATE),
        {"refinements": [Refinement(0.5, 0.3, -0.1, 0.01)]},
        "radius of 0 or more",
    ),
}


@pytest.mark.parametrize("name", BAD_REGIONS)
def test_bad_regions_and_sizes_are_refused(name):
    region, options, words = BAD_REGIONS[name]
    with pytest.raises(DesignError, match=words):
        mesh_region(region, **({"size": 0.05} | options))


@pytest.mark.parametrize(
    "options",
    [
        {"size": 0.5e-3},
        {"size": 0.05, "line_size": 1e-7},
        {"size": 0.05, "corner_size": 1e-7},
        {"size": 0.05, "chord": 1e-13},
        {"size": 0.05, "refinements": [Refinement(0.2, 0.1, 0.1, 1e-5)]},
    ],
)
def test_meshes_beyond_two_million_triangles_are_refused_at_once(options):
    hole = curves.rounded([(0.4, 0.2), (0.6, 0.2), (0.6, 0.4), (0.4, 0.4)], 0.03)
    with pytest.raises(DesignError, match=r"triangles, more than 2000000|points, more than"):
        mesh_region(Region(PLATE, (hole,), ("h",)), lines=lines([(0.1, 0.1), (0.9, 0.1)]), **options)


# --- broken meshes are caught ---


@pytest.fixture(scope="module")
def sound():
    region = circle_region((0.5, 0.3))
    path = lines([(0.1, 0.1), (0.9, 0.1)])
    mesh = mesh_region(region, size=0.06, lines=path)
    domain = domain_of(region)
    return domain, network_of(domain, path), mesh.points.T.copy(), mesh.triangles.T.copy()


def test_missing_triangle_is_a_gap(sound):
    domain, _, points, triangles = sound
    inside = np.linalg.norm(points[triangles].mean(axis=1) - (0.2, 0.3), axis=1).argmin()
    with pytest.raises(MeshError, match=r"gap near \((1|2)\d\d\.\d, (2|3)\d\d\.\d\) mm"):
        mesh_checks.boundary_loops(domain, points, np.delete(triangles, inside, axis=0))


def test_missing_triangle_at_the_boundary_is_noticed(sound):
    domain, _, points, triangles = sound
    on_edge = (np.isclose(points[triangles][:, :, 0], 1.0).sum(axis=1) == 2) & (
        points[triangles][:, :, 1].mean(axis=1) > 0.2
    )
    with pytest.raises(MeshError, match=r"gap|do not follow"):
        mesh_checks.boundary_loops(domain, points, np.delete(triangles, np.flatnonzero(on_edge)[0], axis=0))


def test_vertex_off_its_arc_is_noticed(sound):
    domain, _, points, triangles = sound
    moved = points.copy()
    on_arc = np.abs(np.hypot(*(points - (0.5, 0.3)).T) - 0.1) < 1e-9
    moved[np.flatnonzero(on_arc)[3]] *= 1 + 1e-6
    with pytest.raises(MeshError, match="gap"):
        mesh_checks.boundary_loops(domain, moved, triangles)


def test_inverted_triangle_is_noticed(sound):
    _, _, points, triangles = sound
    turned = triangles.copy()
    turned[7] = turned[7, ::-1]
    with pytest.raises(MeshError, match="inverted"):
        mesh_checks.check_triangles(points, turned)


def test_two_pieces_are_noticed_with_the_place_of_one():
    points = np.array([(0, 0), (1, 0), (0, 1), (1, 1), (2, 0), (3, 0), (2, 1)], dtype=float)
    triangles = np.array([(0, 1, 2), (1, 3, 2), (4, 5, 6)])
    with pytest.raises(MeshError, match=r"2 pieces, one of them near \(2333.3, 333.3\) mm"):
        mesh_checks.check_triangles(points, triangles)


def test_empty_mesh_is_noticed():
    with pytest.raises(MeshError, match="no triangles"):
        mesh_checks.check_triangles(np.empty((0, 2)), np.empty((0, 3), int))


def test_line_that_is_not_followed_is_noticed(sound):
    _, network, points, triangles = sound
    moved = points.copy()
    moved[np.linalg.norm(points - (0.5, 0.1), axis=1).argmin()] += (0, 1e-4)
    with pytest.raises(MeshError, match=r"only \d\d.* % of line 'L1'"):
        mesh_checks.line_edges(network, moved, triangles)


def test_area_beyond_the_chord_error_is_noticed(sound):
    domain, _, points, triangles = sound
    loops = mesh_checks.boundary_loops(domain, points, triangles)
    with pytest.raises(MeshError, match="covers"):
        mesh_checks.check_area(domain, points, triangles, loops, 1e-6)


def test_unused_vertices_are_dropped():
    points = np.array([(9, 9), (0, 0), (1, 0), (8, 8), (0, 1)], dtype=float)
    kept, triangles = mesh_checks.used_only(points, np.array([(1, 2, 4)]))
    assert kept.tolist() == [[0, 0], [1, 0], [0, 1]]
    assert triangles.tolist() == [[0, 1, 2]]


# --- manners ---


def test_meshing_is_silent(capfd):
    demo_mesh()
    assert capfd.readouterr() == ("", "")


def test_generator_is_loaded_late_and_without_a_display():
    code = (
        "import sys; import splitterfem.fem.meshing as m; assert 'netgen' not in sys.modules\n"
        "from splitterfem import curves\n"
        "m.mesh_region(m.Region(curves.circle((0, 0), 1.0)), size=0.5)\n"
        "assert 'netgen.occ' in sys.modules\n"
        "assert 'netgen.gui' not in sys.modules and 'tkinter' not in sys.modules\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


@st.composite
def panels(draw):
    """Rectangles with up to three holes and four lines, anywhere."""
    width, depth = draw(st.floats(0.3, 2.0)), draw(st.floats(0.2, 1.0))
    x, y = st.floats(-0.05 * width, 1.05 * width), st.floats(-0.05 * depth, 1.05 * depth)
    outer = curves.rounded(
        [(0, 0), (width, 0), (width, depth), (0, depth)], draw(st.floats(0, 0.4)) * min(width, depth)
    )
    holes = []
    for _ in range(draw(st.integers(0, 3))):
        cx, cy, r = draw(x), draw(y), draw(st.floats(0.004, 0.2)) * depth
        corners = [(cx - r, cy - r), (cx + r, cy - r), (cx + r, cy + r), (cx - r, cy + r)]
        holes.append(draw(st.sampled_from([curves.circle((cx, cy), r), curves.polyline(corners)])))
    special = [c.start for loop in (outer, *holes) for c in loop]
    nudge = st.sampled_from([0.0, 1e-9, 1e-6, 3e-4, 8e-4, 5e-3])
    place = st.tuples(x, y) | st.builds(
        lambda p, a, b: (p[0] + a, p[1] - b), st.sampled_from(special), nudge, nudge
    )
    paths = draw(st.lists(st.lists(place, min_size=2, max_size=3), max_size=4))
    names = tuple("abc"[: len(holes)])
    return Region(outer, tuple(holes), names), paths, depth * draw(st.floats(0.05, 0.5))


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(panels())
def test_any_panel_is_meshed_and_sound_or_refused(panel):
    region, paths, size = panel
    try:
        mesh = check(mesh_region(region, size=size, lines=lines(*paths)))
    except (DesignError, MeshError):
        return
    exact = curves.area(region.outer) - sum(abs(curves.area(hole)) for hole in region.holes)
    round_part = sum(c.length for loop in (region.outer, *region.holes) for c in loop if isinstance(c, Arc))
    assert abs(mesh.area - exact) <= 0.8 * CHORD * round_part + 1e-9
    assert mesh.min_angle > 0.5
