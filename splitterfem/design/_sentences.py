"""Validation errors put into sentences: ``table.field: what was found and what would be right``."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, get_args

from pydantic import BaseModel, ValidationError

from splitterfem.design._inches import in_both, mostly_inches
from splitterfem.errors import nearest
from splitterfem.materials._record import causes
from splitterfem.units import Written

_TAGS = ("kind", "shape")

_PYTHON_ONLY = "function"
"""A kind that is not offered, for a file cannot hold it and who writes Python knows it."""

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
    faults = causes(problem)
    for fault in faults[:MOST_LINES]:
        if fault["type"] == "design_check":
            lines += [(path, text) for path, text in fault["ctx"]["findings"]]
            continue
        path, owners, models = _trace(root, fault["loc"], given)
        lines.append((path, _sentence(dict(fault), owners, models)))
    more = max(0, len(lines) - MOST_LINES) + len(faults[MOST_LINES:])
    if more:
        lines[MOST_LINES:] = [("", f"and {more} more faults")]
    inches = mostly_inches(given)
    return [(clean(path), clean(in_both(text) if inches else text)) for path, text in lines]


def _trace(
    root: type[BaseModel], place: Sequence[str | int], given: object
) -> tuple[str, list[type[BaseModel]], list[type[BaseModel]]]:
    """Follow a place through the classes and the data.

    Returns its path in words, the classes that own it, and those that it can hold.
    """
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
    return ".".join(path), owners, models


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


def _sentence(
    fault: dict[str, Any], owners: Sequence[type[BaseModel]], models: Sequence[type[BaseModel]]
) -> str:
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
            words = [
                word.strip(" '") for word in hints["expected_tags"].split(",") if _PYTHON_ONLY not in word
            ]
            return f"{shown(hints['tag'])} is not a {_bare(hints)}; {_choices(str(hints['tag']), words)}"
        case "union_tag_not_found":
            return _untagged(fault.get("input"), _bare(hints), models)
        case "model_type" | "model_attributes_type" | "dict_type" | "dataclass_type":
            tag = _tag_of(models)
            if tag:
                return _untagged(fault.get("input"), tag, models)
            return f"{found} is not a table; write its fields with their names"
        case "tuple_type" | "list_type":
            if isinstance(fault.get("input"), Mapping):
                return "is a single table; write its heading in double square brackets, for there can be many"
            return f"{found} is not a list; write it in square brackets"
        case "too_short" | "too_long":
            least = kind == "too_short"
            limit, count = hints["min_length" if least else "max_length"], hints["actual_length"]
            return f"has {count} item{'' if count == 1 else 's'}; give {'at least' if least else 'at most'} {limit}"
        case "string_type":
            return f"{found} is not a text; write it in double quotes"
        case "bool_type" | "bool_parsing":
            return f"{found} is neither true nor false; write one of them without quotes"
    return str(fault["msg"]).removeprefix("Value error, ").removeprefix("Assertion failed, ")


def _tag_of(models: Sequence[type[BaseModel]]) -> str | None:
    """Return the field that tells several models apart."""
    if len(models) < 2:
        return None
    return next((tag for tag in _TAGS if all(tag in model.model_fields for model in models)), None)


def _choices(word: str, words: Sequence[str]) -> str:
    """Give the nearest choices and all of them."""
    hint, known = nearest(word, words), ", ".join(sorted(words))
    return hint if hint.endswith(known) else f"{hint} (choices: {known})"


def _untagged(found: object, tag: str, models: Sequence[type[BaseModel]]) -> str:
    """Say that a table lacks the word that tells what it is, or that there is no table."""
    fields = [model.model_fields[tag].annotation for model in models if tag in model.model_fields]
    words = sorted({word for annotation in fields for word in get_args(annotation)} - {_PYTHON_ONLY})
    known = ", ".join(words)
    if not isinstance(found, Mapping):
        if isinstance(found, str) and found in words:
            return f'{shown(found)} is not a table; write {{ {tag} = "{found}" }}, with its other fields'
        return f"{shown(found)} is not a table; write one with the field {tag} (choices: {known})"
    for key, value in found.items():
        meant = next((word for word in words if word == value), None)
        if meant or nearest(str(key), [tag]).startswith("did you mean"):
            mend = f'write {tag} = "{meant}" in its place' if meant else f"write {tag} in its place"
            return f"has a field {shown(key)} but no {tag}; {mend} (choices: {known})"
    return f"has no {tag}; write it to say which one is meant (choices: {known})"


def _bare(hints: Mapping[str, Any]) -> str:
    return str(hints["discriminator"]).strip("'")


def shown(value: object) -> str:
    """Write a value as found, cut short."""
    if isinstance(value, Written):
        value = value.words
    if isinstance(value, str):
        return f'"{clean(value, 58)}"'
    return clean(str(value), 60)


def clean(text: str, longest: int = 600) -> str:
    """Return a text on one line without characters that cannot be printed, cut short when it is long."""
    text = "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in text[: longest + 1])
    return text if len(text) <= longest else text[: longest - 3] + "..."
