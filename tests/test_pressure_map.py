"""Tap files, interpolation between taps, total force and centre of pressure."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import MultiPolygon, Point, Polygon, box

from splitterfem.aero import (
    FunctionMap,
    PressureField,
    TapMap,
    UniformMap,
    dynamic_pressure,
    read_taps,
    resultant,
)
from splitterfem.aero.overlap import area_of, tiles
from splitterfem.errors import DesignError, FileError

RNG = np.random.default_rng(8117)
CORNERS = np.array([[0.0, -0.8], [0.7, -0.8], [0.7, 0.8], [0.0, 0.8]])
SCATTER = np.vstack([CORNERS, RNG.uniform([0.02, -0.78], [0.68, 0.78], (60, 2))])
MAP = TapMap(SCATTER, np.zeros(len(SCATTER)))


# Interpolation -----------------------------------------------------------------------------------------


@settings(deadline=None, max_examples=40)
@given(st.tuples(*[st.floats(-1e4, 1e4, allow_subnormal=False)] * 3))
def test_a_linear_field_is_reproduced(coefficients: tuple[float, float, float]) -> None:
    a, b, c = coefficients
    field = MAP.with_values(a + b * SCATTER[:, 0] + c * SCATTER[:, 1])
    x, y = np.meshgrid(np.linspace(0, 0.7, 23), np.linspace(-0.8, 0.8, 31))
    size = 1e-12 * (abs(a) + abs(b) + abs(c)) + 1e-300  # tiny products lose their digits
    assert field.at(x, y) == pytest.approx(a + b * x + c * y, abs=size)
    assert not field.extrapolated(x, y).any()


def test_taps_read_their_own_value_and_bound_what_lies_between() -> None:
    values = RNG.normal(1000, 300, len(SCATTER))
    field = TapMap(SCATTER, values)
    assert field.at(*SCATTER.T) == pytest.approx(values, rel=1e-9)
    between = field.at(RNG.uniform(-1, 2, 5000), RNG.uniform(-2, 2, 5000))
    assert values.min() - 1e-9 <= between.min() <= between.max() <= values.max() + 1e-9


def test_beyond_the_hull_the_nearest_point_of_it_counts() -> None:
    triangle = TapMap(np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]), np.array([10.0, 20.0, 30.0]))
    # Feet of the perpendiculars: the side y = 0 at x = 0.25, the corner, and the middle of the slope.
    x, y = np.array([0.25, -3.0, 2.0]), np.array([-5.0, -4.0, 2.0])
    assert triangle.at(x, y) == pytest.approx([12.5, 10.0, 25.0], rel=1e-12)
    assert triangle.extrapolated(x, y).tolist() == [True, True, True]
    assert triangle.extrapolated([0.2, 0.5], [0.2, 0.5]).tolist() == [False, False]


@settings(deadline=None, max_examples=40)
@given(st.floats(0, 2 * np.pi), st.floats(0, 1))
def test_continuous_across_the_hull(direction: float, share: float) -> None:
    field = MAP.with_values(np.arange(len(SCATTER)))
    i = int(share * 3.999)
    edge = CORNERS[i] + (share * 3.999 - i) * (CORNERS[(i + 1) % 4] - CORNERS[i])
    step = 1e-9 * np.array([np.cos(direction), np.sin(direction)])
    near = field.at(*np.array([edge - step, edge + step]).T)
    assert near[0] == pytest.approx(near[1], abs=1e-4)


def test_shapes_are_kept_and_points_may_be_many() -> None:
    field = TapMap(SCATTER, np.ones(len(SCATTER)))
    assert field.at(0.1, 0.1).shape == ()
    assert field.at(np.zeros((3, 1)), np.zeros(4)).shape == (3, 4)
    x, y = RNG.uniform(-0.2, 0.9, 100_000), RNG.uniform(-1, 1, 100_000)
    assert field.at(x, y) == pytest.approx(np.ones(100_000), rel=1e-12)
    assert field.at(np.empty(0), np.empty(0)).shape == (0,)


def test_maps_are_frozen_and_compared_by_value() -> None:
    values = np.ones(len(SCATTER))
    field = TapMap(SCATTER, values)
    values[0] = 5.0
    assert field.values[0] == 1.0
    with pytest.raises(ValueError, match="read-only"):
        field.points[0, 0] = 1.0
    assert field == TapMap(SCATTER, np.ones(len(SCATTER)))
    assert hash(field) == hash(TapMap(SCATTER, np.ones(len(SCATTER))))
    assert field != field.scaled(2.0)
    assert UniformMap(3.0) == UniformMap(3.0)


@pytest.mark.parametrize(
    "field",
    [UniformMap(700.0), FunctionMap(lambda x, y: 100 * x + y), TapMap(SCATTER, SCATTER[:, 0])],
    ids=["uniform", "function", "taps"],
)
def test_every_map_answers_alike(field: UniformMap | FunctionMap | TapMap) -> None:
    assert isinstance(field, PressureField)
    x, y = np.meshgrid([0.1, 0.2, 0.3], [0.0, 0.1])
    assert field.at(x, y).shape == field.extrapolated(x, y).shape == (2, 3)
    assert field.scaled(2.5).at(x, y) == pytest.approx(2.5 * field.at(x, y), rel=1e-14)


# Total force -------------------------------------------------------------------------------------------


def test_total_of_a_bilinear_field() -> None:
    """Closed form over a rectangle with a rectangular hole: moments of (1, x, y, x y)."""

    def integral(a: float, b: float, c: float, d: float, i: int, j: int) -> float:
        return (b ** (i + 1) - a ** (i + 1)) * (d ** (j + 1) - c ** (j + 1)) / (i + 1) / (j + 1)

    def moment(i: int, j: int) -> float:
        return integral(0.0, 0.7, -0.8, 0.8, i, j) - integral(0.1, 0.3, 0.2, 0.6, i, j)

    k = {(0, 0): 900.0, (1, 0): 400.0, (0, 1): -150.0, (1, 1): 250.0}
    region = box(0.0, -0.8, 0.7, 0.8).difference(box(0.1, 0.2, 0.3, 0.6))
    field = FunctionMap(lambda x, y: 900 + 400 * x - 150 * y + 250 * x * y)
    total = resultant(field, region, spacing=0.3)
    force = sum(c * moment(i, j) for (i, j), c in k.items())
    assert total.area == pytest.approx(1.12 - 0.08, rel=1e-12)
    assert total.force == pytest.approx(force, rel=1e-12)
    assert total.x * force == pytest.approx(sum(c * moment(i + 1, j) for (i, j), c in k.items()), rel=1e-12)
    assert total.y * force == pytest.approx(sum(c * moment(i, j + 1) for (i, j), c in k.items()), rel=1e-11)
    assert total.extrapolated == 0.0


def test_total_of_a_smooth_field() -> None:
    """Closed form: int exp(x) cos(y) over the unit square is (e - 1) sin 1."""
    total = resultant(FunctionMap(lambda x, y: np.exp(x) * np.cos(y)), box(0, 0, 1, 1), spacing=0.05)
    assert total.force == pytest.approx((np.e - 1) * np.sin(1), rel=1e-9)


def test_total_of_taps() -> None:
    """Closed form: a pyramid of height 1 over the unit square has the volume 1/3."""
    points = np.array([[0, 0], [1, 0], [1, 1], [0, 1], [0.5, 0.5]])
    field = TapMap(points, np.array([0, 0, 0, 0, 1.0]))
    for spacing, rel in (
        (0.01, 1e-5),
        (None, 1e-12),
    ):  # squares across the ridges, and the taps' own triangles
        total = resultant(field, box(0, 0, 1, 1), spacing=spacing)
        assert total.force == pytest.approx(1 / 3, rel=rel)
        assert (total.x, total.y) == pytest.approx((0.5, 0.5), rel=1e-9)
        assert total.moments == pytest.approx((1 / 6, 1 / 6), rel=rel)


def test_share_of_the_area_without_taps() -> None:
    field = TapMap(np.array([[0, 0], [1, 0], [1, 1], [0, 1]]), np.ones(4))
    for spacing, within in ((0.02, 0.01), (None, 1e-12)):
        total = resultant(field, box(0, 0, 2, 1), spacing=spacing)
        assert total.extrapolated == pytest.approx(0.5, abs=within)
        assert total.force == pytest.approx(2.0, rel=1e-12)


def test_several_areas_and_a_curved_one() -> None:
    region = MultiPolygon([box(0, 0, 1, 1), Point(3, 0).buffer(0.5, quad_segs=64)])
    assert resultant(UniformMap(10.0), region).force == pytest.approx(10 * region.area, rel=1e-12)


@settings(deadline=None)
@given(
    st.lists(st.floats(0.2, 1.0), min_size=3, max_size=20),
    st.floats(0.1, 1.0),
    st.booleans(),
    st.sampled_from([0.01, 0.03, 0.2, 3.0]),
)
def test_areas_of_any_shape_are_tiled_whole(
    radii: list[float], flat: float, pierced: bool, step: float
) -> None:
    """Area and centroid against those of GEOS, however fine the squares are beside the shape."""
    turn = 2.0 * np.pi * np.arange(len(radii)) / len(radii)
    shape = Polygon(np.column_stack([radii * np.cos(turn), flat * np.array(radii) * np.sin(turn)]))
    if pierced:
        shape = area_of(shape.difference(box(-0.1, -0.05, 0.07, 0.05)))
    if shape.is_empty:
        return
    triangles = tiles(shape, step)
    one, two = triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]
    size = 0.5 * np.abs(one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0])
    assert size.sum() == pytest.approx(shape.area, rel=1e-12)
    centre = size @ triangles.mean(axis=1) / size.sum()
    assert centre == pytest.approx(np.array(shape.centroid.coords[0]), abs=1e-12)


def test_balanced_pressures_have_no_centre() -> None:
    total = resultant(FunctionMap(lambda x, y: x), box(-1, -1, 1, 1), spacing=0.5)
    assert abs(total.force) < 1e-12
    assert np.isnan(total.x)


# Files -------------------------------------------------------------------------------------------------


def write(folder: Path, text: str | bytes) -> Path:
    path = folder / "taps.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


PLAIN = [[0.1, -0.2, 0.5], [0.4, 0.3, 0.75], [0.05, 0.6, 1.25]]


@pytest.mark.parametrize(
    "text",
    [
        "x,y,cp\n0.1,-0.2,0.5\n0.4,0.3,0.75\n0.05,0.6,1.25\n",
        "# made up\n\nx_mm, y_mm, Cp\n100, -200, 0.5\n400, 300, 0.75\n# lost\n50, 600, 1.25",
        "tap;X [cm];Y (cm);net cp\r\na;10;-20;.5\r\nb;40;30;7.5e-1\r\nc;5;60;+1.25\r\n",
        "cp\ty_m\tx_error\tx_m\n0.5\t-0.2\t?\t0.1\n0.75\t0.3\t\t0.4\n1.25\t0.6\t\t0.05\n",
        '\ufeff"x","y","cp"\n"0.1","-0.2","0.5"\n0.4,0.3,0.75\n0.05,0.6,1.25\n',
    ],
    ids=["commas", "comments and mm", "semicolons and brackets", "tabs and other columns", "quotes and BOM"],
)
def test_readable_files(tmp_path: Path, text: str) -> None:
    taps = read_taps(write(tmp_path, text))
    assert np.column_stack([taps.points, taps.values]) == pytest.approx(np.array(PLAIN), rel=1e-14)
    assert (taps.kind, taps.name) == ("cp", "taps.csv")


def test_units_of_the_file_or_of_the_call(tmp_path: Path) -> None:
    # 1 in = 25.4 mm exactly; 1 psi = 6894.757 Pa (NIST SP 811).
    path = write(tmp_path, "x,y,p\n1,2,0.1\n3,4,0.2\n10,-2,0.3\n")
    taps = read_taps(path, length_unit="in", pressure_unit="psi")
    assert taps.points[0] == pytest.approx([0.0254, 0.0508], rel=1e-14)
    assert taps.values == pytest.approx(6894.757 * np.array([0.1, 0.2, 0.3]), rel=1e-7)
    named = read_taps(write(tmp_path, "x_in,y_in,p_kPa\n1,2,0.1\n3,4,0.2\n10,-2,0.3\n"))
    assert named.kind == "pressure"
    assert named.points == pytest.approx(taps.points, rel=1e-14)
    assert named.values == pytest.approx([100, 200, 300], rel=1e-14)


def test_coefficients_become_pressures_with_q(tmp_path: Path) -> None:
    taps = read_taps(write(tmp_path, "x,y,cp\n0.1,-0.2,0.5\n0.4,0.3,0.75\n0.05,0.6,1.25\n"))
    # 0.5 * 1.225 * 50^2 = 1531.25 Pa
    q = dynamic_pressure(50.0)
    assert taps.pressures(q) == pytest.approx([765.625, 1148.4375, 1914.0625], rel=1e-12)
    assert taps.map(q).at(0.1, -0.2) == pytest.approx(765.625, rel=1e-12)


def test_pressures_scale_with_the_square_of_the_speed(tmp_path: Path) -> None:
    taps = read_taps(write(tmp_path, "x,y,p\n0,0,100\n1,0,200\n0,1,400\n"))
    assert taps.pressures().tolist() == [100, 200, 400]
    half = taps.pressures(dynamic_pressure(30.0), q_reference=dynamic_pressure(60.0))
    assert half == pytest.approx([25, 50, 100], rel=1e-14)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "taps.csv has no line but comments; it needs a header such as x_mm, y_mm, cp and the taps."),
        (
            "# only\n",
            "taps.csv has no line but comments; it needs a header such as x_mm, y_mm, cp and the taps.",
        ),
        (
            "x y cp\n",
            "taps.csv, line 1: the header 'x y cp' has one column; separate x, y and cp by commas, "
            "semicolons or tabs.",
        ),
        (
            "# c\nx,cp\n1,2\n",
            "taps.csv, line 2: there is no column y among 'x', 'cp'; name it so, with its unit (x_mm).",
        ),
        (
            "x,y,force\n1,2,3\n",
            "taps.csv, line 1: there is no column cp or p among 'x', 'y', 'force'; name it so, with its unit "
            "(x_mm).",
        ),
        ("x,X_mm,y,cp\n", "taps.csv, line 1: columns 'x' and 'X_mm' are both x; keep one."),
        (
            "x,y,cp,p\n",
            "taps.csv, line 1: there is a column of coefficients and one of pressures; keep one.",
        ),
        (
            "x,y,cp\n0,0,1\n1,0,nan\n0,1,1\n",
            "taps.csv, line 3: cp is 'nan', not a number; leave that tap out or repair it.",
        ),
        (
            "x,y,cp\n0,0,1\n1,-inf,1\n0,1,1\n",
            "taps.csv, line 3: y is '-inf', not a number; leave that tap out or repair it.",
        ),
        (
            "x,y,cp\n0,0,1\n1,,1\n0,1,1\n",
            "taps.csv, line 3: y is empty, not a number; leave that tap out or repair it.",
        ),
        (
            "x,y,cp\n0,0,1\n1,1_0,1\n0,1,1\n",
            "taps.csv, line 3: y is '1_0', not a number; leave that tap out or repair it.",
        ),
        ("x,y,cp\n0,0,1\n1,0,1e999\n", "taps.csv, line 3: cp is '1e999', too large for a number; repair it."),
        (
            "x;y;cp\n0;0;1\n0,5;0;1\n",
            "taps.csv, line 3: x is '0,5' with a decimal comma; write a point.",
        ),
        (
            "x,y,cp\n0,0,1\n0,5,0,1\n",
            "taps.csv, line 3: there are 4 fields where the header has 3 (if commas mark decimals, write "
            "points); give one field for each column.",
        ),
        (
            "x,y,cp\n0,0,1\n0,5\n",
            "taps.csv, line 3: there are 2 fields where the header has 3; give one field for each column.",
        ),
        (
            "x,y,cp\n0,0,1\n680,0,1\n0,1,1\n",
            "taps.csv, line 3: x = 680 puts the tap 680 m away; name the unit in the header, such as x_mm, "
            "or as the length unit.",
        ),
        (
            "x,y,cp\n",
            "taps.csv ends after the header with too few taps (0); a map needs three or more.",
        ),
        (
            "x,y,cp\n0,0,1\n1,0,1\n",
            "taps.csv ends after line 3 with too few taps (2); a map needs three or more.",
        ),
        (
            "x,y,cp\n0,0,1\n1,1,1\n# again\n0,0,2\n0,1,1\n",
            "taps.csv, line 5: the tap at x = 0.0, y = 0.0 mm is already on line 2; keep one of them.",
        ),
        (
            "x,y,cp\n0,0,1\n0.1,0.2,1\n0.3,0.6,1\n0.2,0.4,2\n",
            "taps.csv: all 4 taps lie on one line; a map needs taps that span an area.",
        ),
        (
            b"x,y,cp\n0,0,\xff\n",
            "taps.csv, line 2: this is not UTF-8 text; save the table as CSV in UTF-8.",
        ),
        (b"PK\x03\x04\x00\n", "taps.csv, line 1: this is not text; save the table as CSV in UTF-8."),
        (
            "x,y,cp\n" + "1" * 10_001,
            "taps.csv, line 2: the line has 10001 characters; write one tap on a line.",
        ),
        (b"\n" * 20_000_001, "taps.csv is larger than 20 MB; thin the taps out."),
        (b"\n" * 400_001, "taps.csv has 400001 lines; thin it out to 200000 taps at most."),
    ],
)
def test_bad_files(tmp_path: Path, text: str | bytes, sentence: str) -> None:
    with pytest.raises(FileError) as caught:
        read_taps(write(tmp_path, text))
    assert str(caught.value) == sentence


def test_no_file(tmp_path: Path) -> None:
    with pytest.raises(FileError) as caught:
        read_taps(tmp_path / "none.csv")
    assert str(caught.value) == f"There is no file {tmp_path / 'none.csv'}; check the path of the taps."
    with pytest.raises(FileError) as caught:
        read_taps(tmp_path)
    assert str(caught.value) == f"{tmp_path} is not a file; give the path of a table of taps."


def test_unit_of_the_wrong_kind(tmp_path: Path) -> None:
    with pytest.raises(FileError, match=r"^taps.csv, line 1: column 'x \[kg\]'"):
        read_taps(write(tmp_path, "x [kg],y,cp\n"))
    with pytest.raises(FileError, match=r"^taps.csv, line 1: column 'x'"):
        read_taps(write(tmp_path, "x,y,cp\n"), length_unit="yonks")


@settings(deadline=None, max_examples=40)
@given(st.binary(max_size=300))
def test_any_bytes_are_read_or_refused(tmp_path_factory: pytest.TempPathFactory, content: bytes) -> None:
    path = write(tmp_path_factory.mktemp("any"), b"x,y,cp\n" + content)
    try:
        taps = read_taps(path)
    except FileError as problem:
        assert "\n" not in str(problem)  # noqa: PT017
    else:
        assert np.isfinite(taps.values).all()


BAD = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (
            lambda: TapMap(BAD[:2], np.ones(2)),
            "A pressure map needs at least three taps; there are 2.",
        ),
        (
            lambda: TapMap(BAD, np.ones(2)),
            "The taps have positions of shape (3, 2) and values of shape (2,); give (n, 2) and (n,).",
        ),
        (
            lambda: TapMap(BAD, np.array([1.0, np.nan, 1.0])),
            "A tap has a position or value that is not finite; leave that tap out.",
        ),
        (
            lambda: TapMap(np.vstack([BAD, BAD[1:2]]), np.ones(4)),
            "Taps 2 and 4 are both at x = 1000.0, y = 0.0 mm; keep one.",
        ),
        (
            lambda: TapMap(np.outer(np.arange(4), [1.0, 2.0]), np.ones(4)),
            "All taps lie on one line; a pressure map needs taps that span an area.",
        ),
        (
            lambda: MAP.with_values(np.ones(3)),
            "New values for 64 taps must be as many finite numbers.",
        ),
        (
            lambda: UniformMap(float("inf")),
            "The uniform pressure is not a finite number; give one in Pa.",
        ),
        (
            lambda: FunctionMap(lambda x, y: np.where(x > 0.5, np.nan, x)).at([0.0, 0.6], [0.0, 0.1]),
            "The pressure function is not finite at x = 600.0, y = 100.0 mm; make it finite over the whole "
            "panel.",
        ),
        (
            lambda: FunctionMap(lambda x, y: np.ones(7)).at([0.0, 0.6], [0.0, 0.1]),
            "The pressure function returned shape (7,) for points of shape (2,); write it with "
            "array arithmetic.",
        ),
        (
            lambda: resultant(UniformMap(1.0), Polygon([(0, 0), (1, 1), (1, 0), (0, 1)])),
            "The area to integrate over is not valid (Self-intersection[0.5 0.5]); give a simple outline "
            "with holes inside it.",
        ),
        (
            lambda: resultant(UniformMap(1.0), Polygon()),
            "The area to integrate over has no area; give a simple outline with holes inside it.",
        ),
        (
            lambda: resultant(UniformMap(1.0), box(0, 0, 1, 1), spacing=1e-5),
            "A spacing of 0.01 mm asks for 1.2e+11 points; give a wider one.",
        ),
    ],
)
def test_refusals(make, sentence: str) -> None:
    with pytest.raises(DesignError) as caught:
        make()
    assert str(caught.value) == sentence


def test_misused_scaling(tmp_path: Path) -> None:
    cp = read_taps(write(tmp_path, "x,y,cp\n0,0,1\n1,0,2\n0,1,3\n"))
    with pytest.raises(
        DesignError, match=r"^The taps of taps.csv are pressure coefficients; give the dynamic"
    ):
        cp.pressures()
    pressure = read_taps(write(tmp_path, "x,y,p\n0,0,1\n1,0,2\n0,1,3\n"))
    with pytest.raises(DesignError, match=r"^The taps of taps.csv are pressures; to scale them give both"):
        pressure.pressures(1000.0)
    with pytest.raises(DesignError, match=r"^The dynamic pressure is nan Pa; give zero or more.$"):
        cp.pressures(float("nan"))


# The demonstration -------------------------------------------------------------------------------------


def test_demonstration_taps() -> None:
    source = files("splitterfem") / "data" / "demo_taps.csv"
    text = source.read_text(encoding="utf-8")
    assert text.startswith("# INVENTED")
    taps = read_taps(Path(str(source)))
    assert 60 <= len(taps.values) <= 90
    x, y = taps.points.T
    tunnels = (x > 0.38) & (x < 0.68) & (np.abs(y) > 0.35) & (np.abs(y) < 0.62)
    assert not tunnels.any()
    assert x.min() > 0.38
    assert x.max() < 1.01
    assert np.abs(y).max() < 0.8
    # Bernoulli: nothing above +1 on top; suction of a low floor to about -1 (common practice, no source).
    assert taps.values.min() > 0.3
    assert taps.values.max() < 1.8
    panel = box(0.38, -0.8, 1.01, 0.8)
    for side in (1, -1):
        panel = panel.difference(
            box(0.38, min(side * 0.35, side * 0.62), 0.68, max(side * 0.35, side * 0.62))
        )
    total = resultant(taps.map(dynamic_pressure(210 / 3.6)), panel)
    # A panel of this size gives some 1.5 to 2 kN at 210 km/h (common practice, no source).
    assert 1500 < total.force < 2000
    assert abs(total.y) < 0.03
    assert total.x > 0.365
