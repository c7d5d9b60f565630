"""Lines that a mesh must follow, cleaned up: pulled onto edges and onto each other, split where they meet."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from ..curves import Points, in_mm
from ..errors import DesignError
from .geometry import Domain, check_names
from .line_checks import check_beside, check_inside, check_sharpness, check_side_by_side

SNAP = 0.5e-3  #: Line ends nearer than this to an edge, a corner or another line are pulled onto it (m).
ON_EDGE = 1e-7  #: Distance below which a point counts as lying on the boundary (m).


@dataclass(frozen=True, eq=False)
class EmbeddedLine:
    """A polyline that mesh edges must follow.

    Parameters
    ----------
    name : str
        Its name, not shared with another line.
    points : ndarray, shape (n, 2)
        Its corners in order (m).
    """

    name: str
    points: Points


@dataclass(frozen=True, eq=False)
class Network:
    """Lines split where they meet each other and the corners of the boundary.

    Attributes
    ----------
    nodes : ndarray, shape (n, 2)
        Ends of the pieces (m).
    chains : dict of str to ndarray of int
        The nodes along each line, by name.
    edges : ndarray of int, shape (m, 2)
        Straight pieces between nodes, each once even if several lines share it.
    on_boundary : ndarray of bool, shape (m,)
        Pieces that run along the boundary.
    """

    nodes: Points
    chains: dict[str, NDArray[np.int64]]
    edges: NDArray[np.int64]
    on_boundary: NDArray[np.bool_]


def network_of(domain: Domain, lines: Sequence[EmbeddedLine]) -> Network:
    """Fit lines into a domain and split them where they meet.

    Ends and corners of lines up to 0.5 mm from the boundary (on either side of it), and ends up to 0.5 mm
    from another line, are pulled onto it; lines that lie on each other share their pieces; and a line that
    passes a corner of the boundary or an end of another line within 0.5 mm is led through it.

    Parameters
    ----------
    domain : Domain
        The region to mesh.
    lines : sequence of EmbeddedLine
        The lines.

    Returns
    -------
    Network

    Raises
    ------
    DesignError
        When a line leaves the domain, crosses itself, runs beside another line or the boundary by less than
        1 mm, or meets one of them at less than 2 degrees.
    """
    check_names((line.name for line in lines), "line")
    if not lines:
        return Network(np.empty((0, 2)), {}, np.empty((0, 2), int), np.empty(0, bool))
    paths = {line.name: _pulled_to_boundary(domain, line.name, _read(line)) for line in lines}
    check_side_by_side(paths)
    nodes, chains = _split(domain, _pulled_together(domain, paths))
    edges = _edges(chains)
    on_boundary = _on_boundary(domain, nodes, edges)
    inner, owners = edges[~on_boundary], _owners(chains, edges[~on_boundary])
    pieces = [(nodes[edge], name) for edge, name in zip(inner, owners, strict=True)]
    check_inside(domain, pieces)
    check_sharpness(domain, nodes, inner, owners)
    check_beside(domain, pieces)
    return Network(nodes, chains, edges, on_boundary)


def _read(line: EmbeddedLine) -> Points:
    points = np.array(line.points, dtype=float)
    if points.ndim != 2 or points.shape[1] != 2:
        raise DesignError(
            f"Line '{line.name}' has points of shape {points.shape}; give shape (n, 2) in metres."
        )
    if not np.isfinite(points).all():
        i = int(np.argmin(np.isfinite(points).all(axis=1)))
        raise DesignError(f"Point {i + 1} of line '{line.name}' is {points[i].tolist()}; give finite metres.")
    points = _thinned(points)
    if len(points) < 2:
        raise DesignError(f"Line '{line.name}' has no length; give it two points at least 0.5 mm apart.")
    if not shapely.LineString(points).is_simple:
        raise DesignError(
            f"Line '{line.name}' from {in_mm(points[0])} mm crosses itself; split it into several lines."
        )
    return points


def _thinned(points: Points) -> Points:
    """Drop points nearer than `SNAP` to the one kept before; the last point stays."""
    kept = [0]
    for i in range(1, len(points)):
        if np.linalg.norm(points[i] - points[kept[-1]]) > SNAP:
            kept.append(i)
    if kept[-1] != len(points) - 1 and len(kept) > 1:
        kept[-1] = len(points) - 1
    return points[kept]


def _pulled_to_boundary(domain: Domain, name: str, points: Points) -> Points:
    edge = domain.nearest(points)
    close = edge.distance <= SNAP
    points = np.where(close[:, None], edge.points, points)
    off = ~close & ~shapely.contains_xy(domain.polygon, points)
    if off.any():
        i = int(np.argmax(np.where(off, edge.distance, -1.0)))
        raise DesignError(
            f"Line '{name}' leaves the panel at {in_mm(points[i])} mm, {1e3 * edge.distance[i]:.1f} mm "
            f"beyond {domain.name_of(edge.curve[i])}; end it at the edge."
        )
    return _thinned(_to_nearest(points, domain.corners))


def _to_nearest(points: Points, targets: Points) -> Points:
    """Move points onto targets within `SNAP`."""
    distance = np.linalg.norm(points[:, None] - targets[None], axis=2)
    best = distance.argmin(axis=1)
    near = distance[np.arange(len(points)), best] <= SNAP
    return np.where(near[:, None], targets[best], points)


def _pulled_together(domain: Domain, paths: dict[str, Points]) -> dict[str, Points]:
    """Pull the ends of lines that stop just short of, or just beyond, another line onto it."""
    paths = {name: path.copy() for name, path in paths.items()}
    for name, path in paths.items():
        for end in (0, -1):
            others = [other for key, other in paths.items() if key != name]
            if not others or domain.nearest(path[[end]]).distance[0] <= ON_EDGE:
                continue
            corner = _to_nearest(path[[end]], np.concatenate(others))[0]
            if (corner == path[end]).all():
                rest = shapely.MultiLineString([shapely.LineString(other) for other in others])
                foot = shapely.shortest_line(rest, shapely.Point(path[end])).coords[0]
                corner = _to_nearest(path[[end]], np.array([foot]))[0]
            path[end] = corner
    return paths


def _split(domain: Domain, paths: dict[str, Points]) -> tuple[Points, dict[str, NDArray[np.int64]]]:
    corners = _to_use(domain.corners, paths)
    vertices = np.concatenate(list(paths.values()))
    on = domain.nearest(vertices).distance <= ON_EDGE
    nodes = _clustered([corners, vertices[on], vertices[~on], _crossings(paths)], fixed=len(corners))
    chains = {name: _nearest_node(nodes, path) for name, path in paths.items()}
    for _ in range(5):
        longer = {name: _through(nodes, chain, name) for name, chain in chains.items()}
        if all(len(longer[name]) == len(chains[name]) for name in chains):
            break
        chains = longer
    return _renumbered(nodes, chains)


def _to_use(corners: Points, paths: dict[str, Points]) -> Points:
    """Corners of the boundary that a line passes within `SNAP`."""
    lines = shapely.MultiLineString([shapely.LineString(path) for path in paths.values()])
    return np.asarray(corners[shapely.dwithin(shapely.points(corners), lines, SNAP)])


def _segments(paths: dict[str, Points]) -> Points:
    """All straight pieces, shape (n, 2 ends, 2)."""
    return np.concatenate(
        [np.stack([p[:-1], p[1:]], axis=1) for p in paths.values()] or [np.empty((0, 2, 2))]
    )


def _crossings(paths: dict[str, Points]) -> Points:
    ends = np.concatenate([np.stack([p[:-1], p[1:]], axis=1) for p in paths.values()])
    tree = shapely.STRtree(shapely.linestrings(ends))
    first, second = tree.query(tree.geometries, predicate="intersects")
    first, second = first[first < second], second[first < second]
    a, b = ends[first], ends[second]
    u, v, w = a[:, 1] - a[:, 0], b[:, 1] - b[:, 0], b[:, 0] - a[:, 0]
    sine = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    slanted = np.abs(sine) > 1e-6 * np.linalg.norm(u, axis=1) * np.linalg.norm(v, axis=1)
    s = (w[:, 0] * v[:, 1] - w[:, 1] * v[:, 0])[slanted] / sine[slanted]
    return np.asarray(a[slanted, 0] + s[:, None] * u[slanted])


def _clustered(groups: list[Points], *, fixed: int) -> Points:
    """One node for all points within `SNAP` of each other; earlier points win, the first `fixed` all stay."""
    points = np.concatenate(groups)
    kept = list(range(fixed))
    for i in range(fixed, len(points)):
        if not kept or np.linalg.norm(points[kept] - points[i], axis=1).min() > SNAP:
            kept.append(i)
    return points[kept]


def _nearest_node(nodes: Points, path: Points) -> NDArray[np.int64]:
    return np.array([np.linalg.norm(nodes - p, axis=1).argmin() for p in path])


def _through(nodes: Points, chain: NDArray[np.int64], name: str) -> NDArray[np.int64]:
    """Lead a chain through every node within `SNAP` of it."""
    result = [int(chain[0])]
    for i, j in itertools.pairwise(chain):
        if i == j:
            continue
        u = nodes[j] - nodes[i]
        along = (nodes - nodes[i]) @ u / (u @ u)
        off = np.linalg.norm(nodes - nodes[i] - along[:, None] * u, axis=1)
        within = np.flatnonzero((along > 0.0) & (along < 1.0) & (off <= SNAP))
        result += [int(n) for n in within[np.argsort(along[within])] if n not in (i, j)]
        result.append(int(j))
    closed = result[0] == result[-1]
    inner = result[1:] if closed else result
    if len(set(inner)) < len(inner) or (closed and len(inner) < 3):
        twice = next((n for n in inner if inner.count(n) > 1), result[0])
        raise DesignError(f"Line '{name}' folds back on itself at {in_mm(nodes[twice])} mm; straighten it.")
    return np.array(result)


def _renumbered(
    nodes: Points, chains: dict[str, NDArray[np.int64]]
) -> tuple[Points, dict[str, NDArray[np.int64]]]:
    used = np.unique(np.concatenate(list(chains.values())))
    return nodes[used], {name: np.searchsorted(used, chain) for name, chain in chains.items()}


def _edges(chains: dict[str, NDArray[np.int64]]) -> NDArray[np.int64]:
    pairs = [np.sort(np.stack([c[:-1], c[1:]], axis=1), axis=1) for c in chains.values()]
    return np.unique(np.concatenate(pairs), axis=0)


def _owners(chains: dict[str, NDArray[np.int64]], edges: NDArray[np.int64]) -> list[str]:
    """Name of the first line along each edge."""
    owner: dict[tuple[int, int], str] = {}
    for name, chain in chains.items():
        for i, j in itertools.pairwise(chain.tolist()):
            owner.setdefault((min(i, j), max(i, j)), name)
    return [owner[i, j] for i, j in edges.tolist()]


def _on_boundary(domain: Domain, nodes: Points, edges: NDArray[np.int64]) -> NDArray[np.bool_]:
    a, b = nodes[edges[:, 0]], nodes[edges[:, 1]]
    places = [domain.nearest(a + s * (b - a)).distance <= ON_EDGE for s in (0.0, 0.25, 0.5, 0.75, 1.0)]
    return np.asarray(np.all(places, axis=0))
