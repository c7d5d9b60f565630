"""Natural frequencies of plates.

Sources: Leissa, Vibration of Plates, NASA SP-160, 1969 (thin plates; values from memory but for the closed form of the
simply supported square); Dawe & Roufaeil, J. Sound Vib. 69 (1980) 345-359 (Mindlin plates, shear factor 0.8601 for the
clamped square; from memory); Liew, Xiang & Kitipornchai, Comput. Struct. 49 (1993) 1-29 (clamped, 5/6; from memory).
"""

from __future__ import annotations

import numpy as np
import pytest
import scipy.sparse as sp

from splitterfem.fem.mass import SheetMass, mass_matrix
from splitterfem.fem.modes import vibration
from splitterfem.fem.structured import rectangle_mesh
from splitterfem.fem.textbook import Homogeneous, Plate

NU = 0.3


def plate(edge, t, *, n=10, held=True, laminate=None):
    return Plate(*rectangle_mesh(1.0, 1.0, n, n), laminate or Homogeneous(t), edge=edge, membrane_held=held)


def frequencies(made, t, count):
    """Angular frequencies of a plate of unit density."""
    turn = made.turn
    stiffness = sp.csc_array(turn.T @ made.panel.matrix @ turn)
    mass = sp.csc_array(turn.T @ mass_matrix(made.panel, SheetMass.uniform(made.panel, 1.0, t)) @ turn)
    found = vibration(stiffness, mass, made.free, count, shift=3.0 * t**2)
    assert found.residual < 1e-10
    gram = found.shapes.T @ (mass @ found.shapes)
    assert gram == pytest.approx(np.eye(count), abs=1e-6)
    return np.sqrt(np.maximum(found.values, 0.0))


def thin(omega, t):
    """Frequencies as ``omega a^2 sqrt(rho t / D)``."""
    return omega * np.sqrt(12.0 * (1.0 - NU**2)) / t


def cantilever(middle):
    return ["clamped" if x < 1e-9 else "free" for x in middle[0]]


@pytest.mark.parametrize(
    ("edge", "values"),
    [
        ("hard", [19.739, 49.348, 49.348, 78.957]),
        ("clamped", [35.985, 73.394, 73.394, 108.22]),
        (cantilever, [3.471, 8.507, 21.285, 27.199, 30.957]),
    ],
)
def test_thin_squares(edge, values):
    found = thin(frequencies(plate(edge, 1e-3), 1e-3, len(values)), 1e-3)
    assert found == pytest.approx(values, rel=1.5e-3)


def test_a_free_square_has_six_rigid_motions():
    """In-plane unknowns included, so that all six are there."""
    found = thin(frequencies(plate("free", 1e-3, held=False), 1e-3, 10), 1e-3)
    assert found[:6] == pytest.approx(np.zeros(6), abs=2e-2)
    assert found[6:] == pytest.approx([13.468, 19.596, 24.270, 34.801], rel=1e-3)


@pytest.mark.parametrize(
    ("edge", "factor", "values", "tolerance"),
    [
        ("hard", 5.0 / 6.0, [0.930, 2.219, 2.219, 3.406], 1e-3),
        ("clamped", 0.8601, [1.594, 3.046, 3.046], 3e-3),
    ],
)
def test_thick_squares(edge, factor, values, tolerance):
    """Thickness a tenth of the side, ``omega a sqrt(rho / G)``: rotary inertia and shear count (Dawe & Roufaeil).

    Their fourth frequency of the clamped square, 4.285, is an upper bound by a short Ritz series, 0.5 % above this.
    """
    made = plate(edge, 0.1, laminate=Homogeneous(0.1, shear_factor=factor))
    found = frequencies(made, 0.1, len(values)) * np.sqrt(2.0 * (1.0 + NU))
    assert found == pytest.approx(values, rel=tolerance)


def test_thick_clamped_square_with_the_usual_shear_factor():
    """Liew et al., ``omega a^2 sqrt(rho t / D) / pi^2``."""
    found = thin(frequencies(plate("clamped", 0.1), 0.1, 4), 0.1) / np.pi**2
    assert found == pytest.approx([3.2954, 6.2858, 6.2858, 8.8098], rel=1e-3)


def test_orthotropic_square():
    """Simply supported, closed form: rho t omega^2 = D11 a^4 + 2 (D12 + 2 D66) a^2 b^2 + D22 b^4."""
    t = 1e-3
    laminate = Homogeneous(t, E1=10.0, E2=1.0, nu12=0.25, G12=0.5, G13=0.5, G23=0.2)
    D = laminate.D
    modes = sorted(
        D[0, 0] * a**4 + 2 * (D[0, 1] + 2 * D[2, 2]) * a**2 * b**2 + D[1, 1] * b**4
        for a in np.pi * np.arange(1, 5)
        for b in np.pi * np.arange(1, 5)
    )
    found = frequencies(plate("hard", t, laminate=laminate), t, 4)
    assert found == pytest.approx(np.sqrt(np.array(modes[:4]) / t), rel=2e-3)
