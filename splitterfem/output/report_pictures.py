"""Pictures of the report as SVG: vectors, with the fills as pixels where vectors would be too large."""

from __future__ import annotations

import io
import warnings
from collections.abc import Callable, Sequence
from typing import Any, Literal

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.contour import ContourSet
from matplotlib.figure import Figure
from matplotlib.transforms import Bbox

from splitterfem.analysis import Solution
from splitterfem.analysis.fields import Field
from splitterfem.design import Splitter
from splitterfem.output.envelopeview import plot_envelope
from splitterfem.output.picture import steady
from splitterfem.output.planview import bounds
from splitterfem.output.plots import plot_clearance, plot_pressure, plot_sag
from splitterfem.output.report_maps import Shown
from splitterfem.output.style import LengthUnit, round_step, scale_of

LARGEST_SVG = 450_000
"""In bytes; above this the fills of contours become pixels."""

NARROW, PANEL, SIDE, OVER = 4.9, 4.0, 0.12, 0.9
"""Inches of one of two pictures beside each other: its width, that of the panel in it, the edge at its left, and the
room over and under the panel, of which as much is cut off as stays empty."""

EDGE = 0.12
"""Inches left round what is cut off."""

BARE: dict[str, Any] = {"title": "", "legend": False, "frame": False}
"""Options of pictures whose page says what else there is to say."""

PIXELS_PER_INCH = 220


def sag_figure(solution: Solution, unit: LengthUnit) -> Figure:
    """Draw the sag in plan view, without title, legend and axes."""
    step = _step(solution.sag, unit)
    return _small(solution.model.design, lambda ax: plot_sag(solution, ax, step=step, unit=unit, **BARE))


def clearance_figure(solution: Solution, unit: LengthUnit) -> Figure:
    """Draw the gap to the ground in plan view, without title, legend and axes."""
    step = _step(solution.clearance.field, unit)
    return _small(
        solution.model.design, lambda ax: plot_clearance(solution, ax, step=step, unit=unit, **BARE)
    )


def pressure_figure(splitter: Splitter, shown: Shown, unit: LengthUnit) -> Figure:
    """Draw the net pressure of a load case in plan view, without title, legend and axes."""
    _, case, air, followed = shown
    return _small(
        splitter,
        lambda ax: plot_pressure(
            splitter, case, ax, unit=unit, air=air, followed=followed, total=False, **BARE
        ),
    )


def beside(figures: Sequence[Figure]) -> list[bytes]:
    """Return small pictures as SVG, cut to one height, so that their panels stand level beside each other."""
    extents = [figure.get_tightbbox() for figure in figures]
    low = min(extent.y0 for extent in extents) - EDGE
    high = max(extent.y1 for extent in extents) + EDGE
    return [figure_svg(figure, Bbox.from_extents(0.0, low, NARROW, high)) for figure in figures]


def envelope_svg(solutions: Sequence[Solution], unit: LengthUnit) -> bytes:
    """Return panel, bodywork and limits in plan view, without title and table."""
    design = solutions[0].model.design
    axes = plot_envelope(design, solutions=solutions, unit=unit, title="", table=False)
    figure = axes.get_figure(root=True)
    assert figure is not None
    for text in [text for text in axes.texts if text.get_gid() == "caution"]:
        text.remove()  # the page says it in larger type
    return _svg(figure, bbox_inches="tight")


def _step(field: Field, unit: LengthUnit) -> float | None:
    """Step between contours for a small picture: at least four bands, not six."""
    span = float(np.ptp(field.values)) * scale_of(unit).per_metre
    return round_step(span, 4) if span > 1e-9 else None


def _small(splitter: Splitter, draw: Callable[[Axes], Axes]) -> Figure:
    """Draw in a figure in which the panel always has one place and one size."""
    box = bounds(splitter)
    height = PANEL * min(box.length / box.width, 1.5)
    figure = Figure(figsize=(NARROW, height + 2.0 * OVER))
    FigureCanvasSVG(figure)
    tall = height / (height + 2.0 * OVER)
    place = (SIDE / NARROW, 0.5 * (1.0 - tall), PANEL / NARROW, tall)
    axes = figure.add_axes(place)
    draw(axes)
    axes.set_position(place)  # the colour bar took some of it
    for beside_it in figure.axes[1:]:
        beside_it.set_position((place[0] + place[2] + 0.02, place[1] + 0.1 * tall, 0.06, 0.8 * tall))
    return figure


def figure_svg_as_is(figure: Figure | None) -> bytes:
    """Return a figure in its own size, edges included."""
    assert figure is not None
    return _svg(figure)


def figure_svg(figure: Figure | None, cut: Bbox | Literal["tight"] = "tight") -> bytes:
    """Return a figure without empty edges, or a part of it in inches."""
    assert figure is not None
    picture = _svg(figure, bbox_inches=cut)
    if len(picture) > LARGEST_SVG:
        with warnings.catch_warnings():
            # matplotlib 3.10 knows no pixels for them; they stay lines there, and the file large
            warnings.filterwarnings("ignore", message="Rasterization of")
            for artist in figure.findobj(ContourSet):
                artist.set_rasterized(bool(artist.filled))
        picture = _svg(figure, bbox_inches=cut)
    return picture


def _svg(figure: Figure, **options: Any) -> bytes:
    """Write a figure without anything that changes from one run to the next."""
    stream = io.BytesIO()
    with steady(), matplotlib.rc_context({"svg.fonttype": "path"}):
        figure.savefig(
            stream, format="svg", dpi=PIXELS_PER_INCH, metadata={"Date": None, "Creator": None}, **options
        )
    return stream.getvalue()
