"""Tables of the panel element on the reference triangle (0,0), (1,0), (0,1).

The element is the second-order member of the MITC family of Brezzi, Bathe & Fortin, "Mixed-interpolated
elements for Reissner-Mindlin plates", Int. J. Numer. Meth. Engng 28 (1989) 1787-1801: deflection in P2,
normal rotation in P2 plus the cubic bubble, shear strain in the second-order Nedelec space of the first
kind.  All basis functions come from scikit-fem.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray
from skfem.element import ElementTriN2, ElementTriP2B
from skfem.quadrature import get_quadrature_tri

Array = NDArray[np.float64]

N_NODES = 6
"""Nodes of an element: three corners, then the mid-sides 0-1, 1-2 and 0-2."""

N_OUTER = 5 * N_NODES
"""Unknowns of an element that it shares with its neighbours: (u, v, w, phi_x, phi_y) at six nodes."""


def tabulate_p2b(X: Array) -> tuple[Array, Array]:
    """Tabulate the six P2 functions and the bubble.

    Parameters
    ----------
    X : ndarray, shape (2, n)
        Reference coordinates.

    Returns
    -------
    values : ndarray, shape (n, 7)
    gradients : ndarray, shape (n, 2, 7)
        Derivatives by the reference coordinates.
    """
    element = ElementTriP2B()
    pairs = [element.lbasis(X, i) for i in range(7)]
    values = np.stack([np.broadcast_to(phi, X.shape[1]) for phi, _ in pairs], axis=-1)
    gradients = np.stack([dphi.T for _, dphi in pairs], axis=-1)
    return values, gradients


def tabulate_nedelec(X: Array) -> Array:
    """Tabulate the eight second-order Nedelec functions, shape (n, 2, 8)."""
    element = ElementTriN2()
    return np.stack([element.lbasis(X, i)[0].T for i in range(8)], axis=-1)


@cache
def quadrature(order: int) -> tuple[Array, Array]:
    """Points (2, n) and weights (n,) that integrate polynomials of the given degree on the triangle."""
    X, w = get_quadrature_tri(order)
    return X, w


def _moments(field_at: Array, s: Array, ws: Array, interior: Array) -> Array:
    """Two moments on each edge and two inside of vector fields sampled there, shape (8, m).

    ``field_at`` is (n, 2, m): the fields at the points ``s`` (weights ``ws``) of edges 0, 1, 2 and then at the
    interior points (weights ``interior``).
    """
    tangents = np.array([[1.0, 0.0], [-1.0, 1.0], [0.0, 1.0]])
    n_edge = len(s)
    rows = []
    for edge in range(3):
        tangential = np.einsum("c,ncm->nm", tangents[edge], field_at[edge * n_edge : (edge + 1) * n_edge])
        rows.append(ws @ tangential)
        rows.append((ws * (2.0 * s - 1.0)) @ tangential)
    inside = np.einsum("n,ncm->cm", interior, field_at[3 * n_edge :])
    return np.vstack([np.array(rows), inside])


@cache
def shear_interpolation() -> tuple[Array, Array]:
    """Interpolation operator R of the shear strain on the reference triangle.

    R keeps the two lowest moments of the tangential component on each edge and the mean inside; all of
    them are invariant under the covariant (Piola) map, so one table serves every straight-sided element.

    Returns
    -------
    from_w : ndarray, shape (8, 6)
        Nedelec coefficients of the gradient of each P2 function.
    from_phi : ndarray, shape (8, 2, 7)
        Nedelec coefficients of each (component, P2-or-bubble function) of the rotation, with a minus sign:
        the shear strain is grad w - phi.
    """
    s, ws = np.polynomial.legendre.leggauss(4)
    s, ws = 0.5 * (s + 1.0), 0.5 * ws
    zero = np.zeros_like(s)
    edges = [np.vstack([s, zero]), np.vstack([1.0 - s, s]), np.vstack([zero, s])]
    Xi, wi = quadrature(6)
    X = np.hstack([*edges, Xi])
    nedelec = _moments(tabulate_nedelec(X), s, ws, wi)
    values, gradients = tabulate_p2b(X)
    from_w = np.asarray(np.linalg.solve(nedelec, _moments(gradients[:, :, :6], s, ws, wi)), dtype=np.float64)
    from_phi: Array = np.zeros((8, 2, 7))
    for component in range(2):
        field = np.zeros((X.shape[1], 2, 7))
        field[:, component] = values
        from_phi[:, component] = -np.linalg.solve(nedelec, _moments(field, s, ws, wi))
    return from_w, from_phi


@dataclass(frozen=True)
class Tables:
    """Basis functions at a set of reference points.

    Attributes
    ----------
    X : ndarray, shape (2, n)
    values, gradients : ndarray, shapes (n, 7) and (n, 2, 7)
        P2 functions and bubble.
    shear_w, shear_phi : ndarray, shapes (n, 2, 6) and (n, 2, 2, 7)
        Interpolated covariant shear strain per unit of each unknown; the last axes of ``shear_phi`` are the
        covariant rotation component and the function.
    """

    X: Array
    values: Array
    gradients: Array
    shear_w: Array
    shear_phi: Array


def tabulate(X: Array) -> Tables:
    """Tabulate everything that the element needs at reference points ``X`` of shape (2, n)."""
    values, gradients = tabulate_p2b(X)
    nedelec = tabulate_nedelec(X)
    from_w, from_phi = shear_interpolation()
    flat = nedelec.reshape(
        -1, nedelec.shape[2]
    )  # products of large matrices take a tenth of the time of many small
    return Tables(
        X=X,
        values=values,
        gradients=gradients,
        shear_w=(flat @ from_w).reshape(-1, 2, from_w.shape[1]),
        shear_phi=(flat @ from_phi.reshape(len(from_phi), -1)).reshape(-1, 2, *from_phi.shape[1:]),
    )


@cache
def tables_at_quadrature(order: int) -> tuple[Tables, Array]:
    """Tables at the points of a quadrature rule, and the rule's weights."""
    X, w = quadrature(order)
    return tabulate(X), w
