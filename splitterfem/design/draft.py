"""Several changes of a design at once, checked as a whole when all of them are made."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Annotated, Any, get_args, get_origin

from pydantic import BaseModel

from splitterfem.design._change import _item, replaced
from splitterfem.design._pairs import half_names, swapped
from splitterfem.design.cutout import CutOut
from splitterfem.design.parts import Part
from splitterfem.design.splitter import PART_LISTS, Splitter
from splitterfem.errors import DesignError, nearest
from splitterfem.units import Quantity, Written

Changed = Part | CutOut | None


class Draft:
    """A splitter while it is being changed; two ribs that swap their places do not meet on the way.

    Parameters
    ----------
    base : Splitter
        What the changes begin with; it stays as it is.
    """

    def __init__(self, base: Splitter) -> None:
        self._base = base
        self._fields: dict[str, Any] = {}

    def _now(self, field: str) -> Any:
        return self._fields.get(field, getattr(self._base, field))

    def set(self, path: str, value: object) -> None:
        """Change the value at a path; see `Splitter.with_`.

        Raises
        ------
        DesignError
            No such place, or a value that does not fit there.
        """
        field, _, rest = path.partition(".")
        if field not in type(self._base).model_fields:
            raise DesignError(f"there is no field '{field}'; {nearest(field, type(self._base).model_fields)}")
        self._fields[field] = replaced(self._now(field), rest, value) if rest else value

    def move(self, name: str, dx: float, dy: float) -> None:
        """Move a part as a whole by lengths in m; see `Splitter.moved`.

        Raises
        ------
        DesignError
            No such part.
        """
        self._change(name, lambda part: part.shifted(dx, dy))

    def remove(self, name: str) -> None:
        """Take a part out; see `Splitter.without`.

        Raises
        ------
        DesignError
            No such part.
        """
        self._change(name, lambda part: None)

    def design(self) -> Splitter:
        """Return the changed splitter, validated as a whole.

        Raises
        ------
        DesignError
            It cannot be built.
        """
        return self._base.with_(**self._fields) if self._fields else self._base

    def _change(self, name: str, change: Callable[[Any], Changed]) -> None:
        panel = self._now("panel")
        for cutout in panel.cutouts:
            if cutout.name == name:
                new = swapped(panel.cutouts, name, change(cutout))
                self._fields["panel"] = panel.with_(cutouts=new)
                return
        for field in PART_LISTS:
            parts = tuple(
                half
                for part in self._now(field)
                for half in (part.sides() if name in half_names(part) else (part,))
            )
            for part in parts:
                if part.name == name:
                    self._fields[field] = swapped(parts, name, change(part))
                    return
        known = [part.name for part in self._base.parts()]
        raise DesignError(f"there is no part '{name}'; {nearest(name, known) if known else 'there are none'}")


def value_at(splitter: Splitter, path: str) -> tuple[Any, str | None]:
    """Find the value at a path of `Splitter.with_`, and which kind of quantity it is.

    Returns
    -------
    object
        What is there now.
    str or None
        A kind of quantity such as "length"; None where it is none.

    Raises
    ------
    DesignError
        No such place.
    """
    thing: Any = splitter
    owner: tuple[type[BaseModel], str] | None = None
    rest = path
    while rest:
        if isinstance(thing, BaseModel):
            field, _, rest = rest.partition(".")
            if field not in type(thing).model_fields:
                raise DesignError(f"there is no field '{field}'; {nearest(field, type(thing).model_fields)}")
            owner, thing = (type(thing), field), getattr(thing, field)
        elif isinstance(thing, tuple):
            index, rest = _item(thing, rest)
            thing = thing[index]
        else:
            raise DesignError(f"there is nothing below the place before '{rest}'; end the path there")
    return thing, _dimension(thing, owner)


def _dimension(value: Any, owner: tuple[type[BaseModel], str] | None) -> str | None:
    if isinstance(value, Written):
        return value.dimension
    if owner is None or isinstance(value, bool) or not (value is None or isinstance(value, float)):
        return None
    kind, field = owner
    info = kind.model_fields[field]
    found = {quantity.dimension for quantity in _quantities(info.annotation, info.metadata)}
    return found.pop() if len(found) == 1 else None


def _quantities(annotation: Any, metadata: Any = ()) -> Iterator[Quantity]:
    """Every kind of quantity that an annotation speaks of."""
    yield from (note for note in metadata if isinstance(note, Quantity))
    if get_origin(annotation) is Annotated:
        inner, *notes = get_args(annotation)
        yield from _quantities(inner, notes)
        return
    for inner in get_args(annotation):
        yield from _quantities(inner)
