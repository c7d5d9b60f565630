"""Fields as pictures and exports need them: one continuous triangulation, and its contour lines."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from matplotlib.figure import Figure
from matplotlib.tri import Triangulation
from numpy.typing import NDArray

from splitterfem.analysis.fields import Field

Array = NDArray[np.float64]

SAME_PLACE = 1e-7
"""Samples of neighbouring elements nearer than this (m) are one point."""


def joined(field: Field) -> Field:
    """Return the same field with the samples that elements share on their sides counted once.

    The field is continuous, so either element's value will do.
    """
    # The odd offset keeps coordinates that are round in mm or in inches away from the edges of the cells.
    cells = np.floor(np.column_stack([field.x, field.y]) / SAME_PLACE + 0.2371).astype(np.int64)
    # both numbers of a cell in one, for panels of up to 200 m: numpy sorts rows a hundred times slower
    _, first, inverse = np.unique(cells[:, 0] * 2**32 + cells[:, 1], return_index=True, return_inverse=True)
    triangles = inverse.reshape(-1)[field.triangles]
    return Field(field.x[first], field.y[first], triangles, field.values[first])


def contour_lines(field: Field, levels: Array) -> Iterator[tuple[float, Array]]:
    """Contour lines of a field.

    Parameters
    ----------
    field : Field
    levels : ndarray, shape (n,)
        In the unit of the field's values, ascending.

    Yields
    ------
    level : float
    points : ndarray, shape (m, 2)
        The line's corners (x, y) in m; a closed line ends where it starts.
    """
    whole = joined(field)
    axes = Figure().add_subplot()
    drawn = axes.tricontour(Triangulation(whole.x, whole.y, whole.triangles), whole.values, levels=levels)
    for level, lines in zip(drawn.levels, drawn.allsegs, strict=True):
        for points in lines:
            if len(points) > 1:
                yield float(level), np.asarray(points, dtype=np.float64)
