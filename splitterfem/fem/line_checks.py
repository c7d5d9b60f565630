"""Checks on the lines that a mesh must follow: what would make slivers is refused with its place."""

from __future__ import annotations

import itertools
from typing import Any, NoReturn

import numpy as np
import shapely
from numpy.typing import NDArray

from ..curves import Points, in_mm
from ..errors import DesignError
from .geometry import FINE, NARROW, Domain

SHARP = np.deg2rad(2.0)  #: Least angle at which lines may meet each other or the boundary (rad).
SAME = 1e-5  #: Lines that differ by no more than this are one and the same (m).
SHORT = 3.0 * NARROW  #: A stretch up to this length nearer than `NARROW` passes for a point of closeness (m).

Piece = tuple[Points, str]


def check_side_by_side(paths: dict[str, Points]) -> None:
    """Refuse lines that run nearly parallel and nearer than 1 mm, but are not the same line.

    Parameters
    ----------
    paths : dict of str to ndarray, shape (n, 2)
        Corners of each line by name (m).

    Raises
    ------
    DesignError
        Naming both lines and the place.
    """
    pieces = [
        (np.array(pair), name, i)
        for name, path in paths.items()
        for i, pair in enumerate(itertools.pairwise(path))
    ]
    if not pieces:
        return
    tree = shapely.STRtree(shapely.linestrings([p for p, _, _ in pieces]))
    for i, j in tree.query(tree.geometries, predicate="dwithin", distance=NARROW).T:
        (a, name, place), (b, other, second) = pieces[i], pieces[j]
        neighbours = name == other and abs(place - second) <= 1
        if i < j and not neighbours:
            _check_pair(a, b, f"Line '{name}'", f"line '{other}'")


def _check_pair(a: Points, b: Points, name: str, other: str) -> None:
    """Compare two straight pieces that come within `NARROW`."""
    length = np.linalg.norm(a[1] - a[0])
    u = (a[1] - a[0]) / length
    v = (b[1] - b[0]) / np.linalg.norm(b[1] - b[0])
    angle = abs(np.arctan2(u[0] * v[1] - u[1] * v[0], u @ v))
    angle = min(angle, np.pi - angle)
    along = np.sort((b - a[0]) @ u)
    low, high = max(along[0], 0.0), min(along[1], float(length))
    if angle > np.deg2rad(20.0) or high - low < SHORT:
        return
    normal = np.array([-u[1], u[0]])
    offset = np.interp([low, high], *_sorted((b - a[0]) @ u, (b - a[0]) @ normal))
    if np.abs(offset).max() <= SAME:
        return
    crossing = offset[0] * offset[1] < 0.0
    if crossing and angle < SHARP:
        where = a[0] + u * (low + (high - low) * offset[0] / (offset[0] - offset[1]))
        _refuse_angle(name, other, float(angle), where)
    if not crossing and min(abs(offset)) > SAME:
        where = a[0] + u * (low if abs(offset[0]) < abs(offset[1]) else high)
        raise DesignError(
            f"{name} runs {1e3 * min(abs(offset)):.2g} mm beside {other} at {in_mm(where)} mm; put them on "
            f"one line, or at least {1e3 * NARROW:g} mm apart."
        )


def _sorted(x: Points, y: Points) -> tuple[Points, Points]:
    order = np.argsort(x)
    return x[order], y[order]


def _refuse_angle(name: str, other: str, angle: float, where: Points) -> NoReturn:
    raise DesignError(
        f"{name} meets {other} at only {np.rad2deg(angle):.1f} degrees at {in_mm(where)} mm; let them meet "
        f"at {np.rad2deg(SHARP):g} degrees or more, or put one on the other."
    )


def check_inside(domain: Domain, pieces: list[Piece]) -> None:
    """Refuse pieces of lines that run over a hole or off the outline.

    Parameters
    ----------
    domain : Domain
        The region to mesh.
    pieces : list of (ndarray of shape (2, 2), str)
        Ends of each straight piece (m) and the name of its line.

    Raises
    ------
    DesignError
        Naming the line, the hole and the place.
    """
    allowed = domain.polygon.buffer(3.0 * FINE, quad_segs=2)
    shapely.prepare(allowed)
    for ends, name in pieces:
        path = shapely.LineString(ends)
        if allowed.covers(path):
            continue
        outside = max(shapely.get_parts(path.difference(allowed)), key=lambda part: part.length)
        middle = outside.interpolate(0.5, normalized=True)
        loop = domain.name_of(int(domain.nearest(np.array(middle.coords)).curve[0]))
        verb = "leaves the panel over" if loop.startswith("hole") else "leaves the panel beyond"
        raise DesignError(
            f"Line '{name}' {verb} {loop} from {in_mm(outside.coords[0])} to {in_mm(outside.coords[-1])} "
            "mm; end it at the edge, or lead it round."
        )


def check_sharpness(domain: Domain, nodes: Points, edges: NDArray[np.int64], owners: list[str]) -> None:
    """Refuse lines that meet each other or the boundary at less than 2 degrees.

    Parameters
    ----------
    domain : Domain
        The region to mesh.
    nodes : ndarray, shape (n, 2)
        Places where pieces end (m).
    edges : ndarray of int, shape (m, 2)
        The pieces that do not run along the boundary.
    owners : list of str
        Name of the line of each piece.

    Raises
    ------
    DesignError
        Naming both and the place.
    """
    leaving: dict[int, list[tuple[float, str]]] = {}
    for (i, j), owner in zip(edges.tolist(), owners, strict=True):
        u = nodes[j] - nodes[i]
        leaving.setdefault(i, []).append((np.arctan2(u[1], u[0]), f"Line '{owner}'"))
        leaving.setdefault(j, []).append((np.arctan2(-u[1], -u[0]), f"Line '{owner}'"))
    used = sorted(leaving)
    if used:
        for node, tangents in _tangents(domain, nodes, used):
            leaving[node] += tangents
    for node in used:
        rays = sorted(leaving[node])
        for (a, one), (b, two) in itertools.pairwise([*rays, (rays[0][0] + 2.0 * np.pi, rays[0][1])]):
            if b - a < SHARP and (one.startswith("Line") or two.startswith("Line")):
                one, two = sorted((one, two), key=lambda label: not label.startswith("Line"))
                _refuse_angle(one, two[0].lower() + two[1:], b - a, nodes[node])


def _tangents(domain: Domain, nodes: Points, used: list[int]) -> list[tuple[int, list[tuple[float, str]]]]:
    """Directions of the boundary at the nodes that lie on it."""
    edge = domain.nearest(nodes[used])
    result = []
    for node, distance, curve, t in zip(used, edge.distance, edge.curve, edge.parameter, strict=True):
        if distance > 1e-7:
            continue
        ahead, behind = int(curve), int(curve)
        s_ahead = s_behind = float(t)
        if t == 1.0:
            ahead, s_ahead = domain.after(ahead), 0.0
        if t == 0.0:
            behind, s_behind = domain.before(behind), 1.0
        out, back = (
            domain.curves[ahead].derivative(s_ahead)[0],
            -domain.curves[behind].derivative(s_behind)[0],
        )
        name = domain.name_of(ahead)
        result.append((node, [(float(np.arctan2(d[1], d[0])), name) for d in (out, back)]))
    return result


def check_beside(domain: Domain, pieces: list[Piece]) -> None:
    """Refuse lines that run along the boundary nearer than 1 mm without lying on it.

    Parameters
    ----------
    domain : Domain
        The region to mesh.
    pieces : list of (ndarray of shape (2, 2), str)
        Ends of each straight piece off the boundary (m) and the name of its line.

    Raises
    ------
    DesignError
        Naming the line, the hole or the outline, and the place.
    """
    if not pieces:
        return
    band = domain.polygon.boundary.buffer(NARROW, quad_segs=2)
    paths = shapely.linestrings([ends for ends, _ in pieces])
    for (ends, name), near in zip(pieces, shapely.intersection(paths, band), strict=True):
        for part in shapely.get_parts(near):
            if _is_sliver(domain, ends, part):
                _refuse_beside(domain, name, part)


def _is_sliver(domain: Domain, ends: Points, part: Any) -> bool:
    """Whether a stretch near the boundary leaves a narrow strip that no good triangle fits."""
    feet = ends[domain.nearest(ends).distance <= 1e-7]
    touched = int(shapely.dwithin(part, shapely.points(feet), 1e-7).sum())
    if touched == 1:  # the way out of a foot on the boundary, whose angle is checked by itself
        return False
    if touched == 2:  # a chord: over a corner it leaves a good triangle, over a flat arc none
        middle = np.array(part.interpolate(0.5, normalized=True).coords)
        return bool(domain.nearest(middle).distance[0] < 0.15 * part.length)
    return bool(part.length > SHORT)


def _refuse_beside(domain: Domain, name: str, part: Any) -> NoReturn:
    points = np.array([part.interpolate(s, normalized=True).coords[0] for s in np.linspace(0.0, 1.0, 21)])
    edge = domain.nearest(points)
    i = int(np.argsort(edge.distance)[10])
    loop = domain.name_of(int(edge.curve[i]))
    raise DesignError(
        f"Line '{name}' runs {1e3 * edge.distance[i]:.2g} mm beside {loop} at {in_mm(points[i])} mm; put it "
        f"on the edge, or at least {1e3 * NARROW:g} mm away."
    )
