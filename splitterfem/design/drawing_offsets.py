"""Outlines from offsets measured by hand: the x of the lip, and of the rear edge, at stations across the car."""

from __future__ import annotations

import itertools
import os
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import shapely

from splitterfem import curves
from splitterfem.curves import Point
from splitterfem.design.drawing_frame import LARGEST, SMALLEST, Drawing, length_of
from splitterfem.design.drawing_table import Column, Station, read_stations
from splitterfem.design.outline import Edge, Outline
from splitterfem.errors import DesignError, FileError

_SAME = 1e-6
_ON_PLANE = 0.4e-6


def read_offsets(
    path: str | os.PathLike[str],
    *,
    unit: str | None = None,
    rear: object | None = None,
    smooth: bool = False,
    datum: object = 0.0,
    backward: bool = False,
) -> Drawing:
    """Read an outline from a table of offsets.

    The table has a line for each station across the car, with columns ``y``, ``x_front`` (of the lip) and, if
    the rear edge is not straight, ``x_rear``. A unit may follow a name, as in ``y_mm`` or ``x_front [in]``, and
    numbers may be fractions such as 31 1/2. A field is left empty where nothing was measured; at the outermost
    stations both edges are needed, and a straight side joins them. Stations may come in any order. When they
    are all on one side, the one at y = 0 included, the other half is the mirror image.

    Parameters
    ----------
    path : path
        Comma-separated values, UTF-8, at most 1 MB and 1900 stations; ``#`` begins a comment.
    unit : str, optional
        Of the columns that name none.
    rear : length, optional
        The x of a straight rear edge, from the front axle line forward, instead of a column ``x_rear``.
    smooth : bool
        Join the points of each edge by a smooth curve instead of straight lines. It has no corner, also not at
        y = 0 of a mirrored half.
    datum : length
        The x of the line from which the offsets were measured; 0 is the front axle line.
    backward : bool
        The offsets were measured from the datum towards the rear.

    Returns
    -------
    Drawing
        Outline without openings, and a report.

    Raises
    ------
    FileError
        One sentence that names the file, the line, the column, what was found and the mend.
    DesignError, UnitError
        An argument that does not fit.
    """
    file = Path(path)
    start = length_of(datum, "datum")
    straight = None if rear is None else length_of(rear, "rear")
    stations, columns = read_stations(file, unit)
    if (straight is None) == ("x_rear" not in columns):
        found = (
            "no column x_rear" if straight is None else f"a column '{columns['x_rear'].heading}' beside rear"
        )
        raise FileError(
            f"{file.name} has {found}; give the rear edge either as a column x_rear or as rear='-500 mm'"
        )
    stations = _in_order(stations, file.name)
    half = _is_half(stations, file.name)
    sign = -1.0 if backward else 1.0
    edges = {
        role: [_point(start + sign * s.values[role], s.values["y"]) for s in stations if role in s.values]
        for role in ("x_front", "x_rear")
    }
    if straight is not None:
        edges["x_rear"] = [_point(straight, s.values["y"]) for s in (stations[0], stations[-1])]
    _refuse_gaps(stations, edges, columns, file.name)
    if half and stations[0].values["y"] < -_ON_PLANE:
        edges = {role: [(x, -y) for x, y in reversed(points)] for role, points in edges.items()}
    _refuse_crossed(stations, edges, file.name)
    outline = _outline(edges["x_front"], edges["x_rear"], smooth=smooth, half=half, file=file.name)
    return Drawing(outline, (), tuple(_report(stations, edges, columns, outline, smooth=smooth, half=half)))


def _point(x: float, y: float) -> Point:
    """Round to a nanometre, so that 600 mm less 80 mm are 520 mm; what is on the centre plane has y = 0."""
    return round(x, 9) + 0.0, 0.0 if abs(y) <= _ON_PLANE else round(y, 9)


def _in_order(stations: Sequence[Station], file: str) -> list[Station]:
    """Sort stations from right to left; refuse too few and two at the same place."""
    if len(stations) < 2:
        raise FileError(f"{file} has too few stations ({len(stations)}); an outline needs two or more")
    found = sorted(stations, key=lambda station: station.values["y"])
    for a, b in itertools.pairwise(found):
        if b.values["y"] - a.values["y"] < _SAME:
            first, second = sorted((a.line, b.line))
            raise FileError(
                f"{file}, line {second}: y = {1e3 * b.values['y']:.6g} mm is already on line {first}; keep one of them"
            )
    return found


def _is_half(stations: Sequence[Station], file: str) -> bool:
    """Tell whether the stations lie on one side of the centre plane."""
    right, left = stations[0].values["y"], stations[-1].values["y"]
    if right < -_ON_PLANE and left > _ON_PLANE:
        return False
    if min(abs(right), abs(left)) > _ON_PLANE:
        raise FileError(
            f"{file}: the stations run from y = {1e3 * right:.6g} mm to y = {1e3 * left:.6g} mm, on one side of the "
            "centre plane, but there is none at y = 0; add it, or measure across the whole width"
        )
    return True


def _refuse_gaps(
    stations: Sequence[Station], edges: dict[str, list[Point]], columns: dict[str, Column], file: str
) -> None:
    """Refuse an edge that was not measured at the first or the last station."""
    for role, column in columns.items():
        for station in (stations[0], stations[-1]) if role != "y" else ():
            if role not in station.values:
                raise FileError(
                    f"{file}, line {station.line}: {column.heading} is empty at y = "
                    f"{1e3 * station.values['y']:.6g} mm, where the edge ends; measure it there"
                )


def _refuse_crossed(stations: Sequence[Station], edges: dict[str, list[Point]], file: str) -> None:
    """Refuse stations at which the rear edge is not behind the lip."""
    lines = {_point(0.0, station.values["y"])[1]: station.line for station in stations}
    front = {y: x for x, y in edges["x_front"]}
    ends = {edges["x_front"][0][1], edges["x_front"][-1][1]}
    for x, y in edges["x_rear"]:
        least = 0.0 if y in ends and abs(y) > _SAME else _SAME
        if y in front and front[y] - x < least:
            line = lines[y] if y in lines else lines[-y]
            raise FileError(
                f"{file}, line {line}: the rear edge at x = {1e3 * x:.6g} mm is not behind the lip at x = "
                f"{1e3 * front[y]:.6g} mm; x is positive forward (give backward=True when it was measured backwards)"
            )


def _outline(front: list[Point], back: list[Point], *, smooth: bool, half: bool, file: str) -> Outline:
    """Join the points: the lip from right to left, the left side, the rear edge, and the right side."""
    edges = _edges(front, smooth=smooth)
    rear = back[::-1]
    if abs(rear[0][0] - front[-1][0]) > _SAME:
        edges.append(Edge(to=rear[0]))
    else:
        rear[0] = front[-1]
    if not half and abs(rear[-1][0] - front[0][0]) <= _SAME:
        rear[-1] = front[0]
    edges += _edges(rear, smooth=smooth)
    try:
        outline = Outline(start=front[0], edges=tuple(edges), **({"mirror": True} if half else {}))
        x0, y0, x1, y1 = outline.polygon().bounds
    except DesignError as problem:
        raise FileError(f"{file}: the points make no outline: {problem}".replace("\n", "; ")) from None
    if not SMALLEST <= min(x1 - x0, y1 - y0) <= max(x1 - x0, y1 - y0) <= LARGEST:
        raise FileError(
            f"{file}: the outline measures {1e3 * (x1 - x0):.6g} x {1e3 * (y1 - y0):.6g} mm, and a panel measures "
            f"{1e3 * SMALLEST:g} mm to {1e3 * LARGEST:g} mm each way; check the unit"
        )
    return outline


def _edges(points: Sequence[Point], *, smooth: bool) -> list[Edge]:
    """Return the edges from the first of some points to the last."""
    if smooth and len(points) > 2:
        return [Edge(to=points[-1], through=tuple(points[1:-1]))]
    return [Edge(to=point) for point in points[1:]]


def _report(
    stations: Sequence[Station],
    edges: dict[str, list[Point]],
    columns: dict[str, Column],
    outline: Outline,
    *,
    smooth: bool,
    half: bool,
) -> list[str]:
    """Say what was read."""
    y0, y1 = (1e3 * stations[i].values["y"] for i in (0, -1))
    units = ", ".join(f"{column.heading} in {column.unit}" for column in columns.values())
    across = "one side, mirrored about y = 0" if half else "the whole width"
    sentences = [
        f"{len(stations)} stations from y = {y0:.6g} mm to y = {y1:.6g} mm were read: {across}.",
        f"Columns: {units}.",
    ]
    if not smooth:
        return [*sentences, "The points of each edge are joined by straight lines."]
    chords = shapely.LineString(edges["x_front"])
    spline = next((c for c in outline.loop() if isinstance(c, curves.Spline)), None)
    if spline is None:
        return [*sentences, "The edges have too few points for a smooth curve and are straight."]
    points = spline.at(np.linspace(0.0, 1.0, 20 * len(spline.points)))
    points = points[points[:, 1] >= min(y for _, y in edges["x_front"])]
    gaps = shapely.distance(shapely.points(points), chords)
    worst = int(np.argmax(gaps))
    return [
        *sentences,
        "The points of each edge are joined by a smooth curve, which leaves the straight lines between the points "
        f"of the lip by up to {1e3 * gaps[worst]:.3g} mm, at {curves.in_mm(points[worst])} mm; where the lip has a "
        "corner, straight lines are the better choice.",
    ]
