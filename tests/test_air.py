"""Air density and dynamic pressure against the tables of the standard atmosphere."""

from __future__ import annotations

import pytest

from splitterfem.aero import Air, air_density, dynamic_pressure, standard_air
from splitterfem.errors import DesignError

# ISO 2533:1975, table of geopotential altitudes: H (m), T (K), p (Pa), rho (kg/m3). Quoted from memory.
ISO_2533 = [
    (0, 288.150, 101_325.0, 1.22500),
    (1000, 281.650, 89_874.6, 1.11164),
    (2000, 275.150, 79_495.2, 1.00649),
    (5000, 255.650, 54_019.9, 0.736116),
    (11_000, 216.650, 22_632.1, 0.363918),
]


@pytest.mark.parametrize(("altitude", "temperature", "pressure", "density"), ISO_2533)
def test_standard_atmosphere(altitude: float, temperature: float, pressure: float, density: float) -> None:
    air = standard_air(altitude)
    assert air.temperature == pytest.approx(temperature, abs=1e-9)
    assert air.pressure == pytest.approx(pressure, rel=5e-6)
    assert air.density == pytest.approx(density, rel=1e-5)


@pytest.mark.parametrize(("geometric", "density"), [(1000, 1.1117), (2000, 1.0066), (3000, 0.90925)])
def test_geometric_altitudes_of_the_us_standard_atmosphere(geometric: float, density: float) -> None:
    # US Standard Atmosphere 1976, table I by geometric altitude (from memory); H = r Z / (r + Z).
    radius = 6_356_766.0
    assert standard_air(radius * geometric / (radius + geometric)).density == pytest.approx(density, abs=5e-5)


def test_warm_day_keeps_the_pressure() -> None:
    # Ideal gas: density falls as 288.15 / 308.15, 6.5 %.
    warm = standard_air(0.0, warmer=20.0)
    assert warm.pressure == 101_325.0
    assert warm.density == pytest.approx(1.225 * 288.15 / 308.15, rel=1e-6)


def test_measured_weather() -> None:
    # Ideal gas with R = 287.05287 J/(kg K) (ISO 2533): 95 kPa and 30 °C.
    assert air_density(95_000.0, 303.15) == pytest.approx(95_000 / (287.05287 * 303.15), rel=1e-12)


# q = rho V^2 / 2, worked by hand with rho = 1.225 kg/m3.
@pytest.mark.parametrize(("speed_kmh", "q"), [(120, 680.56), (160, 1209.88), (200, 1890.43), (240, 2722.22)])
def test_dynamic_pressure(speed_kmh: float, q: float) -> None:
    assert dynamic_pressure(speed_kmh / 3.6) == pytest.approx(q, abs=0.01)


def test_head_wind_counts_squared() -> None:
    # (200 + 30)^2 / 200^2 = 1.3225
    with_gust = dynamic_pressure(200 / 3.6, head_wind=30 / 3.6)
    assert with_gust / dynamic_pressure(200 / 3.6) == pytest.approx(1.3225, rel=1e-12)
    assert dynamic_pressure(10.0, head_wind=-10.0) == 0.0


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: standard_air(20_000), "The altitude is 20000 m; give one from -500 to 11000 m."),
        (
            lambda: air_density(101_325, 25),
            "The air temperature is 25 K; give kelvin, degrees Celsius plus 273.15.",
        ),
        (
            lambda: Air(pressure=1013.25, temperature=288),
            "The air pressure is 1013.25 Pa; give the absolute pressure at the track, about 101325 Pa "
            "at sea level.",
        ),
        (lambda: dynamic_pressure(-1.0), "The speed is -1 m/s; give zero or more."),
        (
            lambda: dynamic_pressure(10.0, head_wind=-20.0),
            "The wind from behind (20 m/s) is faster than the car (10 m/s); give a head wind above -10 m/s.",
        ),
        (
            lambda: dynamic_pressure(10.0, density=float("nan")),
            "The air density is nan kg/m3; give one above zero, 1.225 at sea level.",
        ),
    ],
)
def test_refusals(call, sentence: str) -> None:
    with pytest.raises(DesignError) as caught:
        call()
    assert str(caught.value) == sentence
