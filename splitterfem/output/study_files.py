"""The table of a study as files, and back: comma-separated values, Parquet, and the study's own file."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pandas as pd

from splitterfem.design import Splitter
from splitterfem.errors import DesignError, FileError, MissingExtraError
from splitterfem.layouts.cells import Cell
from splitterfem.layouts.journal import read_journal
from splitterfem.layouts.measures import columns
from splitterfem.layouts.parameters import Parameter
from splitterfem.layouts.plan import Plan, plan_from
from splitterfem.layouts.results import Study, text_columns
from splitterfem.layouts.solving import Done
from splitterfem.layouts.whereabouts import seen_from
from splitterfem.output import files
from splitterfem.output.csv_text import harmless, without_mark
from splitterfem.output.origin import input_of, versions

BESIDE = ".study.json"
"""Ending of the file beside comma-separated values that says what they are of."""

_KEY = b"splitterfem study"
_MOST_BYTES = 500_000_000


def write_csv(study: Study, path: str | os.PathLike[str]) -> Path:
    """Write a study's table as comma-separated values, and beside it what it is of, so that designs can be made again.

    The file beside it has the same name with the ending ``.study.json``.

    Parameters
    ----------
    study : Study
    path : path
        An existing file is replaced when the new one is complete.

    Raises
    ------
    FileError
        A file cannot be written.
    DesignError
        The study changes its design by a Python function.
    """
    place = Path(path)
    about = json.dumps(_about(study, place), indent=1, ensure_ascii=True)
    with files.replaced_together([place, place.with_suffix(BESIDE)]) as (table, beside):
        harmless(study.table.reset_index()).to_csv(table, index=False, lineterminator="\n")
        beside.write_text(about + "\n", encoding="ascii", newline="\n")
    return place


def write_parquet(study: Study, path: str | os.PathLike[str]) -> Path:
    """Write a study's table as Parquet, with what it is of in the file's own notes.

    Raises
    ------
    FileError
        The file cannot be written.
    MissingExtraError
        The package that writes Parquet is not installed.
    DesignError
        The study changes its design by a Python function.
    """
    arrow, parquet = _pyarrow()
    table = study.table.reset_index()
    for one in study.plan.parameters:
        if table[one.column].dtype == object and not _truths(one):
            table[one.column] = table[one.column].map(str)
    made = arrow.Table.from_pandas(table, preserve_index=False)
    notes = {**(made.schema.metadata or {}), _KEY: json.dumps(_about(study, Path(path))).encode()}
    with files.replaced(path) as temporary:
        parquet.write_table(made.replace_schema_metadata(notes), temporary)
    return Path(path)


def read_study(path: str | os.PathLike[str], *, base: Splitter | None = None) -> Study:
    """Read a study from its own file, from comma-separated values or from Parquet.

    Parameters
    ----------
    path : path
        What the study was told to write, whole or interrupted.
    base : Splitter, optional
        In place of the base design that was written down.

    Raises
    ------
    FileError
        The file is missing, damaged or none of those.
    MissingExtraError
        The package that reads Parquet is not installed.
    """
    place = Path(path)
    if not os.path.isfile(place):  # which a name that is too long makes false, and no error
        raise FileError(f"there is no file {place}; check its name and folder")
    if place.suffix.lower() == ".csv":
        beside = place.with_suffix(BESIDE)
        about = _checked(
            _text(beside, f"; it is written beside {place.name} and tells what that is of"), beside
        )
        return _from_table(_csv(place), about, place, base)
    with place.open("rb") as stream:
        if stream.read(4) == b"PAR1":
            return _from_parquet(place, base)
    header, done, steps = read_journal(place)
    plan = plan_from(header, base=base, place=place, what=place.name)
    layouts = tuple(done[number] for number in sorted(done))
    total = _total(plan, header)
    return Study(
        plan, layouts, max(total, len(layouts)), len(layouts) >= total, place, steps=tuple(steps.values())
    )


def _total(plan: Plan, header: Mapping[str, Any]) -> int:
    """How many layouts a study was to have."""
    more = header.get("more", {})
    if isinstance(more.get("layouts"), int):
        return int(more["layouts"])
    if plan.kind == "sweep":
        count = 1
        for one in plan.parameters:
            count *= len(one.cells)
        return count
    return 0


def _about(study: Study, place: Path) -> dict[str, Any]:
    """Say what a study is of, with fingerprint and versions."""
    made = {"input": input_of(study.plan.base), "versions": dict(versions())}
    return {**seen_from(study.plan.header, place), **made, "finished": study.finished, "total": study.total}


def _checked(text: str, place: Path) -> dict[str, Any]:
    try:
        found = json.loads(text)
    except (ValueError, RecursionError):
        found = None
    if not isinstance(found, dict):
        raise FileError(f"{place} is damaged; write the study's table again")
    return found


def _text(place: Path, hint: str) -> str:
    try:
        if place.stat().st_size > _MOST_BYTES:
            raise FileError(
                f"{place} is larger than {_MOST_BYTES // 1_000_000} MB; it is no study of this library"
            )
        return place.read_text(encoding="utf-8")
    except OSError:
        raise FileError(f"there is no file {place}{hint}") from None
    except UnicodeDecodeError:
        raise FileError(f"{place} is not UTF-8 text; write the study's table again") from None


def _csv(place: Path) -> pd.DataFrame:
    import io

    text = _text(place, "; check its name and folder")
    try:
        table = pd.read_csv(io.StringIO(text), dtype=str, keep_default_na=False)
        return table.map(without_mark).rename(columns=without_mark)
    except (ValueError, pd.errors.ParserError) as problem:
        raise FileError(
            f"{place} is no table of comma-separated values ({problem!s:.80}); write it again"
        ) from None


def _from_parquet(place: Path, base: Splitter | None) -> Study:
    _, parquet = _pyarrow()
    try:
        table = parquet.read_table(place)
    except (OSError, ValueError) as problem:
        raise FileError(f"{place} cannot be read ({problem!s:.80}); write it again") from None
    note = (table.schema.metadata or {}).get(_KEY)
    if note is None:
        raise FileError(f"{place} is no table of a study; give one that a study wrote")
    about = _checked(note.decode(), place)
    return _from_table(table.to_pandas(), about, place, base)


def _from_table(table: pd.DataFrame, about: dict[str, Any], place: Path, base: Splitter | None) -> Study:
    plan = plan_from(about, base=base, place=place, what=place.name)
    missing = [name for name in ["layout", *plan.columns] if name not in table.columns]
    if missing:
        raise FileError(f"{place} has no column '{missing[0]}'; write the study's table again")
    words = text_columns(plan)
    figures = columns(plan.measures, plan.cases)
    done = []
    for number, row in enumerate(table.to_dict("records"), start=2):
        try:
            cells = tuple(cell_from(one, row[one.column]) for one in plan.parameters)
            found = {name: str(row[name]) if name in words else _number(row[name]) for name in figures}
            done.append(Done(int(row["layout"]), cells, found, str(row["refused"])))
        except (TypeError, ValueError) as problem:
            raise FileError(f"{place}, line {number}: {problem}") from None
    done.sort(key=lambda one: one.number)
    return Study(plan, tuple(done), int(about.get("total", len(done))), bool(about.get("finished", True)))


def _number(value: Any) -> float:
    return float("nan") if value == "" or value is None else float(value)


def cell_from(one: Parameter, value: Any) -> Cell:
    """Find the value of a parameter that a table shows.

    Raises
    ------
    DesignError
        If it is none of them.
    """
    if one.span is not None:
        number = float(value)
        one.given(number)
        return number
    for cell, _ in one.choices:
        if str(cell) == str(value) or (
            isinstance(cell, (int, float)) and not isinstance(cell, bool) and _close(cell, value)
        ):
            return cell
    raise DesignError(f"'{one.name}' has no value {value!s:.40}; write the study's table again")


def _close(cell: float, value: Any) -> bool:
    try:
        return abs(float(value) - cell) <= 1e-9 * max(abs(cell), 1e-12)
    except (TypeError, ValueError):
        return False


def _truths(one: Parameter) -> bool:
    return bool(one.choices) and all(isinstance(cell, bool) for cell, _ in one.choices)


def _pyarrow() -> tuple[Any, Any]:
    try:
        import pyarrow
        from pyarrow import parquet
    except ImportError:
        raise MissingExtraError(
            "Parquet files need pyarrow: install it with  pip install 'splitterfem[parquet]'  or write comma-separated "
            "values."
        ) from None
    return pyarrow, parquet
