"""The catalogue of sheet and bar materials that comes with the library, found by name."""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Iterable, Mapping
from functools import cache
from typing import Any, TypeVar

from splitterfem.errors import DesignError, nearest
from splitterfem.materials._files import IN_FILE, catalogue
from splitterfem.materials.bar import BarMaterial
from splitterfem.materials.layup import Layup
from splitterfem.materials.sheet import SheetMaterial

_T = TypeVar("_T")

_SIZE = re.compile(r"([0-9]{1,3}(?:\.[0-9]{1,3})?) ?mm")

CURRENCY = "EUR"
"""Of the prices in the catalogue, which are indicative."""


def sheet(name: str) -> SheetMaterial | Layup:
    """Find a sheet material or a layup of the catalogue.

    Parameters
    ----------
    name : str
        Such as ``"birch plywood 12 mm"`` or ``"carbon/foam panel 11 mm"``; capitals and repeated blanks do not
        matter.

    Raises
    ------
    DesignError
        If the catalogue has no such sheet.

    Examples
    --------
    >>> sheet("birch plywood 12 mm").thickness
    0.012
    """
    return _find(name, _sheets(), "sheet material")


def bar(name: str) -> BarMaterial:
    """Find a bar material of the catalogue, such as ``"6063-T5 extrusion"``.

    Raises
    ------
    DesignError
        If the catalogue has no such bar material.
    """
    return _find(name, _bars(), "bar material")


def sheet_names() -> tuple[str, ...]:
    """Names of the sheet materials and layups in the catalogue."""
    return tuple(_sheets())


def bar_names() -> tuple[str, ...]:
    """Names of the bar materials in the catalogue."""
    return tuple(_bars())


def has_catalogue_price(material: SheetMaterial | Layup | BarMaterial) -> bool:
    """Tell whether a material is priced, and as the catalogue prices the one of its name.

    Such a price is in `CURRENCY`, whatever the currency of a design; any other is in that of the design.
    """
    known = _bars() if isinstance(material, BarMaterial) else _sheets()
    found = known.get(material.name)
    price = _price(material)
    return found is not None and any(part is not None for part in price) and price == _price(found)


def _price(material: SheetMaterial | Layup | BarMaterial) -> tuple[float | None, float | None]:
    """Price per area and per mass."""
    return getattr(material, "cost_per_area", None), getattr(material, "cost_per_mass", None)


def _find(name: str, known: Mapping[str, _T], what: str) -> _T:
    wanted = " ".join(str(name).split()).casefold()
    for key, record in known.items():
        if key.casefold() == wanted:
            return record
    raise DesignError(f"The catalogue has no {what} '{name}'; {_nearest_size(wanted, known)}")


def _nearest_size(wanted: str, known: Iterable[str]) -> str:
    """Hint at the nearest names, among boards of one kind at those of the nearest thickness."""
    size = _SIZE.search(wanted)
    families: dict[str, list[str]] = {}
    for name in known if size else ():
        families.setdefault(_SIZE.sub("", name.casefold()), []).append(name)
    alike = difflib.get_close_matches(_SIZE.sub("", wanted), families, n=1, cutoff=0.75)
    boards = [board for board in families[alike[0]] if _SIZE.search(board)] if alike else []
    if size is None or not boards:
        return nearest(wanted, known)
    apart = {board: abs(_thickness(board) - float(size[1])) for board in boards}
    near = sorted(boards, key=apart.__getitem__)[: 1 if min(apart.values()) == 0.0 else 2]
    return "did you mean " + " or ".join(f"'{board}'" for board in near) + "?"


def _thickness(name: str) -> float:
    found = _SIZE.search(name)
    return float(found[1]) if found else math.nan


@cache
def _bars() -> dict[str, BarMaterial]:
    records = [BarMaterial.model_validate(row, context=IN_FILE) for row in catalogue("bars.toml")["bar"]]
    return {record.name: record for record in records}


@cache
def _sheets() -> dict[str, SheetMaterial | Layup]:
    content = catalogue("sheets.toml")
    rows = [row for family in content["family"] for row in _family_rows(family)] + content["sheet"]
    records: list[SheetMaterial | Layup] = [
        SheetMaterial.model_validate(row, context=IN_FILE) for row in rows
    ]
    records += [Layup.model_validate(row, context=IN_FILE) for row in content["layup"]]
    return {record.name: record for record in records}


def _family_rows(family: dict[str, Any]) -> list[dict[str, Any]]:
    """Spread the table of a family of boards into one record for each row."""
    common = {key: value for key, value in family.items() if key != "table"}
    table = family["table"]
    rows = []
    for label, *values in table["rows"]:
        row = {**common, "strength": dict(common["strength"]), "name": common["name"].format(label)}
        for column, unit, value in zip(table["columns"], table["units"], values, strict=True):
            if value != "-":
                group, _, field = column.rpartition(".")
                (row[group] if group else row)[field] = f"{value} {unit}"
        row["notes"] = " ".join(filter(None, (common["notes"], table["notes"].get(label))))
        rows.append(row)
    return rows
