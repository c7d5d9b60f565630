"""How the lines of each layer look on paper."""

from __future__ import annotations

from splitterfem.output.template.canvas import Look
from splitterfem.output.template.layers import Layer

INK, QUIET = "#000000", "#6b6b6b"
COLOURS = {7: INK, 1: "#b00020", 5: "#1f4fa3", 3: "#1b7a3d", 8: QUIET}
"""Colours of lines by the index that DXF has for them."""


def look_of(layer: Layer) -> Look:
    """Return the look of the lines of a layer."""
    return Look(layer.width, COLOURS[layer.colour], layer.dashed)
