"""Bars: the metals of ribs, struts, rods and pins."""

from __future__ import annotations

from typing import Annotated

from pydantic import model_validator

from splitterfem.materials._record import Sourced, refuse
from splitterfem.units import Density, Modulus, PositivePressure, Quantity


class BarMaterial(Sourced):
    """An isotropic metal or plastic for ribs and hardware.

    Parameters
    ----------
    E : modulus
        Young's modulus.
    nu : number
        Poisson's ratio.
    density : density
        Mean.
    yield_strength : pressure, optional
        In tension; without it no stress of this bar can be judged.
    ultimate_strength : pressure, optional
        In tension.

    Raises
    ------
    DesignError
        With one sentence for each fault.
    """

    E: Modulus
    nu: Annotated[float, Quantity("number")]
    density: Density
    yield_strength: PositivePressure | None = None
    ultimate_strength: PositivePressure | None = None

    @model_validator(mode="after")
    def _possible(self) -> BarMaterial:
        if not -1 < self.nu < 0.5:
            refuse(f"'{self.name}' has nu = {self.nu:g}; give one between -1 and 0.5, about 0.3 for metals")
        y, u = self.yield_strength, self.ultimate_strength
        if y is not None and u is not None and u < y:
            refuse(
                f"'{self.name}' has an ultimate strength of {u / 1e6:g} MPa, below its yield strength of "
                f"{y / 1e6:g} MPa; exchange the two"
            )
        return self

    @property
    def G(self) -> float:
        """Shear modulus, ``E / 2 (1 + nu)``, Pa."""
        return self.E / (2 * (1 + self.nu))
