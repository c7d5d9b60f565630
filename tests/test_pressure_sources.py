"""Pressure maps from taps on two faces, grids and meshes: what they add up to, and what the panel gets of it."""

from __future__ import annotations

import base64
import struct
import zlib
from pathlib import Path

import meshio
import numpy as np
import pytest
import scipy.integrate
from scipy.spatial import ConvexHull
from shapely.geometry import Point, Polygon, box

import splitterfem as sf
from splitterfem.aero import (
    FacesMap,
    FunctionMap,
    GridMap,
    MeshMap,
    SourceField,
    TapMap,
    UniformMap,
    WeightedMap,
    dynamic_pressure,
    read_grid,
    read_surface,
    read_taps,
    resultant,
    surface_map,
)
from splitterfem.aero.adjust import to_share, to_total
from splitterfem.aero.mesh_file import READERS
from splitterfem.aero.transfer import Elements, spread
from splitterfem.design import LoadCase
from splitterfem.design import pressure as maps
from splitterfem.errors import DesignError, FileError
from splitterfem.fem.reference import quadrature, tabulate_p2b
from splitterfem.model.airload import panel_area, pressure_field
from splitterfem.model.loads import case_load

RNG = np.random.default_rng(4711)
PANEL = box(0.1, -0.7, 0.6, 0.7)
HOLED = PANEL.difference(box(0.2, 0.15, 0.45, 0.5))


def moment(area: tuple[float, float, float, float], i: int, j: int) -> float:
    """Closed form: integral of x^i y^j over a rectangle x0, y0, x1, y1."""
    a, c, b, d = area
    return (b ** (i + 1) - a ** (i + 1)) * (d ** (j + 1) - c ** (j + 1)) / (i + 1) / (j + 1)


def holed(i: int, j: int) -> float:
    return moment((0.1, -0.7, 0.6, 0.7), i, j) - moment((0.2, 0.15, 0.45, 0.5), i, j)


BILINEAR = {(0, 0): 900.0, (1, 0): 400.0, (0, 1): -150.0, (1, 1): 250.0}


def bilinear(x, y):
    return sum(c * x**i * y**j for (i, j), c in BILINEAR.items())


def assert_bilinear(total, *, terms=BILINEAR, rel=1e-11):
    """Force and moments of a polynomial over the holed panel in closed form."""
    for found, (p, q) in ((total.force, (0, 0)), (total.moments[0], (1, 0)), (total.moments[1], (0, 1))):
        exact = sum(c * holed(i + p, j + q) for (i, j), c in terms.items())
        assert found == pytest.approx(exact, rel=rel, abs=1e-9 * abs(total.force))


def write(folder: Path, text: str | bytes, name: str = "map.csv") -> Path:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


# Two faces ---------------------------------------------------------------------------------------------

UPPER = np.vstack([[[0.0, -1.0], [1.0, -1.0], [1.0, 1.0], [0.0, 1.0]], RNG.uniform((0, -1), (1, 1), (25, 2))])
LOWER = np.vstack([[[0.0, -1.0], [1.0, -1.0], [1.0, 1.0], [0.0, 1.0]], RNG.uniform((0, -1), (1, 1), (30, 2))])


def up(x, y):
    return 300.0 + 100.0 * x - 50.0 * y


def down(x, y):
    return -600.0 + 300.0 * x + 80.0 * y


NET = {(0, 0): 900.0, (1, 0): -200.0, (0, 1): -130.0}


def tables(form: str) -> dict[str, str]:
    """The same two linear fields in every form in which a table can have them."""
    rows = [[f"{x!r},{y!r},{up(x, y)!r}" for x, y in UPPER.tolist()]]
    rows += [[f"{x!r},{y!r},{down(x, y)!r}" for x, y in LOWER.tolist()]]
    if form == "side":
        lines = [
            f"{row},{side}" for side, face in zip(("upper", "Bottom"), rows, strict=True) for row in face
        ]
        return {"map.csv": "x,y,p,side\n" + "\n".join(lines)}
    if form == "two files":
        return {"map.csv": "x,y,p\n" + "\n".join(rows[0]), "low.csv": "x,y,p_lower\n" + "\n".join(rows[1])}
    if form == "columns at the same places":
        lines = [f"{x!r};{y!r};{down(x, y)!r};{up(x, y)!r}" for x, y in UPPER.tolist()]
        return {"map.csv": "x;y;p_lower_Pa;p_upper [Pa]\n" + "\n".join(lines)}
    lines = [f"{x!r},{y!r},{up(x, y)!r}," for x, y in UPPER.tolist()]
    return {"map.csv": "x,y,p_upper,p_lower\n" + "\n".join(lines + [
        f"{x!r},{y!r},,{down(x, y)!r}" for x, y in (LOWER + np.array([1e-3, 0.0])).tolist()
    ])}  # fmt: skip


@pytest.mark.parametrize("form", ["side", "two files", "columns at the same places", "columns, some free"])
def test_net_pressure_of_two_faces(tmp_path: Path, form: str) -> None:
    """Linear fields are reproduced wherever their taps are, so the net force has a closed form."""
    files = tables(form)
    for name, text in files.items():
        write(tmp_path, text, name)
    taps = read_taps(tmp_path / "map.csv", face="upper" if len(files) == 2 else None)
    if len(files) == 2:
        taps = taps.over(read_taps(tmp_path / "low.csv", face="lower"))
    field = taps.map()
    assert isinstance(field, SourceField)
    assert_bilinear(resultant(field, HOLED), terms=NET, rel=1e-10)
    x, y = RNG.uniform((0.1, -0.9), (0.9, 0.9), (50, 2)).T
    assert field.at(x, y) == pytest.approx(up(x, y) - down(x, y), rel=1e-9)
    assert [len(places) for _, places in field.marks()] == (
        [29] if form == "columns at the same places" else [29, 34]
    )


def test_a_place_is_measured_where_both_faces_are() -> None:
    upper = TapMap(np.array([[0, 0], [2, 0], [2, 1], [0, 1]]), np.ones(4))
    lower = TapMap(np.array([[1, 0], [3, 0], [3, 1], [1, 1]]), np.ones(4))
    field = FacesMap(upper, lower)
    assert field.extrapolated([0.5, 1.5, 2.5], [0.5] * 3).tolist() == [True, False, True]
    assert resultant(field, box(0, 0, 3, 1)).extrapolated == pytest.approx(2 / 3, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "face", "sentence"),
    [
        (
            "x,y,cp_upper\n0,0,1\n1,0,1\n0,1,1\n",
            None,
            "map.csv, line 1: there is a column 'cp_upper' and none of the lower face, and the net pressure needs "
            "both; add the other column, or give a file for each face.",
        ),
        (
            "x,y,cp,side\n0,0,1,upper\n1,0,1,top\n0,1,1,upper\n",
            None,
            "map.csv: no tap is on the lower face, and the net pressure needs both; name each tap's face in the "
            "column 'side', or drop the column if the values are net.",
        ),
        (
            "x,y,cp,side\n0,0,1,uper\n",
            None,
            "map.csv, line 2: side is 'uper', not a face of the panel; did you mean 'upper'?",
        ),
        (
            "x,y,cp,cp_lower\n",
            None,
            "map.csv, line 1: 'cp' is a net value and 'cp_lower' that of one face; keep the one or the other.",
        ),
        (
            "x,y,cp_upper,side\n",
            None,
            "map.csv, line 1: 'cp_upper' names its face, so drop the column 'side'.",
        ),
        (
            "x,y,cp_upper,cp_lower\n0,0,1,\n1,0,,\n0,1,1,1\n",
            None,
            "map.csv, line 3: 'cp_upper' and 'cp_lower' are both empty; leave that tap out.",
        ),
        (
            "x,y,cp_upper,cp_lower\n0,0,1,1\n1,0,1,\n0,1,1,1\n",
            None,
            "map.csv ends after line 4 with too few taps on the lower face (2); a map needs three or more.",
        ),
        (
            "x,y,cp_upper,p_lower\n",
            None,
            "map.csv, line 1: there is a column of coefficients and one of pressures; keep one.",
        ),
        (
            "x,y,cp_lower\n0,0,1\n1,0,1\n0,1,1\n",
            "upper",
            "map.csv is given for the upper face and holds the lower face; give it for what it holds.",
        ),
        (
            "x,y,cp,side\n0,0,1,upper\n1,0,1,upper\n0,1,1,upper\n0,0,1,lower\n1,0,1,lower\n0,1,1,lower\n",
            "lower",
            "map.csv is given for the lower face and holds both faces; give it for what it holds.",
        ),
    ],
)  # fmt: skip
def test_bad_faces(tmp_path: Path, text: str, face, sentence: str) -> None:
    with pytest.raises(FileError) as caught:
        read_taps(write(tmp_path, text), face=face)
    assert str(caught.value) == sentence


def test_faces_of_different_kinds(tmp_path: Path) -> None:
    rows = "\n0,0,1\n1,0,1\n0,1,1\n"
    upper = read_taps(write(tmp_path, "x,y,cp" + rows, "u.csv"))
    lower = read_taps(write(tmp_path, "x,y,p" + rows, "l.csv"))
    with pytest.raises(
        DesignError, match=r"^The taps of u.csv are coefficients and those of l.csv pressures;"
    ):
        upper.over(lower)
    with pytest.raises(DesignError, match=r"^The taps of u.csv hold both faces;"):
        upper.over(upper).over(upper)


# Grids -------------------------------------------------------------------------------------------------

XS, YS = np.array([0.0, 0.15, 0.3, 0.7]), np.array([-0.9, -0.3, 0.1, 0.2, 0.9])


def cross_table(order=slice(None)) -> str:
    rows = [f"{1e3 * x!r},{','.join(repr(bilinear(x, y)) for y in YS.tolist())}" for x in XS[order].tolist()]
    return "x by y," + ",".join(repr(1e3 * y) for y in YS.tolist()) + "\n" + "\n".join(rows) + "\n"


def long_table() -> str:
    rows = [f"{y!r},{x!r},{bilinear(x, y)!r}" for x in XS.tolist() for y in YS.tolist()]
    RNG.shuffle(rows)
    return "y_m,x_m,p\n" + "\n".join(rows)


@pytest.mark.parametrize("text", [cross_table(), cross_table(slice(None, None, -1)), long_table()])
def test_grids_are_bilinear(tmp_path: Path, text: str) -> None:
    grid = read_grid(write(tmp_path, text), "pressure", length_unit="mm")
    field = grid.map()
    x, y = RNG.uniform((0.0, -0.9), (0.7, 0.9), (200, 2)).T
    assert field.at(x, y) == pytest.approx(bilinear(x, y), rel=1e-11)
    assert not field.extrapolated(x, y).any()
    assert_bilinear(resultant(field, HOLED))
    assert grid.kind == (None if "by" in text else "pressure")


def test_beyond_a_grid_its_edge_goes_on() -> None:
    field = GridMap([0.0, 1.0], [0.0, 1.0], [[1.0, 2.0], [3.0, 4.0]])
    assert field.at([-5.0, 9.0, 0.5], [0.5, 9.0, -1.0]) == pytest.approx([1.5, 4.0, 2.0])
    assert field.extrapolated([-5.0, 0.5], [0.5, 0.5]).tolist() == [True, False]
    total = resultant(field, box(0, 0, 2, 1))
    # the unit square has 2.5 N, the one beside it goes on with (3 + 4) / 2
    assert (total.force, total.extrapolated) == pytest.approx((6.0, 0.5), rel=1e-12)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("# free\n", "map.csv has no line but comments; it needs the y stations or a header, and values."),
        (
            "0 1 2\n",
            "map.csv, line 1: the line '0 1 2' has one column; separate columns by commas, semicolons or tabs.",
        ),
        (
            ",0,0.5\n0,1,2\n1,1\n",
            "map.csv, line 3: there are 2 fields where the first line has 3; give an x station and a value for each "
            "y station.",
        ),
        (",0,0.5\n", "map.csv has too few x stations (0); a grid needs two or more each way."),
        (",0,0\n0,1,2\n1,1,1\n", "map.csv has the y station 0.0 mm twice; keep one."),
        (
            ",0,0.5\n0,1,nan\n1,1,1\n",
            "map.csv, line 2, column 3: the value is 'nan', not a number; repair it.",
        ),
        (
            ",0,500\n0,1,1\n1,1,1\n",
            "map.csv, line 1: y = 500 puts the tap 500 m away; name the unit in the design, or as the length unit.",
        ),
        (
            "x,y,cp\n0,0,1\n0,1,1\n1,0,1\n",
            "map.csv: of its grid of 2 by 2 places that at x = 1000.0, y = 1000.0 mm is missing; mend it, or use "
            'kind = "taps".',
        ),
        (
            "x,y,cp\n0,0,1\n0,1,1\n1,0,1\n1,1,1\n1,1,2\n",
            "map.csv: of its grid of 2 by 2 places that at x = 1000.0, y = 1000.0 mm is there twice; mend it, or use "
            'kind = "taps".',
        ),
        (
            "x,y,cp\n" + "\n".join(f"{k / 10},{k * k / 100},1" for k in range(9)),
            'map.csv: its 9 places lie on 9 x and 9 y stations and make no grid; use kind = "taps".',
        ),
        ("x,y,cp\n0,0,1\n0,1,1\n", "map.csv has 1 x and 2 y stations; a grid needs two or more of each."),
        (
            "x,y,cp,side\n",
            "map.csv, line 1: a grid needs a net value, or that of both faces, at each place; for faces read at "
            'different places use kind = "taps".',
        ),
        (
            "x,y,cp_upper,cp_lower\n0,0,1,1\n1,0,1,\n0,1,1,1\n1,1,1,1\n",
            "map.csv: some places have a value of one face only; complete them.",
        ),
        (
            "," + ",".join(str(k / 1000) for k in range(600)) + "\n" + "1," * 400_000,
            "map.csv, line 2: the line has 800000 characters; write the grid as one line x, y, value for each place.",
        ),
    ],
)
def test_bad_grids(tmp_path: Path, text: str, sentence: str) -> None:
    with pytest.raises(FileError) as caught:
        read_grid(write(tmp_path, text), "cp")
    assert str(caught.value) == sentence


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (lambda: GridMap([0.0, 1.0], [1.0, 0.0], np.ones((2, 2))), "The y stations of a grid must ascend"),
        (
            lambda: GridMap([0.0, 1.0], [0.0, 1.0], np.ones((2, 3))),
            r"values of shape \(2, 3\) for 2 x and 2 y",
        ),
        (lambda: GridMap([0.0, np.nan], [0.0, 1.0], np.ones((2, 2))), "The grid has x that are not finite"),
        (lambda: MeshMap(np.zeros((2, 3, 2)), np.ones((2, 3))), "No triangle of the mesh has an area"),
        (lambda: MeshMap(np.zeros((2, 3)), np.ones((2, 3))), r"triangles of shape \(2, 3\)"),
        (
            lambda: MeshMap(np.full((1, 3, 2), np.inf), np.ones((1, 3))),
            "corner or a value that is not finite",
        ),
    ],
)
def test_maps_refuse_what_cannot_be(make, sentence: str) -> None:
    with pytest.raises(DesignError, match=sentence):
        make()


# Meshes ------------------------------------------------------------------------------------------------


def lattice(nx: int, ny: int, area=(0.0, -0.9, 0.7, 0.9), z: float = 0.0):
    """Points (n, 3) and quadrilaterals (m, 4) of a rectangle."""
    x, y = np.linspace(area[0], area[2], nx + 1), np.linspace(area[1], area[3], ny + 1)
    X, Y = np.meshgrid(x, y, indexing="ij")
    i, j = (a.ravel() for a in np.meshgrid(np.arange(nx), np.arange(ny), indexing="ij"))
    n = i * (ny + 1) + j
    return np.column_stack([X.ravel(), Y.ravel(), np.full(X.size, z)]), np.column_stack(
        [n, n + ny + 1, n + ny + 2, n + 1]
    )


def halved(quads):
    return np.concatenate([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]])


POINTS, QUADS = lattice(5, 11)
CENTRES = POINTS[QUADS].mean(axis=1)


def saved(folder: Path, mesh, name: str, **options) -> Path:
    path = folder / name
    meshio.write(path, mesh, **options)
    return path


def linear(x, y):
    return 900.0 + 400.0 * x - 150.0 * y


LINEAR = {(0, 0): 900.0, (1, 0): 400.0, (0, 1): -150.0}


@pytest.mark.parametrize("ending", sorted(READERS))
@pytest.mark.parametrize("where", ["points", "cells"])
def test_meshes_come_back_from_every_format(tmp_path: Path, ending: str, where: str) -> None:
    """Round trips through meshio, a general-purpose library: values of points and of cells."""
    values = {
        "points": {"point_data": {"cp": linear(*POINTS[:, :2].T)}},
        "cells": {"cell_data": {"cp": [linear(*CENTRES[:, :2].T)]}},
    }[where]
    path = tmp_path / f"map{ending}"
    meshio.write(path, meshio.Mesh(1e3 * POINTS, [("quad", QUADS)], **values),
                 file_format=READERS[ending] if ending != ".msh" else "gmsh22")  # fmt: skip
    surface = read_surface(path, "cp", kind="cp", length_unit="mm")
    assert surface.where == where
    field = surface_map(surface, "net")
    total = resultant(field, HOLED)
    if where == "points":
        assert_bilinear(total, terms=LINEAR, rel=1e-6)  # some formats keep seven digits
    cells = [box(*POINTS[q][:, :2].min(axis=0), *POINTS[q][:, :2].max(axis=0)) for q in QUADS]
    shares = [cell.intersection(HOLED) for cell in cells]
    exact = sum(v * s.area for v, s in zip(linear(*CENTRES[:, :2].T), shares, strict=True))
    turn = sum(
        v * s.area * s.centroid.y for v, s in zip(linear(*CENTRES[:, :2].T), shares, strict=True) if s.area
    )
    if where == "cells":  # shapely, a general-purpose library, has areas and centroids of its own
        assert total.force == pytest.approx(exact, rel=1e-6)
        assert total.moments[1] == pytest.approx(turn, rel=1e-6, abs=1e-6 * abs(total.force))
    assert total.extrapolated == 0.0


def test_blocks_of_several_kinds_and_cells_that_are_no_surface(tmp_path: Path) -> None:
    """Values stay with their cells through blocks of triangles, quadrilaterals, polygons and lines."""
    hexagon = np.array([[np.cos(a), np.sin(a), 0.0] for a in np.arange(6) * np.pi / 3])
    points = np.concatenate([POINTS, 0.1 * hexagon + [3.0, 0.0, 0.0]])
    six = len(POINTS) + np.arange(6)
    blocks = [
        ("line", QUADS[:3, :2]),
        ("triangle", halved(QUADS[:20])),
        ("quad", QUADS[20:]),
        ("polygon", six[None]),
    ]
    values = [np.full(3, 9e9), np.tile(CENTRES[:20, 0], 2), CENTRES[20:, 0], np.array([7.0])]
    path = saved(tmp_path, meshio.Mesh(points, blocks, cell_data={"p": values}), "a.vtu")
    field = surface_map(read_surface(path, "p", kind="pressure"), "net")
    assert field.at(CENTRES[:, 0], CENTRES[:, 1] + 0.01) == pytest.approx(CENTRES[:, 0], rel=1e-12)
    hexagonal = resultant(field, box(2.8, -0.2, 3.2, 0.2))
    area = 1.5 * np.sqrt(3.0) * 0.01  # of a regular hexagon
    covered = 1.0 - hexagonal.extrapolated
    assert covered * 0.16 == pytest.approx(area, rel=1e-9)
    assert field.at(3.05, 0.02) == 7.0


def test_cell_values_are_preferred_to_point_values(tmp_path: Path) -> None:
    mesh = meshio.Mesh(
        POINTS, [("quad", QUADS)], point_data={"p": POINTS[:, 0]}, cell_data={"p": [CENTRES[:, 1]]}
    )
    surface = read_surface(saved(tmp_path, mesh, "a.vtu"), "p", kind="pressure")
    assert surface.where == "cells"
    assert resultant(surface_map(surface, "net"), box(0, -0.9, 0.7, 0.9)).force == pytest.approx(
        0.0, abs=1e-12
    )


def test_units_of_a_mesh(tmp_path: Path) -> None:
    # 1 in = 25.4 mm exactly; 1 psf = 47.88026 Pa (NIST SP 811)
    mesh = meshio.Mesh(POINTS / 0.0254, [("quad", QUADS)], point_data={"p": np.full(len(POINTS), 10.0)})
    path = saved(tmp_path, mesh, "a.vtu")
    surface = read_surface(path, "p", kind="pressure", length_unit="in", pressure_unit="psf")
    assert resultant(surface_map(surface, "net"), PANEL).force == pytest.approx(0.7 * 478.8026, rel=1e-6)


def test_points_on_edges_between_cells_count_once() -> None:
    field = MeshMap(POINTS[halved(QUADS)][:, :, :2], np.ones((2 * len(QUADS), 3)))
    assert field.at(POINTS[:, 0], POINTS[:, 1]) == pytest.approx(np.ones(len(POINTS)), rel=1e-12)
    assert field.at(*(0.5 * (POINTS[QUADS[:, 0]] + POINTS[QUADS[:, 2]])[:, :2]).T) == pytest.approx(
        np.ones(55)
    )
    assert not field.extrapolated(POINTS[:, 0], POINTS[:, 1]).any()
    assert field.extrapolated([0.3, 0.8], [0.0, 0.0]).tolist() == [False, True]


def test_beyond_a_mesh_its_nearest_point_counts() -> None:
    triangle = MeshMap(np.array([[[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]]), np.array([[10.0, 20.0, 30.0]]))
    # the same feet of perpendiculars as for three taps
    assert triangle.at([0.25, -3.0, 2.0], [-5.0, -4.0, 2.0]) == pytest.approx([12.5, 10.0, 25.0], rel=1e-9)


# The surface of a body ---------------------------------------------------------------------------------


def body(shape: str):
    """Corners (n, 3) and outward-turned triangles (m, 3) of a closed body."""
    if shape == "box":
        points = np.array([[x, y, z] for x in (0.0, 0.7) for y in (-0.8, 0.8) for z in (0.0, 0.012)])
    else:
        raw = RNG.normal(size=(400, 3))
        points = raw / np.linalg.norm(raw, axis=1)[:, None] * [0.35, 0.8, 0.02] + [0.35, 0.0, 0.0]
    hull = ConvexHull(points)
    triangles, middle = hull.simplices.copy(), points.mean(axis=0)
    a, b, c = (points[triangles[:, k]] for k in range(3))
    inward = np.einsum("nc,nc->n", np.cross(b - a, c - a), a - middle) < 0.0
    triangles[inward] = triangles[inward][:, ::-1]
    return points, triangles, hull.volume


@pytest.mark.parametrize("shape", ["box", "ellipsoid"])
@pytest.mark.parametrize("turned", [False, True])
def test_buoyancy(tmp_path: Path, shape: str, turned: bool) -> None:
    """Archimedes: a pressure that grows with depth lifts a closed body by the weight of what it displaces, and the
    lift goes through the centroid of its volume, whichever way its normals look."""
    points, triangles, volume = body(shape)
    weight = 9.80665 * 1000.0
    mesh = meshio.Mesh(
        points,
        [("triangle", triangles[:, ::-1] if turned else triangles)],
        point_data={"p": 5000.0 - weight * points[:, 2]},
    )
    surface = read_surface(saved(tmp_path, mesh, "a.vtu"), "p", kind="pressure")
    field = surface_map(surface, "surface")
    total = resultant(field, Polygon(points[ConvexHull(points[:, :2]).vertices, :2]))
    assert total.force == pytest.approx(-weight * volume, rel=1e-6)
    a, b, c = (points[triangles[:, k]] for k in range(3))
    parts = np.einsum("nc,nc->n", a, np.cross(b, c)) / 6.0
    centroid = parts @ (a + b + c)[:, :2] / 4.0 / parts.sum()
    assert (total.x, total.y) == pytest.approx(centroid, abs=1e-6)


def test_the_two_sides_of_a_panel_with_upright_edges(tmp_path: Path) -> None:
    """Values of cells on a plate 12 mm thick: what pushes on its upright edges carries nothing down."""
    points, triangles, _ = body("box")
    normals = np.cross(*(points[triangles[:, k]] - points[triangles[:, 0]] for k in (1, 2)))
    side = np.sign(np.where(np.abs(normals[:, 2]) > 1e-9, normals[:, 2], 0.0))
    values = np.select([side > 0, side < 0], [400.0, -700.0], 1e6)
    path = saved(tmp_path, meshio.Mesh(points, [("triangle", triangles)], cell_data={"p": [values]}), "a.vtu")
    field = surface_map(read_surface(path, "p", kind="pressure"), "surface")
    x, y = RNG.uniform((0.01, -0.79), (0.69, 0.79), (300, 2)).T
    assert field.at(x, y) == pytest.approx(np.full(300, 1100.0), rel=1e-12)
    with pytest.raises(
        FileError, match=r'more than once; if it is the surface of a body, set values = "surface"'
    ):
        surface_map(read_surface(path, "p", kind="pressure"), "net")


def test_a_bracket_over_the_panel_counts_with_both_of_its_sides(tmp_path: Path) -> None:
    plate, triangles, _ = body("box")
    small = plate * [0.2, 0.2, 1.0] + [0.2, 0.1, 0.05]
    points = np.concatenate([plate, small])
    both = np.concatenate([triangles, triangles + len(plate)])
    height = points[both].mean(axis=1)[:, 2]
    pressure = np.select([height < 0.001, height < 0.02, height < 0.0501], [-700.0, 400.0, 150.0], 250.0)
    path = saved(tmp_path, meshio.Mesh(points, [("triangle", both)], cell_data={"p": [pressure]}), "a.vtu")
    field = surface_map(read_surface(path, "p", kind="pressure"), "surface")
    assert field.at([0.25, 0.6], [0.11, 0.11]) == pytest.approx([1100.0 + 100.0, 1100.0])


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (
            lambda p, t: (p * [1, 1, 0], t),
            "encloses no volume, so its upper and lower side cannot be told apart",
        ),
        (
            lambda p, t: (p, np.vstack([t[:1, ::-1], t[1:]])),
            r"has 3 edges where the normals of the two cells look",
        ),
    ],
)
def test_sides_that_cannot_be_told_apart(tmp_path: Path, change, sentence: str) -> None:
    points, triangles, _ = body("box")
    points, triangles = change(points, triangles)
    mesh = meshio.Mesh(points, [("triangle", triangles)], point_data={"p": np.ones(len(points))})
    surface = read_surface(saved(tmp_path, mesh, "a.vtu"), "p", kind="pressure")
    with pytest.raises(FileError, match=sentence):
        surface_map(surface, "surface")


def test_a_surface_with_one_side_only(tmp_path: Path) -> None:
    points, quads = lattice(4, 4)
    points[:, 2] = 0.3 - points[:, 0] ** 2
    mesh = meshio.Mesh(points, [("quad", quads)], point_data={"p": np.ones(len(points))})
    surface = read_surface(saved(tmp_path, mesh, "a.vtu"), "p", kind="pressure")
    with pytest.raises(FileError, match=r"a.vtu has no (upper|lower) side, and the net pressure needs both"):
        surface_map(surface, "surface")
    assert resultant(surface_map(surface, "net"), PANEL).force == pytest.approx(0.7, rel=1e-9)
    upright = points[:, [0, 2, 1]] * [1.0, 0.0, 1.0]
    surface = read_surface(
        saved(tmp_path, meshio.Mesh(upright, mesh.cells, point_data=mesh.point_data), "b.vtu"), "p", kind="cp"
    )
    with pytest.raises(FileError, match=r"b.vtu has no area in plan view; check its axes"):
        surface_map(surface, "net")


# Mesh files that are not what they say -----------------------------------------------------------------

PLAIN = meshio.Mesh(
    POINTS,
    [("quad", QUADS)],
    point_data={"pressure": POINTS[:, 0], "velocity": POINTS},
    cell_data={"cp_mean": [CENTRES[:, 0]]},
)


@pytest.mark.parametrize(
    ("field", "sentence"),
    [
        ("presure", "a.vtu has no field 'presure'; did you mean 'pressure'?"),
        ("cp_maen", "a.vtu has no field 'cp_maen'; did you mean 'cp_mean'?"),
        ("T", "a.vtu has no field 'T'; known: cp_mean, pressure, velocity"),
        ("velocity", "a.vtu: field 'velocity' has 3 components; name a pressure, which has one."),
    ],
)
def test_wrong_field_names(tmp_path: Path, field: str, sentence: str) -> None:
    path = saved(tmp_path, PLAIN, "a.vtu")
    with pytest.raises(FileError) as caught:
        read_surface(path, field, kind="pressure")
    assert str(caught.value) == sentence


def altered(**change) -> meshio.Mesh:
    mesh = PLAIN.copy()
    for name, value in change.items():
        setattr(mesh, name, value)
    return mesh


def with_nan() -> meshio.Mesh:
    mesh = PLAIN.copy()
    mesh.point_data["pressure"] = np.where(np.arange(len(POINTS)) == 0, np.nan, 1.0)
    return mesh


TETRA = meshio.Mesh(np.eye(4)[:, :3], [("tetra", [[0, 1, 2, 3]])], point_data={"pressure": np.ones(4)})


@pytest.mark.parametrize(
    ("mesh", "sentence"),
    [
        (
            with_nan(),
            r"^a.vtu: field 'pressure' is not a number at x = \d+.\d, y = -\d+.\d mm; repair it, or cut",
        ),
        (
            altered(points=1e3 * POINTS),
            r"^a.vtu reaches 900 m from the front axle; check length_unit, or cut",
        ),
        (altered(points=np.where(POINTS > 0.8, np.inf, POINTS)), "^a.vtu has a point that is not finite"),
        (TETRA, "^a.vtu has cells of the kind 'tetra'; export the surface, cut into triangles"),
        (
            meshio.Mesh(POINTS, [("line", QUADS[:, :2])], point_data={"pressure": POINTS[:, 0]}),
            "^a.vtu has no triangles or quadrilaterals; export the surface",
        ),
        (
            meshio.Mesh(POINTS, [("quad", QUADS)]),
            "^a.vtu has no field at all; export the pressure with the mesh.$",
        ),
    ],
)
def test_meshes_that_cannot_carry_a_map(tmp_path: Path, mesh: meshio.Mesh, sentence: str) -> None:
    path = saved(tmp_path, mesh, "a.vtu")
    with pytest.raises(FileError, match=sentence):
        read_surface(path, "pressure", kind="pressure")


def test_files_that_are_no_mesh(tmp_path: Path) -> None:
    with pytest.raises(FileError, match=r"^There is no file .*none.vtu; check the path of the mesh.$"):
        read_surface(tmp_path / "none.vtu", "p", kind="cp")
    with pytest.raises(
        FileError, match=r"^a.xdmf is not a kind of mesh that can be read; export one of .vtu, .vtk"
    ):
        read_surface(write(tmp_path, "", "a.xdmf"), "p", kind="cp")
    with pytest.raises(FileError, match=r"^a.vtk cannot be read as .vtk"):
        read_surface(write(tmp_path, "nothing of the kind", "a.vtk"), "p", kind="cp")


@pytest.mark.parametrize("ending", sorted(READERS))
def test_truncated_meshes_are_refused_in_one_sentence(tmp_path: Path, ending: str, capfd) -> None:
    """A file cut short anywhere is refused, or read when only what is not needed is gone; nothing is printed."""
    whole = tmp_path / f"whole{ending}"
    mesh = meshio.Mesh(POINTS, [("quad", QUADS)], point_data={"p": POINTS[:, 0]})
    meshio.write(whole, mesh, file_format=READERS[ending] if ending != ".msh" else "gmsh22")
    content = whole.read_bytes()
    capfd.readouterr()
    refused = 0
    for share in np.linspace(0.02, 0.9, 23):
        path = write(tmp_path, content[: int(share * len(content))], f"short{ending}")
        try:
            surface = read_surface(path, "p", kind="pressure")
        except FileError as problem:
            refused += 1
            assert "\n" not in str(problem)  # noqa: PT017
        else:
            assert np.isfinite(surface.values).all()
    assert refused >= 20
    assert capfd.readouterr() == ("", "")


def compressed_vtu(sizes: list[int], blocks: list[bytes]) -> bytes:
    """A VTU whose first array is what the blocks say, in the layout of the VTK file formats (Kitware)."""
    head = struct.pack(f"<{3 + len(sizes)}I", len(sizes), 1 << 20, 0, *sizes)
    data = base64.b64encode(head) + base64.b64encode(b"".join(blocks))
    return (
        b'<VTKFile type="UnstructuredGrid" version="0.1" byte_order="LittleEndian" '
        b'compressor="vtkZLibDataCompressor"><UnstructuredGrid><Piece NumberOfPoints="1" NumberOfCells="0"><Points>'
        b'<DataArray type="Float64" NumberOfComponents="3" format="binary">'
        + data
        + b"</DataArray></Points></Piece>"
        b"</UnstructuredGrid></VTKFile>"
    )


def test_files_that_would_eat_all_memory(tmp_path: Path) -> None:
    block = zlib.compress(bytes(60_000_000), 9)
    path = write(tmp_path, compressed_vtu([len(block)] * 20, [block] * 20), "a.vtu")
    assert path.stat().st_size < 2_000_000
    with pytest.raises(FileError, match=r"^a.vtu unpacks to more than 300 MB; cut it to the panel.$"):
        read_surface(path, "p", kind="cp")
    head = "# vtk DataFile Version 3.0\n\nASCII\nDATASET STRUCTURED_POINTS\nDIMENSIONS 90000 90000 1\nORIGIN 0 0 0\n"
    with pytest.raises(FileError, match=r"^a.vtk asks for a grid of 8.1e\+09 places; cut it to the panel.$"):
        read_surface(write(tmp_path, head + "SPACING 1 1 1\n", "a.vtk"), "p", kind="cp")


def test_sizes_that_could_be_negative_are_damage(tmp_path: Path) -> None:
    """With them the reader of raw arrays can go back to where it was, for ever."""
    text = (
        b'<VTKFile type="UnstructuredGrid" version="1.0" header_type="Int32"><UnstructuredGrid><Piece '
        b'NumberOfPoints="1" NumberOfCells="0"><Points><DataArray type="Float64" NumberOfComponents="3" '
        b'format="appended" offset="0"/></Points></Piece></UnstructuredGrid><AppendedData encoding="raw">_'
    )
    path = write(
        tmp_path, text + struct.pack("<i", -4) + b"\xff" * 8 + b"\n</AppendedData></VTKFile>", "a.vtu"
    )
    with pytest.raises(FileError, match=r"^a.vtu is damaged or cut short, so export it again.$"):
        read_surface(path, "p", kind="cp")


def test_a_lying_header_is_damage(tmp_path: Path) -> None:
    block = zlib.compress(bytes(24))
    for sizes in ([len(block) + 999], [2**31]):
        path = write(tmp_path, compressed_vtu(sizes, [block]), "a.vtu")
        with pytest.raises(FileError, match=r"^a.vtu is damaged or cut short, so export it again.$"):
            read_surface(path, "p", kind="cp")


def test_pieces_are_not_lost_silently(tmp_path: Path) -> None:
    """The reader would keep the cells of the last piece only."""
    text = saved(tmp_path, PLAIN, "a.vtu", binary=False).read_text()
    start, stop = text.index("<Piece"), text.index("</Piece>") + len("</Piece>")
    path = write(tmp_path, text[:stop] + text[start:stop] + text[stop:], "b.vtu")
    with pytest.raises(FileError, match=r"^b.vtu is in 2 pieces; merge them into one before the export.$"):
        read_surface(path, "pressure", kind="cp")


@pytest.mark.parametrize("compression", ["zlib", "lzma", None])
@pytest.mark.parametrize("header", ["UInt32", "UInt64"])
def test_compressed_files_are_read(tmp_path: Path, compression, header: str) -> None:
    path = saved(tmp_path, PLAIN, "a.vtu", compression=compression, header_type=header)
    surface = read_surface(path, "pressure", kind="pressure")
    assert surface.values.max() == pytest.approx(0.7)


def test_arrays_appended_as_raw_bytes_are_read_and_counted(tmp_path: Path) -> None:
    """Raw appended arrays after the VTK file formats (Kitware), compressed and with a lie about their size."""

    def packed(array: np.ndarray, times: int = 1) -> bytes:
        block = zlib.compress(np.ascontiguousarray(array).tobytes() * times, 9)
        return struct.pack("<4I", 1, array.nbytes * times, 0, len(block)) + block

    points = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0]])
    arrays = [
        ("Points", "Float64", "Points", 3, points),
        ("PointData", "Float64", "p", 1, np.array([1.0, 2.0, 3.0])),
        ("Cells", "Int64", "connectivity", 1, np.arange(3)),
        ("Cells", "Int64", "offsets", 1, np.array([3])),
        ("Cells", "UInt8", "types", 1, np.array([5], dtype=np.uint8)),
    ]

    def document(times: int) -> bytes:
        tail, tags = b"", {"Points": "", "PointData": "", "Cells": ""}
        for group, kind, name, width, array in arrays:
            tags[group] += (
                f'<DataArray type="{kind}" Name="{name}" NumberOfComponents="{width}" format="appended" '
                f'offset="{len(tail)}"/>'
            )
            tail += packed(array, times if name == "p" else 1)
        inner = "".join(f"<{group}>{text}</{group}>" for group, text in tags.items())
        return (
            '<VTKFile type="UnstructuredGrid" version="1.0" byte_order="LittleEndian" header_type="UInt32" '
            'compressor="vtkZLibDataCompressor"><UnstructuredGrid><Piece NumberOfPoints="3" NumberOfCells="1">'
            + inner + '</Piece></UnstructuredGrid><AppendedData encoding="raw">_'
        ).encode() + tail + b"\n</AppendedData></VTKFile>"  # fmt: skip

    surface = read_surface(write(tmp_path, document(1), "a.vtu"), "p", kind="pressure")
    assert surface.values.tolist() == [[1.0, 2.0, 3.0]]
    with pytest.raises(FileError, match=r"^b.vtu unpacks to more than 300 MB"):
        read_surface(write(tmp_path, document(50_000_000), "b.vtu"), "p", kind="pressure")


# Totals and shares -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "field",
    [UniformMap(800.0), FunctionMap(lambda x, y: 900 + 300 * x + 200 * y), TapMap(UPPER, up(*UPPER.T))],
    ids=["uniform", "function", "taps"],
)
@pytest.mark.parametrize("share", [0.4, 0.5, 0.6])
def test_the_sides_share_as_asked(field: SourceField, share: float) -> None:
    """The halves are integrated apart from the factor, by SciPy's quadrature of the resulting map."""
    shifted = to_share(field, PANEL, share)
    left, right = (
        scipy.integrate.dblquad(lambda y, x: float(shifted.at(x, y)), 0.1, 0.6, *ends, epsabs=1e-3)[0]
        if not isinstance(field, TapMap)
        else resultant(shifted, box(0.1, ends[0], 0.6, ends[1])).force
        for ends in ((0.0, 0.7), (-0.7, 0.0))
    )
    assert left / (left + right) == pytest.approx(share, rel=1e-6)
    assert left + right == pytest.approx(resultant(field, PANEL).force, rel=1e-6)


def test_the_share_of_a_uniform_map_in_closed_form() -> None:
    """Over a rectangle the mean of y / y_max on a half is 1/2, so c = 4 (share - 1/2) and the centre is c y_max / 3."""
    shifted = to_share(UniformMap(1000.0), PANEL, 0.6)
    assert shifted.at(0.3, [0.7, 0.0, -0.7]) == pytest.approx([1400.0, 1000.0, 600.0], rel=1e-12)
    assert resultant(shifted, PANEL).y == pytest.approx(0.4 * 0.7 / 3.0, rel=1e-12)


def test_shares_that_no_pressure_can_have() -> None:
    with pytest.raises(DesignError, match=r"^left_right = 0.9 would turn .* give a share from 0.25 to 0.75$"):
        to_share(UniformMap(1000.0), PANEL, 0.9)
    with pytest.raises(DesignError, match="one side of the centre plane only"):
        to_share(UniformMap(1000.0), box(0, 0, 1, 1), 0.6)


def test_totals() -> None:
    field = to_total(FunctionMap(bilinear), HOLED, 1234.0)
    assert resultant(field, HOLED).force == pytest.approx(1234.0, rel=1e-9)
    assert field.at(0.3, 0.1) / field.at(0.5, -0.4) == pytest.approx(bilinear(0.3, 0.1) / bilinear(0.5, -0.4))
    with pytest.raises(DesignError, match="total is -700 N and total_force is 500 N; check the signs"):
        to_total(UniformMap(-1000.0), PANEL, 500.0)
    with pytest.raises(
        DesignError, match="for suction and pressure cancel; such a map cannot be scaled to 500 N"
    ):
        to_total(FunctionMap(lambda x, y: y), PANEL, 500.0)


def test_maps_multiply_by_factor_and_tilt() -> None:
    field = WeightedMap(GridMap(XS, YS, bilinear(XS[:, None], YS)), 2.0, 0.5).scaled(3.0)
    assert field.at(0.3, 0.2) == pytest.approx(3.0 * (2.0 + 0.5 * 0.2) * bilinear(0.3, 0.2), rel=1e-12)
    terms = {(i, j): 6.0 * c for (i, j), c in BILINEAR.items()}
    for (i, j), c in BILINEAR.items():
        terms[i, j + 1] = terms.get((i, j + 1), 0.0) + 1.5 * c
    assert_bilinear(resultant(field, HOLED), terms=terms)


def test_a_jump_in_a_function_is_found() -> None:
    """Closed form: a step that no square of the quadrature follows."""
    total = resultant(FunctionMap(lambda x, y: 1000.0 * (x + 0.3 * y > 0.377)), PANEL)
    corners = [(0.6, -0.7), (0.6, 0.7), (0.377 - 0.21, 0.7), (0.377 + 0.21, -0.7)]
    exact = Polygon(corners)
    assert total.force == pytest.approx(1000.0 * exact.area, rel=2e-4)
    assert (total.x, total.y) == pytest.approx((exact.centroid.x, exact.centroid.y), abs=2e-4)


# Onto the elements -------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def model():
    """A rectangular panel with an opening on coarse elements; its area is that of `HOLED`."""
    design = {
        "name": "flat",
        "panel": {
            "outline": {"start": (0.1, -0.7), "edges": [{"to": p} for p in ((0.6, -0.7), (0.6, 0.7), (0.1, 0.7))]},
            "cutouts": [{"name": "hole", "rectangle": {"x": (0.2, 0.45), "y": (0.15, 0.5)}}],
            "sheet": {"material": "birch plywood 12 mm", "thickness": 0.012},
        },
        "bolts": [{"name": f"b{k}", "at": at} for k, at in enumerate([(0.5, -0.6), (0.5, 0.6), (0.15, 0.0)])],
        "car": {"ride_height": 0.08},
        "mesh": {"size": 0.09},
    }  # fmt: skip
    return sf.build(sf.Splitter.model_validate(design))


def air(model, folder: Path | None = None, *, speed: float = 50.0, **given):
    case = LoadCase(name="c", speed=speed, gravity=False, **given)
    there = model if folder is None else sf.build(model.design.in_folder(folder))
    load = case_load(there, case)
    return load.air, load.resultants["air"]


def test_the_load_of_a_polynomial_is_exact(model) -> None:
    """Force, and the moments that rigid rotations of the panel feel, against closed forms."""
    field = maps.FunctionMap(function=bilinear, quantity="pressure")
    found, sums = air(model, pressure=field)
    assert_bilinear(resultant(FunctionMap(bilinear), HOLED))
    force, mx, my = (
        sum(c * holed(i + p, j + q) for (i, j), c in BILINEAR.items()) for p, q in ((0, 0), (1, 0), (0, 1))
    )
    assert found.downforce == pytest.approx(force, rel=1e-10)
    assert found.centre == pytest.approx((mx / force, my / force), rel=1e-9)
    # moments about the origin of forces (0, 0, -p): (-y p, x p, 0)
    assert sums == pytest.approx([0.0, 0.0, -force, -my, mx, 0.0], abs=1e-8 * force)
    assert found.deviation < 1e-10
    assert (found.force_of_source, found.centre_of_source) == (
        pytest.approx(force), pytest.approx((mx / force, my / force))
    )  # fmt: skip
    assert found.notes == ()


MESHES = {"coarse": (3, 5), "as elements": (8, 20), "fine": (60, 150)}


@pytest.mark.parametrize("cells", MESHES)
@pytest.mark.parametrize("field", ["ragged", "lip peak"])
def test_cell_values_keep_force_and_centre(model, tmp_path: Path, cells: str, field: str) -> None:
    """Within 0.5 % of the cells' own integral, whose areas and centroids are shapely's."""
    points, quads = lattice(*MESHES[cells])
    centres = points[quads].mean(axis=1)
    values = {
        "ragged": np.random.default_rng(5).uniform(0.0, 2000.0, len(quads)),
        "lip peak": 200.0 + 4000.0 * np.exp(-(((centres[:, 0] - 0.58) / 0.02) ** 2)),
    }[field]
    saved(tmp_path, meshio.Mesh(points, [("quad", quads)], cell_data={"p": [values]}), "a.vtu")
    found, _ = air(
        model,
        tmp_path,
        pressure=maps.MeshMap(
            file="a.vtu", field="p", values="net", quantity="pressure", length_unit="m", pressure_unit="Pa",
            reference_speed=50.0,
        ),
    )  # fmt: skip
    shares = [Polygon(points[q][:, :2]).intersection(HOLED) for q in quads]
    push = np.array([v * s.area for v, s in zip(values, shares, strict=True)])
    middles = np.array([(s.centroid.x, s.centroid.y) if s.area else (0.0, 0.0) for s in shares])
    centre = push @ middles / push.sum()
    assert found.force_of_source == pytest.approx(push.sum(), rel=1e-9)
    assert found.centre_of_source == pytest.approx(centre, abs=1e-9)
    assert found.downforce == pytest.approx(push.sum(), rel=1.5e-3)
    assert found.centre == pytest.approx(centre, abs=1.5e-3)
    assert found.deviation < 1.5e-3


def test_refinement_looks_for_what_falls_between_the_points() -> None:
    """One large element and a narrow ridge that the coarse rules miss: its volume has a closed form."""
    corners = np.array([[[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]])
    elements = Elements(corners, lambda X: tabulate_p2b(X)[0][:, :6], quadrature(6))
    ridge = GridMap(
        [0.0, 0.34, 0.35, 0.36, 1.0], [0.0, 1.0], np.array([[0, 0], [0, 0], [1e4, 1e4], [0, 0], [0, 0]])
    )
    area = Polygon(corners[0])
    source = resultant(ridge, area)
    assert source.force == pytest.approx(1e4 * 0.01 * 0.65, rel=1e-12)  # triangle of 20 mm on a chord of 0.65
    found = spread(ridge, elements, source, area)
    assert found.force == pytest.approx(source.force, rel=5e-3)
    assert found.loads.shape == (1, 6)
    assert found.deviation(source, area) < 5e-3


def test_a_map_too_fine_for_the_mesh_is_refused(model) -> None:
    needle = maps.FunctionMap(
        function=lambda x, y: 1.0 + 5e9 * np.exp(-(((x - 0.31237) ** 2 + (y + 0.30011) ** 2) / 2e-4**2)),
        quantity="pressure",
    )
    with pytest.raises(
        DesignError, match=r"it is too fine for the mesh; make mesh.size smaller, or smooth the map"
    ):
        air(model, pressure=needle)


@pytest.mark.parametrize(("chord", "off"), [("30 mm", True), ("0.5 mm", False)])
def test_a_mesh_that_cuts_corners_is_named(chord: str, off: bool) -> None:
    """A panel with two round ends: rectangle and two circular segments, R = (h^2 + a^2) / 2 h, in closed form."""
    design = {
        "name": "round",
        "panel": {
            "outline": {
                "start": (0.1, -0.3),
                "edges": [
                    {"to": (0.7, -0.3), "via": (0.4, -0.5)}, {"to": (0.7, 0.3)},
                    {"to": (0.1, 0.3), "via": (0.4, 0.5)}, {"to": (0.1, -0.3)},
                ],
            },
            "sheet": {"material": "birch plywood 12 mm", "thickness": 0.012},
        },
        "bolts": [{"name": f"b{k}", "at": at} for k, at in enumerate([(0.5, -0.3), (0.5, 0.3), (0.25, 0.0)])],
        "car": {"ride_height": 0.08},
        "mesh": {"size": 0.3, "chord": chord},
    }  # fmt: skip
    found, _ = air(sf.build(sf.Splitter.model_validate(design)), pressure=maps.UniformMap(pressure=1000.0))
    radius = (0.2**2 + 0.3**2) / 0.4
    half = np.arcsin(0.3 / radius)
    area = 0.36 + 2.0 * (radius**2 * half - 0.3 * (radius - 0.2))
    assert found.force_of_source == pytest.approx(1000.0 * area, rel=1e-3)
    assert (found.deviation > 0.005) is off
    assert all(note.endswith("make mesh.chord smaller.") for note in found.notes)
    assert len(found.notes) == off


def test_partial_cover_is_said_in_one_sentence(model, tmp_path: Path) -> None:
    write(tmp_path, "x,y,cp\n0.1,-0.7,1\n0.6,-0.7,1\n0.6,0.0,1\n0.1,0.0,1\n")
    found, _ = air(model, tmp_path, pressure=maps.TapMap(file="map.csv", quantity="cp", length_unit="m"))
    share = 0.35 / (0.7 - 0.0875)  # the right half of the panel, over the panel less its opening
    assert found.covered == pytest.approx(share, rel=1e-9)
    assert found.notes == (
        f"The pressure map of load case 'c' covers {100 * share:.0f} % of the panel; the rest is taken from its edge.",
    )


def test_a_map_beside_the_panel_is_refused(model, tmp_path: Path) -> None:
    write(tmp_path, ",5,6\n5,1,1\n6,1,1\n")
    with pytest.raises(DesignError, match=r"covers none of the panel: check the unit and the axes"):
        air(model, tmp_path, pressure=maps.GridMap(file="map.csv", quantity="cp", length_unit="m"))


# In a design -------------------------------------------------------------------------------------------

IN_FILE = {"file": "a.csv", "quantity": "cp", "length_unit": "mm"}
TOTAL = {"total_force": "1500 N", "total_speed": "180 km/h"}


def test_a_measured_total_grows_with_the_square_of_the_speed(model) -> None:
    pressure = maps.UniformMap(cp=0.3, **TOTAL, yaw_factor=1.2)
    for speed, force in ((50.0, 1800.0), (25.0, 450.0), (0.0, 0.0)):
        found, _ = air(model, speed=speed, pressure=pressure)
        assert found.downforce == pytest.approx(force, rel=1e-6)


def test_the_total_of_pressures_without_a_speed_is_that_of_the_case(model) -> None:
    pressure = maps.FunctionMap(function=bilinear, quantity="pressure", total_force=900.0, left_right=0.6)
    field = pressure_field(model.design, LoadCase(name="c", speed=33.0, pressure=pressure, factor=2.0))
    left = resultant(field, HOLED.intersection(box(0, 0, 1, 1))).force
    assert resultant(field, HOLED).force == pytest.approx(1800.0, rel=1e-9)
    assert left == pytest.approx(0.6 * 1800.0, rel=1e-9)


def test_every_kind_reaches_the_panel_alike(model, tmp_path: Path) -> None:
    """The same linear coefficients as taps, grid, mesh and function: force in closed form, at half the speed."""
    x, y = (c.ravel() for c in np.meshgrid([0.0, 0.3, 0.7], [-0.8, 0.1, 0.8], indexing="ij"))
    rows = [f"{a},{b},{linear(a, b) / 1000.0!r}" for a, b in zip(x.tolist(), y.tolist(), strict=True)]
    write(tmp_path, "x,y,cp\n" + "\n".join(rows))
    mesh = meshio.Mesh(POINTS, [("quad", QUADS)], point_data={"p": linear(*POINTS[:, :2].T)})
    saved(tmp_path, mesh, "a.vtu")
    common = {"file": "map.csv", "quantity": "cp", "length_unit": "m"}
    q = dynamic_pressure(25.0)
    half = 0.25 * sum(c * holed(i, j) for (i, j), c in LINEAR.items())
    for pressure, force in (
        (maps.TapMap(**common), q / 1000.0 * 4.0 * half),
        (maps.GridMap(**common, scale=0.5), q / 1000.0 * 2.0 * half),
        (maps.FunctionMap(function=lambda x, y: linear(x, y) / 1000.0), q / 1000.0 * 4.0 * half),
        (
            maps.MeshMap(
                file="a.vtu", field="p", values="net", quantity="pressure", length_unit="m", pressure_unit="Pa",
                reference_speed=50.0,
            ),
            half,
        ),
    ):  # fmt: skip
        found, _ = air(model, tmp_path, speed=25.0, pressure=pressure)
        assert found.downforce == pytest.approx(force, rel=1e-6), pressure.kind
        assert found.covered == pytest.approx(1.0, rel=1e-9)


@pytest.mark.parametrize(
    ("make", "fields", "sentence"),
    [
        (maps.UniformMap, {"cp": 1, **TOTAL, "scale": 2.0}, "has scale and total_force"),
        (
            maps.UniformMap,
            {"cp": 1, "total_force": 100.0},
            "has a total_force but no total_speed; write for example",
        ),
        (maps.UniformMap, {"cp": 1, "total_speed": 40.0}, "has a total_speed without a total_force"),
        (
            maps.UniformMap,
            {"pressure": 1, **TOTAL},
            "has a total_speed although its pressures belong to no speed",
        ),
        (maps.UniformMap, {"cp": 1, "total_force": 0.0, "total_speed": 40.0}, "has a total_force of zero"),
        (maps.UniformMap, {"cp": 1, "left_right": 60.0}, "left_right of 60; give the share of the left half"),
        (maps.UniformMap, {"cp": 1, "left_right": -0.1}, "left_right: -0.1 is"),
        (maps.UniformMap, {"cp": 1, "yaw_factor": 0.0}, "yaw_factor: 0 is not above zero"),
        (maps.GridMap, {**IN_FILE, "kin": 1}, "there is no such field; did you mean 'kind'"),
        (maps.MeshMap, {**IN_FILE, "field": "p"}, "values: is missing"),
        (maps.MeshMap, {**IN_FILE, "field": "p", "values": "surfce"}, "did you mean 'surface'"),
        (maps.TapMap, {**IN_FILE, "lower_file": "b\n"}, "characters that cannot be printed"),
    ],
)
def test_records_say_what_is_wrong(make, fields: dict, sentence: str) -> None:
    with pytest.raises(DesignError) as caught:
        make(**fields)
    assert sentence in str(caught.value)
    assert "\n" not in str(caught.value)


def test_options_replace_each_other() -> None:
    measured = maps.UniformMap(cp=1.0, scale=0.8).with_(total_force=900.0, total_speed=50.0)
    assert (measured.scale, measured.total_force) == (1.0, 900.0)
    assert measured.with_(scale=1.1).total_force is None


MAPS = {
    "taps": maps.TapMap(file="a.csv", lower_file="m/b.csv", quantity="cp", length_unit="mm", left_right=0.55),
    "grid": maps.GridMap(
        file="g.csv", quantity="pressure", length_unit="in", pressure_unit="psf", reference_speed="100 mph",
        total_force="300 lbf", total_speed="120 mph",
    ),
    "mesh": maps.MeshMap(
        file="m.vtu", quantity="cp", length_unit="m", field="cp mean", values="surface", yaw_factor=1.2, scale=0.9
    ),
}  # fmt: skip


@pytest.mark.parametrize("kind", MAPS)
def test_maps_in_a_design_file(tmp_path: Path, kind: str) -> None:
    """Written, read back the same, and in order by a general-purpose validator of JSON schemas."""
    import tomllib

    for name in ("a.csv", "m/b.csv", "g.csv", "m.vtu"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        write(tmp_path, "", name)
    design = sf.demo().in_folder(tmp_path).with_(cases=(LoadCase(name="c", speed=50.0, pressure=MAPS[kind]),))
    path = tmp_path / "design.toml"
    sf.save(design, path)
    assert sf.load(path).case("c").pressure == MAPS[kind]
    validator = pytest.importorskip("jsonschema").Draft202012Validator(sf.json_schema())
    data = tomllib.loads(path.read_text())
    assert [fault.message for fault in validator.iter_errors(data)] == []
    data["cases"][0]["pressure"]["quantity"] = "force"
    assert list(validator.iter_errors(data))
    away = path.read_text().replace(f'file = "{MAPS[kind].files[-1]}"', 'file = "../x.csv"')
    path.write_text(away)
    with pytest.raises(DesignError, match=r'file: "../x.csv" leaves the folder of the design file'):
        sf.load(path)


def test_what_goes_wrong_with_a_file_is_said_with_its_case(model, tmp_path: Path) -> None:
    write(tmp_path, "x,y,cp\n0,-1,1\n1,-1,1\n0,1,1\n1,1,1\n")
    common = {"file": "map.csv", "length_unit": "m"}
    wrong = {"quantity": "pressure", "pressure_unit": "Pa", "reference_speed": 50.0}
    with pytest.raises(DesignError, match=r"^Load case 'c' calls the values of map.csv a pressure, .* a cp:"):
        air(model, tmp_path, pressure=maps.GridMap(**common, **wrong))
    with pytest.raises(DesignError, match=r"^Load case 'c' calls the taps of map.csv a pressure, .* a cp:"):
        air(model, tmp_path, pressure=maps.TapMap(**common, **wrong))
    with pytest.raises(DesignError, match=r"^Load case 'c', pressure map: left_right = 0.95 would turn"):
        air(model, tmp_path, pressure=maps.TapMap(**common, quantity="cp", left_right=0.95))
    with pytest.raises(DesignError, match=r"^Load case 'c', pressure map: its own total is"):
        air(
            model, tmp_path, pressure=maps.TapMap(**common, quantity="cp", total_force=-5.0, total_speed=50.0)
        )


# The picture -------------------------------------------------------------------------------------------


def artists(ax, gid: str) -> list:
    return [one for one in ax.findobj() if one.get_gid() == gid]


def test_the_picture_of_the_demonstration(demo_solution) -> None:
    ax = demo_solution.plot_pressure()
    load = demo_solution.load.air
    (text,) = artists(ax, "call-out")
    x, y = (1e3 * c for c in load.centre)
    assert text.get_text() == f"{load.downforce:.0f} N down, centre of pressure at x, y {x:.0f}, {y:.0f} mm"
    assert artists(ax, "centre of pressure")[0].get_xydata().tolist() == [[y, x]]
    (taps,) = artists(ax, "tap places")
    read = read_taps(Path(sf.__file__).parent / "data" / "demo_taps.csv")
    assert taps.get_xydata() == pytest.approx(1e3 * read.points[:, ::-1])
    bar = next(other for other in ax.figure.axes if other is not ax)
    assert bar.get_ylabel() == "net pressure, down (Pa)"
    (hatched,) = artists(ax, "not measured")
    assert hatched.get_hatch()
    words = [entry.get_text() for entry in ax.get_legend().get_texts()]
    assert f"{100 - 100 * load.covered:.0f} % of the panel" in words[-1]
    assert demo_solution.case.name in ax.get_title(loc="left")


def test_the_picture_shows_the_values_of_the_map(demo_solution) -> None:
    """The filled contours are asked where they put values that are known."""
    design, case = demo_solution.model.design, demo_solution.case
    ax = demo_solution.plot_pressure(step=100.0)
    (filled,) = artists(ax, "filled contours")
    field, area = pressure_field(design, case), panel_area(design)
    levels = filled.levels
    assert np.allclose(np.diff(levels), 100.0)
    x0, y0, x1, y1 = area.bounds
    within = field.covered(area).buffer(
        -0.03
    )  # steps between taps in line with the edge are too steep to tell
    inside = 0
    for x, y in RNG.uniform((x0, y0), (x1, y1), (60, 2)):
        if not within.contains(Point(x, y)):
            continue
        value = float(field.at(x, y))
        band = int(np.searchsorted(levels, value)) - 1
        if min(abs(value - levels[band]), abs(value - levels[band + 1])) < 15.0:
            continue  # too near to a line to tell
        inside += 1
        assert filled.get_paths()[band].contains_point((1e3 * y, 1e3 * x))
    assert inside > 10


def test_the_picture_in_inches_and_of_odd_maps(model, tmp_path: Path) -> None:
    from splitterfem.output.plots import plot_pressure, save_picture

    ax = plot_pressure(
        model.design, LoadCase(name="c", speed=50.0, pressure=maps.UniformMap(cp=-0.5)), unit="in"
    )
    force = 0.5 * 1531.25 * (0.7 - 0.0875) / 4.4482216  # 1 lbf = 4.4482216 N (NIST SP 811)
    assert artists(ax, "call-out")[0].get_text().startswith(f"{force:.0f} lbf up, centre of pressure")
    assert artists(ax, "not measured") == []
    assert save_picture(ax, tmp_path / "p.png", dpi=50).stat().st_size > 1000
    even = maps.FunctionMap(function=lambda x, y: np.where(y > 0, 0, 1) * (x - 0.35), quantity="pressure")
    ax = plot_pressure(model.design, LoadCase(name="c", pressure=even))
    assert artists(ax, "call-out")[0].get_text() == "no net force: suction and pressure cancel"
    assert artists(ax, "centre of pressure") == []
    far = maps.FunctionMap(function=lambda x, y: x - 0.345, quantity="pressure")
    ax = plot_pressure(model.design, LoadCase(name="c", pressure=far))
    assert "off the panel" in artists(ax, "call-out")[0].get_text()
    assert artists(ax, "centre of pressure") == []
    with pytest.raises(DesignError, match="has no pressure map: give it one"):
        plot_pressure(model.design, LoadCase(name="c"))
