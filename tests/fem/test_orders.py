"""Orders of convergence for a smooth solution, bounded on both sides, at four thicknesses.

The exact solution is one term of the Navier series (hard simple support, sinusoidal load): Whitney & Pagano,
J. Appl. Mech. 37 (1970) 1031-1036.  Theory: Brezzi, Bathe & Fortin 1989 give order 2 in the energy norm.
"""

from __future__ import annotations

import numpy as np
import pytest

from splitterfem.fem.panel import points_on_elements
from splitterfem.fem.recover import displacements
from splitterfem.fem.reference import quadrature
from splitterfem.fem.structured import rectangle_mesh
from splitterfem.fem.textbook import Homogeneous, Plate

A, B = 1.0, 0.7


def exact_amplitudes(laminate):
    al, be = np.pi / A, np.pi / B
    D, S = laminate.D, laminate.S
    M = np.array(
        [
            [S[0, 0] * al**2 + S[1, 1] * be**2, -S[0, 0] * al, -S[1, 1] * be],
            [-S[0, 0] * al, D[0, 0] * al**2 + D[2, 2] * be**2 + S[0, 0], (D[0, 1] + D[2, 2]) * al * be],
            [-S[1, 1] * be, (D[0, 1] + D[2, 2]) * al * be, D[2, 2] * al**2 + D[1, 1] * be**2 + S[1, 1]],
        ]
    )
    return np.linalg.solve(M, [1.0, 0.0, 0.0])


def errors(n, t):
    laminate = Homogeneous(t, nu12=0.3)
    plate = Plate(*rectangle_mesh(A, B, n, n, pattern="cross"), laminate, edge="hard")
    al, be = np.pi / A, np.pi / B
    W, X, Y = exact_amplitudes(laminate)
    x = plate.solve_pressure(lambda px, py: np.sin(al * px) * np.sin(be * py))
    points, weights = quadrature(6)
    elements, (px, py) = points_on_elements(plate.space, points)
    at = np.vstack([px, py])
    area = np.tile(weights, plate.space.n_elements) * 2 * plate.space.area[elements]
    ss, cs = np.sin(al * px) * np.sin(be * py), np.cos(al * px) * np.sin(be * py)
    sc, cc = np.sin(al * px) * np.cos(be * py), np.cos(al * px) * np.cos(be * py)
    strain = np.zeros((len(px), 8))
    strain[:, 3], strain[:, 4], strain[:, 5] = -X * al * ss, -Y * be * ss, (X * be + Y * al) * cc
    strain[:, 6], strain[:, 7] = (W * al - X) * cs, (W * be - Y) * sc
    gap = plate.panel.gather(elements, plate.panel.strain_rows(elements, at), x) - strain
    C = plate.panel.stiffness[0]
    energy = np.sqrt(area @ np.einsum("ni,ij,nj->n", gap, C, gap))
    full = np.sqrt(area @ np.einsum("ni,ij,nj->n", strain, C, strain))
    w = displacements(plate.panel, x, elements, at)[:, 2]
    return energy / full, np.sqrt(area @ (w - W * ss) ** 2) / abs(W)


@pytest.mark.parametrize("t", [1e-1, 1e-2, 1e-3, 1e-4])
def test_orders(t):
    found = np.array([errors(n, t) for n in (4, 8, 16)])
    order = np.log2(found[:-1] / found[1:])
    energy, deflection = order[-1]
    assert 1.9 < energy < 2.5
    assert 2.8 < deflection < 4.6
    assert found[-1, 0] < 3e-3
    assert found[-1, 1] < 2e-5
