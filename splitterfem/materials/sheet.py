"""Sheet goods: moduli and strengths of a board, and its stiffness at a thickness and a grain angle."""

from __future__ import annotations

from typing import Annotated, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray
from pydantic import model_validator

from splitterfem.errors import DesignError
from splitterfem.materials._record import Cost, Record, Sourced, refuse
from splitterfem.materials.stiffness import PlateStiffness
from splitterfem.units import Density, Dimensionless, Modulus, PositiveLength, PositivePressure, Quantity

FloatArray = NDArray[np.float64]

NonNegativeModulus = Annotated[float, Quantity("modulus", least=0.0)]
Factor = Annotated[float, Quantity("number", above=0.0)]


class Moduli(NamedTuple):
    """Moduli of a sheet with nothing left open, Pa; ``nu12`` without unit."""

    E1: float
    E2: float
    nu12: float
    G12: float
    G13: float
    G23: float
    E1_bending: float
    E2_bending: float


class SheetStrength(Record):
    """Strengths of a sheet; what is not known is left out.

    Parameters
    ----------
    level : {"characteristic", "minimum", "typical"}
        ``characteristic``: 5 % fall below it. ``minimum``: guaranteed by the standard. ``typical``: mean.
    bending_along, bending_across : pressure
        Edge stress ``6 M / t^2`` of the whole section at failure, span along or across direction 1.
    tension_along, tension_across, compression_along, compression_across : pressure
        In the plane, on the whole section.
    planar_shear_along, planar_shear_across : pressure
        Largest transverse shear stress of a board ``1.5 Q / t``, span along or across direction 1. Of a ply: the
        transverse shear stress 13 or 23 in it; 23 is rolling shear in a veneer.
    panel_shear : pressure
        Shear in the plane.
    yield_strength, ultimate_strength : pressure
        Of a metal or plastic, in tension.
    shear_ultimate, bearing_yield, bearing_ultimate : pressure
        Of a metal; bearing at an edge distance of two diameters.
    """

    level: Literal["characteristic", "minimum", "typical"] = "characteristic"
    bending_along: PositivePressure | None = None
    bending_across: PositivePressure | None = None
    tension_along: PositivePressure | None = None
    tension_across: PositivePressure | None = None
    compression_along: PositivePressure | None = None
    compression_across: PositivePressure | None = None
    planar_shear_along: PositivePressure | None = None
    planar_shear_across: PositivePressure | None = None
    panel_shear: PositivePressure | None = None
    yield_strength: PositivePressure | None = None
    ultimate_strength: PositivePressure | None = None
    shear_ultimate: PositivePressure | None = None
    bearing_yield: PositivePressure | None = None
    bearing_ultimate: PositivePressure | None = None


class SheetMaterial(Sourced):
    """A sheet good, isotropic or with two principal directions in its plane.

    Direction 1 is that of the face grain. An isotropic sheet gives ``E1`` and ``nu12`` and leaves out the
    other moduli.

    Parameters
    ----------
    kind : {"isotropic", "orthotropic"}
        Whether the sheet has a grain.
    E1, E2 : modulus
        In tension along and across direction 1, on the whole section. ``E2`` of a single veneer may be 0.
    nu12 : number
        Strain across over strain along when pulled along direction 1, with the sign turned.
    G12 : modulus
        Shear in the plane.
    G13, G23 : modulus
        Transverse (planar) shear, span along and across direction 1.
    E1_bending, E2_bending : modulus, optional
        In bending, on the whole section; like ``E1``, ``E2`` when left out.
    shear_factor : number
        Applied to ``G13`` and ``G23``: 5/6 for a homogeneous sheet (Reissner 1945), 1 where the planar
        shear moduli already give the shear stiffness of the board, as those of plywood handbooks do.
    density : density
        Mean.
    density_characteristic : density, optional
        5 % fall below it; fasteners in timber are judged by it.
    thickness : length, optional
        Mean thickness of the board in the catalogue, used when none is given.
    modulus_advice : number, optional
        Factor on the moduli that is advised for a sag estimate, never applied silently: see `scaled`.
    strength : SheetStrength, optional
        Strengths; without them no stress of this sheet can be judged.
    cost_per_area, cost_per_mass : number, optional
        Price of a square metre or of a kilogram, one of the two, in the currency of the splitter; those of the
        catalogue are in euro.
    cost_basis : str
        Where the price comes from.

    Raises
    ------
    DesignError
        With one sentence for each fault.

    Examples
    --------
    In a design file a sheet of one's own reads::

        [panel.sheet]
        thickness = "10 mm"

        [panel.sheet.material]
        kind = "orthotropic"
        name = "pine plywood of the yard"
        source = "own bending test"
        E1 = "8.2 GPa"
        E2 = "4.1 GPa"
        nu12 = "0.05"
        G12 = "500 MPa"
        G13 = "120 MPa"
        G23 = "80 MPa"
        density = "520 kg/m^3"
        strength = { level = "typical", bending_along = "38 MPa", bending_across = "22 MPa" }
    """

    kind: Literal["isotropic", "orthotropic"]
    E1: Modulus
    E2: NonNegativeModulus | None = None
    nu12: Dimensionless
    G12: Modulus | None = None
    G13: Modulus | None = None
    G23: Modulus | None = None
    E1_bending: Modulus | None = None
    E2_bending: NonNegativeModulus | None = None
    shear_factor: Factor = 5 / 6
    density: Density
    density_characteristic: Density | None = None
    thickness: PositiveLength | None = None
    modulus_advice: Factor | None = None
    strength: SheetStrength | None = None
    cost_per_area: Cost | None = None
    cost_per_mass: Cost | None = None
    cost_basis: str = ""

    @model_validator(mode="after")
    def _one_price(self) -> SheetMaterial:
        if self.cost_per_area is not None and self.cost_per_mass is not None:
            refuse(f"'{self.name}' has a price per area and one per mass; leave one of them out")
        return self

    @model_validator(mode="after")
    def _moduli_fit(self) -> SheetMaterial:
        others = {name: getattr(self, name) for name in ("E2", "G12", "G13", "G23")}
        if self.kind == "isotropic":
            given = [name for name, value in others.items() if value is not None]
            if given:
                refuse(
                    f"'{self.name}' is isotropic, so {' and '.join(given)} must be left out: they follow "
                    f"from E1 and nu12; or set kind to 'orthotropic'"
                )
            if not -1 < self.nu12 < 0.5:
                refuse(
                    f"'{self.name}' has nu12 = {self.nu12:g}; an isotropic sheet needs one between -1 and 0.5"
                )
            return self
        missing = [name for name, value in others.items() if value is None]
        if missing:
            refuse(f"'{self.name}' is orthotropic and lacks {' and '.join(missing)}; give them")
        for E1, E2 in ((self.E1, others["E2"]), (self.bending_pair)):
            if self.nu12**2 * E2 >= E1:
                refuse(
                    f"'{self.name}' has nu12 = {self.nu12:g}; with its E1 and E2 it must stay under "
                    f"{np.sqrt(E1 / E2):.3g}"
                )
        return self

    @property
    def bending_pair(self) -> tuple[float, float]:
        """Young's moduli in bending along and across direction 1, Pa."""
        E2 = self.E1 if self.E2 is None else self.E2
        return (
            self.E1 if self.E1_bending is None else self.E1_bending,
            E2 if self.E2_bending is None else self.E2_bending,
        )

    @property
    def moduli(self) -> Moduli:
        """All moduli as floats, the derived ones included."""
        if self.kind == "isotropic":
            G = self.E1 / (2 * (1 + self.nu12))
            return Moduli(self.E1, self.E1, self.nu12, G, G, G, *self.bending_pair)
        given = (self.E2, self.G12, self.G13, self.G23)
        E2, G12, G13, G23 = (0.0 if value is None else value for value in given)
        return Moduli(self.E1, E2, self.nu12, G12, G13, G23, *self.bending_pair)

    def scaled(self, factor: float) -> SheetMaterial:
        """Return the same sheet with every modulus times ``factor``, as after a flex test."""
        names = ("E1", "E2", "G12", "G13", "G23", "E1_bending", "E2_bending")
        changed = {n: factor * float(v) for n in names if (v := getattr(self, n)) is not None}
        notes = f"Moduli times {factor:g}. {self.notes}".strip()
        fields = {n: getattr(self, n) for n in self.model_fields_set}
        return SheetMaterial(**{**fields, **changed, "notes": notes, "basis": "user", "modulus_advice": None})

    def price_per_area(self, thickness: float | None = None) -> float | None:
        """Price of a square metre of a board, None when it is not known.

        Parameters
        ----------
        thickness : float, optional
            m; the mean thickness of the catalogue when left out.

        Raises
        ------
        DesignError
            If the price is one per mass and no thickness is known.
        """
        if self.cost_per_mass is None:
            return self.cost_per_area
        return self.cost_per_mass * self.density * self._thickness(thickness)

    def stiffness(self, thickness: float | None = None, grain_angle: float = 0.0) -> PlateStiffness:
        """Stiffness of a board of this material.

        Parameters
        ----------
        thickness : float, optional
            m; the mean thickness of the catalogue when left out.
        grain_angle : float
            From x to direction 1, anticlockwise seen from above, rad.

        Returns
        -------
        PlateStiffness
            ``A`` from the moduli in tension, ``D`` from those in bending, ``B = 0`` and
            ``S = shear_factor t diag(G13, G23)``, turned to the grain angle.

        Raises
        ------
        DesignError
            If no thickness is known or the board would give way without resistance.
        """
        t = self._thickness(thickness)
        m = self.moduli
        principal = PlateStiffness(
            A=t * reduced_stiffness(m.E1, m.E2, m.nu12, m.G12),
            B=np.zeros((3, 3)),
            D=t**3 / 12 * reduced_stiffness(m.E1_bending, m.E2_bending, m.nu12, m.G12),
            S=self.shear_factor * t * np.diag([m.G13, m.G23]),
            mass_per_area=self.density * t,
            thickness=t,
        )
        return principal.rotated(grain_angle)

    def _thickness(self, given: float | None) -> float:
        if given is None and self.thickness is None:
            raise DesignError(f"The sheet '{self.name}' has no thickness of its own; give one.")
        return float(given if given is not None else self.thickness or 0.0)


def reduced_stiffness(E1: float, E2: float, nu12: float, G12: float) -> FloatArray:
    """Plane-stress stiffness of an orthotropic sheet in its own axes, Pa, shape (3, 3) (Reddy 2004, 2.4)."""
    d = 1 - nu12**2 * E2 / E1
    return np.array([[E1 / d, nu12 * E2 / d, 0.0], [nu12 * E2 / d, E2 / d, 0.0], [0.0, 0.0, G12]])
