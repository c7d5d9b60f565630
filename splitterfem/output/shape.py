"""The bent shape of a solved panel in space, its movement exaggerated, with ribs, struts and the ground.

Axes of the car: x forward, y to the left, z up from the middle of the sheet at rest.  Only the movement of the panel,
and with it its distance to the ground, is drawn larger than it is; plan, ribs and struts have their true sizes.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from splitterfem import curves
from splitterfem.analysis import Solution
from splitterfem.analysis.fields import Field, sag_field
from splitterfem.design import Rib
from splitterfem.errors import DesignError
from splitterfem.model import clearance_datum
from splitterfem.output.contours import joined
from splitterfem.output.planparts import at_points, halves
from splitterfem.output.planview import CHORD, bounds
from splitterfem.output.style import Scale, number

Array = NDArray[np.float64]

FINENESS = 3
"""Intervals on an element's side: what is seen is no finer."""

SHOWN = 0.09
"""Largest movement in the picture over the width of the panel, about."""

DEEPEST = 0.45
"""Ground that would lie lower than this over the panel's width is left out unless it is asked for."""

STRETCH = 0.02
"""Length in m of the pieces in which a rib follows the panel."""

MOST = 1e6
"""Largest exaggeration."""


@dataclass(frozen=True, eq=False)
class Shape:
    """A bent panel in space; all in m.

    Attributes
    ----------
    sag : Field
        At the corners of the surface, not exaggerated.
    points : ndarray, shape (n, 3)
        Corners of the surface, exaggerated.
    exaggeration : float
        By how much the movement is drawn larger.
    ribs : tuple of (str, ndarray of shape (m, 4, 3))
        Name and faces of each rib, at its true height on the bent panel.
    struts : tuple of (str, ndarray of shape (2, 3))
        Name, foot on the bent panel and head of each strut.
    marks : tuple of (str, str, ndarray of shape (3,))
        Kind, name and place on the bent panel of every bolt, pin, stop and pocket.
    worst : ndarray, shape (3,)
        Place of the largest sag.
    ground : ndarray, shape (4, 3), or None
        Corners of the ground under the panel, as far below it as it is times the exaggeration; None if not drawn.
    edges : tuple of ndarray of shape (k, 3)
        Outline and openings on the bent panel.
    """

    sag: Field
    points: Array
    exaggeration: float
    ribs: tuple[tuple[str, Array], ...]
    struts: tuple[tuple[str, Array], ...]
    marks: tuple[tuple[str, str, Array], ...]
    worst: Array
    ground: Array | None
    edges: tuple[Array, ...]

    def limits(self) -> Array:
        """Least and greatest x, y, z of all that is drawn, shape (2, 3)."""
        parts = [self.points, *(faces.reshape(-1, 3) for _, faces in self.ribs), *(s for _, s in self.struts)]
        every = np.concatenate(parts if self.ground is None else [*parts, self.ground])
        return np.array([every.min(axis=0), every.max(axis=0)])


def shape_of(solution: Solution, *, exaggeration: float | None = None, ground: bool | None = None) -> Shape:
    """Bend a panel for a picture.

    Parameters
    ----------
    solution : Solution
    exaggeration : float, optional
        By how much movement is drawn larger than it is; a round number with which it is seen well when left out.
    ground : bool, optional
        Whether to draw the ground; where it would not lie far below the panel when left out.

    Raises
    ------
    DesignError
        If the exaggeration is not above zero.
    """
    model = solution.model
    sag = joined(sag_field(model, solution.response.x, FINENESS))
    box = bounds(model.design)
    factor = _round_factor(sag, box.width) if exaggeration is None else float(exaggeration)
    if not 0.0 < factor <= MOST:
        raise DesignError(f"The exaggeration of a shape is {factor:g}; give a number above 0, such as 20.")
    half = 0.5 * float(model.design.panel.sheet.thickness)

    def height(places: Array) -> Array:
        """Exaggerated height (n,) of the panel's middle at places (n, 2)."""
        found = solution.sag_at(places[:, 0], places[:, 1])
        bad = ~np.isfinite(found)
        if bad.any():  # a hair off the mesh: the nearest corner of it has the same height to the eye
            near = ((places[bad, None] - np.column_stack([sag.x, sag.y])) ** 2).sum(axis=2).argmin(axis=1)
            found[bad] = sag.values[near]
        return np.asarray(-factor * found)

    def on_panel(places: Array) -> Array:
        return np.column_stack([places, height(places)])

    at = np.array([solution.max_sag_at])
    marks = [
        (kind, part.name, part.at)
        for kind, parts in at_points(model.design).items()
        for part in halves(parts)
    ]
    for pocket in halves(model.design.pockets):
        x0, y0, x1, y1 = pocket.bounds
        marks.append(("rear pocket", pocket.name, (0.5 * (x0 + x1), 0.5 * (y0 + y1))))
    struts = []
    for strut in halves(model.design.struts):
        foot = on_panel(np.array([[strut.foot[0], strut.foot[1]]], dtype=float))[0]
        struts.append((strut.name, np.array([foot, np.asarray(strut.head, dtype=float)])))
    corners = np.array(
        [(box.rear, box.right), (box.front, box.right), (box.front, box.left), (box.rear, box.left)]
    )
    below = -factor * clearance_datum(model.design, solution.case)(corners[:, 0]) - half
    shown = float(-below.min()) <= DEEPEST * box.width if ground is None else ground
    return Shape(
        sag,
        np.column_stack([sag.x, sag.y, -factor * sag.values]),
        factor,
        tuple((rib.name, _rib_faces(rib, half, height)) for rib in halves(model.design.ribs)),
        tuple(struts),
        tuple((kind, name, on_panel(np.array([where], dtype=float))[0]) for kind, name, where in marks),
        on_panel(at)[0],
        np.column_stack([corners, below]) if shown else None,
        tuple(on_panel(line) for line in _edge_lines(solution)),
    )


def scale_words(shape: Shape, solution: Solution, scale: Scale) -> str:
    """Say by how much movement is exaggerated, what it is in truth, and where the ground is."""
    said = (
        f"Vertical movement drawn {factor_words(shape.exaggeration)}; in truth the panel sags "
        f"{scale.say(solution.max_sag)} at most"
    )
    gap = f"smallest gap to the ground {scale.say(solution.min_clearance)}"
    drawn = "ground drawn as much farther away" if shape.ground is not None else "ground not drawn"
    return f"{said};\n{gap}, {drawn}; plan, ribs and struts at true size"


def factor_words(factor: float) -> str:
    """Say how much larger something is drawn."""
    if factor == 1.0:
        return "at true size"
    return f"{number(factor, 0 if factor >= 10.0 else 1).removesuffix('.0')} times as large as it is"


def _round_factor(sag: Field, width: float) -> float:
    """Largest of 1, 2 and 5 times a power of ten with which the movement stays within its share of the width."""
    most = float(np.abs(sag.values).max())
    if most <= 0.0 or SHOWN * width / most >= MOST:
        return 1.0
    raw = SHOWN * width / most
    power = 10.0 ** math.floor(math.log10(raw))
    return float(max(step * power for step in (1.0, 2.0, 5.0) if step * power <= raw * (1.0 + 1e-9)))


def _rib_faces(rib: Rib, half: float, height: Callable[[Array], Array]) -> Array:
    """Faces (m, 4, 3) of a rib as a box as wide and high as its section, along the bent panel."""
    properties = rib.section.properties()
    side = 1.0 if rib.side == "above" else -1.0
    faces: list[Array] = []
    for a, b in pairwise(np.asarray(rib.points, dtype=float)):
        length = float(np.hypot(*(b - a)))
        along = (b - a) / length
        across = 0.5 * properties.span * np.array([-along[1], along[0]])
        places = a + np.linspace(0.0, length, max(2, math.ceil(length / STRETCH)))[:, None] * along
        low = height(places) + side * half
        corners = [
            np.column_stack([places + way * across, low + up])
            for way, up in (
                (1, 0.0),
                (1, side * properties.height),
                (-1, side * properties.height),
                (-1, 0.0),
            )
        ]
        for first, second in pairwise(corners):
            faces += [
                np.array([first[i], first[i + 1], second[i + 1], second[i]]) for i in range(len(places) - 1)
            ]
        faces += [np.array([corner[end] for corner in corners]) for end in (0, -1)]
    return np.array(faces)


def _edge_lines(solution: Solution) -> list[Array]:
    """Places (k, 2) along the outline and the openings, closed."""
    panel = solution.model.design.panel
    loops = [panel.outline.loop(), *(loop for _, loop in panel.holes())]
    lines = [curves.flatten(loop, CHORD) for loop in loops]
    closed = [np.concatenate([line, line[:1]]) for line in lines]
    return [
        np.asarray(shapely.get_coordinates(shapely.segmentize(shapely.LineString(c), STRETCH)))
        for c in closed
    ]
