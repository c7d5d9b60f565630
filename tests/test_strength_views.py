"""Pictures of stress and utilisation: the figures that are judged, in the user's units."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.contour import ContourSet
from tiny_panel import tiny_panel

import splitterfem as sf
from splitterfem.output.strengthfields import stress_field, utilisation_field


@pytest.fixture(scope="module")
def wood():
    return sf.solve(tiny_panel(), "lean")


def strip(sheet):
    """A plate 1 m long and 50 mm wide on a row of bolts at both ends, loaded evenly: it bends like a beam."""
    edges = [{"to": ("1 m", "-0.025 m")}, {"to": ("1 m", "0.025 m")}, {"to": ("0 m", "0.025 m")}]
    fields = {
        "name": "strip",
        "panel": {"outline": {"start": ("0 m", "-0.025 m"), "edges": edges}, "sheet": sheet},
        "ribs": [],
        "bolts": [
            {"name": f"b{i}", "at": (x, y)}
            for i, (x, y) in enumerate((x, y) for x in ("30 mm", "970 mm") for y in ("-8 mm", "8 mm"))
        ],
        "mesh": {"size": "25 mm"},
        "envelope": None,
        "cases": [{"name": "air", "speed": "100 km/h", "pressure": {"kind": "uniform", "cp": 1.0}}],
    }
    return sf.solve(tiny_panel(**fields), "air")


def test_worst_utilisation_is_that_of_the_table(wood):
    panel = wood.utilisation[wood.utilisation["kind"] == "panel"].iloc[0]
    value, at = utilisation_field(wood).highest()
    assert value == pytest.approx(panel["ratio"], rel=1e-12)
    assert np.allclose(np.multiply(at, 1e3), (panel["x_mm"], panel["y_mm"]))


def test_field_covers_the_whole_panel(wood):
    field = utilisation_field(wood)
    x, y = field.x[field.triangles], field.y[field.triangles]
    area = 0.5 * ((x[:, 1] - x[:, 0]) * (y[:, 2] - y[:, 0]) - (x[:, 2] - x[:, 0]) * (y[:, 1] - y[:, 0]))
    assert np.all(area > 0.0)
    assert area.sum() == pytest.approx(wood.model.panel.space.area.sum(), rel=1e-12)


def test_stress_of_a_strip_is_that_of_a_beam():
    """Between clamped and hinged ends: over the middle the moment falls by q s^2 / 2 from its top (statics), whatever
    the ends do; edge stress 6 M / (b t^2) of beam theory, e.g. Timoshenko, Strength of Materials I."""
    sheet = {"material": "6061-T6 sheet", "thickness": "6 mm"}
    solution = strip(sheet)
    q = solution.load.air.downforce + 9.80665 * solution.mass  # N/m along the strip of 1 m
    field = stress_field(solution, face="lower", direction="along")

    def mean(x):
        near = np.abs(field.x - x) < 12e-3
        return float(field.values[near].mean())

    drop = mean(0.5) - 0.5 * (mean(0.3) + mean(0.7))
    assert drop == pytest.approx(6.0 * 0.5 * q * 0.2**2 / (0.05 * 6e-3**2), rel=0.03)
    upper = stress_field(solution, face="upper", direction="along")
    assert np.allclose(upper.values, -field.values, atol=1e-3 * np.abs(field.values).max())


@pytest.mark.parametrize(("unit", "factor"), [("mm", 1e-6), ("in", 0.3048**2 / 4.4482216152605 / 144)])
def test_stress_in_the_unit_of_the_user(wood, unit, factor):
    """1 psi is the pound-force, 4.4482216152605 N, on the square inch."""
    field = stress_field(wood)
    ax = wood.plot_stress(unit=unit)
    filled = next(c for c in ax.findobj(ContourSet) if c.filled)
    low, high = factor * field.values.min(), factor * field.values.max()
    assert filled.levels[0] <= low <= filled.levels[1]
    assert filled.levels[-2] <= high <= filled.levels[-1]
    assert filled.get_clim()[0] == -filled.get_clim()[1]
    said = next(t.get_text() for t in ax.texts if t.get_gid() == "call-out")
    most = field.values[np.argmax(np.abs(field.values))] * factor
    assert float(said.split()[0]) == pytest.approx(most, rel=6e-3)
    assert said.split()[1] == {"mm": "MPa", "in": "psi"}[unit]


def test_negative_lines_of_a_signed_field_are_broken(wood):
    ax = wood.plot_stress()
    lines = next(c for c in ax.findobj(ContourSet) if not c.filled)
    for level, (_, dashes) in zip(lines.levels, lines.get_linestyle(), strict=True):
        assert (dashes is not None) == (level < 0.0)


def test_picture_says_what_is_used_most(wood):
    ax = wood.plot_utilisation()
    assert "Used most of all parts:" in ax.get_legend().get_title().get_text()
    assert "of the limit" in next(t.get_text() for t in ax.texts if t.get_gid() == "call-out")
    assert ax.get_aspect() == 1.0


def test_unknown_stress(wood):
    with pytest.raises(sf.DesignError, match=r"'middle'.*lower"):
        wood.plot_stress(face="middle")
    with pytest.raises(sf.DesignError, match=r"'alon'.*along"):
        wood.plot_stress(direction="alon")
