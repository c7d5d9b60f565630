"""The bridge to the mesh generator: true curves in, points and triangles out."""

from __future__ import annotations

import threading
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..curves import Arc, Curve, Line, Loop, Points, Spline, in_mm
from ..errors import MeshError
from .embedding import Network
from .geometry import Domain

_ONE_AT_A_TIME = threading.Lock()  # the generator keeps state of its own, the loudness among it


def generate(
    domain: Domain, network: Network, sizes: Points, *, size: float, grading: float
) -> tuple[Points, NDArray[np.int64]]:
    """Mesh a domain with triangles; the result is unchecked.

    Parameters
    ----------
    domain : Domain
        The region, whose true curves carry the boundary vertices.
    network : Network
        Lines to follow.
    sizes : ndarray, shape (n, 3)
        Rows x, y and the element size wanted there (m).
    size : float
        Largest element size (m).
    grading : float
        How fast sizes may grow with the distance.

    Returns
    -------
    points : ndarray, shape (n, 2)
        Vertices (m).
    triangles : ndarray of int, shape (m, 3)
        Vertices of each triangle.

    Raises
    ------
    MeshError
        When the generator gives up.
    """
    from netgen import meshing, occ

    # the sizes along curves are set by points, so the generator's own rule for curvature is set aside; edges
    # closer to each other than their length are divided (factor 1); a finer edge than 0.01 mm is never needed
    wanted = meshing.MeshingParameters(
        maxh=size, grading=grading, optsteps2d=1, curvaturesafety=0.1, closeedgefac=1.0, minedgelen=1e-5
    )
    for x, y, h in sizes.tolist():
        wanted.RestrictH(x, y, 0.0, h)
    with _ONE_AT_A_TIME:
        loudness = meshing.SetMessageImportance(0)
        try:
            mesh = occ.OCCGeometry(_shape(occ, domain, network), dim=2).GenerateMesh(mp=wanted)
        except Exception as error:  # the generator raises several unrelated classes
            middle = domain.polygon.representative_point()
            raise MeshError(
                f"The mesh generator gave up on the panel around {in_mm((middle.x, middle.y))} mm ({error}); "
                "simplify the outline, or ask for smaller elements."
            ) from error
        finally:
            meshing.SetMessageImportance(loudness)
    nodes = mesh.Elements2D().NumPy()["nodes"][:, :3]
    return np.array(mesh.Coordinates(), dtype=float)[:, :2], nodes.astype(np.int64) - 1


def _shape(occ: Any, domain: Domain, network: Network) -> Any:
    outer, *holes = (_face(occ, loop) for loop in domain.loops.values())
    for hole in holes:
        outer = outer - hole
    if not len(network.edges):
        return outer
    lines = [occ.Segment(_point(occ, a), _point(occ, b)) for a, b in network.nodes[network.edges]]
    return occ.Glue([outer, *lines])


def _face(occ: Any, loop: Loop) -> Any:
    return occ.Face(occ.Wire([edge for curve in loop for edge in _edges(occ, curve)]))


def _edges(occ: Any, curve: Curve) -> list[Any]:
    if isinstance(curve, Line):
        return [occ.Segment(_point(occ, curve.start), _point(occ, curve.end))]
    if isinstance(curve, Arc):
        return [occ.ArcOfCircle(*(_point(occ, p) for p in (curve.start, curve.via, curve.end)))]
    return _spline(occ, curve)


def _spline(occ: Any, curve: Spline) -> list[Any]:
    if not curve.is_periodic:  # the modeller interpolates with the same parametrisation and end slopes
        return [occ.SplineInterpolation([_point(occ, p) for p in curve.points])]
    # its own periodic curve has a kink in curvature where it closes: give it the spans one by one
    t = curve.knots
    points, slopes = curve.at(t), curve.derivative(t)
    points[0] = points[-1] = curve.start
    third = np.diff(t)[:, None] / 3.0
    inner = points[:-1] + third * slopes[:-1], points[1:] - third * slopes[1:]
    spans = np.stack([points[:-1], *inner, points[1:]], axis=1)
    return [occ.BezierCurve([_point(occ, pole) for pole in span]) for span in spans]


def _point(occ: Any, point: Any) -> Any:
    return occ.Pnt(float(point[0]), float(point[1]), 0.0)
