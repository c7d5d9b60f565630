"""Contour lines of the sag as DXF: a layer for each level, labels in the unit of the drawing."""

from __future__ import annotations

import math
import os
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from splitterfem.analysis import Solution
from splitterfem.output import files, style
from splitterfem.output.contours import contour_lines
from splitterfem.output.origin import full_origin
from splitterfem.output.range_words import with_doubts
from splitterfem.output.style import LengthUnit
from splitterfem.output.template.drawing import Note
from splitterfem.output.template.dxf import add_layer, add_note, content_of, corners_of, new_document, writer
from splitterfem.output.template.layers import Layer
from splitterfem.output.wording import invented_mark

Array = NDArray[np.float64]

LETTERS = 6e-3
"""Height of the labels, m."""

SHORTEST = 12.0
"""A line shorter than so many heights of its label has none."""

LABELS, PANEL, OPENINGS, TEXT = "labels", "panel", "openings", "text"


def write_contour_dxf(
    solution: Solution, path: str | os.PathLike[str], *, unit: LengthUnit = "mm", step: float | None = None
) -> Path:
    """Write contour lines of the sag, with the edge of the panel and its openings, as DXF in true size.

    Every level has a layer of its own, such as ``sag 2.0 mm`` (positive down); the labels are on ``labels``. The axes
    are those of the car: x forward, y to the left.

    Parameters
    ----------
    solution : Solution
    path : path
        An existing file is replaced when the new one is complete.
    unit : {"mm", "in"}
        Of the drawing and of the levels.
    step : float, optional
        Sag between lines in that unit; a round one when left out.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    UnitError
        Another unit, or a step that is not positive or asks for more than 500 levels.
    FileError
        The file cannot be written.
    MissingExtraError
        The package that writes DXF is not installed.
    """
    scale = style.scale_of(unit)
    k = 1e3 if unit == "mm" else 1.0 / 0.0254
    files.ready(path)
    document = new_document(writer(), metric=unit == "mm")
    levels = style.contour_levels(k * solution.sag.values, step)
    digits = max(scale.digits, style.decimals(float(levels[1] - levels[0])))
    for name in (PANEL, OPENINGS, LABELS, TEXT):
        add_layer(document, Layer(name, 7, 0.25e-3, False, name), k)
    space, panel = document.modelspace(), solution.model.design.panel
    for name, loop in ((PANEL, panel.outline.loop()), *((OPENINGS, loop) for _, loop in panel.holes())):
        space.add_lwpolyline(corners_of(loop, k), format="xyb", close=True, dxfattribs={"layer": name})
    for level, points in contour_lines(solution.sag, levels / k):
        said = _said(k * level, digits)
        layer = f"sag {said} {unit}"
        if layer not in document.layers:
            add_layer(document, Layer(layer, 5, 0.18e-3, False, f"sag {said} {unit}, positive down"), k)
        closed = bool(np.allclose(points[0], points[-1], atol=1e-12))
        corners = k * (points[:-1] if closed else points)
        space.add_lwpolyline(corners.tolist(), close=closed, dxfattribs={"layer": layer})
        _label(space, points, said, k)
    _title(space, solution, unit, k)
    return files.write_bytes(path, content_of(document, with_doubts(full_origin(solution), solution)))


def _said(value: float, digits: int) -> str:
    text = f"{value:.{digits}f}"
    return text.lstrip("-") if float(text) == 0.0 else text


def _label(space: object, points: Array, text: str, k: float) -> None:
    """Write a level along the middle of its line."""
    steps = np.hypot(*np.diff(points, axis=0).T)
    if steps.sum() < SHORTEST * LETTERS:
        return
    i = int(np.searchsorted(np.cumsum(steps), 0.5 * steps.sum()))
    dx, dy = points[i + 1] - points[i]
    angle = (math.degrees(math.atan2(dy, dx)) + 90.0) % 180.0 - 90.0
    x, y = 0.5 * (points[i] + points[i + 1])
    add_note(space, Note(text, (float(x), float(y)), LETTERS, layer=LABELS), k, angle=angle)


def _title(space: object, solution: Solution, unit: str, k: float) -> None:
    """Say what is drawn, below the panel."""
    design = solution.model.design
    x0, y0, _, _ = design.panel.outline.polygon().bounds
    invented = invented_mark(design)
    lines = (
        f"{design.name}{invented}",
        f"Load case: {solution.case.name}",
        f"Sag in {'mm' if unit == 'mm' else 'inches'}, positive down. Drawn 1:1, seen from above, +x is forward.",
    )
    for i, line in enumerate(lines):
        add_note(space, Note(line, (x0, y0 - 0.03 - 1.8 * LETTERS * i), LETTERS, layer=TEXT), k)
