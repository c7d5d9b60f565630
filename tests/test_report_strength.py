"""What the report says of strength, losses and the bill: the library's own tables, in words that people read."""

from __future__ import annotations

import datetime
import math
import re

import pandas as pd
import pytest
from weak_panel import weak_panel

import splitterfem as sf
from splitterfem.output.bill_words import cost_words, mass_words
from splitterfem.output.judged import judged, worst_ratio
from splitterfem.output.report_data import report_data
from splitterfem.output.report_strength import ROWS
from splitterfem.output.unjudged import left_out
from splitterfem.output.wording import ratio_words, three_figures, words_for

DAY = datetime.date(2024, 2, 29)
US = {"N": ("lbf", 4.4482216152605), "MPa": ("psi", 0.006894757293168), "N/mm": ("lbf/in", 0.1751268369864)}
"""US units and their size in those of the tables (NIST SP 811, appendix B)."""


@pytest.fixture(scope="module")
def weak():
    splitter = weak_panel()
    model = sf.build(splitter)
    return [sf.solve(model, case) for case in splitter.cases]


@pytest.fixture(scope="module")
def losses(weak):
    return judged(weak).lose_one()


@pytest.fixture(scope="module")
def data(weak, losses):
    return report_data(weak, words_for("metric"), DAY, losses=losses)


def in_all_cases(solutions) -> pd.DataFrame:
    """Tables of the library with the number of the load case."""
    return pd.concat(s.utilisation.assign(number=n) for n, s in enumerate(solutions, start=1))


def weakest_of(rows: pd.DataFrame) -> pd.Series:
    """Largest ratio; a distance that has to be kept counts where it is too short only."""
    counts = rows[(rows.unit != "mm") | (rows.ratio > 1.0)]
    return counts.loc[counts.ratio == counts.ratio.max()].iloc[0]


def judge(solution) -> float:
    return float(weakest_of(solution.utilisation).ratio)


def number(cell: str) -> float:
    return float(cell.split()[0].replace("\N{MINUS SIGN}", "-"))


@pytest.mark.parametrize("which", ["weak", "demo_solutions"])
def test_every_row_is_that_of_the_worst_load_case(which, request):
    solutions = request.getfixturevalue(which)
    table = report_data(solutions, words_for("metric"), DAY)["strength"]["table"]
    rows = in_all_cases(solutions)
    for part, mode, ratio, acts, allowed, at, case, basis, _ in table["rows"]:
        same = rows[(rows.part == part) & (rows["mode"] == mode)]
        worst = same.loc[same.ratio == same.ratio.max()].iloc[0]
        assert ratio == ratio_words(worst.ratio)
        assert (case, basis) == (str(worst.number), worst.basis)
        x, y = (number(c) for c in at.split(", "))
        assert (x, y) == pytest.approx((worst.x_mm, worst.y_mm), abs=0.5)
        if worst.unit == "-":
            assert (acts, allowed) == ("\N{EN DASH}", "\N{EN DASH}")
        else:
            assert acts.split(" ", 1)[1] == allowed.split(" ", 1)[1] == worst.unit
            # three figures: half a unit of the last one is at most 0.5 %
            assert number(acts) == pytest.approx(worst.demand, rel=5e-3, abs=5e-4)
            assert number(allowed) == pytest.approx(worst.allowable, rel=5e-3)


@pytest.mark.parametrize("which", ["weak", "demo_solutions"])
def test_worst_first_and_none_forgotten(which, request):
    solutions = request.getfixturevalue(which)
    strength = report_data(solutions, words_for("metric"), DAY)["strength"]
    known = in_all_cases(solutions).dropna(subset=["ratio"])
    worst = known.groupby(["part", "kind", "mode"]).ratio.max().sort_values(ascending=False)
    assert [row[2] for row in strength["table"]["rows"]] == [ratio_words(r) for r in worst.head(ROWS)]
    assert strength["more"].startswith(
        f"{len(worst) - ROWS} more, none above {ratio_words(worst.iloc[ROWS])}:"
    )
    assert "utilisation.csv" in strength["more"]


def test_every_row_points_to_its_source(data, weak):
    sources, rows = data["strength"]["sources"], in_all_cases(weak)
    table = data["strength"]["table"]["rows"]
    for part, mode, *_, index in table:
        row = rows[(rows.part == part) & (rows["mode"] == mode)].iloc[0]
        assert sources[int(index) - 1].casefold().startswith(row.source.casefold())
        assert row.note.casefold().rstrip(".") in sources[int(index) - 1].casefold()
    assert {int(row[-1]) for row in table} == set(range(1, len(sources) + 1))


def test_weakest_link_is_named_with_its_case_and_certainty(data, weak):
    worst = weakest_of(in_all_cases(weak))
    said = " ".join(data["strength"]["weakest"])
    for wanted in (worst.part, worst["mode"], ratio_words(worst.ratio), weak[worst.number - 1].case.name):
        assert wanted in said
    (item,) = [item for item in data["headline"] if item["label"] == "largest utilisation"]
    assert item["value"] == ratio_words(worst.ratio)
    assert item["alarm"] is True
    assert "OVERLOADED" in item["detail"]


def test_what_is_above_the_limit_is_alarming(data, weak, demo_solutions):
    table = data["strength"]["table"]
    assert table["alarms"] == [i for i, row in enumerate(table["rows"]) if float(row[2]) > 1.0]
    assert data["strength"]["overloaded"]
    known = in_all_cases(weak).dropna(subset=["ratio"])
    above = int((known.groupby(["part", "kind", "mode"]).ratio.max() > 1.0).sum())
    assert f"OVERLOADED: {above} ratios are above 1." in data["strength"]["weakest"]
    calm = report_data(demo_solutions, words_for("metric"), DAY)["strength"]
    assert max(s.utilisation.ratio.max() for s in demo_solutions) < 1.0
    assert not calm["overloaded"]
    assert not calm["table"]["alarms"]


def test_factors_are_printed(data):
    """k_mod of plywood in service class 3: 0.70 short, 0.90 instantaneous (EN 1995-1-1 table 3.1); gamma_M 1.2
    of plywood and 1.3 of connections (table 2.3). [M]"""
    notes = " ".join(data["strength"]["notes"])
    assert (
        "service class 3: k_mod 0.7 in load cases 1, 2 (short); k_mod 0.9 in load case 3 (instantaneous)"
        in notes
    )
    assert "gamma_M 1.2 on the board, 1.3 on fasteners" in notes
    assert "Factor 1.5 on the yield of metal" in notes
    assert "Factor 3 on adhesive" in notes
    assert "Load factor 1 on all loads" in notes


def test_what_was_not_judged_is_listed_with_its_reason(data):
    said = data["strength"]["unjudged"]
    (rib,) = [line for line in said if line.startswith("unknown, stress of the extreme fibre")]
    assert re.search(r"\(demand \d+\.\d+ MPa\)", rib)
    assert rib.endswith("the material 'plain bar' has no yield strength.")
    assert "nameless pin: the design gives neither sizes nor a rating to judge it by." in said
    assert "steel of bolt 1, bolt 2, bolt 3, bolt 4: no strength class is given." in said
    assert "joint of unknown: taken as an ideal bond." in said


def test_many_names_are_cut_short(weak):
    case = sf.LoadCase(name="weight")
    places = [(0.05 + 0.5 * (i % 2), -0.28 + 0.04 * i) for i in range(14)]
    splitter = weak_panel(
        bolts=[{"name": f"bolt {i}", "at": at} for i, at in enumerate(places, 1)], ribs=[], pins=[]
    )
    said = left_out(judged([sf.solve(splitter, case)]), words_for("metric"))
    assert said == [
        "bolt 1, bolt 2, bolt 3, bolt 4, bolt 5, bolt 6, bolt 7, bolt 8 and 6 more: "
        "the design gives neither sizes nor a rating to judge it by."
    ]


def test_sheet_without_strength_is_said_and_not_hidden():
    board = {"name": "board", "kind": "isotropic", "E1": 9e9, "nu12": 0.2, "density": 700.0}
    sheet = {"material": board, "thickness": 0.01}
    splitter = weak_panel(panel={"outline": weak_panel().panel.outline, "sheet": sheet},
                          ribs=[], pins=[{"name": "pin", "at": (0.3, 0.0)}, {"name": "pin 2", "at": (0.4, 0.0)}],
                          bolts=[{"name": f"bolt {i}", "at": at} for i, at in enumerate(
                              ((0.05, -0.25), (0.05, 0.25), (0.55, 0.0)), 1)])  # fmt: skip
    solution = sf.solve(splitter, "weight")
    data = report_data([solution], words_for("metric"), DAY)
    assert data["strength"]["weakest"] == ["No part could be judged: the design gives no strengths."]
    assert data["strength"]["table"]["rows"] == []
    assert any("board" in line for line in data["strength"]["unjudged"])
    (item,) = [item for item in data["headline"] if item["label"] == "largest utilisation"]
    assert item["value"] == "unknown"
    assert worst_ratio(solution) is None


def test_losses_are_those_of_the_library(losses, weak):
    """The load case with the largest utilisation, judged by the largest ratio of each solution."""
    worst = max(range(len(weak)), key=lambda i: weak[i].utilisation.query("unit != 'mm'").ratio.max())
    assert losses.number == worst + 1
    wanted = sf.lose_one(weak[worst].model, weak[worst].case.name, judge=judge)
    pd.testing.assert_frame_equal(losses.table, wanted)


def test_loss_table_shows_every_loss_and_what_there_was_before(data, losses):
    part = data["losses"]
    first, *rows = part["table"]["rows"]
    whole = losses.whole
    assert first[:4] == [
        "nothing",
        "\N{EN DASH}",
        f"{1e3 * whole.max_sag:.1f}",
        f"{1e3 * whole.min_clearance:.1f}",
    ]
    assert first[6] == ratio_words(judge(whole))
    assert [row[0] for row in rows] == list(losses.table.lost)
    for row, (_, wanted) in zip(rows, losses.table.iterrows(), strict=True):
        assert row[7] == wanted.outcome
        if math.isnan(wanted.max_sag_mm):
            assert row[2:7] == ["\N{EN DASH}"] * 5
        else:
            assert number(row[2]) == pytest.approx(wanted.max_sag_mm, abs=0.051)
            assert row[4] == wanted.worst_support
            assert number(row[5]) == pytest.approx(wanted.worst_support_N, abs=0.51)
            assert row[6] == ratio_words(wanted.worst_ratio)
    bad = [
        i for i, (_, r) in enumerate(losses.table.iterrows(), 1) if r.outcome != "held" or r.worst_ratio > 1.0
    ]
    assert part["table"]["alarms"] == bad
    fallen = int((losses.table.outcome != "held").sum())
    assert part["verdict"].startswith(f"{fallen} of {len(losses.table)} losses end not held or on the ground")


def test_report_without_losses_says_that_they_are_not_in_it(weak, data):
    without = report_data(weak, words_for("metric"), DAY)
    assert without["losses"] is None
    assert any("the loss of a strut or a pin" in line for line in without["cautions"])
    assert not any("the loss of a strut or a pin" in line for line in data["cautions"])
    assert any("the jolt when a part breaks" in line for line in data["cautions"])


def test_bill_is_that_of_the_library(data, weak):
    bill = sf.bill_of_materials(weak[0].model.design)
    parts = bill[bill.kind != "total"]
    rows = data["bill"]["rows"]
    assert len(rows) == len(bill)
    for row, (_, wanted) in zip(rows, parts.iterrows(), strict=False):
        assert row[0].startswith(wanted.part)
        for cell, value, digits in (
            (row[3], wanted.length_mm, 0),
            (row[4], wanted.area_m2, 3),
            (row[5], wanted.mass_kg, 2),
            (row[6], wanted.cost, 2),
        ):
            assert cell.split()[0] == ("\N{EN DASH}" if math.isnan(value) else f"{value:.{digits}f}")
        assert row[7] == wanted.cost_basis
    assert rows[-1][5] == f"{parts.mass_kg.sum():.2f}"
    assert rows[-1][6] == f"{parts.cost.sum():.2f} USD"
    assert data["bill_sums"] == 1
    notes = " ".join(data["bill_notes"])
    assert "indicative" in notes
    assert all(text in notes for text in bill.attrs["left_out"])


def test_bill_without_costs_has_no_columns_for_them():
    splitter = weak_panel(panel={"outline": weak_panel().panel.outline, "sheet": {
        "material": {"name": "board", "kind": "isotropic", "E1": 9e9, "nu12": 0.2, "density": 700.0},
        "thickness": 0.01}}, ribs=[])  # fmt: skip
    data = report_data([sf.solve(splitter, "weight")], words_for("metric"), DAY)
    assert not any("cost" in heading for heading in data["bill"]["headings"])
    assert "No cost is known." in data["bill_notes"]
    assert cost_words(sf.bill_of_materials(splitter)) == "not known of any part"


def test_mass_in_words_adds_up(weak):
    bill = sf.bill_of_materials(weak[0].model.design)
    ribs, panel = (float(bill.loc[bill.kind == kind, "mass_kg"].sum()) for kind in ("rib", "panel"))
    assert (
        mass_words(bill, words_for("metric")) == f"{panel + ribs:.2f} kg (panel {panel:.2f}, rib {ribs:.2f})"
    )
    pound = 0.45359237  # NIST SP 811
    assert mass_words(bill, words_for("us")).startswith(f"{(panel + ribs) / pound:.2f} lb (panel ")


def test_strength_in_us_units(weak):
    rows = in_all_cases(weak).set_index(["part", "mode", "number"])
    table = report_data(weak, words_for("us"), DAY)["strength"]["table"]
    assert table["headings"][5].endswith("in")
    seen = set()
    for part, mode, _, acts, allowed, _, case, *_ in table["rows"]:
        row = rows.loc[(part, mode, int(case))]
        if row.unit == "-":
            continue
        name, size = US[row.unit]
        seen.add(row.unit)
        assert acts.endswith(f" {name}")
        assert number(acts) == pytest.approx(row.demand / size, rel=5e-3)
        assert number(allowed) == pytest.approx(row.allowable / size, rel=5e-3)
    assert {"N", "MPa"} <= seen


@pytest.mark.parametrize("unit", ["N", "MPa", "N m", "N/mm", "mm"])
def test_every_unit_of_the_tables_can_be_written(unit):
    """In metric as in the table; in US units by NIST SP 811, appendix B."""
    sizes = {**{u: s for u, (_, s) in US.items()}, "N m": 1.3558179483314, "mm": 25.4}
    assert words_for("metric").of_table(12.0, unit) == f"12.0 {unit}"
    assert number(words_for("us").of_table(100.0 * sizes[unit], unit)) == pytest.approx(100.0)
    assert words_for("metric").of_table(math.nan, unit) == "-"


@pytest.mark.parametrize(
    ("value", "text"),
    [(7874.9, "7870"), (999.6, "1000"), (14.507, "14.5"), (0.29671, "0.297"), (-2.345, "-2.35"), (1e-9, "0")],
)
def test_three_figures(value, text):
    assert three_figures(value) == text


@pytest.mark.parametrize(
    ("ratio", "text"),
    [(0.2487, "0.25"), (0.999, "1.00"), (1.0, "1.00"), (1.0001, "1.01"), (4.2, "4.20"), (math.nan, "-")],
)
def test_above_the_limit_never_looks_like_the_limit(ratio, text):
    assert ratio_words(ratio) == text
