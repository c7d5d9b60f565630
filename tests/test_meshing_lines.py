"""Lines that meshes follow, geometry that is hard to mesh, and lines that are refused."""

from __future__ import annotations

import math

import numpy as np
import pytest
from meshing_tools import (
    PLATE,
    check,
    lengths,
    line_length,
    lines,
)

from splitterfem import curves
from splitterfem.errors import DesignError
from splitterfem.fem.meshing import Region, mesh_region


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


def test_line_end_close_to_an_edge_gets_small_elements_instead_of_slivers():
    mesh = check(mesh_region(Region(PLATE), size=0.06, lines=lines([(0.1, 0.3), (0.9985, 0.3)])))
    assert mesh.min_angle > 20


def test_narrow_strip_between_a_line_and_a_cut_out_is_resolved():
    hole = curves.rounded([(0.3, 0.2), (0.6, 0.2), (0.6, 0.4), (0.3, 0.4)], 0.02)
    mesh = check(
        mesh_region(Region(PLATE, (hole,), ("h",)), size=0.06, lines=lines([(0.1, 0.19), (0.9, 0.19)]))
    )
    assert mesh.min_angle > 20


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
