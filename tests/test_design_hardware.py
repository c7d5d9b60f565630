"""Doublers, hardware of the supports, settings of strength, and costs.

Areas are compared with closed forms of plane geometry.
"""

from __future__ import annotations

import math
from typing import Any

import pytest

from splitterfem import curves
from splitterfem.design import (
    Bolt,
    Car,
    CutOut,
    Doubler,
    LoadCase,
    Outline,
    Panel,
    Pin,
    RearPocket,
    Rib,
    Sheet,
    Splitter,
    StrengthSettings,
    Strut,
    check,
)
from splitterfem.errors import DesignError
from splitterfem.materials import BarMaterial, Layup, Ply, SheetMaterial

SHEET = Sheet(material="birch plywood 12 mm", thickness="12 mm")
THIN = Sheet(material="birch plywood 6.5 mm", thickness="6.4 mm", grain_angle="30 deg")
SQUARE = {"x": ("100 mm", "200 mm"), "y": ("100 mm", "250 mm")}


def plain(**changes: Any) -> Splitter:
    """A panel of 600 x 1600 mm."""
    whole = Panel(outline=Outline.rectangle(0, "600 mm", "-800 mm", "800 mm"), sheet=SHEET)
    return Splitter(**({"name": "plain", "panel": whole, "car": Car(ride_height="80 mm")} | changes))


def doubler(name: str = "patch", **changes: Any) -> Doubler:
    fields = {"sheet": THIN} | ({} if {"circle", "outline"} & set(changes) else {"rectangle": SQUARE})
    return Doubler(**({"name": name} | fields | changes))


def strut(**changes: Any) -> Strut:
    fields = {"foot": (0.5, 0.3), "head": (0.45, 0.3, 0.3), "diameter": "8 mm"}
    return Strut(**({"name": "front"} | fields | changes))


def complaint(make: Any, *args: Any, **fields: Any) -> str:
    """The text of the error that something raises."""
    with pytest.raises(DesignError) as caught:
        make(*args, **fields)
    return str(caught.value)


# doublers ---------------------------------------------------------------------------------------


def test_a_doubler_has_one_shape() -> None:
    assert doubler().side == "above"
    assert curves.area(doubler().outline.loop()) == pytest.approx(0.1 * 0.15)
    disc = doubler(circle={"centre": (0.3, 0.2), "radius": "50 mm"})
    assert curves.area(disc.outline.loop()) == pytest.approx(math.pi * 0.05**2)
    assert disc.with_(rectangle=SQUARE).circle is None
    assert "has no shape; write exactly one of outline" in complaint(Doubler, name="a", sheet=THIN)
    assert "sheet: is missing; write it" in complaint(Doubler, name="a", rectangle=SQUARE)
    assert 'rectangle.x.#1: "1,5 mm"' in complaint(doubler, rectangle=SQUARE | {"x": ["1,5 mm", "1 m"]})


@pytest.mark.parametrize(
    "shape",
    [
        {"rectangle": SQUARE},
        {"circle": {"centre": (0.15, 0.175), "radius": 0.05}},
        {
            "outline": {
                "start": (0.1, 0.1),
                "edges": [
                    {"to": (0.18, 0.1), "round": 0.01},
                    {"to": (0.2, 0.13)},
                    {"to": (0.2, 0.25), "via": (0.23, 0.17)},
                    {"to": (0.1, 0.25), "through": [(0.15, 0.27)]},
                ],
            }
        },
    ],
)
def test_the_mirror_image_of_a_doubler(shape: dict[str, Any]) -> None:
    left, right = doubler(**shape, mirror=True, side="below", cost=4).sides()
    assert (left.name, right.name) == ("patch left", "patch right")
    assert (right.side, right.cost, right.mirror) == ("below", 4.0, False)
    assert right.sheet.grain_angle == pytest.approx(-math.pi / 6)
    image = curves.polygon(curves.mirrored(left.outline.loop()), 1e-5)
    assert curves.polygon(right.outline.loop(), 1e-5).symmetric_difference(image).area < 1e-6 * image.area


def test_plies_of_a_mirrored_doubler() -> None:
    skin = SheetMaterial(name="own", kind="isotropic", E1="70 GPa", nu12=0.33, density="2700 kg/m^3")
    plies = [Ply(material=skin, thickness=0.001, angle=angle) for angle in ("45 deg", 0, "-30 deg")]
    sheet = Sheet(material=Layup(name="three", plies=plies), thickness=0.003)
    left, right = doubler(sheet=sheet, mirror=True).sides()
    degrees = [math.degrees(ply.angle) for ply in right.sheet.material.plies]
    assert degrees == pytest.approx([-45, 0, 30])
    assert left.sheet == sheet
    assert left.sheet.resolved.thickness == pytest.approx(right.sheet.resolved.thickness)


def test_doublers_are_parts() -> None:
    splitter = plain(doublers=[doubler(mirror=True)])
    assert splitter.part("patch") is splitter.doublers[0]
    assert splitter.part("patch right").rectangle.y == (-0.25, -0.1)
    assert splitter.moved("patch", dx="50 mm").doublers[0].rectangle.x == pytest.approx((0.15, 0.25))
    split = splitter.moved("patch left", dx="50 mm").doublers
    assert [part.rectangle.x[0] for part in split] == pytest.approx([0.15, 0.1])
    assert splitter.without("patch left").doublers[0].name == "patch right"
    assert [part.name for part in splitter.expanded().doublers] == ["patch left", "patch right"]
    assert splitter.with_("doublers.patch.sheet.thickness", "6.5 mm").doublers[0].sheet.thickness == 0.0065
    assert splitter.with_part("patch", side="below").doublers[0].side == "below"
    assert "2 doublers" in str(splitter)
    assert "two parts are called 'patch'" in complaint(
        plain, doublers=[doubler()], bolts=[Bolt(name="patch", at=(0.4, 0))]
    )
    with pytest.raises(DesignError, match="did you mean 'patch'"):
        splitter.part("pach")


BOWTIE = {"start": (0.1, 0.1), "edges": [{"to": (0.2, 0.2)}, {"to": (0.2, 0.1)}, {"to": (0.1, 0.2)}]}


@pytest.mark.parametrize(
    ("fields", "line"),
    [
        (
            {"doublers": [doubler(rectangle={"x": (0.5, 0.7), "y": (0.1, 0.3)})]},
            "doublers.patch: lies past the edge of the panel at (650.0, 200.0) mm; move it, or cut it back",
        ),
        (
            {
                "panel": Panel(
                    outline=Outline.rectangle(0, 0.6, -0.8, 0.8),
                    sheet=SHEET,
                    cutouts=[CutOut(name="hole", circle={"centre": (0.15, 0.15), "radius": 0.02})],
                ),
                "doublers": [doubler()],
            },
            "doublers.patch: lies over the opening 'hole' at (150.0, 150.0) mm",
        ),
        (
            {"doublers": [doubler("a"), doubler("b", rectangle={"x": (0.15, 0.3), "y": (0.2, 0.3)})]},
            "doublers.a: overlaps the doubler 'b' at (175.0, 225.0) mm; move one",
        ),
        (
            {"doublers": [doubler(rectangle={"x": (0.1, 0.2), "y": (-0.05, 0.2)}, mirror=True)]},
            "doublers.patch: overlaps the doubler 'patch right' at (150.0, 0.0) mm; keep it clear of the centre",
        ),
        (
            {"doublers": [doubler(outline=BOWTIE)]},
            "doublers.patch: crosses or touches itself at (150.0, 150.0) mm",
        ),
        (
            {"doublers": [doubler(sheet=Sheet(material="birch plywood 6.5 mm", thickness=6.4))]},
            "doublers.patch.sheet.thickness: is 6400 mm, more than a quarter of the panel's 600 mm",
        ),
    ],
)
def test_doublers_that_cannot_be_built(fields: dict[str, Any], line: str) -> None:
    told = complaint(plain, **fields)
    assert told.startswith(line), told
    assert len(told.splitlines()) == 1


def test_doublers_that_go_together() -> None:
    other = doubler("b", side="below")
    beside = doubler("c", rectangle={"x": (0.2, 0.3), "y": (0.1, 0.25)})  # shares an edge
    to_the_edge = doubler("d", rectangle={"x": (0.5, 0.6), "y": (-0.8, -0.7)})
    assert check(plain(doublers=[doubler("a"), other, beside, to_the_edge])) == ()
    (finding,) = check(
        plain(doublers=[doubler(sheet=Sheet(material="birch plywood 12 mm", thickness=0.009))])
    )
    assert (finding.code, finding.path) == ("sheet-other-board", "doublers.patch.sheet.thickness")


# hardware ---------------------------------------------------------------------------------------


def test_forms_of_struts() -> None:
    """Area of a ring, pi (D^2 - d^2) / 4."""
    assert (strut().form, strut().modulus, strut().yield_strength) == ("rod", 210e9, 235e6)
    tube = strut(form="tube", diameter="12 mm", wall="1.5 mm", material="6061-T6 extrusion")
    assert tube.section_area == pytest.approx(math.pi * (0.012**2 - 0.009**2) / 4)
    assert tube.modulus == pytest.approx(68.9e9)
    assert tube.yield_strength == pytest.approx(241e6)
    assert "modulus" not in tube.given()
    assert tube.with_(material="mild steel").modulus == pytest.approx(210e9)
    assert tube.with_(form="rod").wall is None
    assert tube.with_(wall="2 mm").section_area == pytest.approx(math.pi * (0.012**2 - 0.008**2) / 4)
    rod = strut(thread="M8", strength_class="8.8", end_rating="6 kN", cost=18)
    assert (rod.thread, rod.strength_class, rod.end_rating, rod.cost) == ("M8", "8.8", 6000.0, 18.0)
    own = BarMaterial(name="own", E="190 GPa", nu=0.3, density="7900 kg/m^3")
    assert (strut(material=own).modulus, strut(material=own).yield_strength) == (190e9, None)


def test_a_cable_pulls_only() -> None:
    cable = strut(form="cable", diameter=None, area="4 mm^2", modulus="60 GPa", end_rating="5 kN")
    assert cable.tension_only
    assert cable.yield_strength is None
    assert cable.section_area == pytest.approx(4e-6)
    assert strut(form="cable", diameter=None, stiffness="1 kN/mm").tension_only
    assert not cable.with_(form="rod").tension_only
    assert strut(form="cable", modulus="60 GPa") == strut(form="cable", modulus="60 GPa", tension_only=True)
    assert "is a cable without a modulus" in complaint(strut, form="cable")
    told = complaint(strut, form="cable", modulus="60 GPa", tension_only=False)
    assert "is a cable, which cannot push; leave tension_only out" in told


def test_a_modulus_alone_does_not_tell_the_yield_strength() -> None:
    assert strut(modulus="70 GPa").yield_strength is None
    assert strut(modulus="205 GPa").yield_strength == 235e6
    assert check(plain(struts=[strut(modulus="70 GPa")])) == ()
    assert check(plain(struts=[strut(modulus="60 GPa", material="mild steel", form="cable")])) == ()
    (finding,) = check(plain(struts=[strut(modulus="70 GPa", material="mild steel")]))
    assert (finding.code, finding.severity) == ("strut-modulus", "warning")
    assert str(finding).startswith("struts.front.modulus: is 70 GPa, but 'mild steel' has 210 GPa; leave")


@pytest.mark.parametrize(
    ("make", "fields", "sentence"),
    [
        (strut, {"form": "pipe"}, 'form: "pipe" is not a choice here; known: cable, rod, tube'),
        (strut, {"wall": "1 mm"}, 'has a wall but is a rod; write form = "tube", or leave wall out'),
        (strut, {"form": "tube"}, "is a tube; give its diameter and its wall"),
        (
            strut,
            {"form": "tube", "diameter": None, "area": 1e-5},
            "is a tube; give its diameter and its wall",
        ),
        (
            strut,
            {"form": "tube", "wall": "4 mm"},
            "has a wall of 4 mm, which leaves no hollow in a diameter of 8",
        ),
        (strut, {"material": "mild steal"}, "material: The catalogue has no bar material 'mild steal'"),
        (strut, {"strength_class": 8.8}, "strength_class: 8.8 is not a text; write it in double quotes"),
        (strut, {"end_rating": "-1 kN"}, 'end_rating: "-1 kN" is not above zero'),
        (strut, {"end_rating": "600 kg"}, 'end_rating: "600 kg" has a mass where a force is wanted'),
        (strut, {"cost": -1}, "cost: -1 is below zero"),
        (
            Bolt,
            {"name": "b", "at": (0, 0), "diameter": "6 mm", "head_diameter": "5 mm"},
            "has a head of 5 mm",
        ),
        (Bolt, {"name": "b", "at": (0, 0), "diameter": "30 mm"}, "has a pad of 25 mm, which a bolt of 30 mm"),
        (Pin, {"name": "p", "at": (0, 0), "gap": "-1 mm"}, 'gap: "-1 mm" is below zero'),
        (Pin, {"name": "p", "at": (0, 0), "rating": "0 N"}, 'rating: "0 N" is not above zero'),
        (Pin, {"name": "p", "at": (0, 0), "ratng": 1}, "did you mean 'rating'"),
        (
            Pin,
            {"name": "p", "at": (0, 0), "diameter": "6 mm", "hole": "5.9 mm"},
            "has a hole of 5.9 mm for a shank of 6 mm; give the wider of the two to the hole",
        ),
        (
            Pin,
            {"name": "p", "at": (0, 0), "diameter": "6 mm", "lug_width": "6 mm"},
            "has a lug_width of 6 mm, which a hole of 6 mm does not leave room for; widths go across the whole lug",
        ),
        (
            Pin,
            {"name": "p", "at": (0, 0), "hole": "6.4 mm", "clevis_end": "3.2 mm"},
            "has a clevis_end of 3.2 mm, which a hole of 6.4 mm does not leave room for",
        ),
        (
            Pin,
            {"name": "p", "at": (0, 0), "lug_material": "mild steal"},
            "lug_material: The catalogue has no bar material 'mild steal'",
        ),
        (
            RearPocket,
            {"name": "r", "mouth": (0.04, 0), "width": 0.1, "overlap": "50 mm", "lip_reach": "40 mm"},
            "has an overlap of 50 mm under a lip that reaches 40 mm; give a longer lip or less overlap",
        ),
        (StrengthSettings, {"service_class": 4}, "service_class: 4 is not a choice here; known: 1, 2, 3"),
        (StrengthSettings, {"metal_factor": 0.8}, "metal_factor: 0.8 is below 1"),
        (StrengthSettings, {"load_factor": 0}, "load_factor: 0 is not above zero"),
        (LoadCase, {"name": "a", "duration": "shrt"}, 'duration: "shrt" is not a choice here; did you mean'),
        (
            Sheet,
            {"material": "birch plywood 12 mm", "thickness": 0.012, "cost_per_area": "x"},
            "cost_per_area: ",
        ),
        (
            plain,
            {"currency": "euros per hour and mile"},
            'currency: "euros per hour and mile" is not a currency',
        ),
    ],
)
def test_refused_hardware(make: Any, fields: dict[str, Any], sentence: str) -> None:
    told = complaint(make, **fields)
    assert sentence in told
    assert "pydantic" not in told
    assert len(told.splitlines()) == 1


def test_hardware_of_bolts_pins_and_pockets() -> None:
    bolt = Bolt(
        name="b",
        at=(0, 0),
        diameter="6 mm",
        strength_class="8.8",
        washer_thickness="2 mm",
        head_diameter="10 mm",
    )
    assert (bolt.diameter, bolt.washer_thickness, bolt.head_diameter) == (0.006, 0.002, 0.01)
    assert Bolt(name="b", at=(0, 0)).diameter is None
    pin = Pin(
        name="p",
        at=(0, 0),
        diameter="1/4 in",
        rating="9 kN",
        lug_thickness="5 mm",
        gap="0 mm",
        clevis_thickness="3 mm",
        shear_strength="250 MPa",
    )
    assert (pin.rating, pin.lug_thickness, pin.gap, pin.clevis_thickness) == (9000.0, 0.005, 0.0, 0.003)
    assert (pin.hole_diameter, pin.lug_resolved, pin.clevis_resolved) == (0.00635, None, None)
    lug = pin.with_(
        hole="6.5 mm",
        yield_strength="400 MPa",
        lug_width="20 mm",
        lug_end="12 mm",
        lug_material="6061-T6 extrusion",
        clevis_width="1 in",
        clevis_end="13 mm",
        clevis_material=BarMaterial(name="own", E="200 GPa", nu=0.3, density="7900 kg/m^3"),
    )
    assert (lug.hole_diameter, lug.yield_strength, lug.lug_width, lug.lug_end) == (0.0065, 4e8, 0.02, 0.012)
    assert (lug.clevis_width, lug.clevis_end) == (pytest.approx(0.0254), 0.013)
    assert (lug.lug_resolved.yield_strength, lug.clevis_resolved.name) == (241e6, "own")
    assert Pin(name="p", at=(0, 0), lug_width="1 mm").hole_diameter is None
    fields = {"name": "r", "mouth": (0.04, 0), "width": 0.1, "overlap": 0.04}
    pocket = RearPocket(**fields, lip_thickness="3 mm", lip_reach="40 mm", lip_material="6061-T6 extrusion")
    assert pocket.resolved.name == "6061-T6 extrusion"
    assert RearPocket(**fields).resolved is None
    assert RearPocket(**fields).lip_reach is None


# settings and costs -----------------------------------------------------------------------------


def test_settings_of_strength() -> None:
    """Partial factor of plywood: EN 1995-1-1 table 2.3. The flat factors: common practice, no source."""
    usual = plain().strength
    assert usual == StrengthSettings()
    assert (usual.service_class, usual.gamma_m_wood) == (3, 1.2)
    assert (usual.metal_factor, usual.adhesive_factor, usual.load_factor) == (1.5, 3.0, 1.0)
    assert plain().with_("strength.service_class", 2).strength.service_class == 2
    assert LoadCase(name="a").duration == "short"
    assert LoadCase(name="a", duration="instantaneous").duration == "instantaneous"


def test_costs_are_plain_numbers() -> None:
    assert plain().currency == ""
    splitter = plain(
        currency="EUR",
        struts=[strut(cost=12.5, mirror=True)],
        doublers=[doubler(cost=0)],
    ).with_("panel.sheet.cost_per_area", 55)
    assert splitter.panel.sheet.cost_per_area == 55.0
    assert [part.cost for part in splitter.struts[0].sides()] == [12.5, 12.5]
    assert splitter.doublers[0].cost == 0.0
    fields = {"points": ((0.1, 0.1), (0.1, 0.3)), "section": {"shape": "flat", "width": 0.02, "height": 0.01}}
    assert Rib(name="a", **fields, material="mild steel", cost=7).cost == 7.0
