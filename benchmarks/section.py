"""What a section of the benchmarks hands back: tables with notes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from importlib.util import find_spec

Row = dict[str, object]
"""One row of a table: name of the column, and what stands there."""


@dataclass(frozen=True)
class Table:
    """A table.

    Attributes
    ----------
    title : str
    rows : list of Row
    notes : tuple of str
        Sentences above it: what is compared, units, sources.
    printed : bool
        Whether it is printed and in the Markdown file, or in the JSON file alone.
    """

    title: str
    rows: list[Row]
    notes: tuple[str, ...] = ()
    printed: bool = True


@dataclass(frozen=True)
class Options:
    """How much is measured.

    Attributes
    ----------
    quick, long : bool
        Few small meshes, for a look; or rows that take minutes besides.
    """

    quick: bool = False
    long: bool = False

    @property
    def repeats(self) -> int:
        """How often a time is measured; the least counts."""
        return 1 if self.quick else 3


@dataclass(frozen=True)
class Section:
    """A section that can be chosen.

    Attributes
    ----------
    name, title : str
    measure : callable
        Makes its tables.
    needs : tuple of (str, str)
        Modules that have to be installed, and the extra of this project that brings each.
    """

    name: str
    title: str
    measure: Callable[[Options], list[Table]]
    needs: tuple[tuple[str, str], ...] = field(default=())

    def missing(self) -> str | None:
        """Sentence that tells what is not installed; None if nothing is."""
        for module, extra in self.needs:
            if find_spec(module) is None:
                return (
                    f"Section {self.name} is left out: it needs {module}, which is not installed; "
                    f"python -m pip install '.[{extra}]'."
                )
        return None
