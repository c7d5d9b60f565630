"""The air of a load case, as plain data."""

from __future__ import annotations

from typing import Self

from pydantic import model_validator

from splitterfem.design._record import Record, refuse
from splitterfem.units import Dimensionless, Length, PositivePressure

ABSOLUTE_ZERO = -273.15
"""In degrees Celsius, by definition."""


class Weather(Record):
    """State of the air: measured at the track, or standard at an altitude.

    Parameters
    ----------
    pressure : pressure, optional
        Absolute, at the track itself; weather reports often give it reduced to sea level: not that one.
    celsius : number, optional
        Temperature in degrees Celsius; belongs to `pressure`.
    altitude : length, optional
        In place of both: the standard atmosphere of ISO 2533.
    warmer : number
        Degrees above the standard temperature at that altitude.
    """

    pressure: PositivePressure | None = None
    celsius: Dimensionless | None = None
    altitude: Length | None = None
    warmer: Dimensionless = 0.0

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        measured = [name for name in ("pressure", "celsius") if getattr(self, name) is not None]
        if self.altitude is not None and measured:
            refuse(f"has altitude and {measured[0]}; write either altitude, or pressure and celsius")
        if self.altitude is None and len(measured) < 2:
            refuse('write either altitude = "300 m", or pressure = "985 hPa" and celsius = 22')
        if self.altitude is None and self.warmer:
            refuse("has warmer without altitude; write the temperature in celsius")
        if self.celsius is not None and self.celsius <= ABSOLUTE_ZERO:
            refuse(f"celsius is {self.celsius:g}, below absolute zero; write a temperature such as 22")
        return self
