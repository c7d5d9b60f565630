"""Natural modes with air that follows the panel.

Sources: Bisplinghoff, Ashley & Halfman, Aeroelasticity, 1955, ch. 8 (pressure that grows with the deflection is a
negative foundation; from memory); Timoshenko, Vibration Problems in Engineering (beam on an elastic foundation: the
foundation adds its stiffness over the mass to every squared frequency); the simply supported square is a closed form.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

import numpy as np
import pytest
import scipy.sparse as sp
from test_natural_modes import SPAN, B, L, stiffness, strip

import splitterfem as sf
from splitterfem.analysis import modes
from splitterfem.analysis.airspring import DIVERGES, FLUTTER, SPARE, with_air
from splitterfem.analysis.modes import natural_modes
from splitterfem.analysis.solution import solve
from splitterfem.fem.mass import SheetMass, mass_matrix
from splitterfem.fem.modes import vibration
from splitterfem.fem.structured import rectangle_mesh
from splitterfem.fem.textbook import Homogeneous, Plate
from splitterfem.model import build
from splitterfem.model.feedback import sag_follower

WEIGHT = sf.LoadCase(name="weight", ground=False)


@dataclass
class Spring:
    """Pressure on the sheet proportional to its sag, in Pa/m element by element."""

    panel: object
    stiffness: np.ndarray

    def __post_init__(self):
        none = np.zeros_like(self.stiffness)
        self.matrix = mass_matrix(self.panel, SheetMass(self.stiffness, none, none))

    def slope(self, x):
        def change(step):
            moved = np.zeros_like(step)
            moved[2::5] = step[2::5]
            pushed = self.matrix @ moved
            only = np.zeros_like(step)
            only[2::5] = pushed[2::5]
            return only

        return change

    def load(self, x):
        return self.slope(x)(x)


def even(model, size):
    return Spring(model.panel, np.full(model.panel.space.n_elements, size))


@pytest.fixture(scope="module")
def model():
    return build(strip())


def test_even_air_lowers_every_bending_mode_alike(model):
    """omega^2 = omega_0^2 - k_a / m, the sheet's rotary inertia being a ten-thousandth of its mass here."""
    per_area = stiffness()[1] / B
    plain = natural_modes(model, 4, case=WEIGHT)
    pull = 0.5 * (2 * np.pi * plain.frequencies[0]) ** 2 * per_area
    soft = natural_modes(model, 4, case=WEIGHT, follower=even(model, pull))
    lost = (2 * np.pi) ** 2 * (plain.frequencies**2 - soft.frequencies**2)
    bending = np.abs(plain.frequencies / plain.frequencies[0] - [[1], [4], [9]]).min(axis=0) < 0.05
    assert bending.sum() == 3
    assert lost[bending] == pytest.approx(pull / per_area, rel=1e-3)
    assert soft.truncation < 1e-9
    assert soft.air_spring
    assert not plain.air_spring
    x, y = soft.shapes[0].highest()[1]
    assert (x, abs(y)) == pytest.approx((L / 2, B / 2), abs=0.04)
    assert soft.participation[0] == pytest.approx(plain.participation[0], rel=1e-3)


def test_a_strip_diverges_where_the_beam_does(model):
    """Simply supported beam: k_a = pi^4 E I / l^4 per width; its ends overhang by a hundredth of the span."""
    critical = np.pi**4 * stiffness()[0] / (SPAN**4 * B)
    before, after = (
        natural_modes(model, 2, case=WEIGHT, follower=even(model, share * critical)) for share in (0.97, 1.03)
    )
    assert before.frequencies[0] > 0.0
    assert DIVERGES not in before.notes
    assert after.frequencies[0] == 0.0
    assert after.frequencies[1] > 0.0
    assert DIVERGES in after.notes
    assert after.table.shaken_by[0] == ""


T = 1e-3


@pytest.fixture(scope="module")
def square():
    """Simply supported square without rotary inertia: panel, stiffness, mass, free unknowns, turn."""
    made = Plate(*rectangle_mesh(1.0, 1.0, 12, 12), Homogeneous(T), edge="hard")
    none = np.zeros(made.panel.space.n_elements)
    still = SheetMass(none + T, none, none)  # unit density
    K = sp.csc_array(made.turn.T @ made.panel.matrix @ made.turn)
    M = sp.csc_array(made.turn.T @ mass_matrix(made.panel, still) @ made.turn)
    return made, K, M


def in_air(square, size, count, spare=SPARE):
    made, K, M = square
    found = vibration(K, M, made.free, count + spare, shift=3.0 * T**2)
    spring = Spring(made.panel, size)
    shapes = made.turn @ found.shapes
    x = np.zeros(K.shape[0])
    return with_air(found.values, shapes, spring, x, count, n_dofs=len(x)), spring


def test_a_square_on_even_air(square):
    """omega^2 rho t = 4 pi^4 D / a^4 - k_a, thin (closed form); the next two are 25 pi^4 D / a^4 - k_a."""
    made = square[0]
    D = Homogeneous(T).D[0, 0]
    k_a = 300.0 * D
    air, _ = in_air(square, np.full(made.panel.space.n_elements, k_a), 3)
    assert air.values[0] * T == pytest.approx(4 * np.pi**4 * D - k_a, rel=2e-3)
    assert air.values[1:] * T == pytest.approx(25 * np.pi**4 * D - k_a, rel=2e-3)


def test_leaving_out_modes_costs_little(square):
    """Air on one quarter of the plate, against the same stiffness taken off the sparse matrix."""
    made, K, M = square
    x, y = made.panel.space.centroids.T
    size = np.where((x < 0.5) & (y < 0.5), 800.0 * Homogeneous(T).D[0, 0], 0.0)
    air, spring = in_air(square, size, 4)
    pulled = sp.csc_array(made.turn.T @ spring.matrix @ made.turn)
    direct = vibration(sp.csc_array(K - pulled), M, made.free, 4, shift=400.0 * T**2)
    missed = np.abs(air.values - direct.values)
    assert missed.max() / direct.values.max() < air.truncation < 1e-4
    assert (missed / direct.values).max() < 1e-3
    rough, _ = in_air(square, size, 4, spare=2)
    assert np.abs(rough.values - direct.values).max() > 10 * missed.max()


class Turning:
    """Two modes of which each pushes the other, in opposite senses."""

    def __init__(self, c):
        self.matrix = np.array([[0.0, c], [-c, 0.0]])

    def slope(self, x):
        return lambda step: self.matrix @ step

    def load(self, x):
        return self.matrix @ x


@pytest.mark.parametrize("c", [0.4, 0.6])
def test_two_modes_merge(c):
    """omega^2 = (a + b) / 2 +- sqrt((b - a)^2 / 4 - c^2), by hand: they meet at c = (b - a) / 2."""
    a, b = 4.0, 5.0
    air = with_air(np.array([a, b]), np.eye(2), Turning(c), np.zeros(2), 2, n_dofs=2)
    root = np.sqrt(complex((b - a) ** 2 / 4 - c**2))
    wanted = np.sqrt(np.array([(a + b) / 2 - root, (a + b) / 2 + root])).real ** 2
    assert air.values == pytest.approx(wanted)
    assert air.merged == ((0, 1) if c > 0.5 else ())
    assert np.linalg.norm(air.shapes, axis=0) == pytest.approx([1.0, 1.0])
    assert abs(np.linalg.det(air.shapes)) > 0.1


def test_flutter_is_not_judged(model):
    """The sentence comes with modes that merge, and only then."""
    plain = natural_modes(model, 2, case=WEIGHT)
    assert "nothing of flutter" in plain.notes[0]
    assert not any(FLUTTER in note for note in plain.notes)
    merged = dataclasses.replace(plain, merged=(1, 2), air_spring=True)
    assert merged.notes[-1] == f"Modes 1 and 2 merge. {FLUTTER}"
    assert "FLUTTER IS NOT JUDGED" in FLUTTER


CASE = "estimate from the gap, 210 km/h"


def test_air_of_the_gap_law(coarse_file, monkeypatch):
    """The third mode's change is that of Rayleigh's quotient with the load of the air, by finite differences."""
    splitter = sf.load(coarse_file)
    model = build(splitter)
    plain = natural_modes(model, 6, case=CASE)
    given = []
    monkeypatch.setattr(modes, "with_air", lambda *a, **more: given.append(a) or with_air(*a, **more))
    air = natural_modes(model, 6, case=CASE, air_spring=True)
    assert air.truncation < 1e-4
    assert air.case == CASE
    assert "without damping or delay" in air.notes[0]
    solution = solve(model, CASE)
    follower = sag_follower(model, solution.case)
    values, shapes = given[0][:2]
    shape, x = shapes[: model.panel.space.n_dofs, 2], solution.response.x
    small = 1e-4 / np.abs(shape).max()
    change = (follower.load(x + small * shape) - follower.load(x - small * shape)) @ shape / (2 * small)
    found = (2 * np.pi) ** 2 * (plain.frequencies[2] ** 2 - air.frequencies[2] ** 2)
    assert abs(change) > 1e-3 * values[2]
    assert found == pytest.approx(change, rel=0.1)


@pytest.mark.parametrize(
    ("case", "said"),
    [
        (None, "An air spring has no air: name the load case whose air it is"),
        ("push on the lip", "Load case 'push on the lip' has no air that follows the gap: give it a speed"),
        ("straight, 210 km/h", "a gap_exponent above zero, such as 1, or take the gap law"),
    ],
)
def test_air_that_does_not_follow(coarse_file, case, said):
    with pytest.raises(sf.DesignError, match=said):
        sf.natural_frequencies(sf.load(coarse_file), case=case, air_spring=True)
