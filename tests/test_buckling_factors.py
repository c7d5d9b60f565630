"""Buckling of designs.

Source: Timoshenko & Gere, Theory of Elastic Stability (Euler column between pins, ``pi^2 E I / l^2``).
"""

from __future__ import annotations

import numpy as np
import pytest
from test_natural_modes import SPAN, B, L, T, stiffness, strip

import splitterfem as sf
from splitterfem.analysis.buckling import buckling_factors
from splitterfem.model import build


def push(force: float) -> sf.LoadCase:
    """A force along the strip at its sliding end, compression for a negative one."""
    pad = {"shape": "rectangle", "length": 0.01, "width": 0.05}
    load = {"kind": "point", "at": (L - 0.01, 0.0), "force": (force, 0.0, 0.0), "pad": pad}
    return sf.LoadCase.model_validate({"name": "push", "gravity": False, "forces": [load]})


def test_a_strip_buckles_like_a_column() -> None:
    euler = np.pi**2 * stiffness()[0] / SPAN**2
    found = buckling_factors(build(strip()), push(-1.0), 2)
    assert found.factors[0] == pytest.approx(euler, rel=1.5e-2)
    assert found.factors[1] == pytest.approx(4 * euler, rel=2e-2)
    assert found.table.factor.tolist() == found.factors.tolist()
    x, y = found.shapes[0].highest()[1]
    assert (x, abs(y)) == pytest.approx((L / 2, B / 2), abs=0.04)


def test_a_rib_takes_its_share() -> None:
    """Composite section loaded at its own centroid would give pi^2 EI / l^2; the push at the sheet bows it besides.

    The linear factor sees the axial forces only, so it is still that of the composite column.
    """
    tube = {"shape": "tube", "width": 0.0254, "height": 0.0254, "wall": 0.0032}
    rib = {"name": "r", "points": [(0, 0), (L, 0)], "section": tube, "material": "6061-T6 extrusion"}
    model = build(strip(ribs=[rib]))
    part = model.ribs[0]
    EA = float(strip().panel.sheet.resolved.E1) * B * T
    EA_rib = float(part.material.E) * part.properties.area
    arm = 0.5 * (T + 0.0254)
    EI = stiffness()[0] + float(part.material.E) * part.properties.I + arm**2 * EA * EA_rib / (EA + EA_rib)
    factors = buckling_factors(model, push(-1.0), 6).factors
    assert np.abs(factors / (np.pi**2 * EI / SPAN**2) - 1).min() < 5e-2


def test_a_pull_does_not_buckle() -> None:
    found = buckling_factors(build(strip()), push(1.0))
    assert len(found.factors) == 0
    assert found.table.empty
