"""How a drawing lies in the car's axes, and what a reader of drawings gives back."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from splitterfem.curves import Point
from splitterfem.design.cutout import CutOut
from splitterfem.design.outline import Outline
from splitterfem.errors import DesignError, FileError, UnitError, nearest, neighbours
from splitterfem.units import quantity, unit_name

LARGEST = 10.0
SMALLEST = 0.02
"""Limits of the extent of a panel (m); what lies outside of them has the wrong unit."""

_QUARTER_TURNS = {"+x": 0, "+y": -1, "-x": 2, "-y": 1}
"""Quarter turns, counter-clockwise, that bring a direction of the drawing to the car's +x."""


@dataclass(frozen=True)
class Drawing:
    """A panel as read from a file.

    Parameters
    ----------
    outline : Outline
        Of the panel, counter-clockwise (m, car's axes).
    cutouts : tuple of CutOut
        The openings, from the front backwards and from left to right.
    report : tuple of str
        What was read and what was done to it, a sentence each: unit, axes, ends joined, entities left out,
        curves replaced.
    """

    outline: Outline
    cutouts: tuple[CutOut, ...]
    report: tuple[str, ...]


@dataclass(frozen=True)
class Frame:
    """The unit and the axes of a drawing seen from above.

    Parameters
    ----------
    unit : str
        Of its numbers.
    factor : float
        Metres in that unit.
    forward : {"+x", "-x", "+y", "-y"}
        Direction in the drawing in which the car drives; its left is to the left of that.
    origin : (float, float)
        Point of the drawing, in its own axes (m), where the front axle line meets the centre plane.
    """

    unit: str
    factor: float
    forward: str = "+x"
    origin: Point = (0.0, 0.0)

    def __post_init__(self) -> None:
        if self.forward not in _QUARTER_TURNS:
            raise DesignError(
                f"forward is {self.forward!r:.40}, which is no direction in a drawing; "
                f"{nearest(str(self.forward), _QUARTER_TURNS)}"
            )

    @property
    def turn(self) -> tuple[float, float]:
        """Cosine and sine of the turn from the drawing's axes to the car's."""
        return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[_QUARTER_TURNS[self.forward] % 4]

    def matrix(self) -> tuple[float, ...]:
        """Sixteen numbers, row by row, that take row vectors (x, y, z, 1) of the drawing to the car (m)."""
        c, s = self.turn
        k, (x, y) = self.factor, self.origin
        shift = (-(c * x - s * y), -(s * x + c * y))
        return (c * k, s * k, 0, 0, -s * k, c * k, 0, 0, 0, 0, k, 0, *shift, 0, 1)

    def say(self, point: Sequence[float]) -> str:
        """Write a place of the car (m) as it is found in the drawing, in its axes and unit."""
        c, s = self.turn
        x, y = float(point[0]), float(point[1])
        u, v = c * x + s * y + self.origin[0], c * y - s * x + self.origin[1]
        return f"({_number(u / self.factor)}, {_number(v / self.factor)}) {self.unit}"

    def length(self, metres: float) -> str:
        """Write a length (m) in the unit of the drawing."""
        size = metres / self.factor
        return f"{size:.0f} {self.unit}" if 1e3 <= size < 1e6 else f"{size:.3g} {self.unit}"

    def sentence(self) -> str:
        """Say how the drawing was laid into the car's axes."""
        names = ("+x", "+y", "-x", "-y")
        left = names[(names.index(self.forward) + 1) % 4]
        x, y = (_number(value / self.factor) for value in self.origin)
        return (
            f"The drawing is seen from above: its {self.forward} points forward and its {left} to the left, "
            f"and its point ({x}, {y}) {self.unit} lies on the front axle line and the centre plane."
        )


def _number(value: float) -> str:
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


@dataclass
class Notes:
    """What the steps of reading find worth telling, sentence by sentence.

    Parameters
    ----------
    file : str
        Name of the file, for errors.
    frame : Frame
        Of the drawing.
    sentences : list of str
        So far.
    """

    file: str
    frame: Frame
    sentences: list[str] = field(default_factory=list)

    def add(self, sentence: str) -> None:
        """Append a sentence to the report."""
        self.sentences.append(sentence)

    def fault(self, sentence: str) -> FileError:
        """Return an error that names the file."""
        return FileError(f"{self.file}: {sentence}")


def limited_bytes(path: Path, most: int, what: str) -> bytes:
    """Read a file of limited size.

    Raises
    ------
    FileError
        It is missing, no file, too large, or cannot be read.
    """
    try:
        if not path.exists():
            raise FileError(f"there is no file {path}; {neighbours(path, f'check the path of the {what}')}")
        if not path.is_file():
            raise FileError(f"{path} is not a file; give the path of a {what}")
        with path.open("rb") as stream:
            content = stream.read(most + 1)
    except (OSError, ValueError) as problem:
        if isinstance(problem, FileError):
            raise
        reason = getattr(problem, "strerror", None) or str(problem)
        raise FileError(f"{path.name} cannot be read: {reason.lower()}; check its permissions") from None
    if len(content) > most:
        raise FileError(
            f"{path.name} is larger than {most // 1_000_000} MB; save a {what} that holds the panel alone"
        )
    return content


def factor_of(unit: str, *, where: str) -> tuple[str, float]:
    """Return a unit of length, checked, and its size (m).

    Raises
    ------
    DesignError
        It is no unit of length.
    """
    try:
        name = unit_name(unit, "length")
        return name, float(quantity(f"1 {name}", "length"))
    except (UnitError, AttributeError, TypeError) as problem:
        text = str(problem) if isinstance(problem, UnitError) else f"{unit!r:.40} is not a unit of length"
        raise DesignError(f"{where}: {text}") from None


def length_of(given: object, name: str) -> float:
    """Return a finite length (m) from a number in metres, a text with a unit or a pint quantity."""
    value = float(quantity(given, "length", name=name))
    if not (math.isfinite(value) and abs(value) <= 1e3):
        raise DesignError(f"{name} is {value:g} m, which is out of all reason; give it with its unit")
    return value


def printable(text: str, longest: int = 50) -> str:
    """Return a text of a file on one line, without what cannot be printed, cut short when it is long."""
    clean = "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in text[: longest + 1])
    clean = clean.strip()
    return clean if len(clean) <= longest else clean[: longest - 3] + "..."
