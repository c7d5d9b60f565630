"""Bill of materials: what is built, how much of it, and what it costs as far as that is known."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise

import pandas as pd

from splitterfem import materials
from splitterfem.design import Adhesive, Bond, Doubler, Part, Rib, Sheet, Splitter, Strut
from splitterfem.design.crossing import pieces
from splitterfem.model import written_out

COLUMNS = (
    "part", "kind", "material", "count", "length_mm", "area_m2", "volume_cm3", "mass_kg", "cost", "currency",
    "cost_basis",
)  # fmt: skip

CHORD = 1e-5
"""Largest distance of the polygon whose area is taken from the true curves, in m."""

NOT_GIVEN = "not given"

LEFT_OUT = (
    "offcuts",
    "sealing and paint",
    "glue of ideal bonds and under doublers",
    "ends and brackets of struts without a cost of their own",
    "mass of fasteners, pins, bolts, pockets and stops",
    "labour",
)
"""What no row has."""

_SAME = {"": "", "€": "EUR", "EURO": "EUR", "EUROS": "EUR"}
_MOST_NAMES = 6

Row = dict[str, object]
Lines = Sequence[Sequence[tuple[float, float]]]


def bill_of_materials(splitter: Splitter) -> pd.DataFrame:
    """List what is built, with mass and cost.

    Every part has a row, each half of a mirrored pair its own, and so has every joint of a rib that is not an ideal
    bond.  Areas are net, openings and offcuts left out; the length of a notched rib is that of its pieces together.
    The mass of a strut is that of its bar without its ends.  Each fastener of a rib stands for one pitch of a row, as
    in the model, so that a piece of rib has its length over the pitch of them in each row, rounded up.

    The cost of a part is the one given for it, else that of its sheet by area, else by the price of its material.
    The prices of the catalogue are indicative and in euro; nothing is converted, so that each currency has a total
    of its own.

    Parameters
    ----------
    splitter : Splitter

    Returns
    -------
    pandas.DataFrame
        Columns: part, kind ("panel", "doubler", "rib", "joint", "strut", "bolt", "pin", "rear pocket", "stop",
        "total"), material (empty when not known), count (pieces), length_mm, area_m2, volume_cm3 (of glue), mass_kg,
        cost, currency (of the cost), cost_basis (how the cost came about).  nan where something does not apply or is
        not known.  The last rows are the totals, one for each currency; the first of them has the mass.  ``attrs``
        has ``left_out``, a tuple of texts that say what the totals leave out.

    Examples
    --------
    >>> import splitterfem as sf
    >>> bill = sf.bill_of_materials(sf.demo())
    >>> sorted(set(bill["kind"]))
    ['panel', 'pin', 'rear pocket', 'rib', 'strut', 'total']
    """
    rows = list(_rows(splitter))
    bill = pd.DataFrame([*rows, *_totals(rows, splitter.currency)], columns=list(COLUMNS))
    bill.attrs["left_out"] = (*LEFT_OUT, *_unknown(rows))
    return bill


def _rows(splitter: Splitter) -> Iterator[Row]:
    money = splitter.currency
    yield _sheet_row("panel", "panel", splitter.panel.sheet, splitter.panel.polygon(CHORD).area, None, money)
    for doubler in written_out(splitter.doublers):
        yield _doubler(doubler, money)
    ribs = written_out(splitter.ribs)
    for rib in ribs:
        lines = pieces(rib, ribs)
        yield _rib(rib, lines, money)
        if not isinstance(rib.joint, Bond):
            yield _joint(rib, lines)
    for strut in written_out(splitter.struts):
        yield _strut(strut, money)
    for kind, parts in (("bolt", splitter.bolts), ("pin", splitter.pins)):
        for part in written_out(parts):
            yield _row(part.name, kind) | _each(part, money)
    for pocket in written_out(splitter.pockets):
        lip = "" if pocket.resolved is None else pocket.resolved.name
        yield _row(pocket.name, "rear pocket", lip) | _each(pocket, money)
    for stop in written_out(splitter.stops):
        yield _row(stop.name, "stop") | _each(stop, money)


def _row(name: str, kind: str, material: str = "") -> Row:
    row: Row = dict.fromkeys(COLUMNS, math.nan)
    words = {"part": name, "kind": kind, "material": material, "currency": "", "cost_basis": NOT_GIVEN}
    return row | words | {"count": 1.0}


def _each(part: Part, money: str) -> Row:
    """Cost of a part that has one of its own."""
    if part.cost is None:
        return {}
    return {"cost": float(part.cost), "currency": money, "cost_basis": "as given for the part"}


def _rated(amount: float, rate: float, unit: str, money: str) -> Row:
    """Cost of an amount of something at a rate for each unit of it."""
    price = f"{round(rate, 2):.6g} {money}".strip()
    return {
        "cost": amount * float(rate),
        "currency": money,
        "cost_basis": f"{amount:.3f} {unit} at {price} per {unit}, without offcuts",
    }


def _by_material(
    amount: float,
    rate: float | None,
    unit: str,
    money: str,
    material: materials.SheetMaterial | materials.Layup | materials.BarMaterial,
) -> Row:
    """Cost of an amount of a material, in its own currency when its price is that of the catalogue."""
    if rate is None or math.isnan(amount):
        return {}
    if not materials.has_catalogue_price(material):
        row = _rated(amount, rate, unit, money)
        return row | {"cost_basis": f"{row['cost_basis']}; price of the material"}
    row = _rated(amount, rate, unit, materials.CURRENCY)
    other = f"; in {materials.CURRENCY}, not converted to {money}"
    differs = money and _code(money) != materials.CURRENCY
    basis = f"{row['cost_basis']}; indicative, catalogue{other if differs else ''}"
    return row | {"cost_basis": basis, "currency": materials.CURRENCY if differs or not money else money}


def _code(money: str) -> str:
    """Return a currency in capitals, the euro by its code."""
    word = money.strip().upper()
    return _SAME.get(word, word)


def _sheet_row(name: str, kind: str, sheet: Sheet, area: float, part: Part | None, money: str) -> Row:
    material, thickness = sheet.resolved, float(sheet.thickness)
    mass = material.stiffness(thickness).mass_per_area * area
    row = _row(name, kind, material.name) | {"area_m2": area, "mass_kg": mass}
    if part is not None and part.cost is not None:
        return row | _each(part, money)
    if sheet.cost_per_area is not None:
        return row | _rated(area, sheet.cost_per_area, "m2", money)
    return row | _by_material(area, material.price_per_area(thickness), "m2", money, material)


def _doubler(doubler: Doubler, money: str) -> Row:
    area = doubler.outline.polygon(CHORD).area
    return _sheet_row(doubler.name, "doubler", doubler.sheet, area, doubler, money)


def _length(lines: Lines) -> float:
    return math.fsum(math.dist(a, b) for line in lines for a, b in pairwise(line))


def _rib(rib: Rib, lines: Lines, money: str) -> Row:
    material, length = rib.resolved, _length(lines)
    mass = length * rib.section.properties().area * float(material.density)
    row = _row(rib.name, "rib", material.name) | {
        "count": float(len(lines)),
        "length_mm": 1e3 * length,
        "mass_kg": mass,
    }
    cost = _each(rib, money) or _by_material(mass, material.cost_per_mass, "kg", money, material)
    return row | cost


def _joint(rib: Rib, lines: Lines) -> Row:
    """Glue of a rib by volume, or its fasteners by number."""
    joint, length, name = rib.joint, _length(lines), f"{rib.name}, joint"
    assert not isinstance(joint, Bond)
    if isinstance(joint, Adhesive):
        width = rib.foot_width if joint.width is None else float(joint.width)
        area = width * length
        return _row(name, "joint", joint.name or "adhesive") | {
            "count": math.nan,
            "length_mm": 1e3 * length,
            "area_m2": area,
            "volume_cm3": 1e6 * area * float(joint.thickness),
            "mass_kg": math.nan
            if joint.density is None
            else area * float(joint.thickness) * float(joint.density),
        }
    each_row = sum(joint.in_row(_length([line])) for line in lines)
    what = f"{joint.kind}, {1e3 * joint.diameter:.3g} mm"
    return _row(name, "joint", what) | {"count": float(joint.rows * each_row), "length_mm": 1e3 * length}


def _strut(strut: Strut, money: str) -> Row:
    row = _row(strut.name, "strut") | {"length_mm": 1e3 * strut.length}
    if "material" not in strut.model_fields_set and not strut.modulus_fits_material:
        return row | _each(strut, money)  # the default material is not what it is made of
    material, area = strut.resolved, strut.section_area
    mass = math.nan if area is None else strut.length * area * float(material.density)
    cost = _each(strut, money) or _by_material(mass, material.cost_per_mass, "kg", money, material)
    if cost and strut.cost is None:
        cost["cost_basis"] = f"{cost['cost_basis']}; bar without its ends"
    return row | {"material": material.name, "mass_kg": mass} | cost


def _totals(rows: Sequence[Row], money: str) -> Iterator[Row]:
    """Sum the costs of each currency, that of the design first; the mass goes with the first."""
    mass = math.fsum(_number(row["mass_kg"]) for row in rows if _known(row["mass_kg"]))
    priced = [row for row in rows if _known(row["cost"])]
    found = {str(row["currency"]) for row in priced}
    for number, currency in enumerate(sorted(found or {money}, key=lambda one: (one != money, one))):
        costs = [_number(row["cost"]) for row in priced if row["currency"] == currency]
        row = _row("total", "total") | {"count": math.nan, "currency": currency}
        if costs:
            row |= {"cost": math.fsum(costs), "cost_basis": _sum_basis(len(costs), rows)}
        yield row | ({"mass_kg": mass} if number == 0 else {})


def _sum_basis(count: int, rows: Sequence[Row]) -> str:
    unpriced = [str(row["part"]) for row in rows if not _known(row["cost"])]
    without = f"; no cost known of {_names(unpriced)}" if unpriced else ""
    return f"sum of {count} of {len(rows)} rows{without}"


def _unknown(rows: Sequence[Row]) -> Iterator[str]:
    """Say of which parts cost or mass is not known."""
    unpriced = [str(row["part"]) for row in rows if not _known(row["cost"])]
    if unpriced:
        yield f"cost of {', '.join(unpriced)}"
    weighed = ("panel", "doubler", "rib", "strut")
    unweighed = [str(row["part"]) for row in rows if row["kind"] in weighed and not _known(row["mass_kg"])]
    if unweighed:
        yield f"mass of {', '.join(unweighed)}"
    if any(_known(row["volume_cm3"]) and not _known(row["mass_kg"]) for row in rows):
        yield "mass of adhesives"


def _names(names: Sequence[str]) -> str:
    more = len(names) - _MOST_NAMES
    return ", ".join(names[:_MOST_NAMES]) + (f" and {more} more" if more > 0 else "")


def _known(value: object) -> bool:
    return not math.isnan(_number(value))


def _number(value: object) -> float:
    assert isinstance(value, float)
    return value
