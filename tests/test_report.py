"""The report: what is in it, that it sets, and that strange names come out as plain text."""

from __future__ import annotations

import dataclasses
import datetime
import hashlib
import json
import sys
from pathlib import Path

import pytest
from weak_panel import CORNERS, TUBE, weak_panel

import splitterfem as sf
from splitterfem.design import dumps
from splitterfem.errors import DesignError, FileError, MissingExtraError, UnitError
from splitterfem.output import report, report_pictures
from splitterfem.output.judged import judged
from splitterfem.output.report import write_report
from splitterfem.output.report_data import report_data
from splitterfem.output.report_front import Front
from splitterfem.output.report_tables import minus, support_tables
from splitterfem.output.wording import words_for

typst = pytest.importorskip("typst")

DAY = datetime.date(2024, 2, 29)
NASTY = r"""#sys.inputs $x^2$ [a] "q" 'p' *b* _c_ @d <e> \n // ~ --- `f`"""

# Collects the text of everything that the report shows; what markup would have turned into something else
# (strong, emphasis, a formula, a reference) no longer reads as it was written.
FLATTEN = """
#let flat(it) = {
  if type(it) == str { it }
  else if type(it) == content {
    if it.has("text") { flat(it.text) }
    else if it.has("children") { it.children.map(flat).join(" ") }
    else if it.has("body") { flat(it.body) }
    else if it.has("child") { flat(it.child) }
    else { " " }
  } else { "" }
}
#metadata(flat(include "report.typ")) <flat>
"""


def shown(solutions, folder: Path, *, losses=None, behaviour=None, **head) -> str:
    """Text of everything on the pages of a report, its pictures apart."""
    report._fill(folder, solutions, Front(date=DAY, **head), losses, behaviour)
    (folder / "flatten.typ").write_text(FLATTEN)
    found = typst.query(str(folder / "flatten.typ"), "<flat>", field="value", one=True, root=str(folder))
    return json.loads(found)


@pytest.fixture(scope="module")
def text(demo_solutions, tmp_path_factory):
    return shown(demo_solutions, tmp_path_factory.mktemp("report"))


@pytest.fixture(scope="module")
def data(demo_solutions):
    return report_data(demo_solutions, words_for("metric"), DAY)


def with_names(solution, name, case):
    design = solution.model.design.with_(name=name)
    model = dataclasses.replace(solution.model, design=design)
    return dataclasses.replace(solution, model=model, case=solution.case.with_(name=case))


def test_headline_is_the_worst_of_all_cases(data, demo_solutions):
    values = {item["label"]: item["value"] for item in data["headline"]}
    assert values["largest sag"] == f"{1e3 * max(s.max_sag for s in demo_solutions):.1f} mm"
    assert (
        values["smallest gap to the ground"] == f"{1e3 * min(s.min_clearance for s in demo_solutions):.1f} mm"
    )
    assert values["largest downforce"] == f"{max(s.downforce for s in demo_solutions):.0f} N"
    assert values["mass"] == f"{demo_solutions[0].mass:.2f} kg"


def test_outcomes_stand_beside_their_case(data, demo_solutions):
    for row, solution in zip(data["results"]["rows"], demo_solutions, strict=True):
        assert row[1] == solution.case.name
        assert row[2] == f"{1e3 * solution.max_sag:.1f}"
        assert row[4] == f"{1e3 * solution.min_clearance:.1f}"
        forces = solution.supports.set_index("support")[["fx_N", "fy_N", "fz_N"]]
        sizes = (forces**2).sum(axis=1) ** 0.5
        assert row[7] == sizes.idxmax()
        assert row[8] == f"{sizes.max():.0f}"


def test_support_forces(data, demo_solutions):
    rows = {(row[0], row[3]): row[4:] for row in data["supports"][0]["rows"]}
    tables = [solution.supports.set_index("support") for solution in demo_solutions]
    wanted = [minus(f"{table.axial_N['inner strut left']:.0f}") for table in tables]
    assert rows["inner strut left", "axial"] == wanted
    wanted = [minus(f"{table.fz_N['pocket left']:.0f}") for table in tables]
    assert rows["pocket left", "upward"] == wanted
    assert ("pin left", "upward") not in rows  # it holds only in the plane


@pytest.mark.parametrize(("count", "shares"), [(1, [1]), (6, [6]), (7, [4, 3]), (13, [5, 5, 3])])
def test_support_tables_take_at_most_six_cases_and_share_them_evenly(demo_solutions, count, shares):
    tables = support_tables([demo_solutions[0]] * count, words_for("metric"))
    assert [len(table["headings"]) - 4 for table in tables] == shares
    headings = [heading for table in tables for heading in table["headings"][4:]]
    assert headings == [f"case {n}\nN" for n in range(1, count + 1)]


def test_ribs_in_their_worst_case(data, demo_solutions):
    for row in data["ribs"]["rows"]:
        stresses = [s.ribs.set_index("rib").stress_MPa[row[0]] for s in demo_solutions]
        worst = max(range(len(stresses)), key=lambda i: abs(stresses[i]))
        assert row[-1] == str(worst + 1)
        assert row[-2] == minus(f"{stresses[worst]:.1f}")
    assert "tube 25.4 × 25.4 × 3.2 mm" in data["ribs"]["rows"][0][1]


def test_report_shows_what_it_must(text, demo_solutions):
    for solution in demo_solutions:
        assert solution.case.name in text
    for wanted in (
        "Hill-climb saloon, demonstration",
        "2024-02-29",
        "birch plywood 15 mm",
        "Handbook of Finnish Plywood",
        "recalled from that source",
        "ASTM B221",
        "1.200 kg/m³",
        "210 km/h",
        "INVENTED DATA",
        "not a certificate",
        "licensed engineer",
        "rules of the event and of the place come first",
        "Kerbs",
        "dry boards",
        "inner strut left",
        "cross tube",
        "demo_taps.csv",
    ):
        assert wanted in text, wanted


def test_fingerprint_is_that_of_the_design_file_and_of_what_it_names(data, demo_solutions):
    design = demo_solutions[0].model.design
    taps = hashlib.sha256(design.path("demo_taps.csv").read_bytes()).hexdigest()[:12]
    whole = f"{dumps(design)}\ndemo_taps.csv {taps}"
    assert data["fingerprint"] == hashlib.sha256(whole.encode()).hexdigest()[:12]


def test_fingerprint_changes_with_the_input(demo_solution, data):
    other = with_names(demo_solution, "another name", demo_solution.case.name)
    changed = report_data([other], words_for("metric"), DAY)["fingerprint"]
    assert len(changed) == 12
    assert changed != data["fingerprint"]


def test_fingerprint_of_what_cannot_be_a_file(demo_solution):
    case = sf.LoadCase(
        name="f", speed=50.0, pressure={"kind": "function", "function": lambda x, y: 0 * x + 0.3}
    )
    solution = sf.solve(demo_solution.model, case)
    assert report_data([solution], words_for("metric"), DAY)["fingerprint"].startswith("none")


def test_invention_is_marked_only_where_there_is_one(demo_solution, data):
    design = demo_solution.model.design.with_(invented=False)
    real = dataclasses.replace(demo_solution, model=dataclasses.replace(demo_solution.model, design=design))
    assert "invented" in data["cautions"][0]
    assert not any("invented" in line for line in report_data([real], words_for("metric"), DAY)["cautions"])


def test_names_cannot_become_markup(demo_solution, tmp_path):
    solution = with_names(demo_solution, NASTY[:60], NASTY[5:65].strip())
    text = shown([solution], tmp_path)
    assert NASTY[:60] in text
    assert NASTY[5:65].strip() in text
    assert "dictionary" not in text


def test_us_units(demo_solution):
    data = report_data([demo_solution], words_for("us"), DAY)
    values = {item["label"]: item["value"] for item in data["headline"]}
    assert values["largest sag"] == f"{demo_solution.max_sag / 0.0254:.3f} in"
    assert values["largest downforce"] == f"{demo_solution.downforce / 4.4482216152605:.0f} lbf"
    assert data["cases"]["rows"][0][2] == "130 mph"  # 210 km/h
    assert dict(data["design"])["panel"].replace("\N{NO-BREAK SPACE}", " ") == "62.99 × 24.82 in"


@pytest.mark.parametrize(("paper", "units"), [("a4", "metric"), ("letter", "us")])
def test_sets_on_a_few_pages(demo_solutions, paper, units):
    front = Front(units, paper, DAY)
    pages = report._set(typst, demo_solutions, front, losses=None, format="png", ppi=20.0)
    assert 8 <= len(pages) <= 10
    assert all(page.startswith(b"\x89PNG") for page in pages)


def test_same_input_same_bytes(demo_solution, tmp_path):
    first = write_report([demo_solution], tmp_path / "one.pdf", date=DAY, losses=False, behaviour=False)
    second = write_report([demo_solution], tmp_path / "two.pdf", date=DAY, losses=False, behaviour=False)
    assert first.read_bytes().startswith(b"%PDF-")
    assert first.read_bytes() == second.read_bytes()


def test_pictures_are_vectors_until_they_grow_too_large(demo_solution, monkeypatch):
    figure = report_pictures.sag_figure(demo_solution, "mm")
    vector = report_pictures.figure_svg(figure)
    assert b"<image" not in vector
    assert len(vector) < report_pictures.LARGEST_SVG
    monkeypatch.setattr(report_pictures, "LARGEST_SVG", 1000)
    assert b"<image" in report_pictures.figure_svg(figure)


def test_report_without_typst_names_the_remedy(demo_solution, tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "typst", None)
    with pytest.raises(MissingExtraError, match=r"pip install 'splitterfem\[report\]'"):
        write_report([demo_solution], tmp_path / "r.pdf")
    assert not list(tmp_path.iterdir())


def test_failed_report_leaves_the_old_one(demo_solution, tmp_path, monkeypatch):
    place = tmp_path / "report.pdf"
    place.write_text("precious")

    def broken(*args, **kwargs):
        raise RuntimeError("expected semicolon")

    monkeypatch.setattr(typst, "compile", broken)
    with pytest.raises(FileError, match="could not be set: expected semicolon"):
        write_report([demo_solution], place, losses=False, behaviour=False)
    assert place.read_text() == "precious"
    assert [path.name for path in tmp_path.iterdir()] == ["report.pdf"]


def test_report_is_on_one_splitter(demo_solution, tmp_path):
    other = with_names(demo_solution, "another", "case")
    with pytest.raises(DesignError, match="another design"):
        write_report([demo_solution, other], tmp_path / "r.pdf")
    with pytest.raises(DesignError, match="at least one"):
        write_report([], tmp_path / "r.pdf")


def test_unknown_paper_and_units(demo_solution, tmp_path):
    with pytest.raises(DesignError, match=r"There is no paper 'A4'; did you mean 'a4'"):
        write_report([demo_solution], tmp_path / "r.pdf", paper="A4")
    with pytest.raises(UnitError, match="'imperial'"):
        write_report([demo_solution], tmp_path / "r.pdf", units="imperial")


@pytest.mark.parametrize(
    ("plain", "typeset"),
    [
        ("-5.8", "−5.8"),
        ("0, -330", "0, −330"),
        ("6061-T6", "6061-T6"),
        ("x-1", "x-1"),
        ("2024-02-29", "2024-02-29"),
        ("a (-3)", "a (−3)"),
    ],
)
def test_minus_signs(plain, typeset):
    assert minus(plain) == typeset


def test_strength_reaches_the_page(text, demo_solutions):
    # distances that have to be kept count above the limit only
    tables = [s.utilisation.query("unit != 'mm' or ratio > 1") for s in demo_solutions]
    worst = max((table.iloc[0] for table in tables), key=lambda row: row.ratio)
    for wanted in (
        f"Weakest link: {worst.part}, {worst['mode']}, used to {worst.ratio:.2f} of what is allowed",
        worst.source,
        "What was not judged",
        "pin left, pin right: the design gives neither sizes nor a rating to judge it by.",
        "k_mod 0.7",
        "gamma_M 1.2",
        "Load factor 1 ",
        "The glue of ribs is the least certain part of all",
        "What is built, by weight and cost",
        "Costs are indicative",
    ):
        assert wanted in text, wanted
    assert "not judged here" not in text
    assert "What if one part is lost" not in text


def test_losses_reach_the_page(tmp_path):
    splitter = weak_panel()
    solutions = [sf.solve(splitter, case) for case in splitter.cases]
    losses = judged(solutions).lose_one()
    text = shown(solutions, tmp_path, losses=losses)
    assert "What if one part is lost" in text
    assert f"Load case {losses.number}, {losses.case}: the largest utilisation" in text
    assert all(outcome in text for outcome in losses.table.outcome)
    assert "Timoshenko" in text


def test_report_loses_parts_unless_told_otherwise(tmp_path, monkeypatch):
    asked = []
    monkeypatch.setattr(report, "_set", lambda *args, losses, **options: asked.append(losses) or [b"%PDF-"])
    splitter = weak_panel()
    sf.report(splitter, tmp_path / "r.pdf", cases=["air"])
    sf.report(splitter, tmp_path / "r.pdf", cases=["air"], losses=False)
    with_losses, without = asked
    assert set(with_losses.table.lost) == set(sf.lose_one(splitter, "air").lost)
    assert without is None


def test_lost_joints_of_a_load_case_are_said():
    solution = sf.solve(weak_panel(), sf.LoadCase(name="no glue", unbonded=("glued",)))
    rows = report_data([solution], words_for("metric"), DAY)["cases"]["rows"]
    assert rows[0][-1] == "weight; lost joint of glued"


def test_sources_and_parts_cannot_become_markup(tmp_path):
    bar = {"name": NASTY[:40], "E": 70e9, "nu": 0.3, "density": 2700.0, "yield_strength": 240e6,
           "source": NASTY[:50], "basis": "user"}  # fmt: skip
    rib = {"name": NASTY[2:50].strip(), "points": [(0.1, 0.1), (0.25, 0.1)], "section": TUBE, "material": bar}
    splitter = weak_panel(ribs=[rib], bolts=[
        {"name": f"#bolt *{i}*", "at": at, "holds": "z"} for i, at in enumerate(CORNERS, 1)])  # fmt: skip
    text = shown([sf.solve(splitter, "air")], tmp_path)
    assert NASTY[2:50].strip() in text
    assert NASTY[:50] in text
    assert "#bolt *1*, #bolt *2*" in text
