"""The template for the saw: one drawing of the panel in true size, written as DXF or as sheets of PDF."""

from __future__ import annotations

from splitterfem.output.template.drawing import Circle, Dimension, Drawing, Note, Shape
from splitterfem.output.template.make import template_drawing
from splitterfem.output.template.write import write_template

__all__ = [
    "Circle",
    "Dimension",
    "Drawing",
    "Note",
    "Shape",
    "template_drawing",
    "write_template",
]
