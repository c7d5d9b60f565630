"""Plates of the textbooks: squares, rhombi and discs with the classical edges.

Used by the tests and by the benchmark notebook, so both show the same thing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from splitterfem.fem.factor import factorise
from splitterfem.fem.loads import pressure_load
from splitterfem.fem.locate import Locator
from splitterfem.fem.panel import Panel, generalised_stiffness
from splitterfem.fem.recover import displacements, resultants
from splitterfem.fem.space import COMPONENTS, PanelSpace
from splitterfem.fem.ties import submatrix

Array = NDArray[np.float64]
Index = NDArray[np.int64]
Edge = Literal["clamped", "hard", "soft", "free"]


@dataclass(frozen=True)
class Homogeneous:
    """Stiffness of a homogeneous plate from its engineering constants.

    ``A = Q t``, ``D = Q t^3 / 12`` with the plane-stress stiffness Q, and ``S = k diag(G13, G23) t``.
    """

    thickness: float
    E1: float = 1.0
    E2: float | None = None
    nu12: float = 0.3
    G12: float | None = None
    G13: float | None = None
    G23: float | None = None
    shear_factor: float = 5.0 / 6.0

    @property
    def Q(self) -> Array:
        """Plane-stress stiffness (3, 3) in Pa."""
        E2 = self.E1 if self.E2 is None else self.E2
        share = 1.0 - self.nu12**2 * E2 / self.E1
        coupling = self.nu12 * E2 / share
        return np.array(
            [[self.E1 / share, coupling, 0], [coupling, E2 / share, 0], [0, 0, self._shear(self.G12)]]
        )

    def _shear(self, given: float | None) -> float:
        return 0.5 * self.E1 / (1.0 + self.nu12) if given is None else given

    @property
    def A(self) -> Array:
        """Membrane stiffness (3, 3) in N/m."""
        return self.Q * self.thickness

    @property
    def B(self) -> Array:
        """Coupling stiffness (3, 3): none."""
        return np.zeros((3, 3))

    @property
    def D(self) -> Array:
        """Bending stiffness (3, 3) in N m."""
        return self.Q * self.thickness**3 / 12.0

    @property
    def S(self) -> Array:
        """Transverse shear stiffness (2, 2) in N/m."""
        return self.shear_factor * self.thickness * np.diag([self._shear(self.G13), self._shear(self.G23)])


@dataclass
class Plate:
    """A plate with textbook edges under a pressure or any load vector.

    Parameters
    ----------
    points, triangles : ndarray
        Mesh, shapes (2, nv) and (3, nt).
    laminate : object with A, B, D, S
    edge : callable or str
        One of ``clamped``, ``hard``, ``soft``, ``free`` for the whole boundary, or a function that takes
        the mid-points (2, n) of boundary edges and returns such a word for each.
    membrane : bool
        Whether in-plane motion is held everywhere (textbook bending has none).
    """

    points: Array
    triangles: Index
    laminate: Homogeneous
    edge: Edge | Callable[[Array], list[Edge]] = "clamped"
    pinned: Index = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    membrane_held: bool = True

    def __post_init__(self) -> None:
        self.space = PanelSpace(self.points, self.triangles)
        self.panel = Panel(self.space, generalised_stiffness(self.laminate))
        self.locator = Locator(self.space)
        self.turn, self.fixed = self._edges()
        self.free = np.setdiff1d(np.arange(self.space.n_dofs), self.fixed)
        matrix = self.panel.matrix
        self.matrix = submatrix(sp.csc_array(self.turn.T @ matrix @ self.turn), self.free)
        self.factor = factorise(self.matrix)

    @property
    def unknowns(self) -> int:
        """Unknowns of the linear system."""
        return len(self.free)

    def _edges(self) -> tuple[sp.csr_array, Index]:
        """Rotation of boundary unknowns to (normal, tangential), and the unknowns that are zero."""
        space = self.space
        fixed: list[Index] = [space.dofs_of(self.pinned, "w")]
        if self.membrane_held:
            fixed.append(space.dofs_of(np.arange(space.n_nodes), ("u", "v")))
        facets = space.boundary_facets
        ends = space.points[:, space.facets[:, facets]]
        middle = ends.mean(axis=1)
        words = self.edge(middle) if callable(self.edge) else [self.edge] * len(facets)
        tangent = (ends[:, 1] - ends[:, 0]) / np.linalg.norm(ends[:, 1] - ends[:, 0], axis=0)
        angles: dict[int, float] = {}
        for facet, word, (tx, ty) in zip(facets, words, tangent.T, strict=True):
            nodes = np.append(space.facets[:, facet], space.points.shape[1] + facet)
            if word != "free":
                fixed.append(space.dofs_of(nodes, "w"))
            if word == "clamped":
                fixed.append(space.dofs_of(nodes, ("phi_x", "phi_y")))
            if word == "hard":
                angle = float(np.arctan2(ty, tx) % np.pi)
                fixed.extend(self._hard(node, angle, angles) for node in nodes)
        return self._rotation(angles), np.unique(np.concatenate(fixed)).astype(np.int64)

    def _hard(self, node: int, angle: float, angles: dict[int, float]) -> Index:
        known = angles.setdefault(int(node), angle)
        turned = abs((known - angle + 0.5 * np.pi) % np.pi - 0.5 * np.pi)
        held = ("phi_x", "phi_y") if turned > 1e-9 else ("phi_x",)
        return self.space.dofs_of(np.array([node]), held)

    def _rotation(self, angles: dict[int, float]) -> sp.csr_array:
        """Map from (tangential, normal) rotations of turned nodes to (phi_x, phi_y)."""
        n = self.space.n_dofs
        turn = sp.lil_array((n, n))
        turn.setdiag(1.0)
        for node, angle in angles.items():
            i = len(COMPONENTS) * node + 3
            c, s = np.cos(angle), np.sin(angle)
            turn[i, i], turn[i, i + 1], turn[i + 1, i], turn[i + 1, i + 1] = c, -s, s, c
        return turn.tocsr()

    def solve(self, load: Array) -> Array:
        """Unknowns (n_dofs,) under a load vector."""
        y = np.zeros(self.space.n_dofs)
        y[self.free] = self.factor.solve((self.turn.T @ load)[self.free])
        return np.asarray(self.turn @ y)

    def solve_pressure(self, pressure: float | Callable[[Array, Array], Array]) -> Array:
        """Unknowns under a pressure in Pa, positive along w (up), as textbooks have it."""
        if callable(pressure):
            function = pressure
            return self.solve(-pressure_load(self.panel, function))
        return self.solve(-pressure_load(self.panel, lambda x, y: np.full_like(x, pressure)))

    def deflection(self, x: Array, at: Array) -> Array:
        """Deflection at points (2, n) in m, shape (n,)."""
        elements = self.locator.find(at, reach=1e-3)
        return displacements(self.panel, x, elements, at)[:, 2]

    def moment(self, x: Array, at: Array) -> Array:
        """Moments (M_x, M_y, M_xy) at points (2, n) in N m/m, textbook sign (sagging under +w load), (n, 3).

        At a node the values of all neighbours are averaged.
        """
        offset = 1e-7 * float(np.sqrt(self.space.area.max()))
        ring = (
            offset
            * np.array([[np.cos(a), np.sin(a)] for a in np.linspace(0.3, 2 * np.pi + 0.3, 16, False)]).T
        )
        total, count = np.zeros((at.shape[1], 3)), np.zeros(at.shape[1])
        for shift in ring.T:
            near = at + shift[:, None]
            elements = self.locator.find(near)
            hit = elements >= 0
            total[hit] -= resultants(self.panel, x, elements[hit], near[:, hit]).moment
            count += hit
        return np.asarray(total / count[:, None])

    def load_of_point(self, at: Array, force: float) -> Array:
        """Load vector of a force along w at one point (2,)."""
        element = self.locator.find(at[:, None], reach=1e-6)
        rows = self.panel.displacement_rows(element, at[:, None])
        return self.panel.scatter(element, force * rows[:, 2])
