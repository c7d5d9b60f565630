"""Curves and loops against closed forms of plane geometry."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.interpolate import BarycentricInterpolator
from scipy.special import ellipe

from splitterfem import curves
from splitterfem.curves import Arc, Line, Spline
from splitterfem.errors import DesignError

SQUARE = curves.polyline([(0, 0), (1, 0), (1, 1), (0, 1)])


def wavy(n=9):
    """An open spline through points of a sine."""
    x = np.linspace(0.0, 1.0, n)
    return Spline(tuple(zip(x, 0.1 * np.sin(3.0 * x), strict=True)))


def round_spline(n, radius=0.5):
    """A closed spline through points of a circle."""
    angle = np.linspace(0.0, 2.0 * np.pi, n + 1)
    points = radius * np.column_stack([np.cos(angle), np.sin(angle)])
    points[-1] = points[0]
    return (Spline(tuple(map(tuple, points))),)


def test_arc_through_three_points_of_a_known_circle():
    arc = Arc((3, 0), (1 + 2 * math.cos(1.1), 2 * math.sin(1.1)), (1, 2))
    assert arc.centre == pytest.approx((1, 0), abs=1e-15)
    assert arc.radius == pytest.approx(2, rel=1e-15)
    assert arc.sweep == pytest.approx(math.pi / 2, rel=1e-15)
    assert arc.length == pytest.approx(math.pi, rel=1e-15)


@pytest.mark.parametrize("turn", [0.2, 1.0, 3.0, 5.0, 6.2, -0.2, -3.5, -6.0])
def test_arc_runs_through_its_middle_point_whatever_its_turn(turn):
    at = [(0.3 + 0.7 * math.cos(0.4 + s * turn), 0.7 * math.sin(0.4 + s * turn)) for s in (0.0, 0.5, 1.0)]
    arc = Arc(*at)
    assert arc.sweep == pytest.approx(turn, rel=1e-10)
    assert np.allclose(arc.at([0.0, 0.5, 1.0]), at, atol=1e-12)


@pytest.mark.parametrize("angle", [0.3, 1.0, math.pi, 4.0])
def test_circular_segment_area(angle):
    """Area of a circular segment ½ r² (θ − sin θ): Bronshtein & Semendyayev, Handbook of Mathematics."""
    r = 0.15
    at = [(r * math.cos(s * angle), r * math.sin(s * angle)) for s in (0.0, 0.5, 1.0)]
    loop = (Arc(*at), Line(at[2], at[0]))
    assert curves.area(loop) == pytest.approx(0.5 * r**2 * (angle - math.sin(angle)), rel=1e-12)
    assert curves.length(loop) == pytest.approx(r * angle + 2 * r * math.sin(angle / 2), rel=1e-12)


def test_circle_and_rounded_rectangle():
    assert curves.area(curves.circle((0.2, -0.1), 0.1)) == pytest.approx(math.pi * 0.01, rel=1e-14)
    loop = curves.rounded([(0, 0), (1.6, 0), (1.6, 0.6), (0, 0.6)], [0, 0.15, 0.1, 0])
    corner = 1 - math.pi / 4
    assert curves.area(loop) == pytest.approx(1.6 * 0.6 - corner * (0.15**2 + 0.1**2), rel=1e-14)
    assert curves.length(loop) == pytest.approx(4.4 - (2 - math.pi / 2) * 0.25, rel=1e-14)
    assert sum(isinstance(curve, Arc) for curve in loop) == 2


def test_rounding_works_for_re_entrant_corners_and_full_ends():
    loop = curves.rounded([(0, 0), (2, 0), (2, 2), (1, 2), (1, 1), (0, 1)], [0, 0, 0, 0, 0.2, 0])
    assert curves.area(loop) == pytest.approx(3 + (1 - math.pi / 4) * 0.04, rel=1e-14)
    slot = curves.rounded([(0, 0), (1, 0), (1, 0.2), (0, 0.2)], 0.1)
    assert curves.area(slot) == pytest.approx(0.8 * 0.2 + math.pi * 0.01, rel=1e-12)


def test_spline_through_four_points_is_their_one_cubic():
    """Four points and slopes by the cubic through them: Lagrange interpolation over the chord length."""
    points = np.array([(0.0, 0.0), (0.3, 0.1), (0.5, 0.35), (0.9, 0.3)])
    s = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    t = np.linspace(0, 1, 50)
    expected = np.column_stack([BarycentricInterpolator(s, points[:, k])(t * s[-1]) for k in (0, 1)])
    assert np.allclose(Spline(tuple(map(tuple, points))).at(t), expected, atol=1e-13)


def test_spline_through_points_of_a_line_is_the_line():
    spline = Spline(((0, 0), (0.1, 0.2), (0.3, 0.6), (0.35, 0.7), (0.8, 1.6)))
    at = spline.at(np.linspace(0, 1, 50))
    assert np.allclose(at[:, 1], 2 * at[:, 0], atol=1e-15)
    assert spline.length == pytest.approx(math.hypot(0.8, 1.6), rel=1e-14)


def test_spline_error_falls_with_the_fourth_power():
    """De Boor, A Practical Guide to Splines, ch. IV and V: error O(h⁴), end slopes by cubics included."""
    errors = []
    for n in (9, 17, 33, 65):
        points = wavy(n).at(np.linspace(0, 1, 1001))
        errors.append(np.abs(points[:, 1] - 0.1 * np.sin(3 * points[:, 0])).max())
    orders = np.log2(np.divide(errors[:-1], errors[1:]))
    assert np.all(orders > 3.7)
    assert orders[-1] < 4.4
    assert errors[-1] < 1e-8


def test_closed_spline_through_a_circle():
    loop = round_spline(24)
    assert curves.area(loop) == pytest.approx(math.pi / 4, rel=5e-5)
    assert curves.length(loop) == pytest.approx(math.pi, rel=5e-5)
    spline = loop[0]
    assert np.allclose(spline.derivative(0.0), spline.derivative(1.0), atol=1e-13)
    assert curves.area(round_spline(48)) - math.pi / 4 == pytest.approx(
        (curves.area(loop) - math.pi / 4) / 16, rel=0.1
    )


def test_spline_length_of_an_ellipse():
    """Perimeter of an ellipse 4 a E(e²): Abramowitz & Stegun, ch. 17."""
    angle = np.linspace(0, 2 * np.pi, 201)
    points = np.column_stack([0.4 * np.cos(angle), 0.2 * np.sin(angle)])
    points[-1] = points[0]
    assert curves.length((Spline(tuple(map(tuple, points))),)) == pytest.approx(
        4 * 0.4 * ellipe(0.75), rel=1e-7
    )


def test_area_of_a_spline_agrees_with_general_quadrature():
    spline = wavy(7)

    def moment(t):
        (x, y), (dx, dy) = spline.at(t)[0], spline.derivative(t)[0]
        return 0.5 * (x * dy - y * dx)

    expected = sum(quad(moment, a, b)[0] for a, b in zip(spline.knots[:-1], spline.knots[1:], strict=True))
    assert spline.swept() == pytest.approx(expected, rel=1e-12)


CURVES = {
    "arc": Arc((0, 0), (0.3, 0.15), (0.5, -0.1)),
    "wide arc": Arc((0, 0), (1, 1), (0.1, 0.05)),
    "spline": wavy(6),
    "closed spline": round_spline(7)[0],
    "kinked spline": Spline(((0, 0), (0.1, 0.02), (0.3, 0.1), (0.35, 0.15), (0.5, 0.1), (0.9, 0.12))),
}


@pytest.mark.parametrize("tolerance", [1e-2, 1e-3, 1e-5])
@pytest.mark.parametrize("name", CURVES)
def test_flattening_keeps_its_tolerance(name, tolerance):
    curve = CURVES[name]
    t = curve.breaks(tolerance)
    chords = shapely.LineString(curve.at(t))
    fine = shapely.points(curve.at(np.linspace(0, 1, 20001)))
    worst = shapely.distance(fine, chords).max()
    assert worst <= tolerance * (1 + 1e-9)
    assert worst > 0.1 * tolerance or len(t) < 12  # not wastefully fine either


@pytest.mark.parametrize("name", CURVES)
def test_derivative_is_the_limit_of_differences(name):
    curve = CURVES[name]
    t = np.array([0.1, 0.37, 0.5, 0.93])
    h = 1e-6
    assert np.allclose(curve.derivative(t), (curve.at(t + h) - curve.at(t - h)) / (2 * h), atol=1e-6)


def test_flattened_loop_has_its_corners_and_is_not_closed_twice():
    points = curves.flatten(SQUARE, 1e-3)
    assert points.tolist() == [[0, 0], [1, 0], [1, 1], [0, 1]]
    assert curves.polygon(SQUARE, 1e-3).area == 1.0


def test_polygon_area_converges_to_the_true_area_from_inside():
    loop = curves.rounded([(0, 0), (1, 0), (1, 1), (0, 1)], 0.3)
    short = [curves.area(loop) - curves.polygon(loop, tolerance).area for tolerance in (1e-3, 1e-4, 1e-5)]
    assert short[0] > short[1] > short[2] > 0
    # an inscribed polygon loses two thirds of the tolerance along the arcs
    assert short[2] == pytest.approx(2 / 3 * 1e-5 * 2 * math.pi * 0.3, rel=0.05)


def test_mirrored_loop_is_continuous_and_keeps_its_turn():
    loop = (
        Line((0, 0.1), (1, 0.1)),
        Arc((1, 0.1), (1.2, 0.4), (1, 0.6)),
        Spline(((1, 0.6), (0.5, 0.7), (0, 0.5))),
    )
    loop = (*loop, Line((0, 0.5), (0, 0.1)))
    image = curves.mirrored(loop)
    assert curves.joined(image) == image
    assert curves.area(image) == pytest.approx(curves.area(loop), rel=1e-14)
    assert curves.area(image) > 0
    assert curves.mirrored(image) == loop
    flipped = shapely.Polygon(curves.flatten(loop, 1e-4) * [1, -1])
    assert curves.polygon(image, 1e-4).symmetric_difference(flipped).area < 1e-3 * flipped.area


def test_tiny_gaps_are_closed():
    loop = (Line((0, 0), (1, 0)), Line((1, 5e-7), (1, 1)), Line((1, 1), (4e-7, 0)))
    joined = curves.joined(loop)
    assert all(a.end == b.start for a, b in zip(joined, joined[1:] + joined[:1], strict=True))


BAD = {
    "three points on a line": (lambda: Arc((0, 0), (1, 0), (2, 0)), "straight line"),
    "almost on a line": (lambda: Arc((0, 0), (1, 1e-7), (2, 0)), "straight line"),
    "arc with equal ends": (lambda: Arc((0, 0), (1, 0), (0, 0)), "straight line"),
    "arc without extent": (lambda: Arc((0, 0), (0, 0), (0, 0)), "straight line"),
    "line without length": (lambda: Line((0.1, 0.2), (0.1, 0.2)), r"\(100.0, 200.0\) mm has no length"),
    "line to nowhere": (lambda: Line((0, 0), (math.nan, 1)), "end of a line"),
    "line with three coordinates": (lambda: Line((0, 0, 0), (1, 1)), "start of a line"),
    "spline of two points": (lambda: Spline(((0, 0), (1, 1))), "has 2 points"),
    "closed spline of three": (lambda: Spline(((0, 0), (1, 1), (0, 0))), "at least 4"),
    "spline with a double point": (lambda: Spline(((0, 0), (1, 1), (1, 1), (2, 0))), "Points 2 and 3"),
    "empty loop": (lambda: curves.joined(()), "has no curves"),
    "open loop": (lambda: curves.area(SQUARE[:3]), "open by 1e\\+03 mm"),
    "tolerance of zero": (lambda: curves.flatten(SQUARE, 0.0), "tolerance"),
    "too fine": (lambda: curves.flatten(curves.circle((0, 0), 1e3), 1e-12), "larger tolerance"),
    "figure of eight": (
        lambda: curves.polygon(curves.polyline([(0, 0), (1, 1), (1, 0), (0, 1)]), 1e-3),
        "crosses",
    ),
    "back and forth": (lambda: curves.polygon((Line((0, 0), (1, 0)), Line((1, 0), (0, 0))), 1e-3), "nothing"),
    "radius too large": (lambda: curves.rounded([(0, 0), (1, 0), (1, 1)], 0.5), "does not fit"),
    "radius below zero": (lambda: curves.rounded([(0, 0), (1, 0), (1, 1)], -0.1), "does not fit"),
}


@pytest.mark.parametrize("name", BAD)
def test_bad_curves_are_refused_in_one_sentence(name):
    make, words = BAD[name]
    with pytest.raises(DesignError, match=words) as caught:
        make()
    assert str(caught.value).endswith(".")


def test_figure_of_eight_is_told_its_place():
    with pytest.raises(DesignError, match=r"near \(500.0, 500.0\) mm"):
        curves.polygon(curves.polyline([(0, 0), (1, 1), (1, 0), (0, 1)]), 1e-3)


finite = st.floats(-2.0, 2.0, allow_nan=False).map(lambda v: round(v, 4))
place = st.tuples(finite, finite)


@given(a=place, b=place, c=place)
def test_any_arc_passes_its_points_or_is_refused(a, b, c):
    try:
        arc = Arc(a, b, c)
    except DesignError:
        return
    scale = max(1.0, arc.radius)
    assert np.allclose(arc.at([0.0, 1.0]), [a, c], atol=1e-9 * scale)
    t = np.linspace(0.0, 1.0, 2001)
    assert np.linalg.norm(arc.at(t) - b, axis=1).min() < arc.length / 2000
    back = Arc(c, b, a)
    assert back.sweep == pytest.approx(-arc.sweep, rel=1e-6)
