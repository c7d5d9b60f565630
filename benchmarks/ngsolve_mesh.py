"""Triangles as a mesh of ngsolve, and the solution of a condensed system there.

Needs the extra ``verify``.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import netgen.meshing as nm
import ngsolve as ng
import numpy as np
from numpy.typing import NDArray

from benchmarks.problems import Index, Mesh

ng.SetNumThreads(
    1
)  # Like this project's factorisation; its threads would count idling as time of the process.


def boundary_edges(triangles: Index) -> Index:
    """Pairs of vertices (2, n) of the edges that one triangle has alone, in its sense of rotation."""
    pairs = np.hstack([triangles[[i, (i + 1) % 3]] for i in range(3)])
    _, first, count = np.unique(np.sort(pairs, axis=0), axis=1, return_index=True, return_counts=True)
    return np.asarray(pairs[:, first[count == 1]])


def ngsolve_mesh(mesh: Mesh, lines: Mapping[str, Index] | None = None) -> ng.Mesh:
    """Hand the same triangles to ngsolve.

    Parameters
    ----------
    mesh : tuple of ndarray
        Vertices (2, nv) and triangles (3, nt).
    lines : mapping of str to ndarray, optional
        Names of boundaries or of lines inside, with the pairs of vertices (2, n) of their edges; all edges at the
        outline and at openings are called "edge" when left out.
    """
    points, triangles = mesh
    made = nm.Mesh(dim=2)
    numbers = [made.Add(nm.MeshPoint(nm.Pnt(float(x), float(y), 0.0))) for x, y in points.T]
    made.Add(nm.FaceDescriptor(surfnr=1, domin=1, bc=1))
    made.SetMaterial(1, "panel")
    for triangle in triangles.T:
        made.Add(nm.Element2D(1, [numbers[i] for i in triangle]))
    for index, (name, pairs) in enumerate((lines or {"edge": boundary_edges(triangles)}).items()):
        for a, b in pairs.T:
            made.Add(nm.Element1D([numbers[a], numbers[b]], index=index + 1))
        made.SetBCName(index, name)
    return ng.Mesh(made)


def condensed_solve(form: ng.BilinearForm, load: ng.LinearForm, free: ng.BitArray) -> ng.GridFunction:
    """Solve an assembled form whose element-wise unknowns are condensed, with ngsolve's sparse Cholesky solver."""
    found = ng.GridFunction(form.space)
    right = load.vec.CreateVector()
    right.data = load.vec + form.harmonic_extension_trans * load.vec
    found.vec.data = form.mat.Inverse(free, inverse="sparsecholesky") * right
    found.vec.data += form.inner_solve * right
    found.vec.data += form.harmonic_extension * found.vec
    return found


def without_vertices(free: ng.BitArray, space: Any, vertices: Iterable[int], offset: int = 0) -> None:
    """Hold a component of a space at vertices, numbers of the mesh that was handed over."""
    for vertex in vertices:
        for number in space.GetDofNrs(ng.NodeId(ng.VERTEX, int(vertex))):
            free.Clear(offset + number)


def matrix_function(values: NDArray[Any]) -> ng.CoefficientFunction:
    """Return a constant matrix."""
    return ng.CoefficientFunction(tuple(float(v) for v in values.ravel()), dims=values.shape)
