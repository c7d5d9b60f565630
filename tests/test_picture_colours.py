"""Colours of the pictures and what is written on them, against formulas that are written out here.

CIELAB: CIE 015:2018, 8.2.1 (CIE 1976), with sRGB of IEC 61966-2-1:1999.  Contrast: W3C, WCAG 2.2, "relative luminance"
and "contrast ratio"; 4.5 for text (success criterion 1.4.3).  Colour blindness: Vienot, Brettel & Mollon, Color Res.
Appl. 24 (1999) 243-252, projection of linear RGB for protanopes and deuteranopes [M].
"""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.colors import to_rgb

from splitterfem.output import colours, style
from splitterfem.output.colours import map_of

SEQUENTIAL = (style.SAG_COLOURS, style.CLEARANCE_COLOURS, style.GAIN_COLOURS, style.PUSH_COLOURS)
TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])


def linear(rgb):
    rgb = np.asarray(rgb, dtype=float)
    return np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)


def cielab(rgb):
    ratio = linear(rgb) @ TO_XYZ.T / np.array([0.9505, 1.0, 1.0890])
    f = np.where(ratio > 216 / 24389, np.cbrt(ratio), (24389 / 27 * ratio + 16) / 116)
    x, y, z = f[..., 0], f[..., 1], f[..., 2]
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=-1)


def wcag(one, other):
    light = [0.05 + float(linear(to_rgb(c)) @ [0.2126, 0.7152, 0.0722]) for c in (one, other)]
    return max(light) / min(light)


def shades(name, count=64):
    whole = map_of(name)
    return whole(np.rint(np.linspace(0, whole.N - 1, count)).astype(int))[:, :3]


@pytest.mark.parametrize(
    ("rgb", "expected"),
    [((1, 1, 1), (100, 0, 0)), ((1, 0, 0), (53.24, 80.09, 67.20)), ((0, 0, 1), (32.30, 79.19, -107.86))],
)
def test_cielab_of_known_colours(rgb, expected):
    """White by definition; red and blue of sRGB as colour handbooks give them [M]."""
    assert np.allclose(colours.lab(rgb), expected, atol=0.03)
    assert np.allclose(colours.lab(rgb), cielab(np.array(rgb)), atol=0.02)
    assert np.allclose(colours.rgb(colours.lab(rgb)), rgb, atol=1e-3)


@pytest.mark.parametrize("name", SEQUENTIAL)
def test_lightness_goes_one_way_and_evenly(name):
    lightness = cielab(shades(name))[:, 0]
    steps = np.diff(lightness)
    assert np.all(steps < 0) or np.all(steps > 0)
    assert abs(lightness[-1] - lightness[0]) > 55.0  # grey print tells the ends well apart
    assert np.abs(steps).max() < 2.0 * np.abs(steps).mean()
    assert np.abs(steps).min() > 0.5 * np.abs(steps).mean()


def test_dark_is_worse_or_where_to_act():
    for name, dark_end in zip(SEQUENTIAL, (-1, 0, -1, 0), strict=True):
        lightness = cielab(shades(name))[:, 0]
        assert np.argmin(lightness) == dark_end % len(lightness)


def test_signed_colours_are_uniform_and_alike_on_both_sides():
    found = cielab(shades(style.SIGNED, 257))
    apart = np.linalg.norm(np.diff(found, axis=0), axis=1)
    for half in (apart[:128], apart[128:]):
        assert half.max() < 1.1 * half.min()
    assert np.allclose(found[:, 0], found[::-1, 0], atol=0.5)
    assert found[128, 0] > 96.0
    assert np.abs(found[128, 1:]).max() < 0.5
    assert found[0, 2] < -30.0 < 30.0 < found[-1, 2]  # blue at one end, brown at the other


@pytest.mark.parametrize(
    "projection",
    [
        [[0.11238, 0.88762, 0.0], [0.11238, 0.88762, 0.0], [0.00401, -0.00401, 1.0]],
        [[0.29275, 0.70725, 0.0], [0.29275, 0.70725, 0.0], [-0.02234, 0.02234, 1.0]],
    ],
    ids=["protanope", "deuteranope"],
)
def test_the_colour_blind_see_both_signs_and_the_order(projection):
    def seen(rgb):
        light = np.clip(linear(rgb) @ np.array(projection).T, 0.0, 1.0)
        return cielab(np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055))

    for name in SEQUENTIAL:
        steps = np.diff(seen(shades(name, 24))[:, 0])
        assert np.all(steps < 0) or np.all(steps > 0)
    low, *_, high = seen(shades(style.SIGNED))
    assert np.linalg.norm(low - high) > 40.0


@pytest.mark.parametrize(
    ("text", "ground"),
    [
        (style.INK, style.PAPER), (style.INK, style.SHEET), (style.QUIET, style.PAPER), (style.ALARM, style.PAPER),
        (style.INK, style.NOT_THERE), (style.DOWN, style.SHEET), (style.UP, style.SHEET), (style.POINTS, style.PAPER),
    ],
)  # fmt: skip
def test_text_can_be_read(text, ground):
    assert wcag(text, ground) >= 4.5
    assert colours.contrast(text, ground) == pytest.approx(wcag(text, ground), rel=1e-6)


@pytest.mark.parametrize("name", [*SEQUENTIAL, style.SIGNED])
def test_ink_on_a_map_can_be_read(name):
    """Figures in cells of a map: the better of ink and paper."""
    for shade in shades(name):
        ink = colours.ink_on(shade)
        assert wcag(ink, shade) >= max(wcag(c, shade) for c in (style.INK, style.PAPER)) - 1e-9
        assert wcag(ink, shade) >= 4.0  # mid-tones leave no more than 4.1 to either


def test_marks_of_the_worst_point_stand_off_every_map():
    """Magenta is 20 or more (CIE 1976 colour difference) from all colours that it can lie on, else its halo shows."""
    alarm = cielab(np.array(to_rgb(style.ALARM)))
    for name in (*SEQUENTIAL, style.SIGNED):
        assert np.linalg.norm(cielab(shades(name)) - alarm, axis=1).min() > 20.0


def test_no_number_is_a_negative_zero():
    assert style.number(-0.04, 1) == "0.0"
    assert style.number(-0.0, 0) == "0"
    assert style.number(-0.05001, 1) == "-0.1"
