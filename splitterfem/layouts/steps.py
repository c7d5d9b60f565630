"""Steps of a search on one mesh: figures of a layout with their derivatives, and how they are written down."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from splitterfem.layouts.cells import Cell

Slopes = tuple[float, ...]


@dataclass(frozen=True)
class Step:
    """A layout on the mesh of another one.

    Attributes
    ----------
    number : int
        Of the step in its study, from 1.
    start : int
        Layout on whose mesh it stands.
    cells : tuple
        A value for each parameter of the study.
    figures : mapping of str to tuple of (float, tuple of float)
        By the name of a measure: its value in the unit of its column and its derivatives by the parameters that are
        varied, each over its range; for each load case, and for each place that is watched, one.
    watched : mapping of str to tuple of (float, float)
        Places (x, y) in m beside the worst whose sag is among the figures, by load case.
    worst : mapping of str to (float, float)
        Place of the worst sag, by load case; empty when that is not asked for.
    refused : str
        Why it could not be solved or differentiated; empty when it was.
    """

    number: int
    start: int
    cells: tuple[Cell, ...]
    figures: Mapping[str, tuple[tuple[float, Slopes], ...]] = field(default_factory=dict)
    watched: Mapping[str, tuple[tuple[float, float], ...]] = field(default_factory=dict)
    worst: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    refused: str = ""

    def plain(self, names: Sequence[str]) -> dict[str, Any]:
        """Write as plain data, numbers to the last bit.

        Parameters
        ----------
        names : sequence of str
            Of the parameters.
        """
        return {
            "step": self.number,
            "from": self.start,
            "values": dict(zip(names, self.cells, strict=True)),
            "figures": {
                name: [[value, list(slopes)] for value, slopes in found]
                for name, found in self.figures.items()
            },
            "watched": {case: [list(at) for at in places] for case, places in self.watched.items()},
            "worst": {case: list(at) for case, at in self.worst.items()},
            "refused": self.refused,
        }

    @staticmethod
    def from_plain(found: Mapping[str, Any], names: Sequence[str]) -> Step:
        """Read from plain data.

        Raises
        ------
        KeyError, TypeError, ValueError
            If it is no step.
        """
        figures = {
            str(name): tuple((float(value), tuple(map(float, slopes))) for value, slopes in pieces)
            for name, pieces in found["figures"].items()
        }
        watched = {
            str(case): tuple((float(x), float(y)) for x, y in places)
            for case, places in found["watched"].items()
        }
        worst = {str(case): (float(x), float(y)) for case, (x, y) in found["worst"].items()}
        cells = tuple(found["values"][name] for name in names)
        number, start = int(found["step"]), int(found["from"])
        return Step(number, start, cells, figures, watched, worst, str(found["refused"]))
