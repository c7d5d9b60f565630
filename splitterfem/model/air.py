"""Density and dynamic pressure of the air of a load case."""

from __future__ import annotations

from splitterfem import aero
from splitterfem.design import LoadCase
from splitterfem.design.weather import ABSOLUTE_ZERO


def air_density(case: LoadCase) -> float:
    """Density of the air of a case in kg/m3: as given, measured, or standard at its altitude."""
    weather = case.air
    if weather is None:
        return float(case.air_density)
    if weather.altitude is not None:
        return aero.standard_air(float(weather.altitude), warmer=float(weather.warmer)).density
    celsius, pressure = float(weather.celsius or 0.0), float(weather.pressure or 0.0)
    return aero.air_density(pressure, celsius - ABSOLUTE_ZERO)


def case_q(case: LoadCase) -> float:
    """Dynamic pressure of a case in Pa, head wind included."""
    return aero.dynamic_pressure(
        float(case.speed), density=air_density(case), head_wind=float(case.head_wind)
    )


def air_speed(case: LoadCase) -> float:
    """Speed of the air of a case in m/s, head wind included."""
    return float(case.speed) + float(case.head_wind)
