"""Bad regions and sizes are refused, broken meshes are caught, and any panel is one or the other."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from meshing_tools import (
    CHORD,
    PLATE,
    check,
    circle_region,
    lines,
)

from splitterfem import curves
from splitterfem.curves import Arc
from splitterfem.errors import DesignError, MeshError
from splitterfem.fem import mesh_checks
from splitterfem.fem.embedding import network_of
from splitterfem.fem.geometry import domain_of
from splitterfem.fem.meshing import Refinement, Region, mesh_region

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


def test_a_sliver_is_refused_with_its_place():
    points = np.array([[0.0, 0.0], [1.0, 0.0], [0.5, 0.5], [0.5, -5e-4]])
    kept = np.array([[0, 1, 2]])
    assert mesh_checks.smallest_angle(points, kept) == pytest.approx(45.0)
    with pytest.raises(MeshError, match=r"angle of 0\.057 degrees near \(500\.0, -0\.2\) mm"):
        mesh_checks.smallest_angle(points, np.array([[0, 1, 2], [0, 3, 1]]))
