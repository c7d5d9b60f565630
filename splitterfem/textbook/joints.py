"""A rib on a joint that slips, from loose to rigid.

Sources
-------
EN 1995-1-1:2004 annex B, which is exact for a load like half a sine wave; Newmark, Siess & Viest, Proc. Soc. Exp.
Stress Anal. 9 (1951) 75-92, in the form of Girhammar & Pan, Int. J. Mech. Sci. 49 (2007) 239-255 (formulas from memory
[M], digits recomputed from them).
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np
from numpy.typing import NDArray

from splitterfem.fem.loads import pressure_load
from splitterfem.fem.locate import Locator
from splitterfem.fem.panel import Panel, generalised_stiffness
from splitterfem.fem.ribrows import rib_operators
from splitterfem.fem.ribs import BeamLine, RibParts, SlipJoint
from splitterfem.fem.space import PanelSpace
from splitterfem.fem.structure import Structure
from splitterfem.fem.structured import rectangle_mesh
from splitterfem.fem.textbook import Homogeneous
from splitterfem.textbook.case import Case
from splitterfem.textbook.ribs import sag, strip_ends

Array = NDArray[np.float64]

LENGTH, BREADTH, THICKNESS, FLANGE = 1.2, 0.12, 0.012, 9e9
WIDTH, DEPTH, WEB = 0.02, 0.04, 11e9
"""Flange 120 x 12 mm, E = 9 GPa; web 20 x 40 mm, E = 11 GPa; 1.2 m between supports."""


def composite_sag(joint: float, load: Callable[[Array, Array], Array]) -> float:
    """Sag in m of the middle on a joint of some stiffness (N/m per m) under a pressure in Pa."""
    laminate = Homogeneous(THICKNESS, E1=FLANGE, nu12=0.0, G12=50 * FLANGE, G13=10 * FLANGE, G23=10 * FLANGE)
    panel = Panel(PanelSpace(*rectangle_mesh(LENGTH, BREADTH, 24, 2)), generalised_stiffness(laminate))
    area, middle = WIDTH * DEPTH, 0.5 * BREADTH
    points = np.array([[0.0, middle], [LENGTH, middle]])
    inertia = WIDTH * DEPTH**3 / 12.0
    line = BeamLine(points, 0.5 * (THICKNESS + DEPTH), WEB * area, WEB * inertia, 0.0, 10 * WEB * area)
    parts = RibParts("web", points, (line,), (), slip=SlipJoint(joint, 0.5 * THICKNESS))
    rib = rib_operators(panel, Locator(panel.space), parts)
    structure = Structure(
        panel,
        contributions=rib.contributions,
        n_extra=rib.n_extra,
        fixed=strip_ends(panel, LENGTH, BREADTH),
    )
    return sag(panel, structure.solve(pressure_load(panel, load)).x, (0.5 * LENGTH, middle))


def under_a_sine(joint: float) -> float:
    """Sag in m under 1 kPa times half a sine wave."""
    return composite_sag(joint, lambda x, y: 1000.0 * np.sin(np.pi * x / LENGTH) + 0.0 * y)


def annex_b(joint: float) -> float:
    """Sag in m by EN 1995-1-1 annex B: q L^4 / (pi^4 EI_ef)."""
    flange, web = FLANGE * BREADTH * THICKNESS, WEB * WIDTH * DEPTH
    apart = 0.5 * (THICKNESS + DEPTH)
    gamma = 1.0 / (1.0 + np.pi**2 * flange / (joint * LENGTH**2))
    a2 = gamma * flange * apart / (gamma * flange + web)
    own = FLANGE * BREADTH * THICKNESS**3 / 12.0 + WEB * WIDTH * DEPTH**3 / 12.0
    stiffness = own + gamma * flange * (apart - a2) ** 2 + web * a2**2
    return float(1000.0 * BREADTH * LENGTH**4 / (np.pi**4 * stiffness))


def under_a_uniform_load(joint: float) -> float:
    """Sag in m under 200 N/m."""
    return composite_sag(joint, lambda x, y: np.full_like(x, 200.0 / BREADTH))


NEWMARK = (
    (1e5, 4.033696e-3),
    (1e6, 3.789051e-3),
    (1e7, 2.566417e-3),
    (1e8, 1.367978e-3),
    (1e10, 1.111214e-3),
)
"""Stiffness of the joint in N/m per m, and the sag in m under 200 N/m."""


def cases() -> list[Case]:
    """All joints."""
    found = [
        Case("joints", f"T on a joint of {k / 1e6:g} N/mm per mm, uniform load", "m", value, 5e-3,
             "Newmark, Siess & Viest 1951 [M]", partial(under_a_uniform_load, k))
        for k, value in NEWMARK
    ]  # fmt: skip
    found += [
        Case("joints", f"T on a joint of {k / 1e6:g} N/mm per mm, sine load", "m", annex_b(k), 5e-3,
             "EN 1995-1-1:2004 annex B", partial(under_a_sine, k))
        for k in (1e6, 1e7, 1e8)
    ]  # fmt: skip
    return found
