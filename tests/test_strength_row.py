"""Rows of a strength table: checks, resistances, order, units for people, refusals."""

from __future__ import annotations

import math

import pytest

from splitterfem.errors import DesignError
from splitterfem.strength import Check, Resistance, least, utilisation_table, weakest
from splitterfem.strength.factors import LINK_STEP, Link, failure_order, link
from splitterfem.strength.row import BASES


def resistance(value: float = 1000.0, unit: str = "N", mode: str = "tension") -> Resistance:
    return Resistance(mode, value, unit, "a standard", "memory", "characteristic")


def check(ratio: float, part: str = "strut") -> Check:
    allowable = math.nan if math.isnan(ratio) else 1.0
    return Check(part, "strut", 0.1, 0.2, "tension", 1.0, "N", allowable, ratio, "memory", "a standard")


def test_a_check_carries_place_source_and_load_factor() -> None:
    found = resistance().check(-400.0, part="strut left", kind="strut", x=0.3, y=-0.2, load_factor=1.5)
    assert (found.demand, found.allowable, found.ratio) == pytest.approx((600.0, 1000.0, 0.6))
    assert (found.x, found.y, found.source, found.basis) == (0.3, -0.2, "a standard", "memory")
    assert found.note == "characteristic; load factor 1.5"


def test_a_divided_resistance_says_by_what() -> None:
    found = resistance().divided(3.0, "factor of safety")
    assert found.value == pytest.approx(1000.0 / 3.0)
    assert found.note == "characteristic; divided by 3 (factor of safety)"


def test_the_table_is_sorted_worst_first_and_unknown_last() -> None:
    table = utilisation_table([check(0.4, "a"), check(math.nan, "b"), check(1.3, "c"), check(0.9, "d")])
    assert list(table.part) == ["c", "d", "a", "b"]
    assert list(table.columns[:7]) == ["part", "kind", "mode", "ratio", "demand", "allowable", "unit"]


@pytest.mark.parametrize(
    ("si", "demand", "unit", "shown"),
    [
        ("N", 1234.0, "N", 1234.0),
        ("Pa", 25.0e6, "MPa", 25.0),
        ("N m", 12.5, "N m", 12.5),
        ("N/m", 4000.0, "N/mm", 4.0),
        ("m", 0.031, "mm", 31.0),
    ],
)
def test_the_table_is_in_units_that_people_read(si: str, demand: float, unit: str, shown: float) -> None:
    """Factors of the SI prefixes."""
    row = resistance(2 * demand, si).check(demand, part="p", kind="k", x=0.5, y=-0.25)
    table = utilisation_table([row])
    assert table.unit[0] == unit
    assert (table.demand[0], table.allowable[0]) == pytest.approx((shown, 2 * shown))
    assert (table.x_mm[0], table.y_mm[0]) == (500.0, -250.0)


def test_an_empty_table_keeps_its_columns() -> None:
    table = utilisation_table([])
    assert len(table) == 0
    assert "ratio" in table.columns


def test_the_weakest_basis_governs() -> None:
    assert weakest("published", "indicative", "memory") == "indicative"
    assert weakest(*BASES) == "practice"
    assert weakest("published", "published") == "published"


def test_the_least_resistance() -> None:
    small, large = resistance(900.0), resistance(1100.0)
    assert least([large, small]) is small
    with pytest.raises(DesignError, match="N, Pa cannot be compared"):
        least([small, resistance(1.0, "Pa")])
    with pytest.raises(DesignError, match="in none cannot be compared"):
        least([])


def test_rows_refuse_what_cannot_be() -> None:
    with pytest.raises(DesignError, match="has the unit 'kN'; did you mean 'N'"):
        resistance(unit="kN")
    with pytest.raises(DesignError, match="must be above zero"):
        resistance(-1.0)
    with pytest.raises(DesignError, match="must be above zero"):
        resistance(math.nan)
    with pytest.raises(DesignError, match="names no source"):
        Resistance("tension", 1.0, "N", "", "memory")
    with pytest.raises(DesignError, match="demand of nan"):
        resistance().check(math.nan, part="strut", kind="strut")
    with pytest.raises(DesignError, match="load factor on strut is 0"):
        resistance().check(1.0, part="strut", kind="strut", load_factor=0.0)
    with pytest.raises(DesignError, match="factor above zero"):
        resistance().divided(0.0, "nothing")


def test_order_of_failure() -> None:
    """Ratio of successive strengths of 1.3 or more: common practice, no source."""
    links = [Link("bracket", 4000.0), Link("strut", 1500.0), Link("panel", 1800.0)]
    ordered = failure_order(links)
    assert [item[0].name for item in ordered] == ["strut", "panel", "bracket"]
    assert math.isnan(ordered[0][1])
    assert [item[1] for item in ordered[1:]] == pytest.approx([1.2, 4000 / 1800])
    assert [item[2] for item in ordered[1:]] == [False, True]
    assert LINK_STEP == 1.3
    assert link("strut", resistance(1500.0)) == Link("strut", 1500.0)
    with pytest.raises(DesignError, match="two links or more"):
        failure_order(links[:1])
    with pytest.raises(DesignError, match="in Pa"):
        link("glue", resistance(1.0, "Pa"))
