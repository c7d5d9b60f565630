"""Natural frequencies of designs.

Sources: Timoshenko, Vibration Problems in Engineering (simply supported beam, ``f_n = n^2 pi / (2 L^2) sqrt(EI / m)``;
a light beam with a mass in the middle, Rayleigh's 17/35 of the beam's mass).
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

import splitterfem as sf
from splitterfem.analysis.modes import excitations, natural_modes
from splitterfem.model import build

L, B, T = 1.0, 0.06, 0.004
SPAN = L - 0.02


def strip(**more: Any) -> sf.Splitter:
    """A narrow aluminium strip on two bolts' pads as wide as it is."""
    pad = {"shape": "rectangle", "length": 0.004, "width": 0.058}
    return sf.Splitter.model_validate(
        {
            "name": "strip",
            "panel": {
                "outline": {"start": (0, -B / 2), "edges": [{"to": p} for p in ((L, -B / 2), (L, B / 2), (0, B / 2))]},
                "sheet": {"material": "6061-T6 sheet", "thickness": T},
            },
            "bolts": [
                {"name": "fixed", "at": (0.01, 0.0), "holds": "xyz", "pad": pad},
                {"name": "free", "at": (L - 0.01, 0.0), "holds": "yz", "pad": pad},
                {"name": "no roll", "at": (0.01, 0.025), "holds": "z", "pad": "4 mm"},
            ],
            "car": {"ride_height": 0.2},
            "mesh": {"size": 0.03},
        }
        | more
    )  # fmt: skip


def stiffness() -> tuple[float, float]:
    """E I of the strip as a beam and its mass per length."""
    sheet = strip().panel.sheet
    material = sheet.resolved
    return float(material.E1) * B * T**3 / 12, B * sheet.resolved.stiffness(T).mass_per_area


def test_a_strip_vibrates_like_a_beam() -> None:
    """Its ends overhang by 10 mm, which lowers the bending frequencies by less than half a percent."""
    EI, m = stiffness()
    modes = natural_modes(build(strip()), 6)
    beam = np.pi / (2 * SPAN**2) * np.sqrt(EI / m)
    assert modes.frequencies[0] == pytest.approx(beam, rel=1e-2)
    assert np.abs(modes.frequencies / (4 * beam) - 1).min() < 2e-2
    assert modes.participation[0] == pytest.approx(8 / np.pi**2 * SPAN / L, rel=1e-2)
    assert modes.residual < 1e-9
    x, y = modes.shapes[0].highest()[1]
    assert (x, abs(y)) == pytest.approx((L / 2, B / 2), abs=0.04)
    assert modes.table.frequency_Hz.is_monotonic_increasing


def test_a_mass_in_the_middle() -> None:
    """f = sqrt(48 E I / (l^3 (M + 17/35 m l))) / 2 pi, Rayleigh."""
    EI, m = stiffness()
    mass = 2.0
    found = natural_modes(build(strip()), 1, added=[(L / 2, 0.0, mass)]).frequencies[0]
    expected = np.sqrt(48 * EI / (SPAN**3 * (mass + 17 / 35 * m * SPAN))) / (2 * np.pi)
    assert found == pytest.approx(expected, rel=1e-2)
    with pytest.raises(sf.DesignError, match="is off the panel; move it onto it"):
        natural_modes(build(strip()), 1, added=[(2.0, 0.0, 1.0)])


def test_a_rib_stiffens_and_weighs() -> None:
    """Composite section: E I of the transformed section over the mass of both."""
    tube = {"shape": "tube", "width": 0.0254, "height": 0.0254, "wall": 0.0032}
    rib = {"name": "r", "points": [(0, 0), (L, 0)], "section": tube, "material": "6061-T6 extrusion"}
    model = build(strip(ribs=[rib]))
    part = model.ribs[0]
    sheet = strip().panel.sheet.resolved
    EA, EA_rib = float(sheet.E1) * B * T, float(part.material.E) * part.properties.area
    arm = 0.5 * (T + 0.0254)
    EI = stiffness()[0] + float(part.material.E) * part.properties.I + arm**2 * EA * EA_rib / (EA + EA_rib)
    m = stiffness()[1] + float(part.material.density) * part.properties.area
    found = natural_modes(model, 4).frequencies
    expected = np.pi / (2 * SPAN**2) * np.sqrt(EI / m)
    assert np.abs(found / expected - 1).min() < 2e-2


def test_tension_raises_the_first_frequency() -> None:
    """String and beam: f^2 = f_0^2 + S / (4 m l^2), the pull being put on at the sliding end."""
    EI, m = stiffness()
    pull = 400.0
    force = {"kind": "point", "at": (L - 0.01, 0.0), "force": (pull, 0.0, 0.0),
             "pad": {"shape": "rectangle", "length": 0.01, "width": 0.05}}  # fmt: skip
    case = sf.LoadCase.model_validate({"name": "pull", "gravity": False, "forces": [force]})
    model = build(strip())
    plain, tight = (natural_modes(model, 1, case=case, prestress=p).frequencies[0] for p in (False, True))
    beam = np.pi / (2 * SPAN**2) * np.sqrt(EI / m)
    assert plain == pytest.approx(beam, rel=1e-2)
    assert tight**2 - plain**2 == pytest.approx(pull / (4 * m * SPAN**2), rel=2e-2)


def test_what_shakes() -> None:
    """100 km/h over ridges 0.5 to 1 m apart: 28 to 56 Hz."""
    table = excitations([100 / 3.6])
    assert (table.from_Hz[0], table.to_Hz[0]) == pytest.approx((27.8, 55.6), abs=0.05)
    assert set(table.what[1:]) == {"wheel hop", "car bounce"}
