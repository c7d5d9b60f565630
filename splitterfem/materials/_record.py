"""What all material records share: frozen, nothing unknown, readable errors, a stated source."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, Literal, NoReturn, cast

from pydantic import BaseModel, ConfigDict, Field, ValidationError
from pydantic_core import ErrorDetails, PydanticCustomError

from splitterfem.errors import DesignError, nearest
from splitterfem.units import Quantity

if TYPE_CHECKING:  # the metaclass has no public name; only the type checker needs one
    from pydantic._internal._model_construction import ModelMetaclass
else:
    ModelMetaclass = type(BaseModel)

Basis = Literal["published", "memory", "indicative", "user"]
"""How well a record is known.

``published``: figures compared with the source named. ``memory``: recalled from the source named and not
compared with it since. ``indicative``: a usual value within a wide range. ``user``: given by the user.
"""

Name = Annotated[str, Field(min_length=1, max_length=80)]

Cost = Annotated[float, Quantity("number", least=0.0)]
"""A plain number: the price of a square metre or a kilogram."""


class _OneError(ModelMetaclass):
    """Metaclass that turns the validation error of a constructor into a `DesignError`.

    It leaves validation inside a larger record alone, which has its own way of saying where a fault is.
    """

    def __call__(cls, *args: Any, **fields: Any) -> Any:  # noqa: N805
        kind = cast("type[BaseModel]", cls)
        try:
            return super().__call__(*args, **fields)
        except ValidationError as problem:
            faults = [_sentence(fault, kind) for fault in causes(problem)]
            raise DesignError("\n".join(f"{cls.__name__}{fault}" for fault in faults)) from None


class Record(BaseModel, metaclass=_OneError):
    """Base of the material records.

    Raises
    ------
    DesignError
        On construction, with a line for each fault.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")


class Sourced(Record):
    """A record with a name and a source.

    Parameters
    ----------
    name : str
        What people call it.
    source : str
        Where the figures come from.
    basis : {"published", "memory", "indicative", "user"}
        How well they are known.
    notes : str
        What to know before using them.
    """

    name: Name
    source: str = "given by the user"
    basis: Basis = "user"
    notes: str = ""


def causes(problem: ValidationError) -> list[ErrorDetails]:
    """Return the faults without those that follow from others: a list too short for want of its faulty items."""
    faults = problem.errors(include_url=False)
    return [
        fault
        for fault in faults
        if fault["type"] != "too_short"
        or not any(
            other is not fault and other["loc"][: len(fault["loc"])] == fault["loc"] for other in faults
        )
    ]


def refuse(sentence: str) -> NoReturn:
    """Raise a validation error whose message is the sentence and nothing else."""
    raise PydanticCustomError("design", "{sentence}", {"sentence": sentence})


def _sentence(fault: ErrorDetails, kind: type[BaseModel]) -> str:
    """Write a fault as its place and what is wrong there."""
    place = "".join(f".{step}" if isinstance(step, str) else f" #{step + 1}" for step in fault["loc"])
    said = fault["msg"]
    if fault["type"] == "missing":
        said = "is missing; give it"
    elif fault["type"] == "extra_forbidden" and len(fault["loc"]) == 1:
        said = f"there is no such field; {nearest(str(fault['loc'][0]), kind.model_fields)}"
    elif fault["type"] == "literal_error":
        words = [word.strip(" '") for word in fault["ctx"]["expected"].replace(" or ", ",").split(",")]
        said = f'"{fault["input"]!s:.40}" is not a choice here; {nearest(str(fault["input"]), words)}'
    return f"{place}: {said}"
