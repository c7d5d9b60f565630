"""A study as a text file: what is changed, for which load cases, and what is asked."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from splitterfem.design import Splitter
from splitterfem.design._sentences import clean, shown
from splitterfem.design.toml_file import read_toml
from splitterfem.errors import FileError, SplitterError, nearest
from splitterfem.layouts.measures import asked, limit_of
from splitterfem.layouts.parameters import Parameter, parameter
from splitterfem.layouts.ways import AtPaths, Move, Presence, Way
from splitterfem.units import words

VERSION = 1

_SHARED = ("version", "kind", "cases", "measures", "fresh_mesh", "parameters")
_SEARCH = ("objectives", "limits", "layouts", "seed", "refine")
_PARAMETER = ("name", "path", "paths", "move", "along", "part", "values", "from", "to", "steps", "choices")
_PLAIN = ("cost", "worst utilisation")
"""Measures whose limits have no unit."""

KINDS = ("sweep", "search")

MOST = {"layouts": 100_000, "refine": 100_000, "seed": 2**31 - 1}
"""Largest whole numbers of a search."""


@dataclass(frozen=True, eq=False)
class StudyFile:
    """What a study file says.

    Attributes
    ----------
    kind : {"sweep", "search"}
    parameters : tuple of Parameter
    cases : list of str
    options : dict
        Measures, mesh, and for a search objectives, limits, layouts, seed and refine, as far as they are given.
    """

    kind: str
    parameters: tuple[Parameter, ...]
    cases: list[str]
    options: dict[str, Any] = field(default_factory=dict)


def read_study_file(path: str | os.PathLike[str], base: Splitter) -> StudyFile:
    """Read a study file.

    Parameters
    ----------
    path : path
        TOML, UTF-8, with ``version = 1`` and ``kind``; every quantity is a text with its unit.
    base : Splitter
        What the study changes.

    Raises
    ------
    FileError
        One sentence that names file, table and field.
    """
    place = Path(path)
    data = read_toml(place, "study file")
    try:
        return _read(data, base)
    except SplitterError as problem:
        raise FileError(f"{place.name}: {problem}") from None


def _read(data: dict[str, Any], base: Splitter) -> StudyFile:
    if isinstance(data.get("version"), bool) or data.get("version") != VERSION:
        raise FileError(f"version is {_said(data, 'version')}; write version = {VERSION}")
    kind = data.get("kind")
    if kind not in KINDS:
        raise FileError(f'kind is {_said(data, "kind")}; write kind = "sweep" or kind = "search"')
    known = (*_SHARED, *(_SEARCH if kind == "search" else ()))
    for name in data:
        if name not in known:
            other = "; it belongs to a search" if name in _SEARCH else f"; {nearest(name, known)}"
            raise FileError(f"there is no field '{name}' in a {kind}{other}")
    cases = data.get("cases")
    if not isinstance(cases, list) or not cases or not all(isinstance(case, str) for case in cases):
        raise FileError('cases are to be names of load cases; write for example cases = ["straight"]')
    for case in cases:
        try:
            base.case(case)
        except SplitterError as problem:
            raise FileError(f"cases: {problem}") from None
    tables = data.get("parameters")
    if not isinstance(tables, list) or not tables or not all(isinstance(one, dict) for one in tables):
        raise FileError("parameters are missing; write a table [[parameters]] for each thing that is changed")
    chosen = tuple(_parameter(number, table, base) for number, table in enumerate(tables, start=1))
    return StudyFile(kind, chosen, cases, _options(data, base))


def _said(data: Mapping[str, Any], name: str) -> str:
    """Write what a field holds, or that it is not there."""
    return shown(data[name]) if name in data else "missing"


def _options(data: Mapping[str, Any], base: Splitter) -> dict[str, Any]:
    """Check the other fields."""
    kinds: dict[str, tuple[type, str]] = {
        "measures": (list, 'a list such as ["worst sag", "mass"]'),
        "fresh_mesh": (bool, "true or false"),
        "objectives": (list, 'a list such as ["mass", "worst sag"]'),
        "limits": (dict, 'a table such as { "worst utilisation" = 1.0, "least clearance" = "40 mm" }'),
        "layouts": (int, "a whole number"),
        "seed": (int, "a whole number"),
        "refine": (int, "a whole number"),
    }
    found = {name: data[name] for name in kinds if name in data}
    for name, value in found.items():
        kind, right = kinds[name]
        if not isinstance(value, kind) or (kind is int and isinstance(value, bool)):
            raise FileError(f"{name} is {value!r:.60}; write {right}")
    for name, limit in found.get("limits", {}).items():
        if isinstance(limit, bool) or not isinstance(limit, (int, float, str)):
            raise FileError(f"limits.{name} is {limit!r:.60}; write a text with a unit, or a plain number")
        if not isinstance(limit, str) and name not in _PLAIN:
            raise FileError(f"limits.{name}: {limit!r} has no unit; write a text with its unit")
    for name, least in (("layouts", 1), ("refine", 0), ("seed", 0)):
        if name in found and not least <= found[name] <= MOST[name]:
            raise FileError(
                f"{name} is {shown(found[name])}; give a whole number from {least} to {MOST[name]}"
            )
    for name in ("measures", "objectives"):
        _measures(name, found, base)
    _measures("limits", found, base)
    return found


def _measures(field: str, found: Mapping[str, Any], base: Splitter) -> None:
    """Refuse measures that are none, and limits that do not fit theirs."""
    given = found.get(field)
    try:
        chosen = asked(base, list(given)) if given else ()
        if isinstance(given, dict):
            for one, limit in zip(chosen, given.values(), strict=True):
                limit_of(one, limit)
    except SplitterError as problem:
        raise FileError(f"{field}: {problem}") from None


def _parameter(number: int, table: dict[str, Any], base: Splitter) -> Parameter:
    label = f"parameters.{clean(str(table.get('name', f'#{number}')), 60)}"
    for name in table:
        if name not in _PARAMETER:
            raise FileError(f"{label}: there is no field '{name}'; {nearest(name, _PARAMETER)}")
    if "name" in table and not (isinstance(table["name"], str) and table["name"].strip()):
        raise FileError(f"{label}: name is {table['name']!r:.40}; write a text")
    way = _way(label, table)
    try:
        values = _values(label, table, way)
        _refuse_bare(label, values, way.dimension(base))
        return parameter(base, way, values, name=table.get("name"))
    except FileError:
        raise
    except SplitterError as problem:
        text = str(problem).partition("': ")[2] or str(problem)
        raise FileError(f"{label}: {text}") from None


def _refuse_bare(label: str, values: Any, dimension: str | None) -> None:
    """Refuse numbers without a unit where there is to be one."""
    if dimension in (None, "number") or values is None:
        return
    some = (
        values[:2] if isinstance(values, tuple) else values.values() if isinstance(values, dict) else values
    )
    for value in some:
        if isinstance(value, (int, float)) and not isinstance(value, bool):
            raise FileError(
                f'{label}: {value!r} has no unit; write a text such as "{words(1.0, str(dimension))}"'
            )


def _way(label: str, table: Mapping[str, Any]) -> Way:
    given = [name for name in ("path", "paths", "move", "part") if name in table]
    if len(given) != 1:
        raise FileError(
            f"{label}: has {' and '.join(given) or 'none of path, paths, move and part'}; write exactly one of the four"
        )
    (name,) = given
    value = table[name]
    texts = value if name == "paths" and isinstance(value, list) and value else [value]
    if not all(isinstance(text, str) for text in texts) or (name == "paths" and not isinstance(value, list)):
        raise FileError(
            f"{label}: {name} is {value!r:.60}; write {'a list of texts' if name == 'paths' else 'a text'}"
        )
    if name == "move":
        along = table.get("along")
        if along not in ("dx", "dy"):
            raise FileError(
                f'{label}: along is {_said(table, "along")}; write "dx" for forward or "dy" for to the left'
            )
        return Move(value, along)
    if "along" in table:
        raise FileError(f"{label}: along belongs to move; leave it out")
    return Presence(value) if name == "part" else AtPaths(tuple(texts))


def _values(label: str, table: Mapping[str, Any], way: Way) -> Any:
    given = [name for name in ("values", "from", "choices") if name in table]
    if isinstance(way, Presence) and not given:
        return None
    if len(given) != 1:
        raise FileError(
            f"{label}: has {' and '.join(given) or 'none of values, from and choices'}; write exactly one of the three"
        )
    for name, kind, right in (("values", list, "a list"), ("choices", dict, "a table of labels and values")):
        if name in table and not isinstance(table[name], kind):
            raise FileError(f"{label}: {name} is {table[name]!r:.60}; write {right}")
    if "from" not in table:
        for name in ("to", "steps"):
            if name in table:
                raise FileError(f"{label}: has {name} without from; write from as well, or leave it out")
        return table[given[0]]
    if "to" not in table:
        raise FileError(f"{label}: has from without to; write both ends of the range")
    ends = (table["from"], table["to"])
    return (*ends, table["steps"]) if "steps" in table else ends
