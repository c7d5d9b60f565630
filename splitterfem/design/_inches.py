"""Places in the messages of a design that was written in inches: in mm and in inches as well."""

from __future__ import annotations

import contextlib
import re
from collections.abc import Iterator, Mapping

from pydantic import BaseModel

from splitterfem.errors import SplitterError
from splitterfem.units import Written

_DEEPEST = 60
_LONGEST = 64
_IMPERIAL = re.compile(
    r"[+-]?[ \d./-]*\d\.? *-?(?:in|inch|inches|ft|foot|feet|thou|[\"'″′])(?![A-Za-z*/^]).*"
)
_METRIC = re.compile(r"[+-]?[\d.eE+-]*\d\.? *(?:mm|cm|m|um|µm)(?![A-Za-z*/^])")
_POINT = r"\((-?\d+\.\d), (-?\d+\.\d)\)"
_NUMBER = r"-?\d+(?:\.\d)?"
_PLACES = re.compile(
    rf"{_POINT}(?:[a-z ]+{_POINT})* mm(?! =)|\b[xy] = -?\d+\.\d mm(?! =)|\bx {_NUMBER}(?: mm)?, y {_NUMBER} mm(?! =)"
)


def mostly_inches(data: object) -> bool:
    """Tell whether most lengths in the data of a design were written in inches or feet.

    Parameters
    ----------
    data : object
        Tables and lists of texts, or records; lengths without words of their own are not counted.
    """
    found = list(_imperial(data, _DEEPEST))
    return 2 * sum(found) > len(found)


def _imperial(data: object, depth: int) -> Iterator[bool]:
    """Iterate over the written lengths; true for each in inches or feet."""
    if not depth:
        return
    if isinstance(data, Written):
        data = data.words if data.dimension == "length" else ""
    if isinstance(data, str) and len(data) <= _LONGEST:
        if _IMPERIAL.fullmatch(data):
            yield True
        elif _METRIC.fullmatch(data):
            yield False
    elif isinstance(data, BaseModel):
        yield from _imperial([getattr(data, name) for name in data.model_fields_set], depth - 1)
    elif isinstance(data, (list, tuple, Mapping)):
        for value in data.values() if isinstance(data, Mapping) else data:
            yield from _imperial(value, depth - 1)


def in_both(text: str) -> str:
    """Give the places in a sentence, which are in mm, in inches as well.

    Examples
    --------
    >>> in_both("lies outside at (254.0, -25.4) mm; move it")
    'lies outside at (254.0, -25.4) mm = (10.00, -1.00) in; move it'
    """
    return _PLACES.sub(lambda found: f"{found[0]} = {_to_inches(found[0])}", text)


def _to_inches(place: str) -> str:
    place = re.sub(r"^[xy] = ", "", place).replace(" mm", "")
    return re.sub(_NUMBER, lambda number: f"{float(number[0]) / 25.4:.2f}", place) + " in"


@contextlib.contextmanager
def places_in_both(design: object) -> Iterator[None]:
    """Give the places in errors raised within in inches as well, when a design was written in inches.

    Parameters
    ----------
    design : object
        As `mostly_inches` takes it.
    """
    try:
        yield
    except SplitterError as problem:
        if mostly_inches(design):
            problem.args = (in_both(str(problem)), *problem.args[1:])
        raise
