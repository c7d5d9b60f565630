"""What is asked of a layout, by name, with units and limits; and what its design tells unsolved: mass and cost."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from splitterfem.analysis.bill import bill_of_materials
from splitterfem.design import Splitter
from splitterfem.errors import DesignError, nearest
from splitterfem.units import quantity

Better = Literal["low", "high"]
Row = dict[str, Any]


@dataclass(frozen=True)
class Asked:
    """A figure that is asked of each layout.

    Attributes
    ----------
    name : str
        One of `NAMES`, or "sag at (x, y)" with the place in mm.
    unit : str
        Of its figures in tables; empty when they have none.
    better : {"low", "high"}
    scope : {"case", "solved", "design"}
        Read off each load case; once off the solved model; or off the design before anything is solved.
    at : tuple of float or None
        Place (x, y) in m, when it has one.
    """

    name: str
    unit: str
    better: Better
    scope: Literal["case", "solved", "design"]
    at: tuple[float, float] | None = None

    @property
    def column(self) -> str:
        """Its column in tables: for a load case, the worst of all of them."""
        return f"{self.name} {self.unit}".strip()

    def column_in(self, case: str) -> str:
        """Its column for one of several load cases."""
        return f"{case}: {self.column}"

    @property
    def text_columns(self) -> tuple[str, ...]:
        """Columns of words beside it."""
        return _TEXTS.get(self.name, ())

    def spec(self) -> Any:
        """Write as plain data."""
        return self.name if self.at is None else {"sag at": list(self.at)}


_PLAIN = (
    Asked("worst sag", "mm", "low", "case"),
    Asked("mean sag", "mm", "low", "case"),
    Asked("least clearance", "mm", "high", "case"),
    Asked("downforce", "N", "high", "case"),
    Asked("worst utilisation", "", "low", "case"),
    Asked("first frequency", "Hz", "high", "solved"),
    Asked("envelope distance", "mm", "high", "solved"),
    Asked("mass", "kg", "low", "design"),
    Asked("cost", "", "low", "design"),
)
NAMES = tuple(one.name for one in _PLAIN)
"""Measures by name; a place (x, y) stands for the sag there."""

USUAL = ("worst sag", "least clearance", "mass")
"""Measures when none are named."""

_TEXTS = {
    "worst utilisation": ("worst utilisation of", "worst utilisation at"),
    "envelope distance": ("envelope limit",),
    "cost": ("cost lacks",),
}

_KINDS = {"mm": "length", "N": "force", "kg": "mass", "Hz": "frequency", "": "number"}
_SI = {"mm": 1e-3, "N": 1.0, "kg": 1.0, "Hz": 1.0, "": 1.0}


def asked(base: Splitter, given: Iterable[Any] | None = None) -> tuple[Asked, ...]:
    """Read which measures are asked.

    Parameters
    ----------
    base : Splitter
        Its currency is that of the cost.
    given : list of str, (x, y) or mapping, optional
        Names of `NAMES`; a place, in words or in m, or ``{"sag at": (x, y)}``, for the sag there.  `USUAL` when left
        out.

    Raises
    ------
    DesignError
        If one is unknown, there are none, or it cannot be read off this design.
    UnitError
        If a place is none.
    """
    wanted = USUAL if given is None else ((given,) if isinstance(given, str) else tuple(given))
    if not wanted:
        raise DesignError(
            f"A study needs at least one measure; known: {', '.join(NAMES)}, or a place (x, y)."
        )
    found = tuple(dict.fromkeys(_one(base, one) for one in wanted))
    for one in found:
        if one.name == "envelope distance" and base.envelope is None:
            raise DesignError(
                f"The distance to the envelope is asked, but '{base.name}' has none; give it one with the limits of "
                "your rulebook."
            )
    return found


def _one(base: Splitter, given: Any) -> Asked:
    if isinstance(given, Asked):
        return given
    if isinstance(given, Mapping):
        key = next(iter(given), None)
        if len(given) != 1 or key not in ("sag at", "sag_at"):
            raise DesignError(
                f'the measure {dict(given)!r:.60} is none; write {{"sag at": ["480 mm", "0 mm"]}}'
            )
        given = given[key]
    if isinstance(given, str):
        for one in _PLAIN:
            if one.name == given:
                return _with_currency(base) if given == "cost" else one
        raise DesignError(f"there is no measure '{given}'; {nearest(given, NAMES)}")
    if not isinstance(given, Sequence) or len(given) != 2:
        raise DesignError(f"{given!r:.60} is no measure; known: {', '.join(NAMES)}, or a place (x, y)")
    x, y = (float(quantity(c, "length", name="place")) for c in given)
    return Asked(f"sag at ({1e3 * x:.6g}, {1e3 * y:.6g})", "mm", "low", "case", (x, y))


def _with_currency(base: Splitter) -> Asked:
    return Asked("cost", _totals(base)[0][1], "low", "design")


def limit_of(one: Asked, given: Any) -> float:
    """Read a limit on a measure, in the unit of its column.

    Raises
    ------
    UnitError
        If it is of another kind.
    """
    if one.name == "cost":
        return float(quantity(given, "number", name=f"limit on {one.name}"))
    si = float(quantity(given, _KINDS[one.unit], name=f"limit on {one.name}"))
    return si / _SI[one.unit]


def columns(chosen: Sequence[Asked], cases: Sequence[str]) -> list[str]:
    """Columns of a row of measures, in order."""
    found: list[str] = []
    for one in chosen:
        found.append(one.column)
        if one.scope == "case" and len(cases) > 1:
            found += [f"{one.name} in", *(one.column_in(case) for case in cases)]
        found += one.text_columns
    return found


def design_row(chosen: Sequence[Asked], design: Splitter) -> Row:
    """Read what needs no solution off a design: mass of panel, doublers, ribs and struts as far as known, and cost.

    Raises
    ------
    DesignError
        If the cost is asked and is in several currencies.
    """
    if not any(one.scope == "design" for one in chosen):
        return {}
    totals = _totals(design)
    row: Row = {}
    for one in chosen:
        if one.name == "mass":
            row[one.column] = totals[0][2]
        elif one.name == "cost":
            if len(totals) > 1 or totals[0][1] != one.unit:
                found = " and ".join(currency or "no currency" for _, currency, _ in totals)
                raise DesignError(
                    f"The cost of this layout is in {found}, that of the study in {one.unit or 'no currency'}: give "
                    "all prices in one currency."
                )
            row[one.column], row["cost lacks"] = totals[0][0], _lacks(design)
    return row


def _totals(design: Splitter) -> list[tuple[float, str, float]]:
    """Cost, currency and mass of each total of the bill of materials."""
    bill = bill_of_materials(design)
    last = bill[bill["kind"] == "total"]
    return [
        (float(cost), str(money), float(mass))
        for cost, money, mass in zip(last["cost"], last["currency"], last["mass_kg"], strict=True)
    ]


def _lacks(design: Splitter) -> str:
    bill = bill_of_materials(design)
    unpriced = bill[bill["cost"].isna() & (bill["kind"] != "total")]
    return ", ".join(str(part) for part in unpriced["part"])
