"""Torsion constant and shear area of a plane section, solved numerically with bounds on the error.

Torsion is solved twice on one mesh of triangles with quadratic functions. Prandtl's stress function
(``laplace phi = -2``, zero outside, constant round each hole) gives a torsion constant that is never too
large, Saint-Venant's warping function one that is never too small, and the square of the distance between
their two stress fields, summed over an element, is that element's share of the gap between them (Prager &
Synge 1947, Quarterly of Applied Mathematics 5, 241-269). The mesh is refined where that share is large until
the gap is small; the mean of the two is the answer.

Shear by a vertical force V without twist and without bending sideways: with Poisson's ratio 0 the stresses
are ``tau = V grad psi`` with ``-laplace psi = (z - z_c) / I`` and no flux through the edge, and the shear
area is ``1 / integral |grad psi|^2`` (Timoshenko & Goodier, Theory of Elasticity, 3rd ed., chapter 11;
Pilkey, Analysis and Design of Elastic Beams, 2002, chapter 6). For a section that is not symmetric about the
vertical axis this is the area of the section together with its mirror image, halved.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from splitterfem.errors import SolveError
from splitterfem.materials.section_mesh import section_mesh

if TYPE_CHECKING:
    import shapely

FloatArray = NDArray[np.float64]

GAP = 5e-3
"""Largest relative gap between the two torsion constants; their mean is better than half of it."""

STEP = 3e-3
"""Largest relative change of the shear area when the mesh is halved for the last time."""

_MOST_STEPS = 14
_MOST_ELEMENTS = 20_000
_SHARE = 0.8
"""Part of the error whose elements are refined in one step."""


@dataclass(frozen=True)
class Hollow:
    """Bredt's numbers of a hollow, for walls of any thickness and with sharp corners.

    Prandtl's function is the sum of the one of the section slit open along the hollow (zero on the hollow's
    edge) and a harmonic one; their energies add up. The first gives what the walls do as an open section, the
    second the shear flow round the hollow, with the torsion constant ``4 area^2 / ratio``.

    Parameters
    ----------
    area : float
        Enclosed by the flow, close to that within the walls' mid-lines, m2.
    ratio : float
        Integral of ``ds / t`` round the hollow.
    """

    area: float
    ratio: float


@dataclass(frozen=True)
class SectionConstants:
    """What the numerical solution gives.

    Parameters
    ----------
    J : float
        Torsion constant, m4.
    shear_area : float
        For vertical shear, m2.
    gap : float
        Upper less lower bound of ``J``, over ``J``.
    hollows : tuple of Hollow
        For each hole of the polygon, the others free.
    """

    J: float
    shear_area: float
    gap: float
    hollows: tuple[Hollow, ...]


def section_constants(polygon: shapely.Polygon) -> SectionConstants:
    """Torsion constant, vertical shear area and hollows of a section.

    Parameters
    ----------
    polygon : shapely.Polygon
        Valid, with any number of holes; the second coordinate is vertical.

    Raises
    ------
    SolveError
        If the bounds of the torsion constant do not come together.
    """
    size, shape = _normalised(polygon)
    fem = _Section(section_mesh(shape), shape)
    for _ in range(_MOST_STEPS):
        torsion = fem.torsion()
        if torsion.gap <= GAP:
            break
        if fem.mesh.nelements > _MOST_ELEMENTS:
            raise _unsettled(torsion.gap)
        fem = _Section(fem.mesh.refined(_worst(torsion.indicator)), shape)
    else:
        raise _unsettled(torsion.gap)
    hollows = [fem.hollow(k, torsion.J) for k in range(len(shape.interiors))]
    return SectionConstants(
        J=size**4 * torsion.J,
        shear_area=size**2 * _settled(fem, _Section.shear_area),
        gap=torsion.gap,
        hollows=tuple(Hollow(size**2 * one.area, one.ratio) for one in hollows),
    )


def wall_ratio(polygon: shapely.Polygon, pocket: shapely.Polygon) -> float:
    """Integral of ``ds / t`` along the wall round a pocket that is open towards the panel.

    The conductance between the two sides of the wall, ``integral |grad chi|^2`` with ``chi`` one on the
    pocket's side, zero on the other, and nothing passing where the section stands on height 0.
    """
    from shapely.affinity import scale

    size, shape = _normalised(polygon)
    inside = scale(pocket, 1 / size, 1 / size, origin=(0, 0)).boundary
    return _settled(_Section(section_mesh(shape), shape), lambda fem: fem.conductance(inside))


@dataclass(frozen=True)
class _Torsion:
    J: float
    gap: float
    indicator: FloatArray


class _Section:
    """The finite element spaces of a section of about unit size."""

    def __init__(self, mesh: Any, shape: shapely.Polygon) -> None:
        from skfem import Basis, BilinearForm, ElementTriP2, LinearForm
        from skfem.helpers import dot, grad

        self.mesh, self.shape = mesh, shape
        self.basis = Basis(mesh, ElementTriP2())
        self.y, self.z = np.asarray(self.basis.global_coordinates())
        weights = self.basis.dx
        area = weights.sum()
        self.y = self.y - (weights * self.y).sum() / area
        self.z = self.z - (weights * self.z).sum() / area
        self.I = float((weights * self.z**2).sum())
        self.K = BilinearForm(lambda u, v, _: dot(grad(u), grad(v))).assemble(self.basis).tocsc()
        self.unit = LinearForm(lambda v, _: v).assemble(self.basis)
        self._rings()

    def _rings(self) -> None:
        """Find which unknowns lie on the outer edge (0) and on the holes (1, 2, ...)."""
        import shapely

        edge = np.unique(self.basis.get_dofs().all())
        points = shapely.points(self.basis.doflocs[:, edge].T)
        rings = [self.shape.exterior, *self.shape.interiors]
        owner = np.argmin([shapely.distance(ring, points) for ring in rings], axis=0)
        self.ring = np.full(self.basis.N, -1)
        self.ring[edge] = owner
        self.holes = [shapely.Polygon(ring).area for ring in self.shape.interiors]

    def _tied(self) -> Any:
        """Operator from inner unknowns and one value for each hole to all unknowns; zero on the outer edge."""
        from scipy.sparse import csr_matrix

        inner = np.flatnonzero(self.ring < 0)
        column = np.full(self.basis.N, -1)
        column[inner] = np.arange(len(inner))
        on_hole = self.ring > 0
        column[on_hole] = len(inner) + self.ring[on_hole] - 1
        rows = np.flatnonzero(column >= 0)
        size = (self.basis.N, len(inner) + len(self.holes))
        return csr_matrix((np.ones(len(rows)), (rows, column[rows])), shape=size)

    def _prandtl(self) -> tuple[Any, FloatArray]:
        """Tied unknowns of Prandtl's function and its load."""
        tied = self._tied()
        load = 2 * (tied.T @ self.unit)
        if self.holes:
            load[-len(self.holes) :] += 2 * np.array(self.holes)
        return tied, load

    def _free(self, load: FloatArray) -> FloatArray:
        """Solve with natural edges, the first unknown held at zero."""
        found = np.zeros(self.basis.N)
        found[1:] = _solved(self.K[1:, 1:], load[1:])
        return found

    def torsion(self) -> _Torsion:
        from skfem import LinearForm

        tied, load = self._prandtl()
        values = _solved(tied.T @ self.K @ tied, load)
        least, phi = float(load @ values), tied @ values
        turn = LinearForm(lambda v, w: v.grad[0] * w.zz - v.grad[1] * w.yy)
        load = turn.assemble(self.basis, zz=self.z, yy=self.y)
        warp = self._free(load)
        by_warp = self.basis.interpolate(warp).grad - np.stack([self.z, -self.y])
        slope = self.basis.interpolate(phi).grad
        apart = (by_warp[0] - slope[1]) ** 2 + (by_warp[1] + slope[0]) ** 2
        indicator = np.asarray((apart * self.basis.dx).sum(axis=1))
        between = float(indicator.sum())  # upper less lower bound, without their cancellation
        return _Torsion(least + between / 2, between / (least + between), indicator)

    def shear_area(self) -> float:
        """Exceeds the true one a little, as displacements that are too stiff do."""
        from skfem import LinearForm

        load = LinearForm(lambda v, w: v * w.zz / self.I).assemble(self.basis, zz=self.z)
        return float(1 / (load @ self._free(load)))

    def hollow(self, k: int, J: float) -> Hollow:
        """Bredt's numbers of hole ``k``, the other holes free, so that open walls and flow make up ``J``."""
        tied, load = self._prandtl()
        K = (tied.T @ self.K @ tied).tocsc()
        column = K.shape[0] - len(self.holes) + k
        ratio = _energy(K, np.array([column]), np.ones(1))
        slit = np.delete(np.arange(K.shape[0]), column)
        J_open = float(load[slit] @ _solved(K[slit][:, slit], load[slit]))
        return Hollow(float(np.sqrt((J - J_open) * ratio)) / 2, ratio)

    def conductance(self, inside: shapely.Geometry) -> float:
        """Energy of a potential that is one on ``inside`` and zero on the edge elsewhere above height 0."""
        import shapely

        edge = np.flatnonzero(self.ring == 0)
        places = self.basis.doflocs[:, edge]
        within = shapely.distance(inside, shapely.points(places.T)) < 1e-9
        held = within | (places[1] > 1e-9)
        return _energy(self.K, edge[held], within[held].astype(float))


def _settled(fem: _Section, what: Callable[[_Section], float]) -> float:
    """Value on a mesh that is halved until it changes no more."""
    before, after = np.inf, what(fem)
    while abs(after - before) > STEP * after and fem.mesh.nelements < _MOST_ELEMENTS:
        fem = _Section(fem.mesh.refined(), fem.shape)
        before, after = after, what(fem)
    return after


def _energy(K: Any, held: NDArray[np.intp], values: FloatArray) -> float:
    """Energy of the potential with some unknowns held, the others at rest."""
    free = np.setdiff1d(np.arange(K.shape[0]), held)
    x = np.zeros(K.shape[0])
    x[held] = values
    x[free] = _solved(K[free][:, free], -(K[free][:, held] @ values))
    return float(x @ (K @ x))


def _solved(K: Any, load: FloatArray) -> FloatArray:
    from scipy.sparse.linalg import splu

    factor = splu(
        K.tocsc(), permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True}
    )
    return np.asarray(factor.solve(load))


def _normalised(polygon: shapely.Polygon) -> tuple[float, shapely.Polygon]:
    """Size of a polygon and the polygon over it, so that tolerances mean the same for all."""
    from shapely.affinity import scale

    x0, z0, x1, z1 = polygon.bounds
    size = max(x1 - x0, z1 - z0)
    return size, scale(polygon, 1 / size, 1 / size, origin=(0, 0))


def _worst(indicator: FloatArray) -> NDArray[np.intp]:
    """Elements that make up most of the error."""
    order = np.argsort(-indicator)
    total = np.cumsum(indicator[order])
    return order[: int(np.searchsorted(total, _SHARE * total[-1])) + 1]


def _unsettled(gap: float) -> SolveError:
    return SolveError(
        f"The torsion constant of the section is known within {100 * gap:.2g} % only after refinement; leave out "
        "its finest details, or give it walls that are less thin."
    )
