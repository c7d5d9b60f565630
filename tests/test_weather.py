"""The air of a load case: standard, measured, with wind; against the tables of ISO 2533 and the ideal gas law."""

from __future__ import annotations

from typing import Any

import pytest

from splitterfem.design import LoadCase, Weather
from splitterfem.errors import DesignError
from splitterfem.model.air import air_density, air_speed, case_q

R = 287.05287
"""Specific gas constant of dry air in J/(kg K), ISO 2533."""


def case(**fields: Any) -> LoadCase:
    return LoadCase(name="fast", speed=50.0, **fields)


@pytest.mark.parametrize(
    ("altitude", "density"), [("0 m", 1.2250), ("500 m", 1.1673), ("1000 m", 1.1117), ("2000 m", 1.0066)]
)
def test_standard_air(altitude: str, density: float) -> None:
    # ISO 2533 by geometric altitude, to the four digits after the point (from memory). The library takes geopotential
    # ones, which are 0.03 % less at 2000 m: 0.0001 kg/m3.
    found = air_density(case(air={"altitude": altitude}))
    assert found == pytest.approx(density, abs=1.5e-4)


def test_warm_air_is_thinner_by_its_temperature() -> None:
    # Ideal gas at the pressure of the altitude: 281.65 K at 1000 m (ISO 2533), 15 K more.
    standard = air_density(case(air={"altitude": 1000.0}))
    warm = air_density(case(air={"altitude": 1000.0, "warmer": 15.0}))
    assert warm / standard == pytest.approx(281.65 / 296.65, rel=1e-12)


@pytest.mark.parametrize(("pressure", "celsius"), [("985 hPa", 22.0), (101_325.0, 15.0), ("840 mbar", -5.0)])
def test_measured_air_is_an_ideal_gas(pressure: object, celsius: float) -> None:
    weather = Weather(pressure=pressure, celsius=celsius)
    pascal = {"985 hPa": 98_500.0, "840 mbar": 84_000.0}.get(str(pressure), pressure)
    assert air_density(case(air=weather)) == pytest.approx(pascal / (R * (celsius + 273.15)), rel=1e-12)


def test_given_density_and_the_default() -> None:
    assert air_density(case(air_density="1.20 kg/m^3")) == 1.2
    assert air_density(case()) == 1.225  # ISO 2533 at sea level


@pytest.mark.parametrize(("wind", "factor"), [("30 km/h", 1.36111), ("-30 km/h", 0.694444), ("0 km/h", 1.0)])
def test_wind_counts_squared(wind: str, factor: float) -> None:
    # ((180 +- 30) / 180)^2; q = rho V^2 / 2 = 1531.25 Pa at 50 m/s.
    blown = case(head_wind=wind)
    assert case_q(blown) == pytest.approx(factor * 1531.25, rel=1e-5)
    assert air_speed(blown) == pytest.approx(50.0 * factor**0.5, rel=1e-5)


def test_wind_from_behind_stops_at_the_speed_of_the_car() -> None:
    assert case_q(case(head_wind=-50.0)) == 0.0
    with pytest.raises(DesignError) as caught:
        case(head_wind=-50.1)
    assert str(caught.value) == (
        'loadcase "fast": has a wind from behind that is faster than the car; write a slower one'
    )


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        (
            {"altitude": 300.0, "celsius": 20.0},
            "has altitude and celsius; write either altitude, or pressure and celsius",
        ),
        (
            {"altitude": 300.0, "pressure": 9.8e4},
            "has altitude and pressure; write either altitude, or pressure and celsius",
        ),
        ({"celsius": 20.0}, 'write either altitude = "300 m", or pressure = "985 hPa" and celsius = 22'),
        ({"pressure": 9.8e4}, 'write either altitude = "300 m", or pressure = "985 hPa" and celsius = 22'),
        ({}, 'write either altitude = "300 m", or pressure = "985 hPa" and celsius = 22'),
        (
            {"pressure": 9.8e4, "celsius": 20.0, "warmer": 3.0},
            "has warmer without altitude; write the temperature in celsius",
        ),
        # Kelvin, Fahrenheit and hectopascal without their unit are the usual slips.
        ({"pressure": 9.8e4, "celsius": 295.0}, "celsius is 295; write degrees Celsius, such as 22"),
        ({"pressure": 9.8e4, "celsius": 72.0}, "celsius is 72; write degrees Celsius, such as 22"),
        (
            {"pressure": 985.0, "celsius": 22.0},
            'pressure is 985 Pa; write the absolute one at the track, such as "985 hPa"',
        ),
        (
            {"altitude": 12_000.0},
            'weather, altitude: 12000 m is not an altitude from -500 to 11000 m; write for example "300 m"',
        ),
        (
            {"altitude": 0.0, "warmer": 60.0},
            "warmer is 60, which makes the air 75 degrees Celsius; write less",
        ),
    ],
)  # fmt: skip
def test_weather_that_cannot_be(fields: dict[str, Any], sentence: str) -> None:
    with pytest.raises(DesignError) as caught:
        Weather(**fields)
    assert str(caught.value).removeprefix("weather: ") == sentence


def test_what_a_record_takes_the_model_takes() -> None:
    """The limits of the record are not wider than those of the formulas."""
    for fields in (
        {"pressure": 20_000.0, "celsius": -70.0},
        {"pressure": 120_000.0, "celsius": 65.0},
        {"altitude": -500.0},
        {"altitude": 11_000.0, "warmer": 0.0},
        {"altitude": 0.0, "warmer": 50.0},
    ):
        assert air_density(case(air=fields)) > 0.0


def test_one_air_only() -> None:
    with pytest.raises(DesignError) as caught:
        case(air={"altitude": 0.0}, air_density=1.2)
    assert str(caught.value) == 'loadcase "fast": has air and air_density; write exactly one of the two'
    measured = case(air_density=1.1).with_(air={"altitude": 0.0})
    assert air_density(measured) == pytest.approx(1.225, rel=1e-5)
    assert air_density(measured.with_(air_density=1.15)) == 1.15
