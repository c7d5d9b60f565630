"""Bill of materials: what is built, how much of it, and what it costs where costs are given."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

import pandas as pd

from splitterfem.design import Doubler, Part, Rib, Sheet, Splitter, Strut
from splitterfem.design.crossing import pieces
from splitterfem.model import written_out

COLUMNS = ("part", "kind", "material", "length_mm", "area_m2", "mass_kg", "cost", "cost_basis")

CHORD = 1e-5
"""Largest distance of the polygon whose area is taken from the true curves, in m."""

NOT_GIVEN = "not given"

Row = dict[str, object]


def bill_of_materials(splitter: Splitter) -> pd.DataFrame:
    """List what is built, with mass and cost.

    Every part has a row, each half of a mirrored pair its own.  Areas are net, openings and offcuts left out; the
    length of a notched rib is that of its pieces together.  The mass of a strut is that of its bar without its ends.
    Fasteners and adhesive of ribs are not listed.  Costs are indicative: they are those in the design, for each part
    or for what it is cut from, and are not converted.

    Parameters
    ----------
    splitter : Splitter

    Returns
    -------
    pandas.DataFrame
        Columns: part, kind ("panel", "doubler", "rib", "strut", "bolt", "pin", "rear pocket"), material (empty when
        not known), length_mm, area_m2, mass_kg, cost (in the currency of the splitter), cost_basis (how the cost
        came about).  nan where something does not apply or is not known.

    Examples
    --------
    >>> import splitterfem as sf
    >>> bill = sf.bill_of_materials(sf.demo())
    >>> sorted(set(bill["kind"]))
    ['panel', 'pin', 'rear pocket', 'rib', 'strut']
    """
    return pd.DataFrame(list(_rows(splitter)), columns=list(COLUMNS))


def _rows(splitter: Splitter) -> Iterator[Row]:
    money = splitter.currency
    yield _sheet_row("panel", "panel", splitter.panel.sheet, splitter.panel.polygon(CHORD).area, None, money)
    for doubler in written_out(splitter.doublers):
        yield _doubler(doubler, money)
    ribs = written_out(splitter.ribs)
    for rib in ribs:
        yield _rib(rib, ribs, money)
    for strut in written_out(splitter.struts):
        yield _strut(strut, money)
    for kind, parts in (("bolt", splitter.bolts), ("pin", splitter.pins)):
        for part in written_out(parts):
            yield _row(part.name, kind) | _each(part)
    for pocket in written_out(splitter.pockets):
        lip = "" if pocket.resolved is None else pocket.resolved.name
        yield _row(pocket.name, "rear pocket", lip) | _each(pocket)


def _row(name: str, kind: str, material: str = "") -> Row:
    row: Row = dict.fromkeys(COLUMNS, math.nan)
    return row | {"part": name, "kind": kind, "material": material, "cost_basis": NOT_GIVEN}


def _each(part: Part) -> Row:
    """Cost of a part that has one of its own."""
    return {} if part.cost is None else {"cost": float(part.cost), "cost_basis": "as given for the part"}


def _rated(amount: float, rate: float | None, unit: str, money: str) -> Row:
    """Cost of an amount of something at a rate for each unit of it."""
    if rate is None:
        return {}
    price = f"{rate:.6g} {money}".strip()
    return {
        "cost": amount * float(rate),
        "cost_basis": f"{amount:.3f} {unit} at {price} per {unit}, without offcuts",
    }


def _sheet_row(name: str, kind: str, sheet: Sheet, area: float, part: Part | None, money: str) -> Row:
    material = sheet.resolved
    mass = material.stiffness(float(sheet.thickness)).mass_per_area * area
    cost = _rated(area, sheet.cost_per_area, "m2", money) | ({} if part is None else _each(part))
    return _row(name, kind, material.name) | {"area_m2": area, "mass_kg": mass} | cost


def _doubler(doubler: Doubler, money: str) -> Row:
    area = doubler.outline.polygon(CHORD).area
    return _sheet_row(doubler.name, "doubler", doubler.sheet, area, doubler, money)


def _rib(rib: Rib, ribs: tuple[Rib, ...], money: str) -> Row:
    lines = pieces(rib, ribs)
    length = math.fsum(math.dist(a, b) for line in lines for a, b in pairwise(line))
    material = rib.resolved
    mass = length * rib.section.properties().area * float(material.density)
    row = _row(rib.name, "rib", material.name) | {"length_mm": 1e3 * length, "mass_kg": mass}
    return row | _each(rib)


def _strut(strut: Strut, money: str) -> Row:
    row = _row(strut.name, "strut") | {"length_mm": 1e3 * strut.length} | _each(strut)
    if "material" not in strut.model_fields_set and not strut.modulus_fits_material:
        return row  # the default material is not what it is made of
    material, area = strut.resolved, strut.section_area
    mass = math.nan if area is None else strut.length * area * float(material.density)
    return row | {"material": material.name, "mass_kg": mass}
