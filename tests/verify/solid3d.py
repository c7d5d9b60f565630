"""Three-dimensional elastic solids of box-shaped parts, solved with ngsolve.

All boxes of a `solid_model.SolidModel` are meshed with one tensor-product grid of hexahedra, so parts that
touch are joined without any coupling condition, and a tube wall costs one layer of thin cells.  Displacements
are continuous polynomials of one order in every direction; no plate or beam assumption enters.  This module
knows nothing of splitterfem: it is the outside opinion.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import netgen.meshing as ngm
import ngsolve as ng
import numpy as np
from numpy.typing import ArrayLike, NDArray
from solid_model import SNAP, Box, Floats, SolidModel, model_grid

_CORNERS = ((0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0), (0, 0, 1), (1, 0, 1), (1, 1, 1), (0, 1, 1))
_FACES = ((0, 3, 2, 1), (4, 5, 6, 7), (0, 1, 5, 4), (1, 2, 6, 5), (2, 3, 7, 6), (3, 0, 4, 7))


def hex_mesh(model: SolidModel) -> tuple[Any, tuple[Floats, Floats, Floats]]:
    """Mesh the model with hexahedra.

    Parameters
    ----------
    model : SolidModel
        What to mesh.

    Returns
    -------
    mesh : ngsolve.Mesh
        Materials are named after the parts, boundary faces after the patches, all others "free".
    lines : tuple of ndarray
        Grid lines along x, y and z (m).
    """
    grid = model_grid(model)
    owner = _cell_owner(model, grid)
    cells = np.argwhere(owner >= 0)
    corners = cells[:, None, :] + np.array(_CORNERS)[None]
    shape = tuple(len(g) for g in grid)
    nodes = np.ravel_multi_index(tuple(np.moveaxis(corners, 2, 0)), shape)
    used, numbered = np.unique(nodes, return_inverse=True)
    numbered = numbered.reshape(nodes.shape)
    index = np.unravel_index(used, shape)
    points = np.column_stack([g[i] for g, i in zip(grid, index, strict=True)])

    raw = ngm.Mesh(dim=3)
    ids = [raw.Add(ngm.MeshPoint(ngm.Pnt(*p))) for p in points]
    for cell, row in zip(cells, numbered, strict=True):
        raw.Add(ngm.Element3D(int(owner[tuple(cell)]) + 1, [ids[i] for i in row]))
    for k, part in enumerate(model.parts):
        raw.SetMaterial(k + 1, part.name)
    _add_surface(raw, ids, points, numbered, model.patches)
    return ng.Mesh(raw), grid


def _cell_owner(model: SolidModel, grid: tuple[Floats, Floats, Floats]) -> NDArray[np.int64]:
    """Index of the part that owns each grid cell, -1 for void."""
    owner = np.full([len(g) - 1 for g in grid], -1)
    middles = [(g[1:] + g[:-1]) / 2 for g in grid]
    for k, part in enumerate(model.parts):
        for box in part.boxes:
            inside = [(m > lo) & (m < hi) for m, lo, hi in zip(middles, box.lower, box.upper, strict=True)]
            region = np.ix_(*inside)
            if (owner[region] >= 0).any():
                raise ValueError(f"A box of part '{part.name}' overlaps another box; move or shorten it.")
            owner[region] = k
    return owner


def _add_surface(
    raw: Any, ids: list[Any], points: Floats, cells: NDArray[np.int64], patches: Mapping[str, Box]
) -> None:
    """Add the outer faces to the mesh, each under the name of the patch that holds it."""
    faces = cells[:, np.array(_FACES)].reshape(-1, 4)
    _, first, count = np.unique(np.sort(faces, axis=1), axis=0, return_index=True, return_counts=True)
    faces = faces[first[count == 1]]
    middles = points[faces].mean(axis=1)
    label = np.zeros(len(faces), dtype=int)
    for k, (name, box) in enumerate(patches.items(), start=1):
        inside = box.holds(middles)
        if not inside.any():
            raise ValueError(f"Patch '{name}' holds no outer face of the solid; check its corners.")
        label[inside] = k
    for k, name in enumerate(["free", *patches]):
        raw.Add(ngm.FaceDescriptor(surfnr=k + 1, domin=1, domout=0, bc=k + 1))
        raw.SetBCName(k, name)
    for k, face in zip(label, faces, strict=True):
        raw.Add(ngm.Element2D(int(k) + 1, [ids[i] for i in face]))


@dataclass(frozen=True)
class SolidSolution:
    """Displacement field of a solved model.

    Attributes
    ----------
    mesh : ngsolve.Mesh
        The mesh.
    lines : tuple of ndarray
        Its grid lines (m).
    u : ngsolve.GridFunction
        Displacement (m).
    stress_field : ngsolve.CoefficientFunction
        The six stresses (Pa).
    unknowns : int
        Degrees of freedom before static condensation.
    support_force : ndarray, shape (3,)
        Sum of the support reactions (N).
    """

    mesh: Any
    lines: tuple[Floats, Floats, Floats]
    u: Any
    stress_field: Any
    unknowns: int
    support_force: Floats

    def displacement(self, points: ArrayLike) -> Floats:
        """Displacement vectors (m), shape (n, 3), at points of shape (n, 3)."""
        x, y, z = np.asarray(points, float).reshape(-1, 3).T
        return np.asarray(self.u(self.mesh(x, y, z))).reshape(-1, 3)

    def stress(self, points: ArrayLike) -> Floats:
        """Stresses (Pa), shape (n, 6), at points of shape (n, 3)."""
        x, y, z = np.asarray(points, float).reshape(-1, 3).T
        return np.asarray(self.stress_field(self.mesh(x, y, z))).reshape(-1, 6)

    def quadrature(self, box: Box, points_per_cell: int = 6) -> tuple[Floats, Floats]:
        """Gauss points, shape (n, 3), and weights, shape (n,), of a box cut along the grid lines.

        A direction in which the box is flat contributes a single coordinate with weight 1.
        """
        node, weight = np.polynomial.legendre.leggauss(points_per_cell)
        coordinates, weights = [], []
        for line, a, b in zip(self.lines, box.lower, box.upper, strict=True):
            if b - a < SNAP:
                coordinates.append(np.array([a]))
                weights.append(np.ones(1))
                continue
            cuts = np.concatenate([[a], line[(line > a + SNAP) & (line < b - SNAP)], [b]])
            half, middle = np.diff(cuts) / 2, (cuts[1:] + cuts[:-1]) / 2
            coordinates.append((middle[:, None] + half[:, None] * node).ravel())
            weights.append((half[:, None] * weight).ravel())
        points = np.stack(np.meshgrid(*coordinates, indexing="ij"), axis=-1).reshape(-1, 3)
        product = weights[0][:, None, None] * weights[1][:, None] * weights[2]
        return points, product.ravel()

    def mean_stress(self, box: Box) -> Floats:
        """Mean stresses (Pa), shape (6,), over a box inside the solid or a flat patch of its surface."""
        points, weights = self.quadrature(box)
        return np.asarray(weights @ self.stress(points) / weights.sum())

    def section_forces(self, boxes: Sequence[Box], *, along: str, origin: tuple[float, float]) -> Floats:
        """Resultants of the axial stress of a rib, averaged over the length of the boxes.

        Parameters
        ----------
        boxes : sequence of Box
            The rib's boxes, cut to one short interval along the rib.
        along : {"x", "y"}
            Direction of the rib.
        origin : tuple of float
            Transverse coordinate s0 and height z0 of the axis that the moments refer to (m).

        Returns
        -------
        ndarray, shape (3,)
            Axial force N (N), moments of the axial stress sigma: sum of sigma (z - z0) dA and of
            sigma (s - s0) dA (N m).
        """
        axis = "xy".index(along)
        total = np.zeros(3)
        for box in boxes:
            points, weights = self.quadrature(box)
            axial = self.stress(points)[:, axis] * weights / (box.upper[axis] - box.lower[axis])
            arms = np.column_stack(
                [np.ones(len(points)), points[:, 2] - origin[1], points[:, 1 - axis] - origin[0]]
            )
            total += axial @ arms
        return total


def solve(model: SolidModel, *, order: int = 3, threads: int = 2) -> SolidSolution:
    """Solve the model with continuous displacements of one polynomial order.

    Parameters
    ----------
    model : SolidModel
        Bodies, supports, loads, mesh density.
    order : int
        Polynomial order of the displacements in every direction.
    threads : int
        Threads for assembly and factorisation.

    Returns
    -------
    SolidSolution
    """
    ng.SetNumThreads(threads)
    with ng.TaskManager():
        return _solve(model, order)


def _solve(model: SolidModel, order: int) -> SolidSolution:
    mesh, grid = hex_mesh(model)
    held = {c: "|".join(name for name, which in model.fixed.items() if c in which) for c in "xyz"}
    space = ng.VectorH1(mesh, order=order, **{f"dirichlet{c}": names for c, names in held.items() if names})
    stiffness = mesh.MaterialCF(
        {
            part.name: ng.CoefficientFunction(tuple(part.stiffness.ravel()), dims=(6, 6))
            for part in model.parts
        }
    )
    u, v = space.TnT()
    form = ng.BilinearForm(space, symmetric=True, condense=True)
    form += ng.InnerProduct(stiffness * _strain(u), _strain(v)) * ng.dx
    load = ng.LinearForm(space)
    for name, traction in model.tractions.items():
        load += ng.InnerProduct(ng.CoefficientFunction(tuple(traction)), v) * ng.ds(name)
    form.Assemble()
    load.Assemble()
    displacement = ng.GridFunction(space)
    inverse = form.mat.Inverse(space.FreeDofs(coupling=True), inverse="sparsecholesky")
    right = load.vec.CreateVector()
    right.data = load.vec + form.harmonic_extension_trans * load.vec
    displacement.vec.data = inverse * right
    displacement.vec.data += form.harmonic_extension * displacement.vec
    displacement.vec.data += form.inner_solve * load.vec
    return SolidSolution(
        mesh=mesh,
        lines=grid,
        u=displacement,
        stress_field=stiffness * _strain(displacement),
        unknowns=int(space.ndof),
        support_force=_reaction(form, load, displacement),
    )


def _strain(u: Any) -> Any:
    """Engineering strains in Voigt order."""
    g = ng.Grad(u)
    return ng.CoefficientFunction(
        (g[0, 0], g[1, 1], g[2, 2], g[1, 2] + g[2, 1], g[0, 2] + g[2, 0], g[0, 1] + g[1, 0])
    )


def _reaction(form: Any, load: Any, u: Any) -> Floats:
    """Sum of the forces that the supports exert, from the residual in the held unknowns."""
    residual = load.vec.CreateVector()
    form.Apply(u.vec, residual)
    residual.data -= load.vec
    total = np.zeros(3)
    shift = ng.GridFunction(u.space)
    for k in range(3):
        shift.Set(ng.CoefficientFunction(tuple(1.0 if i == k else 0.0 for i in range(3))))
        total[k] = ng.InnerProduct(residual, shift.vec)
    return total
