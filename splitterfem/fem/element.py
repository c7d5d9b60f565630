"""Element stiffness matrices of many elements at once, with their bubbles condensed out.

A matrix is the product of one table with itself: the strains at the points of the quadrature, each times the root of
its weight and of the sheet's stiffness.  So it is symmetric to the last digit, and a rigid motion finds the rounding of
strains, not of stiffness: sums of forces keep their digits.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from splitterfem.errors import DesignError
from splitterfem.fem.reference import N_NODES, N_OUTER, tables_at_quadrature
from splitterfem.fem.space import PanelSpace

Array = NDArray[np.float64]
Index = NDArray[np.int64]

STIFFNESS_ORDER = 4
"""Degree of the quadrature: exact for the products of bubble gradients and of Nedelec functions."""

PLANE_ORDER = 2
"""Degree for the strains in plane alone, which are linear."""

NOT_POSITIVE = "The sheet's stiffness is not positive: check its moduli, Poisson's ratio and thickness."

N_TURN = N_NODES + 1
"""Functions of each rotation: those of the nodes and the bubble."""


@dataclass(frozen=True)
class Features:
    """Functions at q points of a quadrature, times the roots of the weights; points and functions in the last axis.

    Attributes
    ----------
    slope : ndarray, shape (2, q * 7)
        Derivatives by the reference coordinates of the rotation's functions, of which six are those of all others.
    lift : ndarray, shape (2, q * 6)
        Covariant shear strains of the deflection's functions.
    turn : ndarray, shape (4, q * 7)
        Of the rotation's: shear strain, then component of the rotation.
    count : int
        q.
    """

    slope: Array
    lift: Array
    turn: Array
    count: int


@cache
def features(order: int) -> Features:
    """Make the functions at the points of a quadrature of some degree."""
    tables, weights = tables_at_quadrature(order)
    root, count = np.sqrt(weights), len(weights)
    turn = tables.shear_phi.reshape(count, 4, N_TURN)
    slope, lift, turned = (
        (root[:, None, None] * table).transpose(1, 0, 2).reshape(table.shape[1], -1)
        for table in (tables.gradients, tables.shear_w, turn)
    )
    return Features(slope, lift, turned, count)


def condensed(space: PanelSpace, elements: Index, stiffness: Array) -> tuple[Array, Array]:
    """Element matrices with the bubbles condensed out.

    Parameters
    ----------
    space : PanelSpace
    elements : ndarray of int, shape (n,)
    stiffness : ndarray, shape (n, 8, 8)
        Generalised stiffness without coupling of shear and the rest.

    Returns
    -------
    matrices : ndarray, shape (n, 30, 30)
        Symmetric to the last digit.
    slaved : ndarray, shape (n, 2, 30)
        The two bubbles from the unknowns that are shared.

    Raises
    ------
    DesignError
        If a stiffness is not positive definite.
    """
    geometry = _Geometry(space, elements, stiffness)
    if geometry.coupled:
        matrix = _product(geometry.all_strains())
        return _without_bubbles(matrix, first=0)
    plane = _product(geometry.plane_strains())
    plate, slaved = _without_bubbles(_product(geometry.plate_strains()), first=2)
    n = len(elements)
    outer = np.zeros((n, N_NODES, 5, N_NODES, 5))
    outer[:, :, :2, :, :2] = plane.reshape(n, N_NODES, 2, N_NODES, 2)
    outer[:, :, 2:, :, 2:] = plate.reshape(n, N_NODES, 3, N_NODES, 3)
    bubbles = np.zeros((n, 2, N_NODES, 5))
    bubbles[..., 2:] = slaved.reshape(n, 2, N_NODES, 3)
    return outer.reshape(n, N_OUTER, N_OUTER), bubbles.reshape(n, 2, N_OUTER)


class _Geometry:
    """Strains of n elements, times the root of their stiffness and of twice their area.

    Tables of strains have shape (n, strains * points, unknowns): those of the nodes, node by node, then the bubbles.
    """

    def __init__(self, space: PanelSpace, elements: Index, stiffness: Array) -> None:
        self.n = len(elements)
        inv_J, self._J = space.inv_J[elements], space.J[elements]
        self.coupled = bool(np.any(stiffness[:, :3, 3:6]))
        try:
            root = np.linalg.cholesky((2.0 * space.area[elements])[:, None, None] * stiffness)
        except np.linalg.LinAlgError as error:
            raise DesignError(NOT_POSITIVE) from error
        self._root = np.ascontiguousarray(root.transpose(0, 2, 1))
        strain = np.zeros((self.n, 3, 2, 2))  # of the derivatives of a vector: component, then derivative
        strain[:, 0, 0] = strain[:, 2, 1] = inv_J[:, :, 0]
        strain[:, 1, 1] = strain[:, 2, 0] = inv_J[:, :, 1]
        self._strain = strain.reshape(self.n, 3, 4)
        self._shear = np.matmul(self._root[:, 6:, 6:], inv_J.transpose(0, 2, 1))

    def plane_strains(self) -> Array:
        """Strains in plane of the displacements in plane."""
        known = features(PLANE_ORDER)
        found = self._stretched(self._root[:, :3, :3], known)
        table = np.empty((self.n, 3, known.count, N_NODES, 2))
        for c in range(2):
            table[..., c] = found[:, :, c, :, :N_NODES]
        return table.reshape(self.n, 3 * known.count, -1)

    def plate_strains(self) -> Array:
        """Curvatures and shear strains of deflection and rotations."""
        known = features(STIFFNESS_ORDER)
        table = np.zeros((self.n, 5, known.count, 3 * N_NODES + 2))
        nodal = table[..., :-2].reshape(self.n, 5, known.count, N_NODES, 3)
        _put_turns(table[:, :3], nodal[:, :3, ..., 1:], self._stretched(self._root[:, 3:6, 3:6], known))
        self._put_shear(table[:, 3:], nodal[:, 3:], known)
        return table.reshape(self.n, -1, table.shape[-1])

    def all_strains(self) -> Array:
        """Strains of all kinds of all unknowns, for sheets that bend when they are stretched."""
        known = features(STIFFNESS_ORDER)
        table = np.zeros((self.n, 8, known.count, N_OUTER + 2))
        nodal = table[..., :-2].reshape(self.n, 8, known.count, N_NODES, 5)
        stretch = self._stretched(self._root[:, :6, :3], known)
        for c in range(2):
            nodal[:, :6, ..., c] = stretch[:, :, c, :, :N_NODES]
        _put_turns(table[:, :6], nodal[:, :6, ..., 3:], self._stretched(self._root[:, :6, 3:6], known))
        self._put_shear(table[:, 6:], nodal[:, 6:, ..., 2:], known)
        return table.reshape(self.n, -1, table.shape[-1])

    def _stretched(self, root: Array, known: Features) -> Array:
        """Weighted strains (n, k, 2, q, 7) of a vector's components by rows (n, k, 3) of the root."""
        rows = np.matmul(root, self._strain)
        found = rows.reshape(-1, 2) @ known.slope
        return np.asarray(found.reshape(self.n, rows.shape[1], 2, known.count, N_TURN))

    def _put_shear(self, table: Array, nodal: Array, known: Features) -> None:
        """Put the shear strains into tables (n, 2, q, all unknowns) and (n, 2, q, 6, 3)."""
        lift = self._shear.reshape(-1, 2) @ known.lift
        nodal[..., 0] = lift.reshape(self.n, 2, known.count, N_NODES)
        # Covariant strain i of covariant rotation c: of component k of the rotation, J[k, c] of it.
        pairs = self._shear[:, :, None, :, None] * self._J[:, None, :, None, :]
        _put_turns(
            table,
            nodal[..., 1:],
            (pairs.reshape(-1, 4) @ known.turn).reshape(self.n, 2, 2, known.count, N_TURN),
        )


def _put_turns(table: Array, nodal: Array, found: Array) -> None:
    """Put what comes of the rotations, (n, k, 2, q, 7), among nodes (n, k, q, 6, 2) and the bubbles at the end."""
    for c in range(2):
        nodal[..., c] = found[:, :, c, :, :N_NODES]
        table[..., c - 2] = found[:, :, c, :, N_NODES]


def _product(table: Array) -> Array:
    """Tables (n, k, m) times themselves, (n, m, m)."""
    return np.asarray(np.matmul(table.transpose(0, 2, 1), table))


def _without_bubbles(matrix: Array, *, first: int) -> tuple[Array, Array]:
    """Condense the last two unknowns out of matrices (n, m, m).

    Of an unsymmetric sheet the bubbles follow bending alone: a panel that turns as it is deflected moves in plane by
    its height, which must not bend it (von Karman).

    Parameters
    ----------
    matrix : ndarray, shape (n, m, m)
    first : int
        Component of a node with which the unknowns begin: 2 where there are none in plane.
    """
    outer, mixed, inner = matrix[:, :-2, :-2], matrix[:, -2:, :-2], matrix[:, -2:, -2:]
    one = np.sqrt(inner[:, :1, 0])
    low = inner[:, :1, 1] / one
    two = np.sqrt(inner[:, 1:, 1] - low * low)
    half = np.empty_like(mixed)  # by the Cholesky factors of the bubbles' own stiffness
    half[:, 0] = mixed[:, 0] / one
    half[:, 1] = (mixed[:, 1] - low * half[:, 0]) / two
    taken = _product(half)
    bending = half.copy()
    if first == 0:
        plane = np.tile(np.arange(5) < 2, N_NODES)
        taken[:, plane[:, None] & plane] = 0.0
        bending[..., plane] = 0.0
    slaved = np.empty_like(bending)
    slaved[:, 1] = -bending[:, 1] / two
    slaved[:, 0] = -(bending[:, 0] + low * slaved[:, 1]) / one
    return outer - taken, slaved
