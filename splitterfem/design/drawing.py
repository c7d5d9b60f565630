"""Panels read from drawings: the outline and the openings of a DXF file, or measured offsets.

The lip of a splitter exists as a drawing more often than as a list of numbers. `read_dxf` turns a drawing
into the records of a panel and says in sentences what it did; `read_offsets` does so with measurements taken
across the car.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from splitterfem.design.cutout import CutOut
from splitterfem.design.drawing_chain import chained
from splitterfem.design.drawing_entities import pieces_of
from splitterfem.design.drawing_file import no_traceback, open_dxf, unit_of
from splitterfem.design.drawing_frame import Drawing, Frame, Notes, length_of
from splitterfem.design.drawing_loops import sorted_out
from splitterfem.design.drawing_offsets import read_offsets
from splitterfem.design.drawing_walk import placed_entities
from splitterfem.design.outline import Outline
from splitterfem.errors import DesignError

__all__ = ["Drawing", "read_dxf", "read_offsets"]

_LARGEST_SNAP = 5e-3


def read_dxf(
    path: str | os.PathLike[str],
    *,
    unit: str | None = None,
    layer: str | Sequence[str] | None = None,
    snap: object = "0.1 mm",
    forward: str = "+x",
    origin: Sequence[object] = (0.0, 0.0),
    mirror: bool = False,
) -> Drawing:
    """Read the outline of a panel and its openings from a DXF file.

    Lines, arcs, circles, ellipses, splines and polylines of the model space are read, also those in blocks,
    nested, scaled and mirrored. Lines and arcs keep their shape exactly; ellipses and splines become smooth
    curves that lie within 0.01 mm of the drawn ones. Loose curves are chained into loops. The largest loop is
    the outline, the loops within it are openings, named after their layer: "tunnel 1", "tunnel 2", from the
    front backwards and from left to right; on layer 0 they are "opening 1" and so on. Text, dimensions,
    hatches and what lies on hidden layers are left out and counted in the report.

    Parameters
    ----------
    path : path
        An ASCII DXF file of at most 10 MB and 20 000 entities.
    unit : str, optional
        Of the numbers in the drawing, such as "mm" or "in"; it goes before the one that the file names
        ($INSUNITS).
    layer : str or sequence of str, optional
        The layers to read; by default all that can be seen.
    snap : length
        Largest gap between two ends that is closed; at most 5 mm. A line gives way to an arc or spline.
    forward : {"+x", "-x", "+y", "-y"}
        Direction in the drawing in which the car drives. The panel is seen from above, so that the car's left
        is to the left of that direction.
    origin : two lengths
        The point of the drawing, in its own axes, at which the front axle line meets the car's centre plane.
        Plain numbers are metres, as everywhere.
    mirror : bool
        The drawing shows one half: curves end on the centre plane, and their mirror image closes them. Straight
        lines on the centre plane are left out. Openings that do not reach it become mirrored pairs.

    Returns
    -------
    Drawing
        Outline and openings in the car's axes, and a report.

    Raises
    ------
    FileError
        One sentence that names the file, the place in the drawing (in its own axes and unit), and the mend:
        a file that is no DXF, cut off or too large, no unit, an open loop with the size of its gap, loops that
        cross or lie outside of the outline, a damaged or endless drawing.
    DesignError, UnitError
        An argument that does not fit.
    MissingExtraError
        The package ezdxf is not installed.

    Examples
    --------
    >>> drawing = read_dxf("panel.dxf", forward="+y", origin=("0 mm", "1250 mm"))  # doctest: +SKIP
    >>> Panel(outline=drawing.outline, cutouts=drawing.cutouts, sheet=sheet)  # doctest: +SKIP
    """
    file = Path(path)
    gap = length_of(snap, "snap")
    if not 0.0 <= gap <= _LARGEST_SNAP:
        raise DesignError(f"snap is {1e3 * gap:g} mm; give a length between 0 and {1e3 * _LARGEST_SNAP:g} mm")
    if isinstance(origin, str) or len(origin) != 2:
        raise DesignError(f"origin is {origin!r:.60}; give two lengths, such as ('100 mm', '0 mm')")
    place = length_of(origin[0], "origin x"), length_of(origin[1], "origin y")
    layers = [layer] if isinstance(layer, str) else layer
    Frame("m", 1.0, forward)  # a wrong direction is told before the file is read
    document, sentences = open_dxf(file)
    with no_traceback(file.name):
        from ezdxf.math import Matrix44

        name, factor, said = unit_of(document, unit, file.name)
        frame = Frame(name, factor, forward, place)
        notes = Notes(file.name, frame, [*sentences, said, frame.sentence()])
        matrix = Matrix44(frame.matrix())
        pieces = pieces_of(placed_entities(document, matrix, notes, layers=layers), notes)
    chains = chained(pieces, notes, snap=gap, half=mirror)
    outline, cutouts = sorted_out(chains, notes, half=mirror, snap=gap)
    _summarise(outline, cutouts, notes, half=mirror)
    return Drawing(outline, cutouts, tuple(notes.sentences))


def _summarise(outline: Outline, cutouts: Sequence[CutOut], notes: Notes, *, half: bool) -> None:
    """Put the size of what was found into the report."""
    x0, y0, x1, y1 = outline.polygon(1e-5).bounds
    edges = f"{len(outline.edges)} edge{'s' if len(outline.edges) > 1 else ''}"
    source = "the drawing and its mirror image" if half else "the drawing"
    notes.add(
        f"The outline of {source} measures {1e3 * (x1 - x0):.6g} mm along the car and {1e3 * (y1 - y0):.6g} mm "
        f"across, from x = {1e3 * x0:.6g} mm to x = {1e3 * x1:.6g} mm, and has {edges}, counter-clockwise."
    )
    names = [f"'{cutout.name}'{' (a mirrored pair)' if cutout.mirror else ''}" for cutout in cutouts]
    shown = ", ".join(names[:20]) + (f" and {len(names) - 20} more" if len(names) > 20 else "")
    notes.add(f"Openings: {shown}." if names else "There are no openings.")
