"""What is written at the head of a report: for whom, by whom, on which paper, in which units."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, field
from typing import Literal, TypedDict

from splitterfem.errors import DesignError, nearest
from splitterfem.output.origin import today
from splitterfem.output.wording import System, Words, words_for

Paper = Literal["a4", "letter"]

PAPERS: dict[str, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Width and height in mm: ISO 216, and 8 1/2 by 11 in (ANSI/ASME Y14.1 size A)."""
USUAL_PAPER: dict[System, Paper] = {"metric": "a4", "us": "letter"}

LONGEST = 200
"""Letters of a title or a name at the head of a report."""


class FrontOptions(TypedDict, total=False):
    """Options of a report that its head is made of; see `Front`."""

    units: System
    paper: Paper | None
    title: str
    prepared_for: str
    prepared_by: str
    job: str


@dataclass(frozen=True)
class Front:
    """The head of a report.

    Attributes
    ----------
    units : {"metric", "us"}
    paper : {"a4", "letter"} or None
        None for the usual one: Letter with US units, else A4.
    date : datetime.date
    title : str
        In place of the name of the splitter; empty for that.
    prepared_for, prepared_by, job : str
        Customer, shop, and number or name of the job; empty for none.

    Raises
    ------
    DesignError
        The paper is unknown, or a text is too long or has characters that cannot be printed.
    UnitError
        Another system of units.
    """

    units: System = "metric"
    paper: Paper | None = None
    date: datetime.date = field(default_factory=today)
    title: str = ""
    prepared_for: str = ""
    prepared_by: str = ""
    job: str = ""

    def __post_init__(self) -> None:
        words_for(self.units)
        if self.paper is not None and self.paper not in PAPERS:
            raise DesignError(f"There is no paper '{self.paper}'; {nearest(str(self.paper), PAPERS)}")
        for name in ("title", "prepared_for", "prepared_by", "job"):
            _check_text(name, getattr(self, name))

    @property
    def words(self) -> Words:
        """Units for people."""
        return words_for(self.units)

    @property
    def sheet(self) -> Paper:
        """The paper, or the usual one."""
        return self.paper or USUAL_PAPER[self.units]


def _check_text(name: str, text: object) -> None:
    if not isinstance(text, str):
        raise DesignError(f"The {name} of a report is {text!r}; give a text.")
    if len(text) > LONGEST or not (text.isprintable() or not text):
        shown = text if len(text) <= 40 else text[:40] + "..."
        raise DesignError(
            f"The {name} of a report is {shown!r}; give one line of at most {LONGEST} printable characters."
        )
