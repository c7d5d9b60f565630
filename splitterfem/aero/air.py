"""Air: density from altitude or from the weather, and dynamic pressure."""

from __future__ import annotations

from dataclasses import dataclass

from splitterfem.errors import DesignError

GAS_CONSTANT = 287.05287
"""Specific gas constant of dry air, J/(kg K), ISO 2533:1975."""

GRAVITY = 9.80665
"""Standard acceleration of free fall, m/s2, ISO 2533:1975."""

SEA_LEVEL_PRESSURE = 101_325.0
"""Pa, ISO 2533:1975."""

SEA_LEVEL_TEMPERATURE = 288.15
"""K, ISO 2533:1975."""

LAPSE_RATE = 0.0065
"""Fall of temperature with altitude in the troposphere, K/m, ISO 2533:1975."""

LOWEST, HIGHEST = -500.0, 11_000.0


@dataclass(frozen=True)
class Air:
    """State of the air around the car.

    Parameters
    ----------
    pressure : float
        Absolute, at the place itself, Pa.
    temperature : float
        K.
    """

    pressure: float
    temperature: float

    def __post_init__(self) -> None:
        if not 20_000 <= self.pressure <= 120_000:
            raise DesignError(
                f"The air pressure is {self.pressure:g} Pa; give the absolute pressure at the track, "
                f"about 101325 Pa at sea level."
            )
        if not 200 <= self.temperature <= 340:
            raise DesignError(
                f"The air temperature is {self.temperature:g} K; give kelvin, degrees Celsius plus 273.15."
            )

    @property
    def density(self) -> float:
        """Of dry air, ``p / (R T)``, kg/m3; humid air is up to 1.5 % lighter below 35 °C."""
        return self.pressure / (GAS_CONSTANT * self.temperature)


def standard_air(altitude: float = 0.0, *, warmer: float = 0.0) -> Air:
    """International Standard Atmosphere, ISO 2533:1975.

    ``T = 288.15 - 0.0065 H`` and ``p = 101325 (T / 288.15)^(g / (R 0.0065))``.

    Parameters
    ----------
    altitude : float
        Geopotential altitude H, m, from -500 to 11 000.
    warmer : float
        Temperature above the standard one at that altitude, K; the pressure stays the standard one.

    Raises
    ------
    DesignError
        If the altitude is out of range.

    Examples
    --------
    >>> round(standard_air(1000.0).density, 4)
    1.1116
    """
    if not LOWEST <= altitude <= HIGHEST:
        raise DesignError(f"The altitude is {altitude:g} m; give one from {LOWEST:g} to {HIGHEST:g} m.")
    standard = SEA_LEVEL_TEMPERATURE - LAPSE_RATE * altitude
    exponent = GRAVITY / (GAS_CONSTANT * LAPSE_RATE)
    pressure = SEA_LEVEL_PRESSURE * (standard / SEA_LEVEL_TEMPERATURE) ** exponent
    return Air(pressure=pressure, temperature=standard + warmer)


def air_density(pressure: float, temperature: float) -> float:
    """Density of dry air from what was measured at the track.

    Parameters
    ----------
    pressure : float
        Absolute station pressure, Pa; weather reports often give it reduced to sea level: not that one.
    temperature : float
        K.

    Returns
    -------
    float
        kg/m3.

    Raises
    ------
    DesignError
        If either is outside what a race track can have.
    """
    return Air(pressure=pressure, temperature=temperature).density


def dynamic_pressure(speed: float, *, density: float = 1.225, head_wind: float = 0.0) -> float:
    """Dynamic pressure ``rho (V + V_wind)^2 / 2`` in Pa.

    Parameters
    ----------
    speed : float
        Over the ground, m/s.
    density : float
        kg/m3; 1.225 is the standard atmosphere at sea level.
    head_wind : float
        m/s, negative from behind.

    Raises
    ------
    DesignError
        If the density is not positive, the speed negative, or the wind from behind faster than the car.
    """
    if not density > 0:
        raise DesignError(f"The air density is {density:g} kg/m3; give one above zero, 1.225 at sea level.")
    if not speed >= 0:
        raise DesignError(f"The speed is {speed:g} m/s; give zero or more.")
    if not speed + head_wind >= 0:
        raise DesignError(
            f"The wind from behind ({-head_wind:g} m/s) is faster than the car ({speed:g} m/s); "
            f"give a head wind above {-speed:g} m/s."
        )
    return 0.5 * density * (speed + head_wind) ** 2
