"""The template as DXF, in true size in the unit of its header.

Header variables, group codes and the escapes of texts are those of the DXF reference published by the maker of the
format: $INSUNITS 4 is mm and 1 is in, $MEASUREMENT 1 is metric and 0 is not.
"""

from __future__ import annotations

import contextlib
import io
import math
import re
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from splitterfem.curves import Arc, Curve, Line, Point
from splitterfem.errors import MissingExtraError
from splitterfem.output.template.arcs import in_arcs
from splitterfem.output.template.drawing import Circle, Dimension, Drawing, Note, Shape
from splitterfem.output.template.layers import Layer

if TYPE_CHECKING:
    from types import ModuleType

    from ezdxf.document import Drawing as Document

STYLE = "TEMPLATE"
"""Name of the dimension style."""

LETTERS, ARROW, SPACE = 6e-3, 5e-3, 2e-3
"""Height of the figures of dimensions, length of their arrows, and room about them, m."""

DASHES = "DASHES"
_DASH, _PAUSE = 6e-3, 3e-3
_WIDTHS = (13, 18, 25, 35)
"""Widths of lines in hundredths of a mm that DXF knows, as far as they are used."""


def dxf_bytes(drawing: Drawing, made_by: str) -> bytes:
    """Write a drawing as an ASCII DXF document.

    Parameters
    ----------
    drawing : Drawing
    made_by : str
        What it was made of, a property of the document.

    Returns
    -------
    bytes
        The axes are those of the drawing, its unit mm or in.

    Raises
    ------
    MissingExtraError
        The package that writes DXF is not installed.
    """
    document = new_document(writer(), metric=drawing.words.size == "mm")
    for layer in drawing.used_layers():
        add_layer(document, layer, drawing.scale)
    _add_style(document, drawing)
    space, k = document.modelspace(), drawing.scale
    for shape in drawing.shapes:
        _add_shape(space, shape, k)
    for circle in drawing.circles:
        _add_circle(space, circle, k)
    for note in drawing.notes:
        add_note(space, note, k)
    for dimension in drawing.dimensions:
        _add_dimension(space, dimension, k)
    return content_of(document, made_by)


def writer() -> ModuleType:
    """Return the package that writes DXF.

    Raises
    ------
    MissingExtraError
        It is not installed.
    """
    try:
        import ezdxf
    except ImportError:
        raise MissingExtraError(
            "writing a DXF file needs ezdxf, which is not installed: run  pip install 'splitterfem[dxf]'"
        ) from None
    return ezdxf


@contextlib.contextmanager
def _timeless(ezdxf: Any) -> Iterator[None]:
    """Have the package write a day that never changes where it would write the time, and no numbers drawn at random."""
    before = ezdxf.options.write_fixed_meta_data_for_testing
    ezdxf.options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = before


def new_document(ezdxf: Any, *, metric: bool) -> Document:
    """Make an empty document whose header names its unit, with a dashed line type."""
    with _timeless(ezdxf):
        document: Document = ezdxf.new("R2010", units=4 if metric else 1)
    document.header["$MEASUREMENT"] = 1 if metric else 0
    document.header["$LUNITS"] = 2  # decimal
    document.header["$LUPREC"] = 2 if metric else 4
    k = 1e3 if metric else 1.0 / 0.0254
    document.linetypes.add(
        DASHES, [(_DASH + _PAUSE) * k, _DASH * k, -_PAUSE * k], description="dashes _ _ _ _"
    )
    return document


def add_layer(document: Document, layer: Layer, k: float) -> None:
    """Add a layer with its colour, width and line type."""
    hundredths = round(1e5 * layer.width)
    document.layers.add(
        layer.name,
        color=layer.colour,
        lineweight=min(_WIDTHS, key=lambda width: abs(width - hundredths)),
        linetype=DASHES if layer.dashed else "CONTINUOUS",
    )
    document.layers.get(layer.name).description = layer.what


def content_of(document: Document, made_by: str) -> bytes:
    """Return the bytes of a document's file, the same every time; a property of it says what it was made of."""
    document.header.custom_vars.append("made by", escaped(made_by))
    classes = document.classes
    classes.add_required_classes(document.dxfversion)
    classes.classes = dict(sorted(classes.classes.items()))  # it comes out of a set, in any order
    stream = io.StringIO()
    with _timeless(writer()):
        document.write(stream)
    return stream.getvalue().encode("utf-8", errors="replace")


def corners_of(curves: tuple[Curve, ...], k: float) -> list[tuple[float, float, float]]:
    """Vertices (x, y, bulge) of curves in units of the drawing; the end of the last is not among them.

    The bulge of an arc is the tangent of a quarter of its angle, positive counter-clockwise.
    """
    return [
        (k * c.start[0], k * c.start[1], math.tan(0.25 * c.sweep) if isinstance(c, Arc) else 0.0)
        for c in in_arcs(curves)
    ]


def _add_shape(space: Any, shape: Shape, k: float) -> None:
    """Add a closed polyline with its arcs, an open one, or a line."""
    where = {"layer": shape.layer}
    if len(shape.curves) == 1 and isinstance(shape.curves[0], Line):
        line = shape.curves[0]
        space.add_line(_scaled(line.start, k), _scaled(line.end, k), dxfattribs=where)
        return
    corners = corners_of(shape.curves, k)
    if not shape.closed:
        corners.append((*_scaled(shape.curves[-1].end, k), 0.0))
    space.add_lwpolyline(corners, format="xyb", close=shape.closed, dxfattribs=where)


def _add_circle(space: Any, circle: Circle, k: float) -> None:
    space.add_circle(_scaled(circle.centre, k), 0.5 * circle.diameter * k, dxfattribs={"layer": circle.layer})


def add_note(space: Any, note: Note, k: float, *, angle: float = 0.0) -> None:
    """Add a text with the left end of its baseline at its place, at an angle in degrees."""
    at = (note.at[0] + note.shift[0], note.at[1] + note.shift[1])
    text = space.add_text(
        escaped(note.text), height=note.height * k, rotation=angle, dxfattribs={"layer": note.layer}
    )
    text.set_placement(_scaled(at, k))


def escaped(text: str) -> str:
    r"""Write a text so that no part of it is taken for a code: ``%%``, ``^``, ``\U+`` and ``\M+`` are codes in DXF."""
    plain = "".join(c if c.isprintable() else " " for c in text)
    apart = plain.replace("%%", "% %").replace("%%", "% %").replace("^", "^ ")
    return re.sub(r"\\(?=[UM]\+)", r"\\ ", apart)


def _add_style(document: Document, drawing: Drawing) -> None:
    """Add a style of dimensions that says what it measures.

    The style that the package sets up by itself multiplies lengths by 100; here the factor is 1, and the unit
    stands behind every figure.  No rounding is set, for a rounding to 0 would be taken for one to whole units.
    """
    k, metric = drawing.scale, drawing.words.size == "mm"
    style: Any = document.dimstyles.new(STYLE)
    style.dxf.update(
        {
            "dimlfac": 1.0,
            "dimscale": 1.0,
            "dimtxt": LETTERS * k,
            "dimasz": ARROW * k,
            "dimexo": SPACE * k,
            "dimexe": SPACE * k,
            "dimgap": SPACE * k,
            "dimtad": 1,
            "dimlunit": 2,
            "dimdec": 1 if metric else 3,
            "dimzin": 8,
            "dimdsep": ord("."),
            "dimpost": f"<> {drawing.words.size}",
            "dimtxsty": "Standard",
        }
    )


def _add_dimension(space: Any, dimension: Dimension, k: float) -> None:
    base = (0.0, dimension.line_at) if dimension.axis == 0 else (dimension.line_at, 0.0)
    made = space.add_linear_dim(
        base=_scaled(base, k),
        p1=_scaled(dimension.start, k),
        p2=_scaled(dimension.end, k),
        angle=90.0 * dimension.axis,
        dimstyle=STYLE,
        dxfattribs={"layer": "dimensions"},
    )
    made.render()


def _scaled(point: Point, k: float) -> Point:
    return k * point[0], k * point[1]
