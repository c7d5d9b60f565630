"""What the gap-flow estimate assumes: one set of figures, and the low, typical and high band of them.

The pressure under a low panel is estimated strip by strip from continuity and Bernoulli's law (see
:mod:`splitterfem.aero.gap_flow`). This module holds the figures that the model cannot know and somebody has to
choose. They are poorly known, so they always come as a band.

"Low" always means the least downforce, "high" the most.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Generic, Literal, TypeAlias, TypeVar

import numpy as np

from splitterfem.errors import DesignError, nearest

T_co = TypeVar("T_co", covariant=True)

BandName: TypeAlias = Literal["low", "typical", "high"]
LipShape: TypeAlias = Literal["rounded", "sharp"]

GAP_CAUTIONS = (
    "Gap-flow pressures are estimates with an error of 40 to 50 % either way; measure the pressure or the "
    "total downforce and scale the map.",
    "The gap-flow model knows no stall, no yaw or crosswind, no traffic and no unsteady motion.",
    "The exit pressure, the side relief and the pressure on the nose are chosen, not computed; look at the "
    "low and the high estimate beside the typical one.",
)
"""What a report has to say beside every figure that rests on the estimate."""


@dataclass(frozen=True)
class Band(Generic[T_co]):
    """A low, a typical and a high estimate of one thing; low is the one with the least downforce."""

    low: T_co
    typical: T_co
    high: T_co

    def of(self, name: BandName) -> T_co:
        """Return the estimate called ``name``.

        Raises
        ------
        DesignError
            If the name is none of the three.
        """
        known = {field.name: getattr(self, field.name) for field in fields(self)}
        if name not in known:
            raise DesignError(f"There is no band '{name}' of the gap-flow estimate; {nearest(name, known)}")
        chosen: T_co = known[name]
        return chosen

    @classmethod
    def same(cls, value: T_co) -> Band[T_co]:  # type: ignore[misc]  # a frozen class may take what it is made of
        """Return a band of three times the same, where the figure is known."""
        return cls(value, value, value)


ENTRY_LOSS: dict[str, Band[float]] = {"rounded": Band(0.1, 0.075, 0.05), "sharp": Band(0.5, 0.4, 0.3)}
"""Loss at the lip, in dynamic pressures there: rounded (radius at least half the thickness) or sharp. Inlets
from a large space, internal-flow handbooks such as Idelchik, Handbook of Hydraulic Resistance; from memory."""

FRICTION = Band(0.005, 0.004, 0.003)
"""Skin-friction coefficient of smooth to slightly rough walls at Reynolds numbers of 1e6 to 1e7, Schlichting,
Boundary-Layer Theory; from memory."""

EXIT_CP = Band(-0.1, -0.2, -0.3)
"""Pressure coefficient where the gap ends: -0.15 to -0.30 was read at the exit of ramps by Ruhrmann & Zhang
(2003), J. Fluids Eng. 125; -0.1 to -0.3 under flat floors is from memory. What lies behind the panel decides."""

RELIEF = Band(0.55, 0.7, 0.85)
"""Share of the suction that open sides leave; common practice, no source. Linear theory of a rectangle with open
sides gives less (see :func:`~splitterfem.aero.gap_relief.rectangle_relief`); fences, tyres and skirts raise it."""

RECOVERY = Band(0.5, 0.65, 0.8)
"""Share of the ideal pressure rise that a ramp behind the gap recovers; short diffusers, from memory."""

FLAT_BELOW = Band(0.11, 0.095, 0.08)
"""Gap per length at which the suction stops rising. Downforce of an inverted wing of one element above a moving
ground peaks at h/c = 0.112 (fixed transition) and 0.082 (free): Zerihan & Zhang (2000), J. Aircraft 37(6)."""

FALL = Band(0.18, 0.07, 0.03)
"""Loss of force within 0.03 lengths below the peak: a hard-worked wing of two elements, and one element with free
and fixed transition: Zhang, Toet & Zerihan (2006), Appl. Mech. Rev. 59."""

LIP_PEAK = Band(-0.3, -0.6, -1.0)
"""Extra pressure coefficient in the separation bubble behind a sharp lip; from memory."""

LIP_REACH = Band(3.0, 4.0, 5.0)
"""Length of that bubble in panel thicknesses; from memory."""

_RANGES = {
    "entry_loss": (0.0, 2.0),
    "friction": (0.0, 0.05),
    "exit_cp": (-2.0, 0.9),
    "relief": (0.01, 1.0),
    "recovery": (0.0, 1.0),
    "outer_cp": (-1.0, 0.9),
    "fall": (0.0, 0.5),
    "lip_peak": (-2.0, 0.0),
    "lip_reach": (0.0, 0.5),
    "choke_gap": (0.005, 0.05),
    "lowest_cp": (-3.0, -1.0),
}


@dataclass(frozen=True)
class GapLaw:
    """Figures of the gap-flow model; the defaults are the typical ones with a rounded lip.

    Parameters
    ----------
    entry_loss : float
        Loss at the lip in dynamic pressures of the flow there.
    friction : float
        Skin-friction coefficient of panel and ground.
    exit_cp : float
        Pressure coefficient where the gap ends: at the wheel arch, the bay behind, or the exit of the tunnels.
    relief : float
        Mean over the width of the share of suction that open sides leave, up to 1 (no relief).
    recovery : float
        Share of the ideal pressure rise that tunnel ramps recover, 0 to 1.
    outer_cp : float
        Pressure coefficient beside the panel, towards which the relief works.
    displacement : bool
        Whether the boundary layer under the panel narrows the gap.
    flat_below : float
        Mean gap of a strip per length below which lowering the panel brings nothing more; 0 switches the cap off.
        Wings are measured at their lowest point, which comes earlier, so that the cap sets in late.
    fall : float
        Share of the suction lost once the gap is 0.03 lengths below that; 0 keeps the highest value, which is
        the careful choice for strength.
    lip_peak, lip_reach : float
        Extra pressure coefficient at the lip, and the length over which it dies out linearly, m.
    choke_gap : float
        Gap below which the flow counts as choked, m.
    lowest_cp : float
        No pressure coefficient goes below this.

    Raises
    ------
    DesignError
        If a figure is out of its range.

    Notes
    -----
    Absolute figures are good to 40 to 50 % either way; there is no stall and no yaw in them.
    """

    entry_loss: float = ENTRY_LOSS["rounded"].typical
    friction: float = FRICTION.typical
    exit_cp: float = EXIT_CP.typical
    relief: float = RELIEF.typical
    recovery: float = RECOVERY.typical
    outer_cp: float = 0.0
    displacement: bool = True
    flat_below: float = FLAT_BELOW.typical
    fall: float = 0.0
    lip_peak: float = 0.0
    lip_reach: float = 0.0
    choke_gap: float = 0.010
    lowest_cp: float = -3.0

    def __post_init__(self) -> None:
        for name, (least, most) in _RANGES.items():
            value = getattr(self, name)
            if not (np.isfinite(value) and least <= value <= most):
                raise DesignError(
                    f"The field '{name}' of the gap law is {value:g}; give a number from {least:g} to {most:g}."
                )
        if not (self.flat_below == 0.0 or 0.02 <= self.flat_below <= 0.15):
            raise DesignError(
                f"The field 'flat_below' of the gap law is {self.flat_below:g}; "
                f"give 0 (no cap) or a gap per length from 0.02 to 0.15."
            )
        if self.lip_peak < 0.0 and self.lip_reach == 0.0:
            raise DesignError("The gap law has a 'lip_peak' without a 'lip_reach'; give both, or neither.")


def gap_laws(
    *,
    exit_cp: Band[float] = EXIT_CP,
    relief: Band[float] = RELIEF,
    lip: LipShape = "rounded",
    thickness: float | None = None,
    outer_cp: float = 0.0,
    with_fall: bool = False,
) -> Band[GapLaw]:
    """Low, typical and high set of figures.

    Parameters
    ----------
    exit_cp : Band of float
        Pressure coefficient where the gap ends; it matters more than the ride height, so measure it if you can.
    relief : Band of float
        Share of the suction that open sides leave.
    lip : {"rounded", "sharp"}
        Rounded means a radius of at least half the thickness.
    thickness : float, optional
        Of the panel, m; needed with a sharp lip.
    outer_cp : float
        Pressure coefficient beside the panel.
    with_fall : bool
        Whether the suction falls below its peak, as measured; without, it stays at the peak, which is the
        careful choice for strength.

    Raises
    ------
    DesignError
        If the lip has an unknown shape, or is sharp and the thickness is missing.

    Examples
    --------
    >>> laws = gap_laws(exit_cp=Band(-0.05, -0.15, -0.25))
    >>> laws.low.relief, laws.high.exit_cp
    (0.55, -0.25)
    """
    if lip not in ENTRY_LOSS:
        raise DesignError(f"There is no lip shape '{lip}'; {nearest(lip, ENTRY_LOSS)}")
    if lip == "sharp" and not (thickness is not None and 0.0 < thickness < 0.1):
        raise DesignError(
            "A sharp lip needs the thickness of the panel for its suction peak; give it in m, between 0 and 0.1."
        )

    def law(name: BandName) -> GapLaw:
        made = GapLaw(
            entry_loss=ENTRY_LOSS[lip].of(name),
            friction=FRICTION.of(name),
            exit_cp=exit_cp.of(name),
            relief=relief.of(name),
            recovery=RECOVERY.of(name),
            outer_cp=outer_cp,
            flat_below=FLAT_BELOW.of(name),
            fall=FALL.of(name) if with_fall else 0.0,
        )
        if lip == "rounded" or thickness is None:
            return made
        return replace(made, lip_peak=LIP_PEAK.of(name), lip_reach=LIP_REACH.of(name) * thickness)

    return Band(law("low"), law("typical"), law("high"))
