"""Mesh of a design: what is embedded, and where the elements are finer."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from splitterfem import curves
from splitterfem.design import Splitter
from splitterfem.fem.meshing import EmbeddedLine, PlateMesh, Refinement, Region, mesh_region
from splitterfem.model.pads import pad_radius, written_out

Array = NDArray[np.float64]

GRADING = 0.4
"""How fast the elements grow away from the fine places: sag is smooth there, and time goes with their number."""

PEAK = 0.2
"""Element size, over the usual size, where forces peak: a rib hands its force over at its ends, a lip at its."""


def mesh_design(design: Splitter, *, also: Sequence[Splitter] = (), coarser: float = 1.0) -> PlateMesh:
    """Mesh a design's panel: ribs as embedded lines, finer at pads, cut-out corners and ribs.

    Parameters
    ----------
    design : Splitter
    also : sequence of Splitter
        Designs of the same panel for which it is to be fine as well: along their ribs and at their pads.
    coarser : float
        What all sizes of triangles are multiplied by.
    """
    settings = design.mesh
    size = coarser * float(settings.size)
    holes = design.panel.holes()
    region = Region(
        design.panel.outline.loop(), tuple(loop for _, loop in holes), tuple(name for name, _ in holes)
    )
    lines = tuple(
        EmbeddedLine(rib.name, np.array(rib.points, dtype=float)) for rib in written_out(design.ribs)
    )
    lines += tuple(
        EmbeddedLine(
            f"edge of {half.name}", closed(curves.flatten(half.outline.loop(), float(settings.chord)))
        )
        for half in written_out(design.doublers)
    )
    pad_size = None if settings.pad_size is None else coarser * float(settings.pad_size)
    every = (design, *also)
    pads = dict.fromkeys(place for one in every for place in _pads(one))
    peaks = dict.fromkeys(place for one in every for place in _peaks(one))
    refinements = tuple(_refinement(*place, size=size, pad_size=pad_size) for place in pads)
    refinements += tuple(Refinement(x, y, radius, PEAK * size) for x, y, radius in peaks)
    refinements += _along_ribs(design, also, coarser)
    return mesh_region(
        region,
        size=size,
        lines=lines,
        refinements=refinements,
        corner_size=0.5 * size,
        line_size=coarser * _line_size(design),
        chord=float(settings.chord),
        grading=GRADING,
    )


def closed(corners: Array) -> Array:
    """Corners (n, 2) with the first repeated at the end."""
    return np.vstack([corners, corners[:1]])


def _line_size(design: Splitter) -> float:
    """Element size along ribs in m: half a foot's width, or half the usual size where that is less.

    Compared with three-dimensional solids, sag comes within 2 % of the largest one so, and no better with
    smaller elements.
    """
    feet = [rib.section.properties().foot_width for rib in design.ribs]
    return 0.5 * min([float(design.mesh.size), *feet])


def _along_ribs(design: Splitter, also: Sequence[Splitter], coarser: float) -> tuple[Refinement, ...]:
    """Places along ribs that a design has not, as fine as along its own."""
    own = {(rib.points, rib.foot_width) for rib in written_out(design.ribs)}
    found = []
    for other in also:
        step = coarser * _line_size(other)
        for rib in written_out(other.ribs):
            if (rib.points, rib.foot_width) in own:
                continue
            own.add((rib.points, rib.foot_width))
            line = shapely.LineString(rib.points)
            count = max(2, int(np.ceil(line.length / step)) + 1)
            places = shapely.get_coordinates(line.interpolate(np.linspace(0.0, line.length, count)))
            found += [Refinement(x, y, 0.5 * rib.foot_width, step) for x, y in places.tolist()]
    return tuple(found)


def _peaks(design: Splitter) -> list[tuple[float, float, float]]:
    """Places where forces peak, with a radius in m: ends of ribs, and the corners of rear pockets."""
    found = []
    for rib in written_out(design.ribs):
        reach = 0.5 * rib.section.properties().foot_width
        found += [(float(x), float(y), reach) for x, y in (rib.points[0], rib.points[-1])]
    for part in written_out(design.pockets):
        x0, y0, x1, y1 = part.bounds
        found += [(x, y, 0.1 * (y1 - y0)) for x in (x0, x1) for y in (y0, y1)]
    return found


def _pads(design: Splitter) -> list[tuple[float, float, float]]:
    """Centre and radius of every pad of a support."""
    pads = [(part.foot, part.pad) for part in written_out(design.struts)]
    pads += [(part.at, part.pad) for part in written_out(design.bolts)]
    pads += [(part.at, part.pad) for part in written_out(design.pins)]
    pads += [(part.at, part.pad) for part in written_out(design.stops)]
    return [(float(x), float(y), pad_radius(pad)) for (x, y), pad in pads]


def _refinement(x: float, y: float, radius: float, *, size: float, pad_size: float | None) -> Refinement:
    wanted = max(min(0.5 * size, radius), 0.2 * size) if pad_size is None else pad_size
    return Refinement(x, y, radius, wanted)
