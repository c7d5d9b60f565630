"""The air of a load case, as plain data."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Self

from pydantic import model_validator

from splitterfem.design._record import Record, refuse
from splitterfem.units import Dimensionless, PositivePressure, Quantity

ABSOLUTE_ZERO = -273.15
"""In degrees Celsius, by definition."""

PRESSURES, WARMTHS, ALTITUDES = (20_000.0, 120_000.0), (-70.0, 65.0), (-500.0, 11_000.0)
"""What air at a race track can have, in Pa, degrees Celsius and m (the troposphere of ISO 2533)."""

SEA_LEVEL, LAPSE = 15.0, 0.0065
"""Standard temperature at sea level in degrees Celsius and its fall with altitude in K/m (ISO 2533)."""


@dataclass(frozen=True)
class _Altitude(Quantity):
    """A length that may be the height of a mountain, other than those of parts."""

    def _fault(self, value: float) -> str:
        least, most = ALTITUDES
        if least <= value <= most:
            return ""
        return f'is not an altitude from {least:g} to {most:g} m; write for example "300 m"'


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
    altitude: Annotated[float, _Altitude("length")] | None = None
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
        self._refuse_what_no_track_has()
        return self

    def _refuse_what_no_track_has(self) -> None:
        """Refuse figures in another unit, and slips of the pen."""
        if self.pressure is not None and not PRESSURES[0] <= self.pressure <= PRESSURES[1]:
            refuse(
                f'pressure is {self.pressure:g} Pa; write the absolute one at the track, such as "985 hPa"'
            )
        if self.celsius is not None and not WARMTHS[0] <= self.celsius <= WARMTHS[1]:
            refuse(f"celsius is {self.celsius:g}; write degrees Celsius, such as 22")
        found = SEA_LEVEL - LAPSE * (self.altitude or 0.0) + self.warmer
        if self.altitude is not None and not WARMTHS[0] <= found <= WARMTHS[1]:
            refuse(f"warmer is {self.warmer:g}, which makes the air {found:.4g} degrees Celsius; write less")
