"""Changing one value deep inside a design, found by a path of fields and names."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ValidationError

from splitterfem.design._record import Record, told
from splitterfem.errors import DesignError, nearest

_AXES = {"x": 0, "y": 1, "z": 2}


def replaced(thing: Any, path: str, value: object) -> Any:
    """Return a copy of a record or a tuple with the value at a path replaced.

    Parameters
    ----------
    thing : Record or tuple
        Where the path begins.
    path : str
        Fields, names of parts and axes, joined by full stops: ``"front left.foot.x"``, ``"sheet.thickness"``.
    value : object
        What to put there.

    Raises
    ------
    DesignError
        The path leads nowhere; the nearest names are given.
    """
    if isinstance(thing, BaseModel):
        field, rest = _field(thing, path)
        return _with(thing, field, replaced(getattr(thing, field), rest, value) if rest else value)
    if isinstance(thing, tuple):
        index, rest = _item(thing, path)
        changed = replaced(thing[index], rest, value) if rest else value
        return (*thing[:index], changed, *thing[index + 1 :])
    raise _nothing_below(path)


def found(thing: Any, path: str) -> Any:
    """Return what is at a path of fields and names, as for :func:`replaced`.

    Raises
    ------
    DesignError
        The path leads nowhere; the nearest names are given.
    """
    if isinstance(thing, BaseModel):
        field, rest = _field(thing, path)
        value = getattr(thing, field)
    elif isinstance(thing, tuple):
        index, rest = _item(thing, path)
        value = thing[index]
    else:
        raise _nothing_below(path)
    return found(value, rest) if rest else value


def _field(record: BaseModel, path: str) -> tuple[str, str]:
    """Field of a record with which a path begins, and the rest of the path."""
    field, _, rest = path.partition(".")
    if field not in type(record).model_fields:
        raise DesignError(f"there is no field '{field}'; {nearest(field, type(record).model_fields)}")
    return field, rest


def _nothing_below(path: str) -> DesignError:
    return DesignError(f"there is nothing below the place before '{path}'; end the path there")


def _with(record: BaseModel, field: str, value: object) -> BaseModel:
    """Change one field of a record, also of one of the catalogue's classes, and validate it."""
    if isinstance(record, Record):
        return record.with_(**{field: value})
    fields = {name: getattr(record, name) for name in record.model_fields_set} | {field: value}
    try:
        return type(record).model_validate(fields)
    except ValidationError as problem:
        raise DesignError(told(problem, type(record), fields)) from None


def _item(items: tuple[Any, ...], path: str) -> tuple[int, str]:
    """Find an item by name, axis or number counted from one; return its index and the path left."""
    names = {getattr(item, "name", None): index for index, item in enumerate(items)}
    known = sorted((name for name in names if name), key=len, reverse=True)
    for name in known:
        if path == name or path.startswith(f"{name}."):
            return names[name], path[len(name) + 1 :]
    step, _, rest = path.partition(".")
    number = _AXES.get(step, -1) if not known else -1
    if step.startswith("#") and step[1:].isdecimal():
        number = int(step[1:]) - 1
    if not 0 <= number < len(items):
        raise DesignError(f"there is no '{step}' here; {nearest(step, known or ['x', 'y', 'z', '#1'])}")
    return number, rest
