"""Bars: the metals of ribs, struts, rods and pins."""

from __future__ import annotations

from typing import Annotated

from pydantic import model_validator

from splitterfem.materials._record import Cost, Sourced, refuse
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
    cost_per_mass : number, optional
        Price of a kilogram, in the currency of the splitter; that of the catalogue is in euro.
    cost_basis : str
        Where the price comes from.

    Raises
    ------
    DesignError
        With one sentence for each fault.

    Examples
    --------
    In a design file a rib of a metal of one's own reads::

        [[ribs]]
        name = "cross rib"
        points = [["700 mm", "-600 mm"], ["700 mm", "600 mm"]]
        section = { shape = "hat", width = "30 mm", height = "25 mm", flange = "15 mm", wall = "1 mm" }

        [ribs.material]
        name = "stainless strip"
        E = "200 GPa"
        nu = "0.3"
        density = "7900 kg/m^3"
        yield_strength = "230 MPa"
    """

    E: Modulus
    nu: Annotated[float, Quantity("number")]
    density: Density
    yield_strength: PositivePressure | None = None
    ultimate_strength: PositivePressure | None = None
    cost_per_mass: Cost | None = None
    cost_basis: str = ""

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

    def price_per_length(self, area: float) -> float | None:
        """Price of a metre of a section of ``area`` (m2), None when it is not known."""
        return None if self.cost_per_mass is None else self.cost_per_mass * self.density * area
