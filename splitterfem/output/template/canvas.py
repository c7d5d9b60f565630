"""A page of PDF on which lengths are true: lines, curves and texts in metres from its lower left corner."""

from __future__ import annotations

import functools
import math
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties, findfont, get_font
from matplotlib.patches import PathPatch
from matplotlib.path import Path
from matplotlib.textpath import text_to_path
from matplotlib.transforms import Affine2D, Bbox, TransformedBbox
from numpy.typing import NDArray

from splitterfem.curves import Arc, Curve, Spline
from splitterfem.output.template.arcs import in_arcs

Array = NDArray[np.float64]

INCH = 0.0254
POINT = INCH / 72.0

FONT = "DejaVu Sans"
CAPITALS = 0.729
"""Height of capital letters of the font over its size."""

DASHES = (3.0e-3, 1.6e-3)
"""Dashes and the gaps between them, m."""

_SETTINGS: Any = {
    "pdf.fonttype": 42,
    "pdf.use14corefonts": False,
    "pdf.inheritcolor": False,
    "text.usetex": False,
    "path.simplify": False,
    "path.sketch": None,
    "path.effects": [],
    "savefig.bbox": None,
    "savefig.pad_inches": 0.0,
    "savefig.transparent": False,
    "savefig.facecolor": "white",
    "savefig.edgecolor": "none",
}
"""Settings of the drawing library on which true size depends, whatever the user has set."""


@contextmanager
def true_size() -> Iterator[None]:
    """Draw with settings that keep lengths true, and texts as texts."""
    with mpl.rc_context(_SETTINGS), warnings.catch_warnings():
        warnings.filterwarnings("ignore", message=".*[Gg]lyph.*")
        yield


@dataclass(frozen=True)
class Look:
    """Width in m, colour and dashes of a line."""

    width: float
    colour: str
    dashed: bool = False


@dataclass(frozen=True)
class View:
    """How the drawing lies on the page: x up and y to the left, at a scale.

    Attributes
    ----------
    scale : float
        1 for true size.
    shift : (float, float)
        Place on the page of the origin of the drawing, m.
    """

    scale: float
    shift: tuple[float, float]

    def __call__(self, points: Any) -> Array:
        """Places on the page of points (n, 2) of the drawing, m."""
        xy = np.asarray(points, dtype=float).reshape(-1, 2)
        return np.column_stack([self.shift[0] - self.scale * xy[:, 1], self.shift[1] + self.scale * xy[:, 0]])


class Canvas:
    """One page.

    Parameters
    ----------
    width, height : float
        Of the page, m.
    """

    def __init__(self, width: float, height: float) -> None:
        self.width, self.height = width, height
        self.figure = Figure(figsize=(width / INCH, height / INCH))
        self._to_page = Affine2D().scale(1.0 / INCH) + self.figure.dpi_scale_trans

    def path(
        self, path: Path, look: Look, *, within: tuple[float, float, float, float] | None = None
    ) -> None:
        """Draw a path whose places are on the page, clipped to left, bottom, right and top, all in m."""
        path.should_simplify = False
        patch = PathPatch(
            path,
            fill=False,
            linewidth=look.width / POINT,
            edgecolor=look.colour,
            linestyle=(0, tuple(d / look.width for d in DASHES)) if look.dashed else "-",
            capstyle="butt",
            joinstyle="round",
            transform=self._to_page,
        )
        self.figure.add_artist(patch)
        if within is not None:
            left, bottom, right, top = within
            patch.set_clip_box(TransformedBbox(Bbox([[left, bottom], [right, top]]), self._to_page))

    def line(self, points: Sequence[tuple[float, float]], look: Look) -> None:
        """Draw straight lines from place to place on the page."""
        self.path(Path(np.asarray(points, dtype=float)), look)

    def rectangle(self, left: float, bottom: float, right: float, top: float, look: Look) -> None:
        """Draw a rectangle on the page."""
        corners = [(left, bottom), (right, bottom), (right, top), (left, top), (left, bottom)]
        self.path(Path(corners, closed=True), look)

    def text(
        self,
        text: str,
        at: tuple[float, float],
        height: float,
        *,
        colour: str = "black",
        bold: bool = False,
        anchor: str = "left",
        upright: bool = False,
        within: tuple[float, float, float, float] | None = None,
    ) -> None:
        """Write a text with its baseline at a place on the page.

        Parameters
        ----------
        text : str
        at : (float, float)
            m.
        height : float
            Of capital letters, m.
        colour : str
        bold : bool
        anchor : {"left", "center", "right"}
            What of it stands at the place.
        upright : bool
            Written up the page.
        within : four floats, optional
            Left, bottom, right and top of what is shown of it, m.
        """
        artist = self.figure.text(
            *at,
            drawable(text),
            transform=self._to_page,
            fontsize=height / CAPITALS / POINT,
            fontfamily=FONT,
            fontweight="bold" if bold else "normal",
            color=colour,
            ha=anchor,
            va="baseline",
            rotation=90.0 if upright else 0.0,
            rotation_mode="anchor",
            parse_math=False,
        )
        if within is not None:
            left, bottom, right, top = within
            artist.set_clip_box(TransformedBbox(Bbox([[left, bottom], [right, top]]), self._to_page))
            artist.set_clip_on(True)


def path_of(curves: Sequence[Curve], view: View, *, closed: bool) -> Path:
    """Path on the page of curves of the drawing: lines, and cubics within a micrometre of true arcs."""
    points: list[Array] = [view([curves[0].start])]
    codes = [int(Path.MOVETO)]
    for curve in in_arcs(curves) if any(isinstance(c, Spline) for c in curves) else curves:
        if isinstance(curve, Arc):
            cubics = _cubics(curve)
            points.append(view(cubics))
            codes += [int(Path.CURVE4)] * len(cubics)
        else:
            points.append(view([curve.end]))
            codes.append(int(Path.LINETO))
    if closed:
        points.append(points[0])
        codes.append(int(Path.CLOSEPOLY))
    return Path(np.concatenate(points), codes)


def _cubics(arc: Arc) -> Array:
    """Control points of cubics for an arc, none over more than an eighth of a circle.

    The controls lie 4/3 tan(a/4) radii along the tangents; an eighth misses the circle by 4e-6 of its radius
    (T. Goldapp, Computer Aided Geometric Design 8 (1991), 227-238).
    """
    count = max(1, math.ceil(abs(arc.sweep) / (0.25 * math.pi) - 1e-9))
    t = np.linspace(0.0, 1.0, count + 1)
    ends, slopes = arc.at(t), arc.derivative(t) / arc.sweep
    reach = 4.0 / 3.0 * math.tan(0.25 * arc.sweep / count)
    first, second = ends[:-1] + reach * slopes[:-1], ends[1:] - reach * slopes[1:]
    return np.stack([first, second, ends[1:]], axis=1).reshape(-1, 2)


def drawable(text: str) -> str:
    """Return a text on one line, what the font lacks replaced by a sign that it has."""
    known = _known()
    return "".join(c if c.isprintable() and ord(c) in known else "\N{REPLACEMENT CHARACTER}" for c in text)


@functools.cache
def _known() -> frozenset[int]:
    """Characters that the font has."""
    return frozenset(get_font(findfont(FontProperties(family=FONT))).get_charmap())


@functools.lru_cache(maxsize=4096)
def text_width(text: str, height: float, *, bold: bool = False) -> float:
    """Width in m of a text whose capital letters are of a height in m."""
    font = FontProperties(family=FONT, size=height / CAPITALS / POINT, weight="bold" if bold else "normal")
    width, _, _ = text_to_path.get_text_width_height_descent(drawable(text), font, False)
    return float(width) * POINT


def fitted(text: str, height: float, width: float, *, bold: bool = False) -> str:
    """Cut a text short with an ellipsis if it is wider than a width in m."""
    if text_width(text, height, bold=bold) <= width:
        return text
    while text and text_width(text + "\N{HORIZONTAL ELLIPSIS}", height, bold=bold) > width:
        text = text[:-1]
    return text.rstrip() + "\N{HORIZONTAL ELLIPSIS}"
