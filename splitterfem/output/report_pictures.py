"""Pictures of the report as SVG: vectors, with the fills as pixels where vectors would be too large."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from typing import Any

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.contour import ContourSet
from matplotlib.figure import Figure

from splitterfem.analysis import Solution
from splitterfem.analysis.fields import Field
from splitterfem.design import Splitter
from splitterfem.output.envelopeview import plot_envelope
from splitterfem.output.planview import bounds
from splitterfem.output.plots import plot_clearance, plot_design, plot_pressure, plot_sag
from splitterfem.output.report_maps import Shown
from splitterfem.output.style import LengthUnit, round_step, scale_of

LARGEST_SVG = 2_000_000
"""In bytes; above this the fills of contours become pixels."""

WIDE, NARROW = 7.0, 4.9
"""Widths in inches of the design's picture, and of one of two pictures side by side."""

PIXELS_PER_INCH = 220


def design_svg(splitter: Splitter, unit: LengthUnit) -> bytes:
    """Return the plan view of what is built, with names, sizes and a legend."""
    box = bounds(splitter)
    height = 0.9 * WIDE * (box.length + 2.0 * box.margin) / (box.width + 2.0 * box.margin) + 0.5
    return _drawn(splitter, WIDE, height, lambda ax: plot_design(splitter, ax, unit=unit, title=""))


def sag_svg(solution: Solution, unit: LengthUnit) -> bytes:
    """Return the sag in plan view, without title, legend and axes."""
    step = _step(solution.sag, unit)
    return _drawn(
        solution.model.design,
        NARROW,
        _small_height(solution.model.design),
        lambda ax: plot_sag(solution, ax, unit=unit, step=step, title="", legend=False, frame=False),
    )


def clearance_svg(solution: Solution, unit: LengthUnit) -> bytes:
    """Return the gap to the ground in plan view, without title, legend and axes."""
    step = _step(solution.clearance.field, unit)
    return _drawn(
        solution.model.design,
        NARROW,
        _small_height(solution.model.design),
        lambda ax: plot_clearance(solution, ax, unit=unit, step=step, title="", legend=False, frame=False),
    )


def pressure_svg(splitter: Splitter, shown: Shown, unit: LengthUnit) -> bytes:
    """Return the net pressure of a load case in plan view, without title, legend and axes."""
    _, case, air, followed = shown
    bare: dict[str, Any] = {"title": "", "legend": False, "frame": False, "total": False}
    return _drawn(
        splitter,
        NARROW,
        _small_height(splitter) - 0.25,
        lambda ax: plot_pressure(splitter, case, ax, unit=unit, air=air, followed=followed, **bare),
    )


def envelope_svg(solutions: Sequence[Solution], unit: LengthUnit) -> bytes:
    """Return panel, bodywork and limits in plan view, without title and table."""
    design = solutions[0].model.design
    axes = plot_envelope(design, solutions=solutions, unit=unit, title="", table=False)
    figure = axes.get_figure(root=True)
    assert figure is not None
    for text in [text for text in axes.texts if text.get_gid() == "caution"]:
        text.remove()  # the page says it in larger type
    return _svg(figure, bbox_inches="tight")


def _small_height(splitter: Splitter) -> float:
    """Height in inches of a small picture: the panel, and room for the call-out."""
    box = bounds(splitter)
    return 0.82 * NARROW * box.length / box.width + 0.45


def _step(field: Field, unit: LengthUnit) -> float | None:
    """Step between contours for a small picture: at least four bands, not six."""
    span = float(np.ptp(field.values)) * scale_of(unit).per_metre
    return round_step(span, 4) if span > 1e-9 else None


def _drawn(splitter: Splitter, width: float, height: float, draw: Callable[[Axes], Axes]) -> bytes:
    figure = Figure(figsize=(width, min(height, 1.2 * width)), layout="constrained")
    figure.get_layout_engine().set(w_pad=0.05, h_pad=0.1)  # type: ignore[union-attr,call-arg]
    FigureCanvasSVG(figure)
    axes = draw(figure.add_subplot())
    picture = _svg(figure)
    if len(picture) > LARGEST_SVG:
        for artist in axes.findobj(ContourSet):
            artist.set_rasterized(bool(artist.filled))
        picture = _svg(figure)
    return picture


def figure_svg(figure: Figure | None) -> bytes:
    """Return a figure without empty edges."""
    assert figure is not None
    picture = _svg(figure, bbox_inches="tight")
    if len(picture) > LARGEST_SVG:
        for artist in figure.findobj(ContourSet):
            artist.set_rasterized(bool(artist.filled))
        picture = _svg(figure, bbox_inches="tight")
    return picture


def _svg(figure: Figure, **options: Any) -> bytes:
    """Write a figure without anything that changes from one run to the next."""
    stream = io.BytesIO()
    with matplotlib.rc_context({"svg.hashsalt": "splitterfem", "svg.fonttype": "path"}):
        figure.savefig(
            stream, format="svg", dpi=PIXELS_PER_INCH, metadata={"Date": None, "Creator": None}, **options
        )
    return stream.getvalue()
