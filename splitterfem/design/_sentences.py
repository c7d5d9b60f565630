"""Validation errors put into sentences: ``table.field: what was found and what would be right``."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, get_args

from pydantic import BaseModel, ValidationError

from splitterfem.errors import nearest
from splitterfem.units import Written

MOST_LINES = 20
"""Lines of one error; a file with more faults than that has one cause for most of them."""


def sentences(problem: ValidationError, root: type[BaseModel], given: object) -> list[tuple[str, str]]:
    """Return path and sentence of each fault.

    Parameters
    ----------
    problem : pydantic.ValidationError
        What went wrong.
    root : type
        Class that was being made.
    given : object
        Data from which it was being made.
    """
    lines: list[tuple[str, str]] = []
    for fault in problem.errors(include_url=False):
        if fault["type"] == "design_check":
            lines += [(path, text) for path, text in fault["ctx"]["findings"]]
            continue
        path, owners = _trace(root, fault["loc"], given)
        lines.append((path, _sentence(dict(fault), owners)))
    if len(lines) > MOST_LINES:
        lines[MOST_LINES:] = [("", f"and {len(lines) - MOST_LINES} more faults")]
    return [(clean(path), clean(text)) for path, text in lines]


def _trace(
    root: type[BaseModel], place: Sequence[str | int], given: object
) -> tuple[str, list[type[BaseModel]]]:
    """Follow a place through the classes and the data; return its path in words and the owning classes."""
    owners, models, data, path = [root], [root], given, list[str]()
    for step in place:
        if isinstance(step, int):
            path.append(_label(data, step, path[-1] if path else ""))
            data = data[step] if isinstance(data, (list, tuple)) and step < len(data) else None
            continue
        tagged = [model for model in models if _has_tag(model, step)] if len(models) > 1 else []
        having = [model for model in models if step in model.model_fields]
        if tagged:  # first, for a tag may be called like a field
            models = owners = tagged
        elif having:
            owners = having
            models = [m for model in having for m in _models_in(model.model_fields[step].annotation)]
            data = data.get(step) if isinstance(data, Mapping) else getattr(data, step, None)
            path.append(step)
        elif step == place[-1] and not step.startswith("<"):
            owners = models or owners
            path.append(step)
    return ".".join(path), owners


def _label(row: object, index: int, field: str) -> str:
    """Name an item of a list: by its name, by its axis, or by its number counted from one."""
    if isinstance(row, (list, tuple)) and index < len(row):
        item = row[index]
        name = item.get("name") if isinstance(item, Mapping) else getattr(item, "name", None)
        if isinstance(name, str) and name.isprintable() and 0 < len(name) <= 60:
            return name
        plain = not any(isinstance(value, (list, tuple, Mapping)) for value in row)
        if plain and 2 <= len(row) <= 3 and field not in ("x", "y", "holds"):
            return "xyz"[index]
    return f"#{index + 1}"


def _models_in(annotation: object) -> list[type[BaseModel]]:
    """Collect the model classes that an annotation mentions."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [model for part in get_args(annotation) for model in _models_in(part)]


def _has_tag(model: type[BaseModel], tag: str) -> bool:
    """Tell whether one of a model's fields is the literal tag that picks it out of a union."""
    return any(tag in get_args(field.annotation) for field in model.model_fields.values())


def _sentence(fault: dict[str, Any], owners: Sequence[type[BaseModel]]) -> str:
    """Say in one sentence what was found and what would be right."""
    kind, found, hints = fault["type"], shown(fault.get("input")), fault.get("ctx", {})
    match kind:
        case "missing":
            return "is missing; write it"
        case "extra_forbidden":
            fields = {name for owner in owners for name in owner.model_fields}
            return f"there is no such field; {nearest(str(fault['loc'][-1]), fields)}"
        case "literal_error":
            words = [word.strip(" '") for word in hints["expected"].replace(" or ", ",").split(",")]
            return f"{found} is not a choice here; {nearest(str(fault.get('input')), words)}"
        case "union_tag_invalid":
            words = [word.strip(" '") for word in hints["expected_tags"].split(",")]
            return f"{shown(hints['tag'])} is not a {_bare(hints)}; {nearest(str(hints['tag']), words)}"
        case "union_tag_not_found":
            return f"is not a table with the field {_bare(hints)}; write it to say which one is meant"
        case "model_type" | "model_attributes_type" | "dict_type" | "dataclass_type":
            return f"{found} is not a table; write its fields with their names"
        case "tuple_type" | "list_type":
            if isinstance(fault.get("input"), Mapping):
                return "is a single table; write its heading in double square brackets, for there can be many"
            return f"{found} is not a list; write it in square brackets"
        case "too_short" | "too_long":
            least = kind == "too_short"
            limit = hints["min_length" if least else "max_length"]
            return f"has {hints['actual_length']} items; give {'at least' if least else 'at most'} {limit}"
        case "string_type":
            return f"{found} is not a text; write it in double quotes"
        case "bool_type" | "bool_parsing":
            return f"{found} is neither true nor false; write one of them without quotes"
    return str(fault["msg"]).removeprefix("Value error, ").removeprefix("Assertion failed, ")


def _bare(hints: Mapping[str, Any]) -> str:
    return str(hints["discriminator"]).strip("'")


def shown(value: object) -> str:
    """Write a value as found, cut short."""
    if isinstance(value, Written):
        value = value.words
    text = f'"{value}"' if isinstance(value, str) else str(value)
    return clean(text, 60)


def clean(text: str, longest: int = 600) -> str:
    """Return a text on one line without characters that cannot be printed, cut short when it is long."""
    text = "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in text[: longest + 1])
    return text if len(text) <= longest else text[: longest - 3] + "..."
