"""Quantities: exact definitions, the grammar, and every trap that is refused with a sentence.

Definitions: SI Brochure (BIPM, 9th ed., 2019) and NIST Special Publication 811 (2008), appendix B.8 and B.9,
which mark the exact factors in bold; standard gravity 9.80665 m/s2 (CGPM 1901).
"""

from __future__ import annotations

import copy
import math
import pickle
import subprocess
import sys
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import BaseModel, ConfigDict, ValidationError

from splitterfem import units
from splitterfem.errors import UnitError
from splitterfem.units import Written, convert, quantity, say, say_as, unit_name, words

PINT = pint.UnitRegistry()


@pytest.mark.parametrize(
    ("text", "dimension", "si"),
    [
        ("1 in", "length", 0.0254),  # NIST SP 811 B.8: inch, exact
        ("1 ft", "length", 0.3048),  # foot, exact
        ("1 thou", "length", 2.54e-5),  # mil in SP 811, exact
        ("1 mph", "speed", 0.44704),  # mile per hour, exact
        ("1 km/h", "speed", 1 / 3.6),
        ("1 knot", "speed", 1852 / 3600),  # nautical mile per hour, exact
        ("1 lb", "mass", 0.45359237),  # avoirdupois pound, exact
        ("1 oz", "mass", 0.45359237 / 16),
        ("1 lbf", "force", 4.4482216152605),  # pound times standard gravity, exact
        ("1 kgf", "force", 9.80665),  # exact
        ("1 kip", "force", 4448.2216152605),
        ("1 psi", "pressure", 6894.757293168),  # SP 811 prints 6.894757 E+03
        ("1 psf", "pressure", 47.88025898033584),  # SP 811 prints 4.788026 E+01
        ("1 ksi", "modulus", 6894757.293168),
        ("1 bar", "pressure", 1e5),  # exact
        ("1 inH2O", "pressure", 249.0889),  # inch of water, conventional
        ("1 mmH2O", "pressure", 9.80665),  # millimeter of water, conventional
        ("1 lbf/in", "spring rate", 175.1268),  # SP 811 prints 1.751268 E+02
        ("1 lbf*ft", "moment", 1.355818),  # SP 811 prints 1.355818 E+00
        ("1 g", "acceleration", 9.80665),  # exact
        ("1 ft/s^2", "acceleration", 0.3048),
        ("1 lb/ft^3", "density", 16.01846),  # SP 811 prints 1.601846 E+01
        ("1 pcf", "density", 16.01846),
        ("1 oz/yd^2", "areal density", 3.390575e-2),  # SP 811 prints 3.390575 E-02
        ("1 in^2", "area", 6.4516e-4),  # exact
        ("1 in^4", "second moment", 4.162314e-7),  # SP 811 prints 4.162314 E-07
        ("1 deg", "angle", math.pi / 180),
        ("1 arcmin", "angle", math.pi / 10800),
    ],
)
def test_published_factors(text: str, dimension: str, si: float) -> None:
    assert quantity(text, dimension) == pytest.approx(si, rel=5e-7)


@pytest.mark.parametrize(
    ("text", "dimension", "si"),
    [
        ("1 in", "length", 0.0254),
        ("1 lbf", "force", 4.4482216152605),
        ("1 mph", "speed", 0.44704),
        ("1 kgf", "force", 9.80665),
        ("1 lb", "mass", 0.45359237),
        ("12 mm", "length", 0.012),
        ("1.1 mm", "length", 0.0011),  # 1.1 * 0.001 in floats is 0.0011000000000000001
        ("63 in", "length", 1.6002),  # 63 * 0.0254 in floats is 1.6001999999999998
        ("0.1 deg", "angle", 0.0017453292519943296),
        ("80 %", "number", 0.8),
    ],
)
def test_exact_factors_give_the_nearest_float(text: str, dimension: str, si: float) -> None:
    assert float(quantity(text, dimension)) == si


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("1/2 in", 0.5),
        ('3/4"', 0.75),
        ("1 1/2 in", 1.5),
        ("1-1/2 in", 1.5),
        ("½ in", 0.5),
        ("1½ inches", 1.5),
        ("6 ft 2 in", 74),
        ("6' 2\"", 74),
        ("6'2\"", 74),
        ("6′ 2″", 74),
        ("6’ 2”", 74),
        ("6' 2''", 74),
        ("6 ft 2 1/2 in", 74.5),
        ("-6 ft 2 in", -74),
        ("−1/2 in", -0.5),
        ("+ 3 in", 3),
        ("6'", 72),
        (".5 in", 0.5),
        ("5. in", 5),
        ("1e1 in", 10),
        ("12in", 12),
        (" 12 in ", 12),
    ],
)
def test_inches_as_people_write_them(text: str, inches: float) -> None:
    assert float(quantity(text, "length")) == pytest.approx(inches * 0.0254, rel=1e-15)


@pytest.mark.parametrize(
    ("one", "other", "dimension"),
    [
        ("680 kg/m^3", "680 kg/m3", "density"),
        ("680 kg/m^3", "680 kg/m³", "density"),
        ("680 kg/m^3", "680 kg/m**3", "density"),
        ("20 N*m", "20 N·m", "moment"),
        ("5 µm", "5 um", "length"),
        ("0.5 deg", "0.5°", "angle"),
        ("30 m/s", "30 m per s", "speed"),
        ("2 kN/mm", "2000 N/mm", "spring rate"),
        ("1 N/mm^2", "1 MPa", "pressure"),
        ("1 N/mm/mm", "1 MPa", "pressure"),
        ("1.5 g", "14.709975 m/s^2", "acceleration"),
        ("12\u00a0mm", "12 mm", "length"),
    ],
)
def test_two_ways_of_writing_the_same(one: str, other: str, dimension: str) -> None:
    assert quantity(one, dimension) == quantity(other, dimension)


def test_g_is_gravity_only_where_an_acceleration_is_wanted() -> None:
    assert quantity("2 g", "acceleration") == 19.6133
    assert quantity("2 g", "mass") == 0.002


REFUSED = [
    ("1,5 mm", "length", '"1,5 mm" has a decimal comma; write "1.5 mm"'),
    ("1,000 mm", "length", 'comma between thousands; write "1000 mm" (or "1.000 mm" if the comma marks'),
    ("1,234,567.8 mm", "length", 'comma between thousands; write "1234567.8 mm"'),
    ("1.000,5 mm", "length", "has commas; write one number and one unit"),
    ("1 000 mm", "length", 'has a space inside the number; write "1000 mm"'),
    ("1_000 mm", "length", 'has a digit separator; write "1000 mm"'),
    ("1'000 mm", "length", "mixes two quantities"),
    ("12", "length", '"12" has no unit; write "12 mm"'),
    ("0", "length", '"0" has no unit; write "0 mm"'),
    ("1/2", "length", '"1/2" has no unit; write "1/2 mm"'),
    ("210", "speed", '"210" has no unit; write "210 km/h"'),
    ("5 kg", "length", '"5 kg" is a mass, not a length; write for example "12 mm"'),
    ("5 lb", "force", '"5 lb" has a mass where a force is wanted; write "5 lbf" or a force in N'),
    ("5 lbs", "force", 'write "5 lbf" or a force in N'),
    ("5 kg", "force", '"5 kg" has a mass where a force is wanted; write "5 kgf" or a force in N'),
    ("500 lb/in", "spring rate", 'write "500 lbf/in"'),
    ("30 lb/in^2", "pressure", 'write "30 lbf/in^2"'),
    ("5 lbf", "mass", 'has a force, not a mass; write "5 lb"'),
    ("40 mil", "length", 'ambiguous (thousandths of an inch, or millimetres); write "40 thou" or "40 mm"'),
    ("40 mils", "length", 'write "40 thou" or "40 mm"'),
    ("16 ga", "length", "is a gauge number, whose size depends on the metal"),
    ("16 ga.", "length", "is a gauge number"),
    ("16 gauge", "length", "is a gauge number"),
    ("2 ton", "mass", "may be a short ton, a long ton or a tonne"),
    ("12 mmm", "length", "'mmm' is not a unit of length; did you mean 'mm'?"),
    ("5 KN", "force", "'KN' is not a unit of force; did you mean 'kN'?"),
    ("70 Gpa", "modulus", "did you mean 'GPa'?"),
    ("70 mPa", "modulus", "did you mean 'MPa'?"),  # a millipascal is never meant
    ("12 Mm", "length", "did you mean 'mm'?"),  # nor is a megametre
    ("1.5 G", "acceleration", "did you mean 'g'?"),
    ("240 kmh", "speed", "did you mean 'km/h'?"),
    ("12 parsnip", "length", "'parsnip' is not a unit of length; known: cm, ft, in, m, mm, thou, um"),
    ("nan mm", "length", "is not a finite number"),
    ("inf mm", "length", "is not a finite number"),
    ("-Infinity mm", "length", "is not a finite number"),
    ("1e400 mm", "length", "is not a finite number"),
    ("1e999999999 mm", "length", "has an exponent out of all reason"),
    ("0x1F mm", "length", "is not a decimal number"),
    ("0b11 mm", "length", "is not a decimal number"),
    ("1" * 100 + " mm", "length", "a text of 103 characters is not a quantity"),
    ("20 degC", "length", "is a temperature, not a length"),
    ("20 °C", "pressure", "is a temperature, not a pressure"),
    ("20 °F", "angle", "is a temperature, not an angle"),
    ("5 N m", "moment", 'has two units side by side; write a sign between them: "5 N*m"'),
    ("1 m 20 cm", "length", "mixes two quantities; write one"),
    ("6 ft 2", "length", 'lacks the unit of its inches; write "6 ft 2 in"'),
    ("6 ft 2 in", "angle", "is a length, not an angle"),
    ("1/0 in", "length", "divides by zero"),
    ("1 3/2 in", "length", "has a fraction above one after a whole number"),
    ("12 mm;", "length", "contains ';', which no quantity has"),
    ("__import__('os')", "length", "contains '(', which no quantity has"),
    ("12\n mm", "length", "contains '\\n', which no quantity has"),
    ("", "length", "does not begin with a number"),
    ("mm", "length", "does not begin with a number"),
    ("mm 12", "length", "does not begin with a number"),
    ("--12 mm", "length", "does not begin with a number"),
    ("80 %", "length", "is a plain number, not a length"),
    ("5 deg", "number", "is an angle, not a plain number"),
    ("5 %", "angle", "is a plain number, not an angle"),
    ("0.5", "angle", '"0.5" has no unit; write "0.5 deg"'),
    ("1 mm^9^9^9", "length", "is not a unit of length"),
    ("1 mm^999999999", "length", "is not a unit of length"),
]


@pytest.mark.parametrize(("text", "dimension", "sentence"), REFUSED)
def test_refused_with_a_sentence(text: str, dimension: str, sentence: str) -> None:
    with pytest.raises(UnitError) as caught:
        quantity(text, dimension, name="thickness")
    told = str(caught.value)
    assert told.startswith("thickness: ")
    assert sentence in told
    assert "\n" not in told
    assert len(told) < 260


@pytest.mark.parametrize(
    ("value", "sentence"),
    [
        (float("nan"), "is not a finite number"),
        (float("inf"), "is not a finite number"),
        (True, "(bool) is not a length"),
        (None, "(NoneType) is not a length"),
        ([12], "(list) is not a length"),
        (1j, "(complex) is not a length"),
        (b"12 mm", "(bytes) is not a length"),
        (PINT.Quantity(5, "kg"), "is not a length"),
        (PINT.Quantity(20, "degC"), "is not a length"),
        (PINT.Quantity([1.0, 2.0], "mm"), "is not a length"),
        (PINT.Quantity(math.nan, "mm"), "is not a finite number"),
        (Written(12.0, "12 kg", "mass"), '"12 kg" is a mass, not a length'),
    ],
)
def test_other_things_refused(value: object, sentence: str) -> None:
    with pytest.raises(UnitError, match=r"^span: ") as caught:
        quantity(value, "length", name="span")
    assert sentence in str(caught.value)


def test_numbers_are_si_and_pint_quantities_of_any_registry_are_converted() -> None:
    assert quantity(12, "length") == 12.0
    assert quantity(np.float32(0.5), "length") == 0.5
    assert quantity(Decimal("0.012"), "length") == 0.012
    assert quantity(Fraction(1, 8), "length") == 0.125
    assert quantity(12 * PINT.mm, "length") == pytest.approx(0.012, rel=1e-14)
    assert quantity(PINT.Quantity(30, "deg"), "angle") == pytest.approx(math.pi / 6, rel=1e-14)
    assert quantity(PINT.Quantity(40, "lb/ft**3"), "density") == pytest.approx(640.7385, rel=1e-6)
    assert type(quantity(np.float64(1.0), "length")) is float
    with pytest.raises(UnitError, match="'lenght' is not a kind of quantity; did you mean 'length'"):
        quantity(1.0, "lenght")


def test_words_are_remembered_and_lost_in_arithmetic() -> None:
    thickness = quantity("1/2 in", "length")
    assert isinstance(thickness, Written)
    assert (thickness.words, thickness.dimension) == ("1/2 in", "length")
    assert words(thickness, "length") == "1/2 in"
    for same in (pickle.loads(pickle.dumps(thickness)), copy.deepcopy(thickness), copy.copy(thickness)):
        assert same == thickness
        assert same.words == "1/2 in"
    assert hash(thickness) == hash(0.0127)
    assert type(2 * thickness) is float
    assert quantity(thickness, "length") is thickness
    assert quantity(Written(1e9, "1 GPa", "modulus"), "pressure") == 1e9  # both are pascals


@pytest.mark.parametrize(
    ("value", "dimension", "text"),
    [
        (0.012, "length", "12 mm"),
        (0.0254, "length", "25.4 mm"),
        (0.0, "length", "0 mm"),
        (210e9, "modulus", "210 GPa"),
        (14.709975, "acceleration", "1.5 g"),
        (200 / 3.6, "speed", "200 km/h"),
        (math.radians(0.5), "angle", "0.5 deg"),
        (0.5, "number", "0.5"),
    ],
)
def test_plain_floats_in_words(value: float, dimension: str, text: str) -> None:
    assert words(value, dimension) == text


KINDS = sorted(units._table.DIMENSIONS)


@settings(deadline=None)
@given(st.floats(-1e15, 1e15), st.sampled_from(KINDS))
def test_words_read_back_as_the_same_float(value: float, dimension: str) -> None:
    assert float(quantity(words(value, dimension), dimension)) == value


@settings(deadline=None)
@given(st.decimals(-100000, 100000, places=6), st.sampled_from(["mm", "m", "in", "ft", "thou"]))
def test_agrees_with_pint(number: Decimal, unit: str) -> None:
    expected = PINT.Quantity(float(number), unit).to("m").magnitude
    assert quantity(f"{number:f} {unit}", "length") == pytest.approx(expected, rel=1e-13, abs=1e-18)


@settings(deadline=None)
@given(st.integers(0, 99), st.integers(0, 11), st.integers(1, 15), st.sampled_from(["' ", " ft "]))
def test_feet_inches_and_sixteenths(feet: int, inches: int, sixteenths: int, mark: str) -> None:
    exact = (Fraction(12 * feet + inches) + Fraction(sixteenths, 16)) * Fraction(254, 10000)
    assert float(quantity(f"{feet}{mark}{inches} {sixteenths}/16 in", "length")) == float(exact)


@settings(deadline=None)
@given(st.integers(-(10**9), 10**9), st.integers(0, 6), st.sampled_from(["N", "lbf", "kgf"]))
def test_sign_and_scale(digits: int, places: int, unit: str) -> None:
    number = f"{Decimal(digits).scaleb(-places):f}"
    value = float(quantity(f"{number} {unit}", "force"))
    assert value == pytest.approx(digits * 10.0**-places * float(quantity(f"1 {unit}", "force")), rel=1e-14)


def outcome(text: str, dimension: str) -> tuple[float, str]:
    """Value and refusal, of which one is empty."""
    try:
        return float(quantity(text, dimension, name="x")), ""
    except UnitError as problem:
        return math.nan, str(problem)


@settings(max_examples=400, deadline=None)
@given(st.text(max_size=70), st.sampled_from(KINDS))
def test_any_text_is_read_or_refused_in_one_sentence(text: str, dimension: str) -> None:
    value, refusal = outcome(text, dimension)
    assert math.isfinite(value) != bool(refusal)
    assert "\n" not in refusal


@settings(max_examples=400, deadline=None)
@given(st.text("0123456789.eE+-*/^ mkginftlbsPaNdr%'\"µ°²_,", max_size=30), st.sampled_from(KINDS))
def test_any_near_quantity_is_read_or_refused_in_one_sentence(text: str, dimension: str) -> None:
    value, refusal = outcome(text, dimension)
    assert math.isfinite(value) != bool(refusal)
    assert "\n" not in refusal


@pytest.mark.parametrize(
    ("value", "to", "digits", "text"),
    [
        (0.012, "mm", None, "12.0 mm"),
        (0.012, "in", None, "0.47 in"),
        (0.012, "in", 3, "0.472 in"),
        (622.751, "lbf", None, "140 lbf"),
        (66.6667, "km/h", None, "240 km/h"),
        (-1e-9, "mm", None, "0.0 mm"),
        (0.85, "%", None, "85 %"),
        (math.nan, "mm", None, "not known"),
        (math.inf, "km/h", None, "unlimited"),
    ],
)
def test_said_for_people(value: float, to: str, digits: int | None, text: str) -> None:
    assert say(value, to, digits) == text


def test_said_in_a_system_of_units() -> None:
    assert say_as(0.012, "length") == "12.0 mm"
    assert say_as(0.012, "length", system="us") == "0.47 in"
    assert say_as(14.709975, "acceleration", digits=1) == "1.5 g"
    assert say_as(2000.0, "pressure", system="us") == "41.8 psf"
    for kind in KINDS:
        for system in ("metric", "us"):
            assert say_as(1.0, kind, system=system)
    with pytest.raises(UnitError, match="'imperial' is not a system of units"):
        say_as(1.0, "length", system="imperial")  # type: ignore[arg-type]
    with pytest.raises(UnitError, match="'mmm' is not a unit to convert to; did you mean 'mm'"):
        say(1.0, "mmm")


@settings(deadline=None)
@given(st.floats(1e-6, 1e6), st.sampled_from(["mm", "in", "lbf", "kPa", "mph", "deg", "lbf/in", "kg/m^3"]))
def test_convert_inverts_reading(value: float, unit: str) -> None:
    dimension = next(kind for kind in KINDS if unit in units._table.DIMENSIONS[kind].units)
    assert convert(float(quantity(f"{value!r} {unit}", dimension)), unit) == pytest.approx(value, rel=1e-14)


def test_convert_takes_g_as_asked() -> None:
    assert convert(0.002, "g") == pytest.approx(2.0)
    assert convert(19.6133, "g", dimension="acceleration") == pytest.approx(2.0)
    with pytest.raises(UnitError, match="not a unit to convert to"):
        convert(1.0, "kg", dimension="length")


def test_unit_names_are_checked() -> None:
    assert unit_name("mm", "length") == "mm"
    for wrong in ("kg", "", "mmm", "m" * 100, "12 mm"):
        with pytest.raises(UnitError, match="is not a unit of length"):
            unit_name(wrong, "length")


class Thing(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)

    t: units.PositiveLength = 0.012
    at: units.Point = (0.0, 0.0)
    head: units.Point3 = (0.0, 0.0, 0.0)
    k: units.SpringRate | None = None
    factor: units.Dimensionless = 1.0
    speed: units.Speed = 0.0


def _complaint(**fields: object) -> str:
    with pytest.raises(ValidationError) as caught:
        Thing(**fields)
    (fault,) = caught.value.errors()
    return fault["msg"]


def test_fields_take_numbers_words_and_pint() -> None:
    thing = Thing(t="1/2 in", at=np.array([1.0, 2.0]), head=["1 m", 2, 3 * PINT.m], k=5 * PINT.N / PINT.mm)
    assert thing.t == 0.0127
    assert thing.at == (1.0, 2.0)
    assert thing.head == (1.0, 2.0, 3.0)
    assert thing.k == pytest.approx(5000.0)
    assert Thing(factor="80 %").factor == 0.8
    dumped = thing.model_dump(mode="json")
    assert dumped["t"] == "1/2 in"
    assert dumped["at"] == ["1000 mm", "2000 mm"]
    assert dumped["factor"] == 1.0
    assert thing.model_dump()["t"] == 0.0127
    assert Thing(**dumped) == thing


def test_fields_complain_in_one_sentence() -> None:
    assert _complaint(t="-3 mm") == '"-3 mm" is not above zero'
    assert _complaint(t=-0.003) == "-3 mm is not above zero"
    assert _complaint(speed="-3 km/h") == '"-3 km/h" is below zero'
    assert _complaint(t="1e-20 mm").startswith('"1e-20 mm" is out of all reason')
    assert _complaint(at=["3000 km", "0 mm"]).startswith('"3000 km" is out of all reason')
    assert _complaint(at="1 mm") == '"1 mm" is not a point; write ["480 mm", "300 mm"]'
    assert _complaint(at=[1, 2, 3]) == 'a point has 2 coordinates, not 3; write ["480 mm", "300 mm"]'
    assert _complaint(at={1.0, 2.0}).endswith('is not a point; write ["480 mm", "300 mm"]')
    assert _complaint(at=["1,5 mm", 0]) == '"1,5 mm" has a decimal comma; write "1.5 mm"'
    assert _complaint(k="3 lb/in") == '"3 lb/in" has a mass where a force is wanted; write "3 lbf/in"'


def test_a_file_must_name_its_units() -> None:
    with pytest.raises(ValidationError) as caught:
        Thing.model_validate({"t": 12}, context={"file": True})
    assert caught.value.errors()[0]["msg"] == '12 has no unit; write "12 mm"'
    assert Thing.model_validate({"factor": 1.5, "t": "12 mm"}, context={"file": True}).factor == 1.5


def test_json_schema_says_text() -> None:
    schema = Thing.model_json_schema()
    assert schema["properties"]["t"]["type"] == "string"
    assert schema["properties"]["at"]["prefixItems"][0]["type"] == "string"


def test_import_is_cheap() -> None:
    """The unit registry and pint itself are only loaded when a quantity is read."""
    code = "import sys, splitterfem.units; print('pint' in sys.modules, 'pydantic' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["False", "False"]
