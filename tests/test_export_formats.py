"""Files of a solution in further formats, read back with meshio, pandas and ezdxf."""

from __future__ import annotations

import json
import math
import sys
import types

import meshio
import numpy as np
import pytest
from csv_tools import table_of

import splitterfem as sf
from splitterfem.cli import main
from splitterfem.errors import DesignError, FileError, UnitError


@pytest.fixture(scope="module")
def read_back(demo_solution, tmp_path_factory):
    """The demonstration's mesh as VTU and as XDMF, as meshio reads them."""
    place = tmp_path_factory.mktemp("grids")
    with pytest.MonkeyPatch.context() as patch:
        try:
            import h5py  # noqa: F401
        except ImportError:  # meshio loads it for any XDMF, also where the numbers are in the XML
            patch.setitem(sys.modules, "h5py", types.ModuleType("h5py"))
        xdmf = meshio.read(demo_solution.to_xdmf(place / "a.xdmf"))
    assert sorted(path.name for path in place.iterdir()) == ["a.xdmf"]
    return meshio.read(demo_solution.to_vtu(place / "a.vtu")), xdmf


def test_both_formats_hold_the_same(read_back):
    vtu, xdmf = read_back
    assert np.array_equal(vtu.points, xdmf.points)
    assert vtu.cells[0].type == xdmf.cells[0].type == "triangle6"
    assert np.array_equal(vtu.cells[0].data, xdmf.cells[0].data)
    assert list(vtu.point_data) == list(xdmf.point_data)
    assert list(vtu.cell_data) == list(xdmf.cell_data)
    for name, values in vtu.point_data.items():
        assert np.array_equal(values, xdmf.point_data[name]), name
    for name, (values,) in vtu.cell_data.items():
        assert np.array_equal(values, xdmf.cell_data[name][0]), name


def test_sag_and_fields_are_those_of_the_solution(read_back, demo_solution):
    for grid in read_back:
        x, y, z = grid.points.T
        assert not z.any()
        assert np.allclose(grid.point_data["sag_mm"], 1e3 * demo_solution.sag_at(x, y), atol=1e-9)
        units = ("_m", "_rad", "_mm", "_Pa", "_MPa", "_N", "_N_per_m", "_Nm_per_m")
        names = [*grid.point_data, *grid.cell_data]
        assert [name for name in names if not name.endswith(units)] == ["utilisation_panel"]


def test_the_worst_utilisation_of_the_field_is_that_of_the_table(read_back, demo_solution):
    table = demo_solution.utilisation
    worst = table[table.part == "panel"].ratio.max()
    for grid in read_back:
        (field,) = grid.cell_data["utilisation_panel"]
        assert field.max() == pytest.approx(worst, rel=1e-12)
        assert field.min() >= 0.0


def strip(sheet):
    """A strip of 1 m on four bolts at its ends, under its own weight."""
    return sf.Splitter(
        name="strip",
        panel={"outline": sf.Outline.rectangle(-0.5, 0.5, -0.05, 0.05), "sheet": sheet},
        bolts=[
            {"name": "front", "at": (0.495, 0.04), "holds": "z", "pad": 0.002, "mirror": True},
            {"name": "rear", "at": (-0.495, 0.04), "holds": "xyz", "pad": 0.002},
            {"name": "rear right", "at": (-0.495, -0.04), "holds": "xz", "pad": 0.002},
        ],
        car={"ride_height": 0.1},
        cases=[{"name": "weight"}],
        mesh={"size": 0.02},
    )


def middle_stress(solution, name, tmp_path):
    grid = meshio.read(solution.to_vtu(tmp_path / "strip.vtu"))
    corners = grid.points[grid.cells[0].data[:, :3], :2]
    a, b = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    area = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    near = np.abs(corners[:, :, 0].mean(axis=1)) < 0.02
    return np.average(grid.cell_data[name][0][near], weights=area[near], axis=0), grid


def test_stress_of_the_faces_is_that_of_beam_theory(tmp_path):
    """M = q (L^2 / 8 - a^2 / 2) for each width, stress 6 M / t^2 (statics; Gere & Timoshenko): lower face pulled."""
    density, t, span, overhang = 2700.0, 0.006, 0.99, 0.005
    solution = sf.solve(strip({"material": "6061-T6 sheet", "thickness": t}), "weight")
    moment = density * t * 9.80665 * (span**2 / 8 - overhang**2 / 2)
    lower, grid = middle_stress(solution, "stress_lower_MPa", tmp_path)
    upper, _ = middle_stress(solution, "stress_upper_MPa", tmp_path)
    assert lower[0] == pytest.approx(6e-6 * moment / t**2, rel=0.01)
    assert upper[0] == pytest.approx(-6e-6 * moment / t**2, rel=0.01)
    assert abs(lower[2]) < 0.01 * lower[0]
    assert "utilisation_panel" in grid.cell_data


def test_plies_of_a_layup_have_their_own_stresses(tmp_path):
    """Three plies of one metal are one sheet: the outer faces feel 6 M / t^2, the inner ones a third of that.

    The grain of the layup lies across, so that the stress along the strip is the second component.
    """
    metal = {"name": "metal", "kind": "isotropic", "E1": 70e9, "nu12": 0.3, "density": 2700.0}
    plies = [{"material": metal, "thickness": 0.002, "angle": 0.0}] * 3
    layup = {"name": "three", "kind": "layup", "plies": plies}
    sheet = {"material": layup, "thickness": 0.006, "grain_angle": math.pi / 2}
    solution = sf.solve(strip(sheet), "weight")
    moment = 2700.0 * 0.006 * 9.80665 * (0.99**2 / 8 - 0.005**2 / 2)
    outer = 6e-6 * moment / 0.006**2
    shares = {"1_lower": 1.0, "1_upper": 1 / 3, "2_lower": 1 / 3, "3_lower": -1 / 3, "3_upper": -1.0}
    for name, share in shares.items():
        stress, grid = middle_stress(solution, f"stress_ply_{name}_MPa", tmp_path)
        assert stress[1] == pytest.approx(share * outer, rel=0.01), name
    assert "utilisation_panel" not in grid.cell_data  # nothing is known of the strength of that metal


def test_table_of_the_sag(demo_solution, tmp_path):
    nodes = table_of(demo_solution.to_csv(tmp_path / "sag.csv"))
    assert list(nodes.columns) == ["x_mm", "y_mm", "sag_mm", "clearance_mm", "net_pressure_Pa"]
    assert len(nodes) == demo_solution.model.panel.space.node_points.shape[1]
    grid = table_of(demo_solution.to_csv(tmp_path / "grid.csv", spacing="2 in"))
    assert np.allclose(np.round(grid.x_mm / 50.8) * 50.8, grid.x_mm, atol=1e-2)
    for table in (nodes, grid):
        known = demo_solution.sag_at(table.x_mm / 1e3, table.y_mm / 1e3)
        on = np.isfinite(known)
        assert on.mean() > 0.95
        assert np.allclose(1e3 * known[on], table.sag_mm[on], atol=2e-3)
    # 75 mm of ride height at x = 0, 0.4 degrees of rake, both from the design file
    assert np.allclose(grid.clearance_mm, 75.0 - grid.x_mm * np.tan(np.radians(0.4)) - grid.sag_mm, atol=1e-3)


@pytest.mark.parametrize("what", ["supports", "contacts", "ribs", "joints", "utilisation"])
def test_tables_by_name(demo_solution, tmp_path, what):
    path = demo_solution.to_csv(tmp_path / "table.csv", what)
    wanted = getattr(demo_solution, what)
    if len(wanted):
        assert list(table_of(path).columns) == list(wanted.columns)
        assert len(table_of(path)) == len(wanted)


def test_contours_by_name_are_on_their_level(demo_solution, tmp_path):
    table = table_of(demo_solution.to_csv(tmp_path / "contours.csv", "contours", step_mm=2.0))
    assert set(table.level_mm % 2.0) == {0.0}


@pytest.mark.parametrize(
    ("what", "options", "error", "message"),
    [
        ("sags", {}, DesignError, "no table 'sags'; did you mean 'sag'"),
        ("ribs", {"spacing": "1 mm"}, DesignError, "has no option 'spacing'"),
        ("sag", {"spacing": "0 mm"}, DesignError, "above zero"),
        ("sag", {"spacing": "0.1 mm"}, DesignError, "more than 250000"),
        ("sag", {"spacing": "30 m"}, DesignError, "No point of the grid"),
        ("sag", {"spacing": "3 kg"}, UnitError, "spacing"),
    ],
)
def test_wrong_tables_are_refused(demo_solution, tmp_path, what, options, error, message):
    with pytest.raises(error, match=message):
        demo_solution.to_csv(tmp_path / "a.csv", what, **options)
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(("unit", "k", "code", "step"), [("mm", 1e3, 4, 1.0), ("in", 1.0 / 0.0254, 1, 0.05)])
def test_contours_as_dxf(demo_solution, tmp_path, unit, k, code, step):
    """Every corner lies on the level that its layer names; labels say it too; the panel is there in true size."""
    ezdxf = pytest.importorskip("ezdxf")
    path = demo_solution.to_dxf(tmp_path / "contours.dxf", unit=unit, step=step)
    document = ezdxf.readfile(path)
    assert not document.audit().errors
    assert document.header["$INSUNITS"] == code
    levels = set()
    for line in document.modelspace().query("LWPOLYLINE"):
        if not line.dxf.layer.startswith("sag "):
            continue
        word, level, name = line.dxf.layer.split()
        assert (word, name) == ("sag", unit)
        levels.add(float(level))
        points = np.array(line.get_points("xy")) / k
        found = k * demo_solution.sag_at(*points.T)
        on = np.isfinite(found)
        assert np.abs(found[on] - float(level)).max() < 0.02 * step
    assert len(levels) >= 5
    labels = {float(t.dxf.text) for t in document.modelspace().query("TEXT") if t.dxf.layer == "labels"}
    assert labels <= levels
    assert len(labels) > 3
    drawn = sf.read_dxf(path, layer=["panel", "openings"])
    design = demo_solution.model.design
    assert drawn.outline.polygon(1e-6).area == pytest.approx(
        design.panel.outline.polygon(1e-6).area, rel=1e-6
    )
    assert len(drawn.cutouts) == 2 or drawn.cutouts[0].mirror
    texts = [t.dxf.text for t in document.modelspace().query("TEXT") if t.dxf.layer == "text"]
    assert any("invented" in text for text in texts)
    assert any(("mm" if unit == "mm" else "inches") in text for text in texts)


def test_dxf_refusals(demo_solution, tmp_path):
    with pytest.raises(UnitError, match="'cm'"):
        demo_solution.to_dxf(tmp_path / "a.dxf", unit="cm")
    with pytest.raises(UnitError, match="above zero"):
        demo_solution.to_dxf(tmp_path / "a.dxf", step=0.0)
    for write in (demo_solution.to_dxf, demo_solution.to_xdmf, demo_solution.to_vtu, demo_solution.to_csv):
        with pytest.raises(FileError, match="There is no folder"):
            write(tmp_path / "none" / "a.file")
    assert not list(tmp_path.iterdir())


def test_the_design_file_is_the_design(demo_solution, tmp_path):
    assert sf.load(demo_solution.to_toml(tmp_path / "design.toml")) == demo_solution.model.design


def test_command_writes_what_is_asked_for(coarse_file, tmp_path, capsys):
    pytest.importorskip("ezdxf")
    out = tmp_path / "out"
    asked = ["solve", str(coarse_file), "--case", "push on the lip", "--out", str(out), "--json"]
    assert main([*asked, *(a for kind in ("xdmf", "dxf", "sag", "design") for a in ("--also", kind))]) == 0
    written = {path.rsplit("/", 1)[1] for path in json.loads(capsys.readouterr().out)["written"]}
    assert {"solution.xdmf", "contours.dxf", "sag.csv", "design.toml", "solution.vtu"} <= written
    assert sf.load(out / "design.toml") == sf.load(coarse_file)
    assert main(["solve", str(coarse_file), "--also", "sag"]) == 1
    assert "give --out FOLDER" in capsys.readouterr().err
