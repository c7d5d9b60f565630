"""Types of fields that several records share."""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator, Discriminator, Field, Tag

from splitterfem import materials
from splitterfem.design._record import refuse
from splitterfem.design._sentences import shown
from splitterfem.errors import DesignError
from splitterfem.units import Quantity


def name_or_table(value: object) -> str:
    """Tell a name in the catalogue from a material written out."""
    return "<name>" if isinstance(value, str) else "<table>"


def _bar_in_catalogue(name: str) -> str:
    try:
        materials.bar(name)
    except DesignError as problem:
        refuse(str(problem))
    return name


def _sheet_in_catalogue(name: str) -> str:
    try:
        materials.sheet(name)
    except DesignError as problem:
        refuse(str(problem))
    return name


BarChoice = Annotated[
    Annotated[str, AfterValidator(_bar_in_catalogue), Tag("<name>")]
    | Annotated[materials.BarMaterial, Tag("<table>")],
    Discriminator(name_or_table),
]
"""A bar material: its name in the catalogue, or one's own."""

SheetChoice = Annotated[
    Annotated[str, AfterValidator(_sheet_in_catalogue), Tag("<name>")]
    | Annotated[materials.Sheet, Tag("<table>")],
    Discriminator(name_or_table),
]
"""A sheet material: its name in the catalogue, or one's own."""

PositiveForce = Annotated[float, Quantity("force", above=0.0)]
"""A strength or a rating."""

Cost = Annotated[float, Quantity("number", least=0.0)]
"""A plain number, in the currency of the splitter."""

SafetyFactor = Annotated[float, Quantity("number", least=1.0)]
"""Something that a strength is divided by."""

_LONGEST_CURRENCY = 12


def _readable(text: str) -> str:
    for character in text:
        if not character.isprintable() and character not in "\n\t":
            refuse(f"has the character {character!r}, which cannot be printed; leave it out")
    return text


def _currency(text: str) -> str:
    if text != text.strip() or not text.isprintable() or len(text) > _LONGEST_CURRENCY:
        refuse(
            f"{shown(text)} is not a currency; write at most {_LONGEST_CURRENCY} printable characters, "
            'such as "EUR"'
        )
    return text


Note = Annotated[str, Field(max_length=5000), AfterValidator(_readable)]
"""Text of several lines."""

Currency = Annotated[str, AfterValidator(_currency)]
"""Name or sign of a currency; empty when no costs are given."""


def bar_of(choice: str | materials.BarMaterial) -> materials.BarMaterial:
    """Return the bar material itself, looked up in the catalogue when given by name."""
    return materials.bar(choice) if isinstance(choice, str) else choice
