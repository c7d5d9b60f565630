"""Rows of a strength table: what resists, what acts, how far it is used, and where the figure comes from.

A `Resistance` is what a part can carry in one mode, with its source; a `Check` sets a demand against it.
Everything is in SI units inside; `utilisation_table` writes MPa, N, N m, mm and N/mm for people.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal, get_args

from splitterfem.errors import DesignError, nearest

if TYPE_CHECKING:
    import pandas as pd

Basis = Literal["published", "user", "memory", "indicative", "practice"]
"""How well a figure is known, best first.

``published``: compared with the source named or a public transcription of it. ``user``: given by the user.
``memory``: recalled from the source named and not compared since. ``indicative``: a usual value within a wide
range. ``practice``: common practice, no source.
"""

BASES: tuple[Basis, ...] = get_args(Basis)

PEOPLE: dict[str, tuple[float, str]] = {
    "N": (1.0, "N"),
    "Pa": (1e-6, "MPa"),
    "N m": (1.0, "N m"),
    "N/m": (1e-3, "N/mm"),
    "m": (1e3, "mm"),
    "-": (1.0, "-"),
}
"""SI units of a check, with the factor to the unit that people read."""

COLUMNS = (
    "part",
    "kind",
    "mode",
    "ratio",
    "demand",
    "allowable",
    "unit",
    "x_mm",
    "y_mm",
    "basis",
    "source",
    "note",
)


@dataclass(frozen=True)
class Check:
    """One demand against one allowable.

    Attributes
    ----------
    part : str
        Name of the part.
    kind : str
        What it is: panel, strut, pin, bolt, rib, joint, rear pocket, stop.
    x, y : float
        Place in m; nan when it has none.
    mode : str
        How it would fail.
    demand : float
        Load factor included, in ``demand_unit``.
    demand_unit : str
        One of N, Pa, N m, N/m, m, - (a ratio of its own, as from an interaction formula).
    allowable : float
        In ``demand_unit``; nan when none is known.
    ratio : float
        Utilisation: 1 is the limit; nan when it cannot be judged.
    basis : str
        How well the allowable is known, see `Basis`.
    source : str
        Where it comes from.
    note : str
        What to know beside it.

    Raises
    ------
    DesignError
        If the unit or the basis is none of those, or the figures contradict each other.
    """

    part: str
    kind: str
    x: float
    y: float
    mode: str
    demand: float
    demand_unit: str
    allowable: float
    ratio: float
    basis: Basis
    source: str
    note: str = ""

    def __post_init__(self) -> None:
        _known(f"The check '{self.mode}' of {self.part}", self.demand_unit, self.basis, self.source)
        if not (math.isfinite(self.demand) and self.demand >= 0.0):
            raise DesignError(
                f"The check '{self.mode}' of {self.part} has a demand of {self.demand:g} {self.demand_unit}; "
                f"give its size, zero or more."
            )
        if math.isinf(self.allowable) or self.allowable <= 0.0 or math.isinf(self.ratio) or self.ratio < 0.0:
            raise DesignError(
                f"The check '{self.mode}' of {self.part} has an allowable of {self.allowable:g} and a ratio of "
                f"{self.ratio:g}; give an allowable above zero and a ratio of zero or more, or nan for unknown."
            )


@dataclass(frozen=True)
class Resistance:
    """What a part carries in one mode.

    Attributes
    ----------
    mode : str
        How it would fail.
    value : float
        In ``unit``, above zero.
    unit : str
        One of N, Pa, N m, N/m, m.
    source : str
        Where the formula and its figures come from.
    basis : str
        How well they are known, see `Basis`.
    note : str
        What to know beside it, and what it was divided by.

    Raises
    ------
    DesignError
        If the value is not above zero, or the unit or the basis is none of those.
    """

    mode: str
    value: float
    unit: str
    source: str
    basis: Basis
    note: str = ""

    def __post_init__(self) -> None:
        _known(f"The resistance '{self.mode}'", self.unit, self.basis, self.source)
        if not (math.isfinite(self.value) and self.value > 0.0):
            raise DesignError(
                f"The resistance '{self.mode}' is {self.value:g} {self.unit}; it must be above zero."
            )

    def divided(self, divisor: float, reason: str) -> Resistance:
        """Return the resistance over a partial factor or a factor of safety.

        Parameters
        ----------
        divisor : float
            Above zero; k_mod enters as ``1 / k_mod``.
        reason : str
            What the divisor stands for; it goes into the note.

        Raises
        ------
        DesignError
            If the divisor is not above zero.
        """
        if not (math.isfinite(divisor) and divisor > 0.0):
            raise DesignError(
                f"The resistance '{self.mode}' is to be divided by {divisor:g} ({reason}); "
                f"give a factor above zero."
            )
        return replace(
            self, value=self.value / divisor, note=joined(self.note, f"divided by {divisor:.4g} ({reason})")
        )

    def check(
        self,
        demand: float,
        *,
        part: str,
        kind: str,
        x: float = math.nan,
        y: float = math.nan,
        load_factor: float = 1.0,
    ) -> Check:
        """Set a demand against the resistance.

        Parameters
        ----------
        demand : float
            In the unit of the resistance; its size counts.
        part, kind : str
            Of the part.
        x, y : float
            Place in m.
        load_factor : float
            Multiplies the demand.

        Raises
        ------
        DesignError
            If the demand is not finite or the load factor is not above zero.
        """
        if not (math.isfinite(load_factor) and load_factor > 0.0):
            raise DesignError(f"The load factor on {part} is {load_factor:g}; give one above zero.")
        acting = load_factor * abs(demand)
        note = self.note if load_factor == 1.0 else joined(self.note, f"load factor {load_factor:g}")
        return Check(
            part=part,
            kind=kind,
            x=x,
            y=y,
            mode=self.mode,
            demand=acting,
            demand_unit=self.unit,
            allowable=self.value,
            ratio=acting / self.value,
            basis=self.basis,
            source=self.source,
            note=note,
        )


def weakest(*bases: Basis) -> Basis:
    """Return the least certain of several bases.

    Examples
    --------
    >>> weakest("published", "memory", "user")
    'memory'
    """
    return max(bases, key=BASES.index)


def least(resistances: Iterable[Resistance]) -> Resistance:
    """Return the smallest of several resistances in the same unit.

    Raises
    ------
    DesignError
        If there is none, or their units differ.
    """
    found = list(resistances)
    if len({r.unit for r in found}) != 1:
        units = ", ".join(sorted({r.unit for r in found})) or "none"
        raise DesignError(f"Resistances in {units} cannot be compared; give one or more in the same unit.")
    return min(found, key=lambda r: r.value)


def utilisation_table(checks: Iterable[Check]) -> pd.DataFrame:
    """Write checks as a table, worst first; those that could not be judged stand last.

    Columns: part, kind, mode, ratio (1 is the limit), demand, allowable, unit (of both: N, MPa, N m, N/mm, mm),
    x_mm, y_mm, basis, source, note.

    Parameters
    ----------
    checks : iterable of Check
    """
    import pandas as pd

    rows = []
    for check in checks:
        factor, unit = PEOPLE[check.demand_unit]
        rows.append(
            {
                "part": check.part,
                "kind": check.kind,
                "mode": check.mode,
                "ratio": check.ratio,
                "demand": factor * check.demand,
                "allowable": factor * check.allowable,
                "unit": unit,
                "x_mm": 1e3 * check.x,
                "y_mm": 1e3 * check.y,
                "basis": check.basis,
                "source": check.source,
                "note": check.note,
            }
        )
    table = pd.DataFrame(rows, columns=list(COLUMNS))
    return table.sort_values("ratio", ascending=False, na_position="last", kind="stable", ignore_index=True)


def joined(*notes: str) -> str:
    """Join notes that are not empty with semicolons."""
    return "; ".join(note for note in notes if note)


def _known(what: str, unit: str, basis: str, source: str) -> None:
    if unit not in PEOPLE:
        raise DesignError(f"{what} has the unit '{unit}'; {nearest(unit, PEOPLE)}")
    if basis not in BASES:
        raise DesignError(f"{what} has the basis '{basis}'; {nearest(basis, BASES)}")
    if not source:
        raise DesignError(f"{what} names no source; say where its figures come from.")
