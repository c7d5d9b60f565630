"""Triangle meshes of plane regions with holes, embedded lines and local refinement.

Geometry is cleaned before meshing, and the result is checked without taking the generator's word for it.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from ..curves import Points, in_mm
from ..errors import MeshError
from .embedding import EmbeddedLine, Network, network_of
from .generator import generate
from .geometry import OUTLINE, Domain, Region, domain_of
from .mesh_checks import (
    Pairs,
    boundary_loops,
    check_area,
    check_triangles,
    chord_error,
    line_edges,
    smallest_angle,
    used_only,
)
from .sizing import Refinement, Sizes, size_points

__all__ = ["OUTLINE", "EmbeddedLine", "PlateMesh", "Refinement", "Region", "mesh_region"]

_CURVE_FACTORS = (1.0, 0.65, 0.4)  #: Sizes along curves that are tried until the chord error is met.


@dataclass(frozen=True, eq=False)
class PlateMesh:
    """A checked triangle mesh; its arrays are read-only.

    Attributes
    ----------
    points : ndarray, shape (2, nv)
        Vertices (m).
    triangles : ndarray of int, shape (3, nt)
        Vertices of each triangle, counter-clockwise.
    boundaries : dict of str to ndarray of int, shape (2, nb)
        Vertex pairs of the edges on ``"outline"`` and on each hole, in order and with the mesh on their left.
    lines : dict of str to ndarray of int, shape (2, k)
        Vertex pairs of the edges on each embedded line, in order along it.
    area : float
        Area of the triangles (m²).
    min_angle : float
        Smallest angle of all triangles (degrees).
    polygon : shapely.Polygon
        The region, its true curves flattened to 0.01 mm.
    seconds : dict of str to float
        Time spent to ``"prepare"``, ``"generate"`` and ``"check"`` (s).
    """

    points: NDArray[np.float64]
    triangles: NDArray[np.int64]
    boundaries: dict[str, Pairs]
    lines: dict[str, Pairs]
    area: float
    min_angle: float
    polygon: shapely.Polygon
    seconds: dict[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for array in (self.points, self.triangles, *self.boundaries.values(), *self.lines.values()):
            array.setflags(write=False)

    def __repr__(self) -> str:
        return (
            f"PlateMesh({self.points.shape[1]} vertices, {self.triangles.shape[1]} triangles, "
            f"area {self.area:.6g} m², least angle {self.min_angle:.1f} degrees, "
            f"boundaries {list(self.boundaries)}, lines {list(self.lines)})"
        )

    def to_skfem(self) -> Any:
        """Convert to a scikit-fem mesh with the boundaries by name.

        Returns
        -------
        skfem.MeshTri
            With the vertices in the same order.
        """
        from skfem import MeshTri

        mesh = MeshTri(self.points.copy(), self.triangles.copy())
        n = self.points.shape[1]
        codes = np.array([n, 1]) @ np.sort(mesh.facets, axis=0)
        order = np.argsort(codes)
        facets = {
            name: order[np.searchsorted(codes[order], np.array([n, 1]) @ np.sort(pairs, axis=0))]
            for name, pairs in self.boundaries.items()
        }
        return mesh.with_boundaries(facets)


def mesh_region(
    region: Region,
    *,
    size: float,
    lines: Sequence[EmbeddedLine] = (),
    refinements: Sequence[Refinement] = (),
    line_size: float | None = None,
    corner_size: float | None = None,
    grading: float = 0.3,
    chord: float = 0.5e-3,
) -> PlateMesh:
    """Mesh a region with triangles.

    Vertices on the boundary lie on the true curves. The result is the same at every call with the same input.

    Parameters
    ----------
    region : Region
        Outline and holes.
    size : float
        Largest element size (m).
    lines : sequence of EmbeddedLine
        Polylines that element edges follow. Ends up to 0.5 mm off the boundary or another line are pulled on.
    refinements : sequence of Refinement
        Discs with smaller elements.
    line_size : float, optional
        Element size along the lines (m).
    corner_size : float, optional
        Element size at re-entrant corners, and along arcs of up to twice `size` that round them (m).
    grading : float
        How fast sizes may grow with the distance, 0.05 to 1.
    chord : float
        Largest distance between a curved edge and the side of its element (m).

    Returns
    -------
    PlateMesh

    Raises
    ------
    DesignError
        When the region, a line or a size cannot be meshed well, with the place.
    MeshError
        When the mesh fails a check: a gap, an inverted triangle, a line not followed, several pieces.
    """
    start = time.perf_counter()
    sizes = Sizes(size, line_size, corner_size, grading, chord, tuple(refinements))
    domain = domain_of(region)
    network = network_of(domain, lines)
    prepared = time.perf_counter()
    points, triangles, loops, generating = _generated(domain, network, sizes)
    area = check_area(domain, points, triangles, loops, chord)
    found = line_edges(network, points, triangles)
    angle = smallest_angle(points, triangles)
    checking = time.perf_counter() - prepared - generating
    return PlateMesh(
        points=np.ascontiguousarray(points.T),
        triangles=np.ascontiguousarray(triangles.T),
        boundaries=loops,
        lines=found,
        area=area,
        min_angle=angle,
        polygon=domain.polygon,
        seconds={"prepare": prepared - start, "generate": generating, "check": checking},
    )


def _generated(
    domain: Domain, network: Network, sizes: Sizes
) -> tuple[Points, NDArray[np.int64], dict[str, Pairs], float]:
    """Mesh until the sides of elements follow the curves; also the time spent in the generator (s)."""
    seconds = 0.0
    error, where = np.inf, domain.corners[0]
    for factor in _CURVE_FACTORS:
        wanted = size_points(domain, network, sizes, curve_factor=factor)
        start = time.perf_counter()
        points, triangles = generate(domain, network, wanted, size=sizes.size, grading=sizes.grading)
        seconds += time.perf_counter() - start
        points, triangles = used_only(points, triangles)
        check_triangles(points, triangles)
        loops = boundary_loops(domain, points, triangles)
        error, where = chord_error(domain, points, loops)
        if error <= sizes.chord:
            return points, triangles, loops, seconds
    raise MeshError(
        f"The mesh misses the curve at {in_mm(where)} mm by {1e3 * error:.3g} mm instead of "
        f"{1e3 * sizes.chord:.3g} mm; ask for smaller elements there."
    )
