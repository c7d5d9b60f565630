"""How a design file is laid out: short tables on one line, parts as tables of their own."""

from __future__ import annotations

from typing import Any

import tomlkit
from tomlkit.items import AoT, Array, InlineTable, Table

_LINE = 100
_OWN_TABLE = {
    "panel", "outline", "drawing", "sheet", "tunnel", "car", "mesh", "strength", "envelope", "bodywork",
    "vibration",
}  # fmt: skip
_IN_LINES = ("edges", "forces", "plies", "combines", "widths", "deflections", "added")
"""Lists of short tables that are written as one array, each on a line of its own."""


def text_of(data: dict[str, Any]) -> str:
    """Write nested tables as TOML.

    Parameters
    ----------
    data : dict
        Texts, numbers, truth values, lists and tables.

    Returns
    -------
    str
        Numbers of any kind read back as the same; the order is that of the fields.
    """
    document = tomlkit.document()
    _fill(document, data)
    return document.as_string()


def _fill(table: Any, data: dict[str, Any]) -> None:
    """Put plain values first, as TOML demands, then the tables."""
    items = {key: _item(key, value) for key, value in data.items()}
    tables = {key: item for key, item in items.items() if isinstance(item, (Table, AoT))}
    for key, item in items.items():
        if key not in tables:
            table.add(key, item)
    for key, item in tables.items():
        table.add(key, item)


def _item(key: str, value: Any) -> Any:
    if isinstance(value, dict):
        return _table(value) if key in _OWN_TABLE or not _fits(key, value) else _inline(value)
    if isinstance(value, list) and value and all(isinstance(one, dict) for one in value):
        if key not in _IN_LINES or not all(_fits("", one) for one in value):
            return _tables(value)
        return _array([_inline(one) for one in value], every_line=True)
    if isinstance(value, list):
        return _array([_value(one) for one in value], every_line=len(str(value)) > _LINE)
    return _value(value)


def _value(value: Any) -> Any:
    if isinstance(value, list):
        return _array([_value(one) for one in value], every_line=False)
    if isinstance(value, dict):
        return _inline(value)
    if isinstance(value, str) and "\n" in value:
        return tomlkit.string(value, multiline=True) if "\r" not in value else tomlkit.string(value)
    return tomlkit.item(value)


def _fits(key: str, value: dict[str, Any]) -> bool:
    """Tell whether a table is short enough for one line."""
    return len(key) + len(_inline(value).as_string()) + 3 <= _LINE


def _inline(value: dict[str, Any]) -> InlineTable:
    table = tomlkit.inline_table()
    for key, one in value.items():
        table.append(key, _value(one))
    return table


def _table(value: dict[str, Any]) -> Table:
    table = tomlkit.table()
    _fill(table, value)
    return table


def _tables(value: list[dict[str, Any]]) -> AoT:
    tables = tomlkit.aot()
    for one in value:
        tables.append(_table(one))
    return tables


def _array(items: list[Any], *, every_line: bool) -> Array:
    array = tomlkit.array()
    for item in items:
        array.append(item)
    return array.multiline(every_line)
