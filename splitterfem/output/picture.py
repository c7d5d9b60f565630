"""Figures that belong to nobody but their axes, and that a notebook shows."""

from __future__ import annotations

import io
from typing import cast

from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

NOTEBOOK_DPI = 100.0


class Picture(Axes):
    """Axes of a figure of their own; at the end of a cell a notebook shows the figure.

    pyplot does not know the figure, so that it is freed with its last reference.
    """

    def _repr_png_(self) -> bytes:
        """Draw the figure as PNG; notebooks ask for it by this name."""
        stream = io.BytesIO()
        figure = self.get_figure(root=True)
        assert figure is not None
        figure.savefig(stream, format="png", dpi=NOTEBOOK_DPI)
        return stream.getvalue()


def new_picture(width: float, height: float) -> Picture:
    """Make axes on a figure of their own, its sizes in inches."""
    figure = Figure(figsize=(width, height), layout="constrained")
    FigureCanvasAgg(figure)
    return cast(Picture, figure.add_subplot(axes_class=Picture))
