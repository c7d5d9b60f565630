"""Colours of the pictures: maps that are perceptually uniform, and ink that can be read on them.

One quantity has the same colours in every picture:

- how bad it is (sag, clearance, utilisation): `HOW_BAD`, dark is worse;
- how much a change brings, and how stiff it feels (gains, push): `HOW_MUCH`, dark is where to act;
- what has a sign (pressure, stress, differences, shapes): `signed`, brown is down, more or tension, blue the other way,
  white is nothing.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from matplotlib import colormaps
from matplotlib.colors import Colormap, ListedColormap, to_rgb
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

INK = "#1c1c1c"
"""Lines and text."""
PAPER = "#ffffff"

HOW_BAD = "viridis"
"""Perceptually uniform, also for the colour-blind (van der Walt & Smith, 2015)."""
HOW_MUCH = "cividis"
"""The same for those who see no red or no green at all (Nunez, Anderton & Renslow, PLoS ONE 13 (2018) e0199239)."""
SIGNED = "signed"
"""Made here: straight lines in CIELAB from blue over white to brown."""

DOWN, UP = "#80300c", "#0b4a86"
"""Ends of the signed map: brown for down, more and tension; blue for up, less and compression. Alike dark in grey."""
NOTHING = "#f8f8f8"
"""Middle of the signed map."""

DARK_END = 0.18
"""Share of a map that is left out at its dark end, in which marks and lines would drown."""

_TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
"""Linear sRGB to CIE XYZ (IEC 61966-2-1:1999), white at Y = 1."""
_WHITE = _TO_XYZ.sum(axis=1)


def lab(colours: ArrayLike) -> Array:
    """CIELAB (CIE 015:2018, 8.2.1; CIE 1976) of sRGB colours (..., 3) from 0 to 1; shape (..., 3).

    Examples
    --------
    >>> lab([1.0, 1.0, 1.0]).round(3).tolist()
    [100.0, 0.0, 0.0]
    """
    ratio = _linear(np.asarray(colours, dtype=float)) @ _TO_XYZ.T / _WHITE
    bend = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio * (29 / 6) ** 2 / 3 + 4 / 29)
    x, y, z = np.moveaxis(bend, -1, 0)
    return np.stack([116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)], axis=-1)


def rgb(of: ArrayLike) -> Array:
    """Return the sRGB colours (..., 3) of CIELAB (..., 3); what no screen can show is cut off at its nearest."""
    lightness, a, b = np.moveaxis(np.asarray(of, dtype=float), -1, 0)
    y = (lightness + 16.0) / 116.0
    bend = np.stack([y + a / 500.0, y, y - b / 200.0], axis=-1)
    ratio = np.where(bend > 6 / 29, bend**3, 3 * (6 / 29) ** 2 * (bend - 4 / 29))
    light = np.clip((ratio * _WHITE) @ np.linalg.inv(_TO_XYZ).T, 0.0, 1.0)
    return np.asarray(np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055))


def contrast(one: ArrayLike | str, other: ArrayLike | str) -> float:
    """Contrast of two sRGB colours from 1 to 21 (W3C, WCAG 2.2, "contrast ratio"); text wants 4.5 (1.4.3, level AA).

    Examples
    --------
    >>> round(contrast("black", "white"), 3)
    21.0
    """
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def ink_on(colour: ArrayLike | str) -> str:
    """Colour of text on a ground: ink or paper, whichever can be read better."""
    return max((INK, PAPER), key=lambda ink: contrast(ink, colour))


@cache
def map_of(name: str) -> Colormap:
    """Return a map by its name, `SIGNED` or one of matplotlib with or without ``_r``, as pictures use it.

    Sequential maps come without their dark end.
    """
    if name == SIGNED:
        return _signed()
    whole = colormaps[name]
    last = whole.N - 1
    cut = round(DARK_END * last)
    kept = np.arange(last - cut + 1) if name.endswith("_r") else np.arange(cut, last + 1)
    return ListedColormap(whole(kept), name=f"{name} without its dark end")


def _signed() -> Colormap:
    ends = lab([to_rgb(UP), to_rgb(NOTHING), to_rgb(DOWN)])
    at = np.linspace(0.0, 2.0, 257)
    between = np.stack([np.interp(at, [0.0, 1.0, 2.0], ends[:, k]) for k in range(3)], axis=-1)
    return ListedColormap(rgb(between), name="blue, white, brown")


def _linear(colours: Array) -> Array:
    return np.asarray(np.where(colours <= 0.04045, colours / 12.92, ((colours + 0.055) / 1.055) ** 2.4))


def _luminance(colour: ArrayLike | str) -> float:
    plain = to_rgb(colour) if isinstance(colour, str) else np.asarray(colour, dtype=float)[:3]
    return float(_linear(np.asarray(plain)) @ _TO_XYZ[1])
