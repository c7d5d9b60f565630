"""What all records of a design share: frozen, compared by value, and one readable error."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import (
    TYPE_CHECKING,
    Annotated,
    Any,
    ClassVar,
    Literal,
    NoReturn,
    Self,
    TypeVar,
    cast,
    get_args,
    get_origin,
)

from pydantic import AfterValidator, BaseModel, ConfigDict, Strict, ValidationError
from pydantic_core import PydanticCustomError

from splitterfem.design._sentences import sentences, shown
from splitterfem.errors import DesignError, nearest

_LONGEST_NAME = 60

R = TypeVar("R", bound="Record")


def refuse(sentence: str) -> NoReturn:
    """Raise a validation error whose message is the sentence and nothing else."""
    raise PydanticCustomError("design", "{sentence}", {"sentence": sentence})


def _name(text: str) -> str:
    if not text.strip() or text != text.strip() or len(text) > _LONGEST_NAME or not text.isprintable():
        refuse(
            f"{shown(text)} cannot be a name; write 1 to {_LONGEST_NAME} printable characters "
            "that neither begin nor end with a space"
        )
    return text


Name = Annotated[str, AfterValidator(_name)]
"""Name of a part or a case."""

Flag = Annotated[bool, Strict()]
"""True or false, and nothing that merely looks like it."""


if TYPE_CHECKING:
    from pydantic._internal._model_construction import ModelMetaclass as _Metaclass
else:
    _Metaclass = type(BaseModel)


class _Sayable(_Metaclass):
    """Metaclass that turns the validation error of a constructor into a `DesignError`."""

    def __call__(cls, *args: Any, **fields: Any) -> Any:  # noqa: N805
        try:
            return super().__call__(*args, **fields)
        except ValidationError as problem:
            raise DesignError(told(problem, cast("type[BaseModel]", cls), fields)) from None


def told(problem: ValidationError, root: type[BaseModel], given: Any, *, prefix: str | None = None) -> str:
    """Return the text of an error: a line for each fault, with the place in front.

    Parameters
    ----------
    problem : pydantic.ValidationError
        What went wrong.
    root : type
        Class that was being made.
    given : mapping
        Data from which it was being made.
    prefix : str, optional
        What to put before each line; by default the class and the name, nothing for a whole splitter.
    """
    lines = sentences(problem, root, given)
    if prefix is not None:
        return "\n".join(f"{prefix}: {path}{': ' if path else ''}{text}" for path, text in lines)
    kind = "" if root.__name__ == "Splitter" else root.__name__.lower()
    name = given.get("name") if isinstance(given, Mapping) else None
    owner = f"{kind} {shown(name)}" if kind and isinstance(name, str) else kind
    places = [", ".join(filter(None, (owner, path))) for path, _ in lines]
    return "\n".join(f"{at}{': ' if at else ''}{text}" for at, (_, text) in zip(places, lines, strict=True))


class Record(BaseModel, metaclass=_Sayable):
    """Base of everything in a design: frozen, no unknown fields, equal when the values are equal.

    Raises
    ------
    DesignError
        On construction, with a line for each fault.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", validate_default=False, ser_json_inf_nan="null")

    dropped_by: ClassVar[dict[str, tuple[str, ...]]] = {}
    """Fields that give way when another is changed: alternatives of which one only may be given."""

    def given(self) -> dict[str, Any]:
        """Return the fields that were given, as a constructor takes them."""
        return {
            name: getattr(self, name) for name in type(self).model_fields if name in self.model_fields_set
        }

    def with_(self, **changes: object) -> Self:
        """Return the same record with some fields changed, validated anew.

        Raises
        ------
        DesignError
            An unknown field, or a value that does not fit.
        """
        fields = self.given()
        for changed in changes:
            for other in self.dropped_by.get(changed, ()):
                fields.pop(other, None)
        return type(self)(**{**fields, **changes})

    def model_copy(self, *, update: Mapping[str, Any] | None = None, deep: bool = False) -> Self:
        """Copy as pydantic does, without what was worked out of fields that change."""
        copy = super().model_copy(update=update, deep=deep)
        for name in set(copy.__dict__) - set(type(self).model_fields):
            del copy.__dict__[name]
        return copy

    def __repr__(self) -> str:
        """Write the class and the fields that were given, in words and cut short."""
        try:
            fields = plain(self)
        except Exception:  # a repr must not raise, and a pressure map may be a Python function
            fields = self.given()
        inside = fields if isinstance(fields, dict) else {"": fields}
        text = ", ".join(f"{key}={value!r}".removeprefix("=") for key, value in inside.items())
        return f"{type(self).__name__}({text if len(text) <= 160 else text[:157] + '...'})"

    __str__ = __repr__


def build(
    kind: type[R], given: Mapping[str, Any], *, prefix: str, in_file: bool, folder: Path | None = None
) -> R:
    """Make a record from the data of a file; ``folder`` is where the files lie that it names.

    Raises
    ------
    DesignError
        With a line for each fault, each beginning with the prefix.
    """
    try:
        return kind.model_validate(given, context={"file": in_file, "folder": folder})
    except ValidationError as problem:
        raise DesignError(told(problem, kind, given, prefix=prefix)) from None


def plain(record: BaseModel) -> Any:
    """Return a record as tables, lists, words, numbers and truth values: what was given, and no more."""
    return _pruned(record, record.model_dump(mode="json"))


def _pruned(value: object, dumped: Any) -> Any:
    """Drop the fields that were not given, except the words that pick a record out of a union."""
    if isinstance(value, BaseModel) and isinstance(dumped, dict):
        tables = {
            name: _pruned(getattr(value, name), dumped[name])
            for name, field in type(value).model_fields.items()
            if dumped.get(name) is not None and (name in value.model_fields_set or _picks(field.annotation))
        }
        last = {name: tables.pop(name) for name in ("cost", "mirror") if name in tables}
        return tables | last  # what a part is comes before what it costs and that it is one of a pair
    if isinstance(value, tuple) and isinstance(dumped, list):
        return [_pruned(one, other) for one, other in zip(value, dumped, strict=True)]
    return dumped


def _picks(annotation: object) -> bool:
    """Tell whether a field is a single literal word."""
    return get_origin(annotation) is Literal and len(get_args(annotation)) == 1


def by_name(records: tuple[R, ...], name: str, what: str) -> R:
    """Find a record by its name.

    Raises
    ------
    DesignError
        There is none; the nearest names are given.
    """
    for record in records:
        if getattr(record, "name", None) == name:
            return record
    if not records:
        raise DesignError(f"there is no {what} '{name}', and no {what} at all in this splitter; add one")
    raise DesignError(f"there is no {what} '{name}'; {nearest(name, (str(r.name) for r in records))}")  # type: ignore[attr-defined]
