"""Meshes of plane regions: closed-form areas, vertices on true curves, names and element sizes."""

from __future__ import annotations

import math
import subprocess
import sys

import numpy as np
import pytest
import shapely
from meshing_tools import (
    CHORD,
    PLATE,
    check,
    demo_like,
    demo_mesh,
    lengths,
    line_length,
    lines,
    sides,
)

from splitterfem import curves
from splitterfem.curves import Arc, Line, Spline
from splitterfem.fem.meshing import Refinement, Region, mesh_region


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
