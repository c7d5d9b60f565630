"""Checks on a finished mesh: that it covers the panel, keeps its edges and follows its lines."""

from __future__ import annotations

import itertools
from typing import Any, NoReturn

import numpy as np
import shapely
from numpy.typing import NDArray

from ..curves import Points, in_mm
from ..errors import MeshError
from .embedding import Network
from .geometry import OUTLINE, Domain

ON_CURVE = 1e-9  #: Largest distance of a boundary vertex from its curve (m).

SLIVER = 0.1  #: Smallest angle of a triangle that is trusted (degrees): its sides are 600 times as long as it is wide.

Pairs = NDArray[np.int64]


def _refuse(what: str, where: Points) -> NoReturn:
    raise MeshError(f"{what} near {in_mm(where)} mm; ask for smaller elements there, or simplify the shape.")


def used_only(points: Points, triangles: Pairs) -> tuple[Points, Pairs]:
    """Drop vertices that no triangle uses and number the rest anew; shapes (n, 2) and (m, 3)."""
    used, renumbered = np.unique(triangles, return_inverse=True)
    return points[used], renumbered.reshape(triangles.shape).astype(np.int64)


def triangle_areas(points: Points, triangles: Pairs) -> NDArray[np.float64]:
    """Compute the signed areas (m²), positive counter-clockwise; shapes (n, 2) and (m, 3)."""
    a, b, c = (points[triangles[:, k]] for k in range(3))
    u, v = b - a, c - a
    return np.asarray(0.5 * (u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]))


def smallest_angle(points: Points, triangles: Pairs) -> float:
    """Find the smallest angle of all triangles (degrees); shapes (n, 2) and (m, 3).

    Raises
    ------
    MeshError
        If it is below `SLIVER`: strains across such a triangle are rounding.
    """
    angles = np.empty((3, len(triangles)))
    for k in range(3):
        u = points[triangles[:, (k + 1) % 3]] - points[triangles[:, k]]
        v = points[triangles[:, (k + 2) % 3]] - points[triangles[:, k]]
        angles[k] = np.arctan2(np.abs(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]), (u * v).sum(axis=1))
    least = float(np.rad2deg(angles.min()))
    if least < SLIVER:
        worst = triangles[int(angles.min(axis=0).argmin())]
        _refuse(f"The mesh has a triangle with an angle of {least:.2g} degrees", points[worst].mean(axis=0))
    return least


def check_triangles(points: Points, triangles: Pairs) -> None:
    """Refuse an empty mesh, inverted or flat triangles, and a mesh in several pieces.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Vertices (m).
    triangles : ndarray of int, shape (m, 3)
        Vertices of each triangle, counter-clockwise.

    Raises
    ------
    MeshError
        Naming the place.
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    if not len(triangles):
        raise MeshError("The mesh has no triangles; check the outline, or ask for smaller elements.")
    areas = triangle_areas(points, triangles)
    worst = int(areas.argmin())
    longest = np.ptp(points[triangles[worst]], axis=0).max()
    if not areas[worst] > 1e-9 * longest**2:
        _refuse("The mesh has an inverted or flat triangle", points[triangles[worst]].mean(axis=0))
    edges, _, sides = mesh_edges(triangles)
    first, second = sides[edges >= 0], edges[edges >= 0]
    n = len(triangles)
    graph = coo_array((np.ones(len(first)), (first, second)), shape=(n, n))
    pieces, label = connected_components(graph, directed=False)
    if pieces > 1:
        smallest = int(np.argmin(np.bincount(label)))
        middle = points[triangles[label == smallest]].mean(axis=(0, 1))
        _refuse(f"The mesh falls into {pieces} pieces, one of them", middle)


def mesh_edges(triangles: Pairs) -> tuple[Pairs, Pairs, Pairs]:
    """Match the sides of triangles.

    Parameters
    ----------
    triangles : ndarray of int, shape (m, 3)
        Vertices of each triangle, counter-clockwise.

    Returns
    -------
    neighbour : ndarray of int, shape (3 m,)
        Triangle on the other side, or -1 on the boundary.
    pairs : ndarray of int, shape (3 m, 2)
        Vertices of each side, directed with its triangle on the left.
    owner : ndarray of int, shape (3 m,)
        Triangle of each side.
    """
    pairs = triangles[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    owner = np.repeat(np.arange(len(triangles)), 3)
    n = int(triangles.max()) + 1
    code, reverse = pairs[:, 0] * n + pairs[:, 1], pairs[:, 1] * n + pairs[:, 0]
    order = np.argsort(code)
    slot = np.minimum(np.searchsorted(code[order], reverse), len(code) - 1)
    found = code[order][slot] == reverse
    return np.where(found, owner[order][slot], -1), pairs, owner


def boundary_loops(domain: Domain, points: Points, triangles: Pairs) -> dict[str, Pairs]:
    """Find the boundary edges of each loop, in order, and check that they follow the true curves.

    Parameters
    ----------
    domain : Domain
        The region that was meshed.
    points : ndarray, shape (n, 2)
        Vertices (m).
    triangles : ndarray of int, shape (m, 3)
        Vertices of each triangle, counter-clockwise.

    Returns
    -------
    dict of str to ndarray, shape (2, k)
        Vertex pairs by name of the loop, directed with the domain on the left.

    Raises
    ------
    MeshError
        When a boundary vertex is off the curves, or boundary edges do not run round each loop exactly once.
    """
    neighbour, pairs, _ = mesh_edges(triangles)
    rim = pairs[neighbour < 0]
    vertices = np.unique(rim)
    edge = domain.nearest(points[vertices])
    if (worst := int(edge.distance.argmax())) >= 0 and edge.distance[worst] > ON_CURVE:
        _refuse("The mesh leaves a gap", points[vertices[worst]])
    at_end = edge.parameter == 1.0
    curve = np.where(at_end, [domain.after(int(c)) for c in edge.curve], edge.curve)
    order = np.lexsort([np.where(at_end, 0.0, edge.parameter), curve])
    loops = {}
    for number, name in enumerate(domain.loops):
        ring = vertices[order][domain.loop_of[curve[order]] == number]
        loops[name] = np.stack([ring, np.roll(ring, -1)])
    expected = np.concatenate(list(loops.values()), axis=1).T
    n = len(points)
    odd = np.setxor1d(expected @ [n, 1], rim @ [n, 1])
    if len(odd) or any(pairs.shape[1] < 3 for pairs in loops.values()):
        where = points[int(odd[0]) // n] if len(odd) else domain.corners[0]
        _refuse("The edges of the mesh do not follow the outline or a hole", where)
    return loops


def chord_error(domain: Domain, points: Points, loops: dict[str, Pairs]) -> tuple[float, Points]:
    """Find the largest distance of a boundary edge's middle from the true curves (m), and its place."""
    middle = np.concatenate([points[pairs].mean(axis=0) for pairs in loops.values()])
    distance = domain.nearest(middle).distance
    worst = int(distance.argmax())
    return float(distance[worst]), middle[worst]


def check_area(
    domain: Domain, points: Points, triangles: Pairs, loops: dict[str, Pairs], chord: float
) -> float:
    """Compare the area of the triangles with the polygon through the boundary vertices and the true area.

    Parameters
    ----------
    domain : Domain
        The region that was meshed.
    points : ndarray, shape (n, 2)
        Vertices (m).
    triangles : ndarray of int, shape (m, 3)
        Vertices of each triangle.
    loops : dict of str to ndarray, shape (2, k)
        Boundary edges in order.
    chord : float
        Largest distance between an edge and its curve (m).

    Returns
    -------
    float
        Area of the triangles (m²).

    Raises
    ------
    MeshError
        When the areas differ by more than rounding, or more than segments of the height `chord` allow.
    """
    total = float(triangle_areas(points, triangles).sum())
    rings = {name: shapely.Polygon(points[pairs[0]]) for name, pairs in loops.items()}
    through = rings[OUTLINE].area - sum(ring.area for name, ring in rings.items() if name != OUTLINE)
    # a flat circular segment has two thirds of the area of its box, a half circle π/4
    allowed = 0.8 * chord * domain.curved_length() + 1e-9 * domain.area
    middle = np.array(domain.polygon.representative_point().coords[0])
    if abs(total - through) > 1e-9 * through or abs(total - domain.area) > allowed:
        _refuse(f"The mesh covers {total:.6g} m² of the panel's {domain.area:.6g} m²", middle)
    return total


def line_edges(network: Network, points: Points, triangles: Pairs) -> dict[str, Pairs]:
    """Find the mesh edges along every line, and check that they cover it.

    Parameters
    ----------
    network : Network
        The lines.
    points : ndarray, shape (n, 2)
        Vertices (m).
    triangles : ndarray of int, shape (m, 3)
        Vertices of each triangle.

    Returns
    -------
    dict of str to ndarray, shape (2, k)
        Vertex pairs by name of the line, in order along it.

    Raises
    ------
    MeshError
        When a line is not covered, to a millionth of its length.
    """
    if not len(network.edges):
        return {}
    _, pairs, _ = mesh_edges(triangles)
    n = len(points)
    known = np.unique(np.concatenate([pairs @ [n, 1], pairs[:, ::-1] @ [n, 1]]))
    along = _vertices_along(network, points)
    lines = {}
    for name, chain in network.chains.items():
        parts = [
            along[i, j] if (i, j) in along else along[j, i][::-1]
            for i, j in itertools.pairwise(chain.tolist())
        ]
        edges = np.concatenate([np.stack([part[:-1], part[1:]]) for part in parts], axis=1)
        there = np.isin(n * edges[0] + edges[1], known)
        covered = np.linalg.norm(np.diff(points[edges[:, there]], axis=0)[0], axis=1).sum()
        length = np.linalg.norm(np.diff(network.nodes[chain], axis=0), axis=1).sum()
        if abs(covered - length) > 1e-6 * length:
            missing = points[edges[0, ~there]] if (~there).any() else network.nodes[chain]
            _refuse(
                f"The mesh follows only {100.0 * covered / length:.4g} % of line '{name}', not", missing[0]
            )
        lines[name] = edges
    return lines


def _vertices_along(network: Network, points: Points) -> dict[tuple[int, int], Any]:
    """Mesh vertices on every piece of a line, in order."""
    pieces = network.nodes[network.edges]
    tree = shapely.STRtree(shapely.points(points))
    piece, vertex = tree.query(shapely.linestrings(pieces), predicate="dwithin", distance=1e-8)
    start, span = pieces[piece, 0], pieces[piece, 1] - pieces[piece, 0]
    position = ((points[vertex] - start) * span).sum(axis=1)
    order = np.lexsort([position, piece])
    cuts = np.searchsorted(piece[order], np.arange(1, len(pieces)))
    groups = np.split(vertex[order], cuts)
    return {(int(i), int(j)): group for (i, j), group in zip(network.edges, groups, strict=True)}
