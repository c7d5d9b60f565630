"""How a splitter behaves over speed: divergence, limit points, ground touch and sweeps, against closed forms.

Sources: Bisplinghoff, Ashley & Halfman, Aeroelasticity (1955), ch. 8 (static divergence; from memory): pressure that
grows with the deflection is a negative foundation, so that a load ``k_a w`` diverges where the differential equation
has a solution without other load; every such value is derived beside its test.  A rigid plate on a spring is a scalar
equation.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq
from shapely.geometry import box

from splitterfem.fem.branch import climb
from splitterfem.fem.divergence import feedback
from splitterfem.fem.equilibrium import Balance
from splitterfem.fem.loads import pressure_load, surface_deflection, surface_load, surface_points
from splitterfem.fem.locate import Locator
from splitterfem.fem.nearby import near
from splitterfem.fem.panel import Panel, generalised_stiffness
from splitterfem.fem.recover import displacements
from splitterfem.fem.restraint import held_directions, mean_rows, pad_samples
from splitterfem.fem.space import PanelSpace
from splitterfem.fem.structure import Structure
from splitterfem.fem.structured import rectangle_mesh
from splitterfem.fem.textbook import Homogeneous

A, B = 0.8, 0.6
"""Length and width of the rigid plate, m."""


class Air:
    """Net pressure, positive down, as a function of the deflection, up, and the slope along x."""

    def __init__(self, panel, pressure, by_w, by_slope=0.0):
        self.panel, self.pressure, self.by_w, self.by_slope = panel, pressure, by_w, by_slope
        self.deflection = surface_deflection(panel)
        self.inclination = inclination(panel) if by_slope else None

    def _push(self, pressure):
        traction = np.zeros((3, len(pressure)))
        traction[2] = -pressure
        return surface_load(self.panel, traction)

    def load(self, x):
        w = self.deflection @ x
        more = 0.0 if self.inclination is None else self.by_slope * (self.inclination @ x)
        return self._push(self.pressure(w) - self.pressure(np.zeros_like(w)) + more)

    def slope(self, x):
        by_w = self.by_w(self.deflection @ x)

        def change(step):
            more = 0.0 if self.inclination is None else self.by_slope * (self.inclination @ step)
            return self._push(by_w * (self.deflection @ step) + more)

        return change


def inclination(panel):
    """Takes unknowns to dw/dx at the points of the surface, by differences that are exact for quadratic deflections."""
    import scipy.sparse as sp

    xy, _ = surface_points(panel)
    per_element = xy.shape[1] // panel.space.n_elements
    elements = np.repeat(np.arange(panel.space.n_elements), per_element)
    h = np.array([[1e-4], [0.0]])
    rows = sum(sign * panel.displacement_rows(elements, xy + sign * h)[:, 2] for sign in (1.0, -1.0)) / (
        2.0 * h[0, 0]
    )
    dofs = panel.space.dofs[elements]
    places = np.repeat(np.arange(len(elements)), dofs.shape[1])
    shape = (len(elements), panel.space.n_dofs)
    return sp.csr_array(sp.coo_array((rows.ravel(), (places, dofs.ravel())), shape=shape))


def foundation(panel, k_a, p0=0.0):
    """Pressure ``p0 - k_a w``: it grows with the sag."""
    return Air(panel, lambda w: p0 - k_a * w, lambda w: np.full_like(w, -k_a))


def closing_gap(panel, p0, h0, n):
    """Pressure ``p0 (h0 / h)^n`` over the gap ``h = h0 + w``."""
    return Air(
        panel,
        lambda w: p0 * (h0 / (h0 + w)) ** n,
        lambda w: -n * p0 / (h0 + w) * (h0 / (h0 + w)) ** n,
    )


def uniform(panel, p):
    return pressure_load(panel, lambda x, y: np.full_like(x, p))


def leading(structure, air):
    """Feedback factor of the undeformed panel with every support acting."""
    n = structure.matrix.shape[0]
    balance = Balance(structure, np.zeros(structure.panel.space.n_dofs), follower=air)
    side = np.ones(structure.base.rows.shape[0], dtype=np.int64)
    return feedback(structure.base, side, balance.slope_at(np.zeros(n)))


# A rigid plate on a spring ----------------------------------------------------------------------------------

K, H0 = 50e3, 0.05


@pytest.fixture(scope="module")
def rigid():
    """So thick that it hardly bends on its four springs of together 50 kN/m."""
    return on_springs()


def on_springs(stop=None, times=10.0):
    """A stiff plate on four springs; below ``stop``, if given, on so many times stiffer ones besides."""
    E, t = 200e9, 0.2
    laminate = Homogeneous(t, E1=E, nu12=0.3)
    panel = Panel(PanelSpace(*rectangle_mesh(A, B, 4, 4)), generalised_stiffness(laminate))
    locator = Locator(panel.space)
    supports = []
    for number, (x, y) in enumerate((x, y) for x in (0.1, A - 0.1) for y in (0.1, B - 0.1)):
        pad = pad_samples(locator, box(x - 0.02, y - 0.02, x + 0.02, y + 0.02), name=f"pad {number}")
        rows = mean_rows(panel, pad)
        if number < 2:
            supports += held_directions(
                rows, {"x": (1.0, 0.0, 0.0), "y": (0.0, 1.0, 0.0)}, support=f"pin {number}"
            )
        up = held_directions(rows, {"z": (0.0, 0.0, 1.0)}, support=f"spring {number}")[0]
        supports.append(replace(up, compliance=4.0 / K))
        if stop is not None:
            supports.append(replace(up, compliance=4.0 / (times * K), lower=-stop, upper=np.inf))
    return Structure(panel, tuple(supports))


def pushed(structure, force, n):
    """A force in N, at rest, that grows as the gap closes."""
    p0 = force / (A * B)
    return Balance(structure, uniform(structure.panel, p0), follower=closing_gap(structure.panel, p0, H0, n))


def sunk(force, n):
    """Lower root of k z = F0 (h0 / (h0 - z))^n."""
    return brentq(lambda z: K * z - force * (H0 / (H0 - z)) ** n, 0.0, H0 / (n + 1.0))


@pytest.mark.parametrize("n", [1.0, 2.0])
def test_the_last_equilibrium_of_a_rigid_plate(rigid, n):
    """k z = F0 (h0 / (h0 - z))^n ends at F0 = k h0 n^n / (n + 1)^(n + 1), where z = h0 / (n + 1)."""
    most = K * H0 * n**n / (n + 1.0) ** (n + 1.0)
    branch = climb(lambda force: pushed(rigid, force, n), 0.1 * most, 4.0 * most)
    assert branch.lost == pytest.approx(most, rel=1e-3)
    last = branch.points[-1]
    assert last.load < most
    assert -last.x[2::5].min() == pytest.approx(H0 / (n + 1.0), rel=0.05)
    for point in branch.points:
        z = sunk(point.load, n)
        assert -point.x[2::5].mean() == pytest.approx(z, rel=2e-3)
        # F0 n h0^n / (h0 - z)^(n + 1) over k
        factor = n * z / (H0 - z)
        assert point.feedback.factor == pytest.approx(factor, rel=1e-2)


@pytest.mark.parametrize("n", [1.0, 2.0])
def test_linear_divergence_of_a_rigid_plate(rigid, n):
    """The air's spring n F0 / h0 equals k."""
    force = 0.1 * K * H0
    found = leading(rigid, pushed(rigid, force, n).follower)
    assert force / found.factor == pytest.approx(K * H0 / n, rel=1e-5)
    assert np.ptp(found.shape[2::5]) < 1e-4
    assert found.swinging == 0.0


@pytest.mark.parametrize(("share", "expected"), [(0.25, 0.0669873), (0.5, 0.1464466), (0.9, 0.3418861)])
def test_a_coefficient_over_the_gap(rigid, share, expected):
    """K d = q S c / (h0 - d): d / h0 = (1 - sqrt(1 - q / q_c)) / 2 with q_c = K h0^2 / (4 S c)."""
    c, S = 0.03, A * B
    q = share * K * H0**2 / (4.0 * S * c)
    balance = pushed(rigid, q * S * c / H0, 1.0)
    found = near(balance, np.zeros(rigid.matrix.shape[0]))
    assert -found.x[2::5].mean() / H0 == pytest.approx(expected, rel=1e-3)


def test_where_what_is_watched_falls_to_zero(rigid):
    """Through the gap h0 / 4 and no further: F0 = k z (h0 - z) / h0."""
    branch = climb(
        lambda force: pushed(rigid, force, 1.0),
        0.01 * K * H0,
        K * H0,
        watch=lambda x: H0 / 4 + float(x[2::5].mean()),
        until_zero=True,
    )
    before, after = branch.crossing()
    touch = K * H0 / 4 * 3 / 4
    assert before.load < touch < after.load
    assert after is branch.points[-1]
    assert branch.lost is None


def test_beyond_the_fold_there_is_another_branch(rigid):
    """Suction that stops growing leaves an equilibrium below the ground; the branch above it still ends at the fold."""

    def saturating(force):
        p0, least = force / (A * B), 0.2 * H0
        air = Air(
            rigid.panel,
            lambda w: p0 * H0 / np.maximum(H0 + w, least),
            lambda w: np.where(H0 + w > least, -p0 * H0 / (H0 + w) ** 2, 0.0),
        )
        return Balance(rigid, uniform(rigid.panel, p0), follower=air)

    most = K * H0 / 4.0
    branch = climb(saturating, 0.1 * most, 4.0 * most)
    assert branch.lost == pytest.approx(most, rel=1e-3)
    assert -min(point.x[2::5].min() for point in branch.points) < 0.51 * H0
    lower = saturating(1.1 * most).solve().x[2::5].mean()
    assert -lower == pytest.approx(1.1 * most / 0.2 / K, rel=1e-3)


def test_a_stop_on_the_way():
    """Just before the end a stop comes to act: (K z + 10 K (z - s)) (h0 - z) / h0 has a later maximum.

    With s = 0.45 h0 it is at z = 31 h0 / 44, F0 = (11 * 31 / 44 - 4.5) (13 / 44) K h0.
    """
    structure = on_springs(stop=0.45 * H0)
    z = 31.0 / 44.0
    most = (11.0 * z - 4.5) * (1.0 - z) * K * H0
    branch = climb(lambda force: pushed(structure, force, 1.0), 0.02 * K * H0, 2.0 * K * H0)
    assert branch.lost == pytest.approx(most, rel=1e-3)
    assert most > 3.8 * K * H0 / 4.0
    loads = [point.load for point in branch.points]
    assert loads == sorted(loads)
    for point in branch.points:
        stopped = -point.x[2::5].mean() > 0.45 * H0
        assert stopped == (point.load > 0.45 * 0.55 * K * H0)


def test_a_force_that_ebbs_has_no_end(rigid):
    """p0 (h / h0) is a spring that helps: no factor, and equilibria as far as one looks: z = F0 / (k + F0 / h0)."""

    def helping(force):
        p0 = force / (A * B)
        air = Air(rigid.panel, lambda w: p0 * (H0 + w) / H0, lambda w: np.full_like(w, p0 / H0))
        return Balance(rigid, uniform(rigid.panel, p0), follower=air)

    assert leading(rigid, helping(1e3).follower).factor == 0.0
    branch = climb(helping, 100.0, 5e3)
    assert branch.lost is None
    last = branch.points[-1]
    assert last.load == 5e3
    assert -last.x[2::5].mean() == pytest.approx(5e3 / (K + 5e3 / H0), rel=1e-3)


# Strips and squares -----------------------------------------------------------------------------------------

T, YOUNG = 0.01, 70e9
STIFF = YOUNG * T**3 / 12.0
"""Bending stiffness of a strip without Poisson's ratio, N m."""


def strip(left, right, n=24):
    """A strip of length 1 m and width 0.1 m that bends as a beam; each end "clamped", "held" or "free"."""
    laminate = Homogeneous(T, E1=YOUNG, nu12=0.0, shear_factor=1e4)
    panel = Panel(PanelSpace(*rectangle_mesh(1.0, 0.1, n, 2)), generalised_stiffness(laminate))
    space = panel.space
    x = space.node_points[0]
    everywhere = np.arange(space.n_nodes)
    fixed = [space.dofs_of(everywhere, ("u", "v", "phi_y"))]
    for end, word in ((0.0, left), (1.0, right)):
        nodes = np.flatnonzero(np.abs(x - end) < 1e-9)
        if word != "free":
            fixed.append(space.dofs_of(nodes, "w"))
        if word == "clamped":
            fixed.append(space.dofs_of(nodes, "phi_x"))
    return Structure(panel, fixed=np.concatenate(fixed))


@pytest.mark.parametrize(
    ("ends", "expected"),
    [
        (("held", "held"), math.pi**4),
        (("clamped", "clamped"), 500.5639),
        (("clamped", "held"), 237.7211),
        (("clamped", "free"), 12.36236),
    ],
)
def test_a_strip_on_a_negative_foundation(ends, expected):
    """EI w'''' = k_a w: k_a = mu^4 EI / l^4, roots of sin, cos cosh - 1, tan - tanh, cos cosh + 1."""
    structure = strip(*ends)
    k_a = 0.3 * expected * STIFF
    found = leading(structure, foundation(structure.panel, k_a))
    assert k_a / found.factor / STIFF == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize(("share", "expected"), [(0.25, 1.334606), (0.5, 2.003832), (0.9, 10.03467)])
def test_sag_of_a_strip_on_a_negative_foundation(share, expected):
    """w = p0 / k_a ((cos l xi / cos(l L / 2) + cosh l xi / cosh(l L / 2)) / 2 - 1), l^4 = k_a / EI."""
    lam = (share * math.pi**4) ** 0.25
    ratio = (0.5 / math.cos(lam / 2) + 0.5 / math.cosh(lam / 2) - 1.0) / (share * math.pi**4) * 384.0 / 5.0
    assert ratio == pytest.approx(expected, rel=1e-6)
    structure = strip("held", "held")
    load = uniform(structure.panel, 100.0)
    air = foundation(structure.panel, share * math.pi**4 * STIFF)
    fed = near(Balance(structure, load, follower=air), np.zeros(structure.matrix.shape[0]))
    rest = near(Balance(structure, load), np.zeros(structure.matrix.shape[0]))
    assert middle(structure, fed.x, 0.5, 0.05) / middle(structure, rest.x, 0.5, 0.05) == pytest.approx(
        expected, rel=2e-3 / (1.0 - share)
    )


def middle(structure, x, at_x, at_y):
    at = np.array([[at_x], [at_y]])
    elements = Locator(structure.panel.space).find(at, reach=1e-6)
    return displacements(structure.panel, x, elements, at)[0, 2]


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_cantilever_with_a_load_by_its_slope(sign):
    """EI w'''' = s w', clamped at 0: s L^3 / EI = 6.329703, not symmetric, where the free edge lies upstream.

    With s = m^3 the deflection is made of 1 and exp(m r x), r the cube roots of one; the clamped and free ends have a
    solution where the determinant of their conditions is zero.
    """
    structure = strip("clamped", "free", 32)
    s = 3.0 * STIFF
    air = Air(structure.panel, lambda w: np.zeros_like(w), np.zeros_like, by_slope=-sign * s)
    found = leading(structure, air)
    expected = brentq(lambda m: determinant(m).real, 1.5, 2.2) ** 3
    assert expected == pytest.approx(6.329703, rel=1e-6)
    if sign > 0.0:
        assert s / found.factor / STIFF == pytest.approx(expected, rel=1e-3)
    else:
        assert found.factor == 0.0  # downstream the load turns the strip back
        assert found.swinging >= 0.0


def determinant(m):
    """Of w(0), w'(0), w''(1), w'''(1) for the deflections 1 and exp(m r x)."""
    roots = np.concatenate([[0.0], m * np.exp(2j * np.pi / 3 * np.arange(3))])
    rows = [roots**0, roots, roots**2 * np.exp(roots), roots**3 * np.exp(roots)]
    rows[0][0] = 1.0
    scale = 1j  # the conjugate pair makes the determinant imaginary
    return np.linalg.det(np.array(rows)) / scale


@pytest.fixture(scope="module")
def squares():
    """Simply supported squares of side 1 m, thin and with t / a = 0.05."""
    return {t: square(t) for t in (1e-3, 0.05)}


def square(t, n=12):
    panel = Panel(
        PanelSpace(*rectangle_mesh(1.0, 1.0, n, n)),
        generalised_stiffness(Homogeneous(t, E1=YOUNG, nu12=0.3)),
    )
    space = panel.space
    x, y = space.node_points
    fixed = [space.dofs_of(np.arange(space.n_nodes), ("u", "v"))]
    for coordinate, along in ((x, "phi_y"), (y, "phi_x")):
        nodes = np.flatnonzero((coordinate < 1e-9) | (coordinate > 1.0 - 1e-9))
        fixed.append(space.dofs_of(nodes, ("w", along)))
    return Structure(panel, fixed=np.concatenate(fixed))


def bending(t):
    return YOUNG * t**3 / 12.0 / (1.0 - 0.3**2)


@pytest.mark.parametrize(("t", "expected"), [(1e-3, 389.6364), (0.05, 384.2191)])
def test_a_square_on_a_negative_foundation(squares, t, expected):
    """k_a a^4 / D = N^2 / (1 + N / s), N = 2 pi^2, s = S a^2 / D (Mindlin, k = 5/6); 4 pi^4 for a thin one."""
    D, shear = bending(t), 5.0 / 6.0 * YOUNG / 2.6 * t
    N = 2.0 * math.pi**2
    assert N**2 / (1.0 + N * D / shear if t > 0.01 else 1.0) == pytest.approx(expected, rel=1e-6)
    k_a = 100.0 * D
    found = leading(squares[t], foundation(squares[t].panel, k_a))
    assert k_a / found.factor / D == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize(("share", "expected"), [(0.25, 1.341130), (0.5, 2.023654), (0.9, 10.21677)])
def test_sag_of_a_square_on_a_negative_foundation(squares, share, expected):
    """Navier's series of the middle with pi^4 (m^2 + n^2)^2 - 4 pi^4 q / q_D in place of pi^4 (m^2 + n^2)^2."""
    odd = np.arange(1, 400, 2)
    m, n = np.meshgrid(odd, odd)
    signs = (-1.0) ** ((m + n) / 2 - 1) / (m * n)
    whole = (m**2 + n**2) ** 2.0
    assert (signs / (whole - 4.0 * share)).sum() / (signs / whole).sum() == pytest.approx(expected, rel=1e-6)
    structure, D = squares[1e-3], bending(1e-3)
    load = uniform(structure.panel, 1.0)
    air = foundation(structure.panel, share * 4.0 * math.pi**4 * D)
    none = np.zeros(structure.matrix.shape[0])
    fed, rest = (near(Balance(structure, load, follower=one), none) for one in (air, None))
    ratio = middle(structure, fed.x, 0.5, 0.5) / middle(structure, rest.x, 0.5, 0.5)
    assert ratio == pytest.approx(expected, rel=1e-3 / (1.0 - share))


def test_near_divergence_the_sag_grows_as_it_should(squares):
    """Near the end the sag is that of the leading shape: 1 / (1 - factor), and the factor is that of the climb."""
    structure, D = squares[1e-3], bending(1e-3)
    critical = 4.0 * math.pi**4 * D

    def at(k_a):
        return Balance(structure, uniform(structure.panel, 1.0), follower=foundation(structure.panel, k_a))

    branch = climb(at, 0.3 * critical, 0.95 * critical)
    assert branch.lost is None
    for point in branch.points:
        assert point.feedback.factor == pytest.approx(point.load / critical, rel=1e-3)
