"""Exports, read back by other libraries, and headline figures."""

from __future__ import annotations

import json
import os
from pathlib import Path

import meshio
import numpy as np
import pandas as pd
import pytest
from csv_tools import table_of
from weak_panel import weak_panel

import splitterfem as sf
from splitterfem import analysis
from splitterfem.design import dumps
from splitterfem.errors import FileError, UnitError
from splitterfem.output import files
from splitterfem.output.bundle import write_bundle
from splitterfem.output.columns import aligned, records
from splitterfem.output.exports import write_contours, write_tables, write_vtu
from splitterfem.output.judged import judged, utilisation_of, weakest
from splitterfem.output.summary import summary, summary_text


@pytest.fixture(scope="module")
def grid(demo_solution, tmp_path_factory):
    place = tmp_path_factory.mktemp("vtu") / "solution.vtu"
    assert write_vtu(demo_solution, place) == place
    return meshio.read(place)


def test_grid_is_the_mesh(grid, demo_solution):
    (block,) = grid.cells
    assert block.type == "triangle6"
    assert len(block.data) == demo_solution.model.mesh.triangles.shape[1]
    corners = grid.points[block.data[:, :3], :2]
    a, b = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    areas = 0.5 * (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])
    assert np.all(areas > 0)
    assert areas.sum() == pytest.approx(demo_solution.model.mesh.area, rel=1e-12)


def test_nodes_are_in_the_order_of_vtk(grid):
    """VTK file formats, VTK_QUADRATIC_TRIANGLE (22): after the corners the middles of 0-1, 1-2 and 2-0."""
    cells = grid.cells[0].data
    for node, (i, j) in zip((3, 4, 5), ((0, 1), (1, 2), (2, 0)), strict=True):
        middle = 0.5 * (grid.points[cells[:, i]] + grid.points[cells[:, j]])
        assert np.allclose(grid.points[cells[:, node]], middle, atol=1e-12)


def test_sag_in_the_grid_is_that_of_the_solution(grid, demo_solution):
    sag = grid.point_data["sag_mm"]
    at = demo_solution.sag_at(grid.points[:, 0], grid.points[:, 1])
    assert np.allclose(sag, 1e3 * at, atol=1e-9)
    assert np.allclose(sag, -1e3 * grid.point_data["displacement_m"][:, 2])
    assert sag.max() == pytest.approx(1e3 * demo_solution.max_sag, rel=0.01)


def test_clearance_in_the_grid(grid, demo_solution):
    """75 mm of ride height at x = 0, 0.4 degrees of rake, both from the design file."""
    x = grid.points[:, 0]
    wanted = 75.0 - 1e3 * x * np.tan(np.radians(0.4)) - grid.point_data["sag_mm"]
    assert np.allclose(grid.point_data["clearance_mm"], wanted)
    assert grid.point_data["clearance_mm"].min() == pytest.approx(1e3 * demo_solution.min_clearance, abs=0.05)


def test_pressure_in_the_grid_adds_up_to_the_downforce(grid, demo_solution):
    """The mid-side rule, area / 3 times the three values, is exact for quadratics (Strang & Fix 1973)."""
    cells, p = grid.cells[0].data, grid.point_data["net_pressure_Pa"]
    corners = grid.points[cells[:, :3], :2]
    a, b = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    areas = 0.5 * (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])
    assert (areas / 3.0) @ p[cells[:, 3:]].sum(axis=1) == pytest.approx(
        demo_solution.load.air.downforce, rel=2e-3
    )


def test_moments_in_the_grid_are_those_of_a_strip():
    """A strip on four bolts at its ends under its own weight: M_x = w (L^2 / 8 - a^2 / 2) (statics)."""
    density, thickness, span, overhang = 2700.0, 0.006, 0.99, 0.005
    strip = sf.Splitter(
        name="strip",
        panel={
            "outline": sf.Outline.rectangle(-0.5, 0.5, -0.05, 0.05),
            "sheet": {"material": "6061-T6 sheet", "thickness": thickness},
        },
        bolts=[
            {"name": "front", "at": (0.495, 0.04), "holds": "z", "pad": 0.002, "mirror": True},
            {"name": "rear", "at": (-0.495, 0.04), "holds": "xyz", "pad": 0.002},
            {"name": "rear right", "at": (-0.495, -0.04), "holds": "xz", "pad": 0.002},
        ],
        car={"ride_height": 0.1},
        cases=[{"name": "weight"}],
        mesh={"size": 0.02},
    )
    solution = sf.solve(strip, "weight")
    from splitterfem.output.exportfields import in_cells

    moments = in_cells(solution)["M_x_Nm_per_m"]
    middle = np.abs(solution.model.panel.space.centroids[:, 0]) < 0.02
    weight = density * thickness * 9.80665
    # positive stretches the lower face; mean over the width, so that the anticlastic bow does not matter
    area = solution.model.panel.space.area
    mean = np.average(moments[middle], weights=area[middle])
    assert mean == pytest.approx(weight * (span**2 / 8 - overhang**2 / 2), rel=0.01)
    assert mean > 0


def test_contour_file(demo_solution, tmp_path):
    place = write_contours(demo_solution, tmp_path / "contours.csv", step_mm=1.0)
    table = table_of(place)
    assert list(table.columns) == ["level_mm", "line", "x_mm", "y_mm"]
    assert set(table.level_mm) <= {float(n) for n in range(-1, 8)}
    assert table.groupby("line").level_mm.nunique().max() == 1
    assert list(table.line.unique()) == list(range(1, table.line.max() + 1))
    inside = demo_solution.sag_at(table.x_mm / 1e3, table.y_mm / 1e3) * 1e3
    known = np.isfinite(inside)
    assert known.sum() > 500
    assert np.abs(inside - table.level_mm)[known].max() < 0.02


def test_contour_step_is_checked(demo_solution, tmp_path):
    with pytest.raises(UnitError, match="above zero"):
        write_contours(demo_solution, tmp_path / "contours.csv", step_mm=-1.0)
    assert not list(tmp_path.iterdir())


def test_tables(demo_solution, tmp_path):
    written = write_tables(demo_solution, tmp_path / "new" / "folder")
    assert [path.name for path in written] == ["supports.csv", "contacts.csv", "ribs.csv"]
    supports = table_of(written[0])
    assert list(supports.support) == list(demo_solution.supports.support)
    assert np.allclose(supports.fz_N, demo_solution.supports.fz_N, rtol=1e-5)
    # what the supports carry is the air on the panel and the weight of panel and ribs; the chassis has the tunnels
    wanted = demo_solution.load.air.downforce + 9.80665 * demo_solution.mass
    assert supports.fz_N.sum() == pytest.approx(wanted, rel=1e-4)


def test_bundle_numbers_later_cases(demo_solutions, tmp_path):
    written = write_bundle(demo_solutions[:2], tmp_path, tables=False)
    kinds = ("sag.png", "clearance.png", "solution.vtu", "contours.csv")
    names = [f"{Path(k).stem}{tail}{Path(k).suffix}" for tail in ("", "-2") for k in kinds]
    names += ["pressure.png", "envelope.png"]  # both cases have one map
    assert sorted(path.name for path in written) == sorted(names)
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(names)


@pytest.fixture(scope="module")
def weak():
    splitter = weak_panel()
    return [sf.solve(splitter, case) for case in splitter.cases]


def test_bundle_has_the_tables_of_the_library(weak, tmp_path):
    losses = judged(weak).lose_one()
    written = {path.name for path in write_bundle(weak, tmp_path, losses=losses)}
    assert {"utilisation.csv", "bill.csv", "losses.csv"} <= written
    table = table_of(tmp_path / "utilisation.csv", keep_default_na=False, na_values=[""])
    assert (table.ratio.dropna().diff().dropna() <= 0.0).all()
    for solution in weak:
        part = table[table.case == solution.case.name].drop(columns="case").reset_index(drop=True)
        # what cannot be judged stands last in both; six figures in the file
        pd.testing.assert_frame_equal(
            part, _without_empty(solution.utilisation), rtol=1e-5, check_dtype=False, atol=1e-6
        )
    bill = table_of(tmp_path / "bill.csv", keep_default_na=False, na_values=[""])
    wanted = _without_empty(sf.bill_of_materials(weak[0].model.design))
    pd.testing.assert_frame_equal(bill, wanted, rtol=1e-5, check_dtype=False)
    lost = table_of(tmp_path / "losses.csv")
    assert set(lost.case) == {losses.case}
    assert list(lost.columns[1:]) == list(losses.table.columns)
    assert list(lost.outcome) == list(losses.table.outcome)
    assert np.allclose(lost.max_sag_mm, losses.table.max_sag_mm, rtol=1e-5, equal_nan=True)
    assert np.allclose(lost.worst_ratio, losses.table.worst_ratio, rtol=1e-5, equal_nan=True)


def _without_empty(table):
    """Return a table whose empty texts are nan, as a file that was read has them."""
    return table.replace("", np.nan)


@pytest.mark.parametrize("writer", [write_vtu, write_contours])
def test_failed_run_leaves_the_old_file(writer, demo_solution, tmp_path, monkeypatch):
    place = tmp_path / "old"
    place.write_text("precious")

    def full(*args, **kwargs):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(meshio.Mesh, "write", full)
    monkeypatch.setattr(Path, "write_bytes", full)
    with pytest.raises(FileError, match="no space left on device"):
        writer(demo_solution, place)
    assert place.read_text() == "precious"
    assert [path.name for path in tmp_path.iterdir()] == ["old"]


def test_failure_of_any_kind_leaves_the_old_file(tmp_path):
    place = tmp_path / "old"
    place.write_text("precious")

    def interrupted():
        with files.replaced(place) as temporary:
            temporary.write_text("half")
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        interrupted()
    assert place.read_text() == "precious"
    assert [path.name for path in tmp_path.iterdir()] == ["old"]


@pytest.mark.skipif(os.name == "nt", reason="links need a privilege on Windows")
def test_link_is_replaced_and_not_followed(tmp_path):
    outside = tmp_path / "outside.txt"
    outside.write_text("precious")
    folder = tmp_path / "out"
    folder.mkdir()
    (folder / "link.txt").symlink_to(outside)
    files.write_text(folder / "link.txt", "new")
    assert outside.read_text() == "precious"
    assert (folder / "link.txt").read_text() == "new"


@pytest.mark.skipif(os.name == "nt", reason="Windows has other permissions")
def test_permissions_stay(tmp_path):
    place = tmp_path / "old"
    place.write_text("x")
    os.chmod(place, 0o640)
    files.write_text(place, "y")
    assert place.stat().st_mode & 0o777 == 0o640


def test_targets_that_cannot_be(tmp_path):
    with pytest.raises(FileError, match="is a folder"):
        files.write_text(tmp_path, "x")
    with pytest.raises(FileError, match="There is no folder"):
        files.write_text(tmp_path / "missing" / "x.csv", "x")
    (tmp_path / "file").write_text("x")
    with pytest.raises(FileError, match="a file and not a folder"):
        files.folder(tmp_path / "file")


def test_summary_has_units_and_survives_json(demo_solutions):
    for solution in demo_solutions:
        figures = summary(solution)
        assert json.loads(json.dumps(figures, allow_nan=False)) == figures
        assert figures["max_sag_mm"] == pytest.approx(1e3 * solution.max_sag)
        assert figures["min_clearance_mm"] == pytest.approx(1e3 * solution.min_clearance)
        assert figures["mass_kg"] == pytest.approx(solution.mass)
        assert figures["unknowns"] == solution.model.unknowns
        assert figures["residual"] < 1e-7


def test_summary_names_the_weakest_part(demo_solutions):
    for solution in demo_solutions:
        table = solution.utilisation.query(
            "unit != 'mm' or ratio > 1"
        )  # distances count above the limit only
        figures, worst = summary(solution), table.iloc[0]
        assert figures["worst_ratio"] == worst.ratio == table.ratio.max()
        assert (figures["weakest_part"], figures["weakest_mode"]) == (worst.part, worst["mode"])


def test_records_know_no_nan():
    table = pd.DataFrame(
        {"a": [1.5, np.nan], "b": ["x", ""], "c": pd.array([True, None], dtype="boolean"), "n": [1, 2]}
    )
    rows = records(table)
    assert rows == [{"a": 1.5, "b": "x", "c": True, "n": 1}, {"a": None, "b": "", "c": None, "n": 2}]
    assert json.loads(json.dumps(rows, allow_nan=False)) == rows


def test_columns_are_aligned():
    lines = aligned(
        [["name", "value", "said"], ["a", "10", "x"], ["long one", "9", "a sentence " * 9]], left=(0, 2)
    )
    assert lines[0] == "name      value  said"
    assert lines[1] == f"--------  -----  {'-' * 60}"
    assert lines[2] == "a            10  x"
    assert not any(line.endswith(" ") for line in lines)


def test_a_distance_is_the_weakest_link_only_where_it_is_too_short():
    rows = [("edge", "mm", 0.8), ("strut", "N", 0.3), ("panel", "MPa", np.nan)]
    table = pd.DataFrame(rows, columns=["part", "unit", "ratio"])
    assert weakest(table)["part"] == "strut"
    assert weakest(table.assign(ratio=[1.01, 0.3, np.nan]))["part"] == "edge"
    assert weakest(table[table.part != "strut"])["part"] == "edge"
    assert weakest(table[table.part == "panel"]) is None


def test_utilisations_of_a_plain_solution_are_made_where_they_are_asked_for(demo_solution):
    plain = analysis.Solution(*(getattr(demo_solution, n) for n in ("model", "case", "load", "response")))
    assert not hasattr(plain, "utilisation")
    pd.testing.assert_frame_equal(utilisation_of(plain), demo_solution.utilisation)


def test_summary_of_the_air(demo_solutions):
    windy, pushed = summary(demo_solutions[0]), summary(demo_solutions[2])
    assert windy["speed_km_h"] == pytest.approx(210.0)
    # q = rho V^2 / 2 with the density and the speed of the design file
    assert windy["dynamic_pressure_Pa"] == pytest.approx(0.5 * 1.20 * (210.0 / 3.6) ** 2)
    assert 50.0 < windy["pressure_map_coverage_percent"] <= 100.0
    assert windy["downforce_N"] == pytest.approx(demo_solutions[0].downforce)
    assert pushed["downforce_N"] == 0.0
    assert pushed["centre_of_pressure_x_mm"] is None
    assert pushed["pressure_map_coverage_percent"] is None


def test_summary_names_the_strut_that_carries_most(demo_solution):
    figures = summary(demo_solution)
    struts = demo_solution.supports.set_index("support").axial_N.dropna()
    assert abs(figures["largest_strut_force_N"]) == pytest.approx(struts.abs().max())
    assert struts[figures["largest_strut"]] == figures["largest_strut_force_N"]


def test_summary_text_is_aligned(demo_solutions):
    lines = summary_text(demo_solutions).split("\n")
    top = next(i for i, line in enumerate(lines) if line.startswith("load case"))
    table = lines[top : top + 2 + len(demo_solutions)]
    assert len({len(line) for line in table}) == 1
    assert "invented" in lines[0]
    for solution, line in zip(demo_solutions, table[2:], strict=True):
        assert line.startswith(solution.case.name)
        assert f"{1e3 * solution.max_sag:.1f}" in line.split()


def test_summary_text_in_us_units(demo_solutions):
    text = summary_text(demo_solutions, units="us")
    assert f"{demo_solutions[0].max_sag / 0.0254:.3f}" in text.split()
    assert f"{demo_solutions[0].downforce / 4.4482216152605:.0f}" in text.split()  # lbf, NIST SP 811
    assert f"{demo_solutions[0].mass / 0.45359237:.2f} lb" in text


def test_unknown_units(demo_solutions):
    with pytest.raises(UnitError, match="'imperial'"):
        summary_text(demo_solutions, units="imperial")


def test_limits_and_tunnels_are_tables_of_their_own_in_a_file():
    """In the demonstration, and in a design whose tables would all fit on a line."""
    text = dumps(sf.demo())
    for heading in ("[envelope]", "[envelope.bodywork]", "[panel.cutouts.tunnel]", "[[handling]]"):
        assert heading in text.splitlines()
    parts = [{"case": "air", "factor": 1.35}, {"case": "weight"}]
    small = weak_panel(
        envelope={"rear": 0.1, "widths": [{"against": "tyre", "half_width": 0.4}]},
        cases=[{"name": "air", "speed": 50.0}, {"name": "weight"}, {"name": "both", "combines": parts}],
    )
    lines = dumps(small).splitlines()
    assert "[envelope]" in lines
    assert lines[lines.index("combines = [") + 1 :][:3] == [
        '    {case = "air", factor = 1.35},',
        '    {case = "weight"},',
        "]",
    ]
    assert not any("[[envelope" in line or "[[cases.combines" in line for line in lines)
