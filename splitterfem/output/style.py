"""How the pictures look: units, steps between contour lines, colours and line widths."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from splitterfem.errors import UnitError, nearest
from splitterfem.output.colours import DOWN, HOW_BAD, HOW_MUCH, INK, PAPER, SIGNED, UP

__all__ = [
    "ALARM", "CALL_OUT", "CLEARANCE_COLOURS", "DOWN", "FAINT", "GAIN_COLOURS", "GRID", "INK", "METAL", "NOT_THERE",
    "PAPER", "POINTS", "PUSH_COLOURS", "QUIET", "SAG_COLOURS", "SHEET", "SIGNED", "SMALL", "TEXT", "UP", "LengthUnit",
    "Scale", "contour_levels", "decimals", "number", "round_step", "scale_of",
]  # fmt: skip

LengthUnit = Literal["mm", "in"]

QUIET = "#6b6b6b"
"""Ticks, dimension lines and other things that are to stay in the background."""
SHEET = "#efe3cc"
"""A panel without results, the colour of birch."""
METAL = "#c9ced6"
ALARM = "#c2185b"
"""The worst point: a magenta that no part of the colour maps comes near, dark in grey."""

SAG_COLOURS = f"{HOW_BAD}_r"
"""Of sag and of utilisation: dark is much, in grey too."""
CLEARANCE_COLOURS = HOW_BAD
"""The same turned round, so that dark is a small gap: in both pictures dark is worse."""
GAIN_COLOURS = f"{HOW_MUCH}_r"
"""Of what a change brings: dark is much."""
PUSH_COLOURS = HOW_MUCH
"""Of stiffness under the hand: dark is soft."""

POINTS = "#2a6f9e"
"""Points and bars of diagrams that are all of one kind."""
FAINT = "#b9b9b9"
"""Points that do not count."""
GRID = "#e4e4e4"
NOT_THERE = "#d9d2c5"
"""Where there is nothing: below ground, no equilibrium, a layout that was refused."""

FEWEST_BANDS = 6
EVEN = 1e-3
"""Values that differ by less than this share of the largest are drawn as one."""
TEXT = 9.0
SMALL = 8.0


@dataclass(frozen=True)
class Scale:
    """A unit of length in which a picture is drawn.

    Attributes
    ----------
    unit : {"mm", "in"}
    per_metre : float
    digits : int
        Decimals of a sag or a clearance.
    """

    unit: LengthUnit
    per_metre: float
    digits: int

    def say(self, metres: float) -> str:
        """Write a sag or a clearance with its unit, such as ``"8.4 mm"``."""
        return f"{number(metres * self.per_metre, self.digits)} {self.unit}"

    def say_size(self, metres: float) -> str:
        """Write a size or a place with its unit, such as ``"640 mm"``."""
        return f"{metres * self.per_metre:.{0 if self.unit == 'mm' else 2}f} {self.unit}"


_SCALES = {"mm": Scale("mm", 1e3, 1), "in": Scale("in", 1.0 / 0.0254, 3)}

CALL_OUT: dict[str, Any] = {
    "fontweight": "bold",
    "color": ALARM,
    "parse_math": False,
    "zorder": 11,
    "annotation_clip": False,
    "gid": "call-out",
    "bbox": {"boxstyle": "round,pad=0.3", "facecolor": PAPER, "edgecolor": ALARM, "linewidth": 1.4},
}
"""How the one figure that a picture is about is written on it."""


def scale_of(unit: str) -> Scale:
    """Scale of a unit by its name.

    Raises
    ------
    UnitError
        It is neither mm nor in.
    """
    if unit not in _SCALES:
        raise UnitError(f"A picture cannot be drawn in '{unit}'; {nearest(unit, _SCALES)}")
    return _SCALES[unit]


def number(value: float, digits: int) -> str:
    """Write a value with so many decimals, never as a negative zero.

    Examples
    --------
    >>> number(-0.04, 1), number(-0.06, 1)
    ('0.0', '-0.1')
    """
    text = f"{value:.{digits}f}"
    return text.lstrip("-") if float(text) == 0.0 else text


def round_step(span: float, bands: int) -> float:
    """Largest of 1, 2 and 5 times a power of ten that cuts a span into at least so many bands."""
    raw = span / bands
    power = 10.0 ** math.floor(math.log10(raw))
    return max(factor * power for factor in (1.0, 2.0, 5.0) if factor * power <= raw * (1.0 + 1e-9))


def contour_levels(
    values: NDArray[np.float64], step: float | None = None, span: tuple[float, float] | None = None
) -> NDArray[np.float64]:
    """Evenly spaced round levels that enclose all values, at least two.

    Parameters
    ----------
    values : ndarray
        In the unit of the picture.
    step : float, optional
        Between levels; by default a round one that gives 6 to 14 bands.
    span : two floats, optional
        Values that the levels enclose as well, so that several pictures can have the same levels.

    Raises
    ------
    UnitError
        The step is not positive or asks for more than 500 levels, or the span is not two finite values.
    """
    low, high = float(np.min(values)), float(np.max(values))
    if span is not None:
        if len(span) != 2 or not all(math.isfinite(end) for end in span):
            raise UnitError(f"The span of a picture is {span}; give its least and its greatest value.")
        low, high = min(low, *span), max(high, *span)
    width = max(high - low, EVEN * max(abs(low), abs(high)), 1e-9)
    chosen = round_step(width, FEWEST_BANDS) if step is None else float(step)
    if not (math.isfinite(chosen) and chosen > 0.0):
        raise UnitError(f"The step between contour lines is {chosen:g}; give one above zero.")
    first, last = math.floor(low / chosen + 1e-9), math.ceil(high / chosen - 1e-9)
    if last - first > 500:
        raise UnitError(f"A step of {chosen:g} gives {last - first} contour lines; give a wider one.")
    return np.asarray(chosen * np.arange(first, max(last, first + 1) + 1), dtype=np.float64)


def decimals(step: float) -> int:
    """Decimals that tell multiples of a step apart."""
    for digits in range(7):
        if abs(step - round(step, digits)) <= 1e-6 * step:
            return digits
    return 7
