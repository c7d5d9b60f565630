"""Leaning on the panel everywhere: against single solves, plates and beams of the textbooks, and statics.

Sources: Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed. (1959): article 34 and eq. (131) (simply
supported rectangle under a load on a small rectangle, Navier's double series), table 23 (square under a central point
load, 0.01160 P a^2 / D), article 44 (all edges clamped, 0.00560 P a^2 / D).  Timoshenko, Strength of Materials, part I:
cantilever, P L^3 / (3 E I).  Rigid panels on springs are statics alone.
"""

from __future__ import annotations

import dataclasses
import html
import itertools
import json
import math

import numpy as np
import pytest
import scipy.sparse as sp
import shapely
from csv_tools import table_of
from matplotlib.colors import to_rgb
from matplotlib.contour import ContourSet
from scipy.sparse.linalg import spsolve

import splitterfem as sf
from splitterfem.analysis.pushmap import APART, AT_REST
from splitterfem.cli import main
from splitterfem.errors import DesignError, FileError, MechanismError, UnitError
from splitterfem.fem.locate import Locator
from splitterfem.fem.panel import Panel, generalised_stiffness
from splitterfem.fem.push import own_flexibility, pushed
from splitterfem.fem.restraint import mean_rows
from splitterfem.fem.space import PanelSpace
from splitterfem.fem.structure import Structure
from splitterfem.fem.structured import rectangle_mesh
from splitterfem.fem.textbook import Homogeneous
from splitterfem.model import pad_polygon
from splitterfem.output.pushview import CAP, STIFF, plot_push

# against single solves ----------------------------------------------------------------------------


@pytest.fixture(scope="module")
def coarse():
    return sf.build(sf.demo().with_("mesh.size", "80 mm"))


@pytest.fixture(scope="module")
def pushes(coarse):
    return sf.push_map(coarse)


def boxed(**more):
    """A panel of 600 x 1200 mm that lies on what is given."""
    corners = [(0.9, -0.6), (0.9, 0.6), (0.3, 0.6)]
    return sf.Splitter.model_validate(
        {
            "name": "table <b>",
            "panel": {
                "outline": {"start": (0.3, -0.6), "edges": [{"to": corner} for corner in corners]},
                "sheet": {"material": "birch plywood 12 mm", "thickness": 0.012},
            },
            "pins": [{"name": "a", "at": (0.6, 0.0), "holds": "xy"}, {"name": "b", "at": (0.6, 0.1), "holds": "x"}],
            "car": {"ride_height": 0.2},
            "mesh": {"size": 0.09},
        }
        | more
    )  # fmt: skip


FEET = [(0.45, 0.35), (0.45, -0.35), (0.75, 0.35), (0.75, -0.35)]


def on_stops(**fields):
    """The panel on four stops under it, which it can leave."""
    return [{"name": f"stop {i}", "at": at, "gap_down": 0.0, **fields} for i, at in enumerate(FEET)]


@pytest.fixture(scope="module")
def table():
    """The panel that lies on stops, and pushes that tip it at many points."""
    model = sf.build(boxed(stops=on_stops()))
    return model, sf.push_map(model, force="150 N")


def one_push(model, pushes, at):
    """Stiffness at one point from two solves, without the push and with it as a force of a load case."""
    samples = model.locator.area(pad_polygon(pushes.pad, at))
    row = mean_rows(model.panel, samples)[[2]]
    force = {"kind": "point", "at": at, "force": (0.0, 0.0, -pushes.force), "pad": pushes.pad}
    rest = model.design.case(pushes.case) if pushes.case != AT_REST.name else AT_REST
    rest = rest.with_(ground=False)
    lean = rest.with_(name="lean", forces=[*rest.forces, sf.PointForce.model_validate(force)])
    before, after = (sf.solve(model, case) for case in (rest, lean))
    sag = float((row @ (before.response.x - after.response.x))[0])
    return pushes.force / sag, tuple(before.response.side), tuple(after.response.side)


def inside(model, pushes, count):
    """Numbers of points, at random, whose pad lies wholly on the panel."""
    radius = 0.5 * float(pushes.pad.diameter)
    sheet = shapely.union_all(shapely.polygons(model.mesh.points.T[model.mesh.triangles.T]))
    room = shapely.distance(sheet.boundary, shapely.points(model.mesh.points.T))
    return np.random.default_rng(7).permutation(np.flatnonzero(room > 1.05 * radius))[:count]


def test_every_point_is_what_a_solve_of_that_push_alone_gives(coarse, pushes):
    field, states = pushes.stiffness, set()
    for i in inside(coarse, pushes, 16):
        k, rest, pushed_state = one_push(coarse, pushes, (float(field.x[i]), float(field.y[i])))
        assert field.values[i] == pytest.approx(k, rel=1e-8)
        states |= {rest, pushed_state}
    assert len(states) > 4  # lips of the pockets open and close from one push to the next


def test_pushes_on_top_of_a_load_case(coarse):
    pushes = sf.push_map(coarse, "straight, 210 km/h", force="45 lbf", pad="3 in")
    field = pushes.stiffness
    for i in inside(coarse, pushes, 5):
        k, _, _ = one_push(coarse, pushes, (float(field.x[i]), float(field.y[i])))
        assert field.values[i] == pytest.approx(k, rel=1e-8)


def test_a_push_that_tips_the_panel_is_one_that_cannot_be_solved(table):
    model, pushes = table
    field, tipped, states = pushes.stiffness, 0, set()
    for i in inside(model, pushes, 40):
        at = (float(field.x[i]), float(field.y[i]))
        if pushes.lifts[i]:
            with pytest.raises(MechanismError, match="lifts it off its supports"):
                one_push(model, pushes, at)
            tipped += 1
        else:
            k, _, state = one_push(model, pushes, at)
            assert field.values[i] == pytest.approx(k, rel=1e-8)
            states.add(state)
    assert tipped > 5
    assert len(states) > 1


def test_ribs_that_slip_and_lost_joints(coarse):
    """Unknowns of the ribs' own, and a load case with a model of its own."""
    tube = {"shape": "tube", "width": 0.025, "height": 0.025, "wall": 0.003}
    joint = {"kind": "adhesive", "thickness": 0.5e-3, "shear_modulus": 2e6}
    rib = {
        "name": "rib",
        "points": [(0.6, -0.5), (0.6, 0.5)],
        "section": tube,
        "material": "6061-T6 extrusion",
    }
    pins = [{"name": "a", "at": (0.45, 0.0), "holds": "xy"}, {"name": "b", "at": (0.75, 0.1), "holds": "y"}]
    model = sf.build(boxed(stops=on_stops(gap_up=0.0), pins=pins, ribs=[rib | {"joint": joint}]))
    assert model.structure.n_extra
    lost = sf.LoadCase(name="lost", unbonded=["rib"], ground=False)
    whole, weaker = sf.push_map(model), sf.push_map(model, lost)
    field = whole.stiffness
    for i in inside(model, whole, 4):
        k, _, _ = one_push(model, whole, (float(field.x[i]), float(field.y[i])))
        assert field.values[i] == pytest.approx(k, rel=1e-8)
    assert np.all(weaker.stiffness.values <= field.values * (1.0 + 1e-9))
    assert weaker.stiffness.values.min() < 0.9 * field.values.min()


def test_flexibility_from_pieces_of_the_factors_is_that_of_a_general_solver(table):
    """Against scipy's own sparse solver, for rows anywhere and of any length."""
    held, rng = table[0].structure.base, np.random.default_rng(3)
    n = held.matrix.shape[0]
    rows = sp.csr_array(np.where(rng.random((12, n)) < 2e-3, rng.random((12, n)), 0.0))
    full = sp.csr_array(np.ones((1, n)))
    rows = sp.csr_array(sp.vstack([rows, full, sp.csr_array((1, n))]))
    tied = sp.csc_matrix(held.matrix + held.rows.T @ (held.rows.multiply(held.reference[:, None]).tocsr()))
    free = held.free
    answers = spsolve(tied[free][:, free], sp.csc_matrix(rows[:, free].T)).toarray()
    expected = np.einsum("kn,nk->k", rows[:, free].toarray(), answers)
    assert own_flexibility(held, rows) == pytest.approx(expected, rel=1e-9, abs=1e-30)


def test_areas_of_many_pads_at_once(coarse):
    """Against shapely's intersections with the triangles."""
    pads = np.array(
        [shapely.Point(0.5, y).buffer(0.04) for y in (-0.7, 0.0, 0.05, 0.79)] + [shapely.box(5, 5, 6, 6)]
    )
    samples, owner = coarse.locator.areas(pads, order=2)
    sheet = shapely.union_all(shapely.polygons(coarse.mesh.points.T[coarse.mesh.triangles.T]))
    for number, pad in enumerate(pads):
        mine, part = owner == number, shapely.intersection(pad, sheet)
        assert samples.weights[mine].sum() == pytest.approx(part.area, rel=1e-9, abs=1e-15)
        if not part.is_empty:
            middle = samples.xy[:, mine] @ samples.weights[mine] / part.area
            assert tuple(middle) == pytest.approx((part.centroid.x, part.centroid.y), abs=1e-9)


# plates and beams of the textbooks ----------------------------------------------------------------

SIDE, THIN = 1.0, 0.004
PLATE = Homogeneous(THIN, E1=70e9, nu12=0.3)
RIGIDITY = float(PLATE.D[0, 0])


def square(edge, n=14):
    """A thin square plate whose edges are simply supported (hard) or clamped, and what measures its pads."""
    space = PanelSpace(*rectangle_mesh(SIDE, SIDE, n, n, pattern="cross"))
    panel = Panel(space, generalised_stiffness(PLATE))
    x, y = space.node_points
    across = np.flatnonzero((x < 1e-9) | (x > SIDE - 1e-9))
    along = np.flatnonzero((y < 1e-9) | (y > SIDE - 1e-9))
    rim = np.union1d(across, along)
    turned = (rim, rim) if edge == "clamped" else (along, across)
    fixed = [space.dofs_of(np.arange(space.n_nodes), ("u", "v")), space.dofs_of(rim, "w")]
    fixed += [space.dofs_of(nodes, name) for nodes, name in zip(turned, ("phi_x", "phi_y"), strict=True)]
    return Structure(panel, fixed=np.concatenate(fixed))


def pad_rows(structure, places, half, across=None):
    """Mean deflection of square pads, or of rectangles."""
    locator = Locator(structure.panel.space)
    wide = half if across is None else across
    boxes = [shapely.box(x - half, y - wide, x + half, y + wide) for x, y in places]
    rows = [mean_rows(structure.panel, locator.area(box))[[2]] for box in boxes]
    return sp.csr_array(sp.vstack(rows))


@pytest.mark.parametrize(("edge", "alpha"), [("hard", 0.01160), ("clamped", 0.00560)])
def test_a_square_plate_under_a_small_pad_in_its_middle(edge, alpha):
    """Within 0.5 %: the tables have three or four figures, and a pad of a hundredth of the side is no point."""
    structure = square(edge)
    rows = pad_rows(structure, [(0.5, 0.5)], 0.005)
    moved = pushed(structure, np.zeros(rows.shape[1]), rows, 3.0)
    assert moved == pytest.approx([3.0 * alpha * SIDE**2 / RIGIDITY], rel=5e-3)


def test_pushes_all_over_a_simply_supported_plate():
    """Navier's series for a load on a rectangle and the mean deflection of that rectangle, on a coarse mesh."""
    structure, half = square("hard"), 0.03
    places = [(0.5, 0.5), (0.25, 0.5), (0.33, 0.71), (0.1, 0.12), (0.05, 0.5)]
    rows = pad_rows(structure, places, half)
    m = np.arange(1, 400)
    wave = [np.sin(m * np.pi * np.array(c)[:, None]) * np.sinc(m * half) for c in zip(*places, strict=True)]
    wave = [w**2 for w in wave]
    share = 1.0 / (m[:, None] ** 2 + m[None] ** 2) ** 2
    series = 4.0 / (np.pi**4 * RIGIDITY) * np.einsum("km,mn,kn->k", wave[0], share, wave[1])
    moved = pushed(structure, np.zeros(rows.shape[1]), rows, 1.0)
    assert moved == pytest.approx(series, rel=5e-3)


def test_a_cantilever_gives_with_the_cube_of_its_length():
    """k = 3 E I / L^3, for a strip without Poisson effect and stiff in shear."""
    length, width, thickness, modulus = 0.6, 0.03, 0.012, 10e9
    laminate = Homogeneous(thickness, E1=modulus, nu12=0.0, G13=5 * modulus, G23=5 * modulus)
    space = PanelSpace(*rectangle_mesh(length, width, 24, 2, pattern="cross"))
    panel = Panel(space, generalised_stiffness(laminate))
    root = np.flatnonzero(space.node_points[0] < 1e-9)
    structure = Structure(panel, fixed=space.dofs_of(root, ("u", "v", "w", "phi_x", "phi_y")))
    arms = np.array([0.15, 0.3, 0.42, 0.598])
    rows = pad_rows(structure, [(arm, 0.5 * width) for arm in arms], 0.002, across=0.5 * width)
    k = 10.0 / pushed(structure, np.zeros(rows.shape[1]), rows, 10.0)
    assert k == pytest.approx(3.0 * modulus * width * thickness**3 / 12.0 / arms**3, rel=2e-3)


# a rigid panel on springs: statics ----------------------------------------------------------------

SPRING, PUSH = 2000.0, 1200.0


@pytest.fixture(scope="module")
def rigid():
    """A sheet of aluminium so thick that the springs under it do all the giving."""
    sheet = {"material": "6061-T6 sheet", "thickness": 0.05}
    corners = [(0.9, -0.6), (0.9, 0.6), (0.3, 0.6)]
    outline = {"start": (0.3, -0.6), "edges": [{"to": corner} for corner in corners]}
    stops = on_stops(stiffness=SPRING)
    return sf.build(boxed(panel={"outline": outline, "sheet": sheet}, stops=stops))


def three_or_four(weight, push, at):
    """Sag at the push on a rigid panel on springs that only push; nan where it tips.

    Equilibrium of forces and moments about the middle with a plane of deflections, on all springs, or on three of them
    that are pressed while the panel has left the fourth.
    """
    feet = np.array(FEET) - (0.6, 0.0)
    load = weight * np.array([1.0, 0.0, 0.0]) + push * np.array([1.0, *at])
    for left in [(0, 1, 2, 3), *itertools.combinations(range(4), 3)]:
        arms = np.column_stack([np.ones(len(left)), feet[list(left)]])
        plane = np.linalg.solve(SPRING * arms.T @ arms, load)
        others = [i for i in range(4) if i not in left]
        free = np.column_stack([np.ones(len(others)), feet[others]]) @ plane
        if np.all(arms @ plane >= 0.0) and np.all(free <= 0.0):
            return float(np.array([1.0, *at]) @ plane)
    return math.nan


def test_a_rigid_panel_on_springs_that_let_go(rigid):
    """Every point of the map, tipped ones included, within what the sheet bends; over edges part of the pad acts."""
    pushes = sf.push_map(rigid, force=PUSH)
    weight = 9.80665 * sf.solve(rigid, AT_REST).mass
    sheet = shapely.box(0.3, -0.6, 0.9, 0.6)
    expected = []
    for x, y in zip(pushes.stiffness.x, pushes.stiffness.y, strict=True):
        middle = shapely.Point(x, y).buffer(0.03).intersection(sheet).centroid
        at = (middle.x - 0.6, middle.y)
        expected.append(PUSH / (three_or_four(weight, PUSH, at) - weight / (4.0 * SPRING)))
    expected = np.array(expected)
    assert 0.05 < np.isnan(expected).mean() < 0.7
    assert np.array_equal(pushes.lifts, np.isnan(expected))
    assert pushes.stiffness.values == pytest.approx(expected, rel=5e-3, nan_ok=True)
    four = 4.0 * SPRING
    near = np.nanmax(pushes.stiffness.values)
    assert near == pytest.approx(four, rel=1e-2)


# the map ------------------------------------------------------------------------------------------


def test_left_is_as_stiff_as_right(pushes):
    """The demonstration is its own mirror image; its mesh is not."""
    (k1, (x1, y1)), (k2, (x2, y2)) = pushes.softest(2)
    assert k1 == pytest.approx(k2, rel=2e-2)
    assert (x1, -y1) == pytest.approx((x2, y2), abs=0.02)


def test_a_mirrored_design_has_a_mirrored_map():
    """The same panel with its one strut on the other side."""
    found = []
    for side in (1.0, -1.0):
        extra = {"name": "extra", "at": (0.6, 0.5 * side), "holds": "z"}
        model = sf.build(boxed(stops=on_stops(gap_up=0.0), bolts=[extra]))
        found.append(sf.push_map(model).softest(6))
    left, right = found
    assert len(left) == len(right) >= 3
    mirrored = sorted((k, (x, -y)) for k, (x, y) in right)
    for (k1, at1), (k2, at2) in zip(sorted(left)[:2], mirrored[:2], strict=True):
        assert k1 == pytest.approx(k2, rel=2e-2)
        assert at1 == pytest.approx(at2, abs=0.03)


@pytest.mark.parametrize("apart", [0.05, APART, 0.5])
def test_soft_spots_are_apart_and_softest_around(pushes, apart):
    field, spots = pushes.stiffness, pushes.softest(50, apart=apart)
    assert [k for k, _ in spots] == sorted(k for k, _ in spots)
    assert spots[0][0] == field.values.min()
    for k, (x, y) in spots:
        assert k == field.values[np.hypot(field.x - x, field.y - y) < apart].min()
    for (_, a), (_, b) in itertools.combinations(spots, 2):
        assert math.dist(a, b) >= apart
    assert pushes.softest(2, apart=apart) == spots[:2]


def test_the_table_has_the_softest_spots(pushes):
    assert list(pushes.table.columns) == ["spot", "stiffness_N_per_mm", "x_mm", "y_mm", "sag_mm"]
    first, (k, (x, y)) = pushes.table.iloc[0], pushes.softest(1)[0]
    assert (first.stiffness_N_per_mm, first.x_mm, first.y_mm) == pytest.approx((1e-3 * k, 1e3 * x, 1e3 * y))
    assert first.sag_mm == pytest.approx(1e3 * 200.0 / k)
    assert pushes.table.stiffness_N_per_mm.is_monotonic_increasing


def test_forces_and_pads_in_words(table):
    model, pushes = table
    again = sf.push_map(model, force=150, pad={"shape": "round", "diameter": "6 cm"})
    assert np.array_equal(again.stiffness.values, pushes.stiffness.values, equal_nan=True)
    assert sf.push_map(model, force="45 lbf", pad=0.06).force == pytest.approx(45 * 4.4482216152605)
    foot = sf.push_map(
        model, force="150 N", pad={"shape": "rectangle", "length": "280 mm", "width": "100 mm"}
    )
    field = pushes.stiffness
    middle = np.argmin(np.hypot(field.x - 0.6, field.y))
    assert foot.stiffness.values[middle] > 1.02 * field.values[middle]


def test_from_a_design_or_a_model(table, pushes):
    model, small = table
    assert repr(sf.push_map(model.design, force=150.0)) == repr(small)
    assert repr(pushes).startswith(
        "Push map of 'Hill-climb saloon, demonstration' in 'own weight', 200 N: softest 1"
    )


def test_all_points_as_a_file(table, tmp_path):
    _, pushes = table
    place = pushes.to_csv(tmp_path / "push.csv")
    found = table_of(place)
    assert list(found.columns) == ["x_mm", "y_mm", "stiffness_N_per_mm", "sag_mm"]
    assert found.stiffness_N_per_mm.to_numpy() == pytest.approx(
        1e-3 * pushes.stiffness.values, rel=1e-5, nan_ok=True
    )
    assert [path.name for path in tmp_path.iterdir()] == ["push.csv"]
    with pytest.raises(FileError, match="There is no folder"):
        pushes.to_csv(tmp_path / "nowhere" / "push.csv")


def test_a_notebook_shows_table_and_notes(table):
    _, pushes = table
    text = pushes._repr_html_()
    assert "stiffness_N_per_mm" in text
    assert all(html.escape(note) in text for note in pushes.notes)
    assert "the push lifts the panel off its supports" in pushes.notes[-1]


@pytest.mark.parametrize(
    ("options", "kind", "said"),
    [
        ({"force": "0 N"}, DesignError, "The push is 0 N; give a force above zero"),
        ({"force": "-3 N"}, DesignError, "The push is -3 N; give a force above zero"),
        ({"force": "3 mm"}, UnitError, 'force: "3 mm" is a length, not a force'),
        ({"force": "200"}, UnitError, 'force: "200" has no unit; write "200 N"'),
        ({"force": math.nan}, UnitError, "is not a finite number"),
        ({"pad": "0 mm"}, DesignError, '"0 mm" is not above zero'),
        ({"pad": "3 kg"}, DesignError, "is a mass, not a length"),
        (
            {"pad": {"shape": "rectangle", "length": "3 mm"}},
            DesignError,
            "a rectangle pad has length and width",
        ),
        ({"case": "strait"}, DesignError, "there is no load case 'strait'"),
    ],
)
def test_what_cannot_be_pushed(table, options, kind, said):
    with pytest.raises(kind, match=said) as problem:
        sf.push_map(table[0], **options)
    assert "\n" not in str(problem.value)


def test_a_panel_that_nothing_holds_before_the_push(table):
    model, _ = table
    free = sf.LoadCase(name="weightless", gravity=False, ground=False, forces=[
        sf.PointForce(at=(0.6, 0.0), force=(0.0, 0.0, 20.0), pad="40 mm")])  # fmt: skip
    with pytest.raises(MechanismError, match="before the push, because the load lifts it off its supports"):
        sf.push_map(model, free)


# the picture --------------------------------------------------------------------------------------


def artists(ax, start):
    return [a for a in ax.findobj() if str(a.get_gid() or "").startswith(start)]


@pytest.fixture(scope="module")
def picture(pushes):
    ax = pushes.plot()
    ax.figure.draw_without_rendering()
    return ax


def test_levels_are_round_and_the_rest_is_one_pale_colour(pushes, picture):
    (filled,) = [a for a in artists(picture, "filled contours") if isinstance(a, ContourSet)]
    levels = 10.0**filled.levels
    least = 1e-3 * pushes.stiffness.values.min()
    assert levels == pytest.approx([float(f"{level:.0e}") for level in levels])
    assert {int(f"{level:.0e}"[0]) for level in levels} <= {1, 2, 5}
    assert levels[0] <= least < levels[1]
    assert 0.4 * CAP * least <= levels[-1] <= CAP * least
    assert filled.extend == "max"
    luma = [
        np.dot(filled.cmap(filled.norm(at))[:3], [0.2126, 0.7152, 0.0722]) for at in filled.levels[:-1] + 1e-3
    ]
    assert np.all(np.diff([*luma, np.dot(to_rgb(STIFF), [0.2126, 0.7152, 0.0722])]) > 0.045)
    assert any(
        text.get_text() == f"stiffer than {levels[-1]:g} N/mm" for text in picture.get_legend().get_texts()
    )


def test_the_three_softest_spots_are_marked(pushes, picture):
    for number, (k, (x, y)) in enumerate(pushes.softest(3), start=1):
        (mark,) = artists(picture, f"spot {number}")
        assert mark.get_xydata()[0] == pytest.approx((1e3 * y, 1e3 * x))
        (words,) = artists(picture, f"call-out {number}")
        text = words.get_text()
        assert text == f"softest: {1e-3 * k:.0f} N/mm" if number == 1 else text == f"{1e-3 * k:.0f} N/mm"
        assert [a.get_text() for a in artists(picture, f"number {number}")] == [str(number)]


def boxes(ax, *starts):
    renderer = ax.figure.canvas.get_renderer()
    found = [a for start in starts for a in artists(ax, start)]
    return [a.get_bbox_patch().get_window_extent(renderer) for a in found]


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_words_do_not_hide_one_another(pushes, table, unit):
    for one in (pushes, table[1]):
        ax = one.plot(unit=unit)
        ax.figure.draw_without_rendering()
        found = boxes(ax, "call-out")
        assert len(found) == 3
        assert not any(a.overlaps(b) for a, b in itertools.combinations(found, 2))
        bars = [a.get_window_extent() for a in artists(ax, "scale bar")]
        assert bars
        assert not any(a.overlaps(b) for a in found for b in bars)


def test_title_and_units(pushes, picture):
    assert picture.get_title(loc="left").splitlines()[1] == (
        "Stiffness under a push of 200 N on a 60 mm pad, load case: own weight; invented data"
    )
    ax = plot_push(pushes, unit="in")
    assert "a push of 45 lbf on a 2.36 in pad" in ax.get_title(loc="left")
    k = pushes.softest(1)[0][0] / 175.126835  # N/m to lbf/in
    assert artists(ax, "call-out 1")[0].get_text() == f"softest: {k:.0f} lbf/in"
    labels = [axes.get_ylabel() for axes in ax.figure.axes]
    assert "stiffness under the hand (lbf/in)" in labels
    with pytest.raises(UnitError, match="cannot be drawn in 'cm'"):
        pushes.plot(unit="cm")


def test_where_a_push_lifts_the_panel_it_is_dotted(table):
    _, pushes = table
    ax = pushes.plot(title="")
    assert ax.get_title(loc="left") == ""
    (patch,) = artists(ax, "lifts")[:1]
    path, field = patch.get_path(), pushes.stiffness
    held = ~pushes.lifts[field.triangles].any(axis=1)
    middles = np.column_stack([field.y[field.triangles].mean(axis=1), field.x[field.triangles].mean(axis=1)])
    rings = [shapely.Polygon(ring) for ring in path.to_polygons() if len(ring) > 3]
    area = rings[0]
    for ring in rings[1:]:
        area = area.symmetric_difference(ring)
    assert np.array_equal(shapely.contains_xy(area, 1e3 * middles), ~held)
    assert any("lifts" in text.get_text() for text in ax.get_legend().get_texts())
    assert artists(ax, "lifts off")


def test_a_panel_that_every_push_lifts_has_a_picture_too(pushes):
    field = dataclasses.replace(pushes.stiffness, values=np.full_like(pushes.stiffness.values, np.nan))
    none = dataclasses.replace(pushes, stiffness=field)
    ax = none.plot()
    ax.figure.draw_without_rendering()
    assert len(none.table) == 0
    assert not artists(ax, "filled contours")
    assert "100 % of the points" in none.notes[-1]
    assert repr(none).endswith("every push lifts the panel off its supports")


# the command line ---------------------------------------------------------------------------------


@pytest.fixture
def table_file(tmp_path):
    """The panel on stops with a load case, as a file."""
    place = tmp_path / "table.toml"
    case = {"name": "braking", "acceleration": ("-1 g", "0 g", "0 g")}
    sf.save(boxed(stops=on_stops(), cases=[case]), place)
    return place


def test_command(table_file, tmp_path, capsys, table):
    out = tmp_path / "out"
    assert main(["push", str(table_file), "--force", "150 N", "--out", str(out)]) == 0
    text = capsys.readouterr().out
    assert "Pushed down with 150 N on a 60 mm pad, load case 'own weight'" in text
    first = table[1].table.iloc[0]
    assert f"{first.x_mm:.0f}, {first.y_mm:.0f}" in text
    assert "lifts the panel off its supports" in " ".join(text.split())
    assert sorted(path.name for path in out.iterdir()) == ["push_map.csv", "push_map.png"]
    assert len(table_of(out / "push_map.csv")) == len(table[1].stiffness.values)


def test_command_for_machines_and_in_us_units(table_file, capsys):
    options = ["--case", "braking", "--force", "10 lbf", "--pad", "3 in"]
    assert main(["push", str(table_file), *options, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)["push_map"]
    assert (found["case"], found["pad"]) == ("braking", {"diameter_mm": pytest.approx(76.2)})
    assert found["force_N"] == pytest.approx(44.48, abs=0.01)
    assert found["softest"][0]["spot"] == 1
    assert main(["push", str(table_file), *options, "--units", "us"]) == 0
    text = capsys.readouterr().out
    assert "10 lbf on a 3 in pad" in text
    k = found["softest"][0]["stiffness_N_per_mm"] / 0.175126835
    assert f"{k:.0f}" in text


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--force", "200"], '--force: "200" has no unit; write "200 N"'),
        (["--pad", "60 N"], '--pad: "60 N" is a force, not a length'),
        (["--pad=-1 mm"], "-1 mm is not above zero"),
        (["--case", "strait"], "there is no load case 'strait'"),
    ],
)
def test_command_says_what_is_wrong(table_file, capsys, options, said):
    assert main(["push", str(table_file), *options]) == 1
    assert said in capsys.readouterr().err
