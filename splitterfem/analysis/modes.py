"""Natural frequencies and shapes of a panel in its supports, and what may shake it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
import scipy.sparse as sp
from numpy.typing import NDArray

from splitterfem.analysis.airspring import DIVERGES, FLUTTER, SPARE, AirModes, with_air
from splitterfem.analysis.excitations import design_speeds, excitations, near_words
from splitterfem.analysis.fields import CHORD_REACH, Field
from splitterfem.analysis.linearised import held_stiffness, mode_shape, ribs_of, unknowns
from splitterfem.analysis.solution import Solution, solve
from splitterfem.design import LoadCase
from splitterfem.errors import DesignError
from splitterfem.fem.follower import Follower
from splitterfem.fem.mass import SheetMass, mass_matrix
from splitterfem.fem.modes import Eigenpairs, vibration
from splitterfem.model import Model
from splitterfem.model.feedback import sag_follower
from splitterfem.threads import one_blas_thread

__all__ = ["AT_REST", "Modes", "excitations", "natural_modes"]

Array = NDArray[np.float64]

AT_REST = LoadCase(name="own weight")
"""Load case that says which one-sided supports hold the panel when nothing else does."""

LOWEST = (2.0 * np.pi * 1.0) ** 2
"""Shift of the eigenvalues in 1/s2: that of 1 Hz, below anything that a held panel has."""


@dataclass(frozen=True, eq=False)
class Modes:
    """Natural vibrations of a panel, lowest first.

    Attributes
    ----------
    model : Model
        What vibrates.
    frequencies : ndarray, shape (k,)
        In Hz; zero where the air makes the panel diverge.
    shapes : tuple of Field
        Deflection of each, positive down, the largest being 1.
    participation : ndarray, shape (k,)
        Share of the mass that each moves when the car goes up and down, 0 to 1.
    residual : float
        Largest miss of the eigenvalue equation without air, relative.
    case : str
        Load case whose supports act and, with `prestressed`, whose stresses stiffen.
    prestressed : bool
    added : tuple of (float, float, float)
        Places in m and masses in kg that are bolted to the panel.
    air_spring : bool
        Whether the air gives way or pulls after as the panel moves.
    on_ground : bool
        Whether the panel lies on the ground in the load case, which holds nothing here.
    merged : tuple of int
        Numbers, from 1, of modes that the air makes swing at one frequency.
    truncation : float
        With air: largest change of a squared frequency, over the largest, when half of the spare modes are left out.
    """

    model: Model
    frequencies: Array
    shapes: tuple[Field, ...]
    participation: Array
    residual: float
    case: str
    prestressed: bool
    added: tuple[tuple[float, float, float], ...] = ()
    air_spring: bool = False
    on_ground: bool = False
    merged: tuple[int, ...] = ()
    truncation: float = 0.0

    @property
    def excitations(self) -> pd.DataFrame:
        """What may shake it at the speeds of the design's load cases; columns: what, from_Hz, to_Hz, basis."""
        return excitations(design_speeds(self.model.design))

    @property
    def table(self) -> pd.DataFrame:
        """One row for each mode.

        Columns: mode, frequency_Hz, mass_share (moved by vertical shaking), x_mm and y_mm (largest motion), shaken_by
        (excitations that it lies in, or near by 20 %).
        """
        shaking = self.excitations
        rows = []
        for number, (frequency, shape, share) in enumerate(
            zip(self.frequencies, self.shapes, self.participation, strict=True), start=1
        ):
            x, y = shape.highest()[1]
            row = {"mode": number, "frequency_Hz": frequency, "mass_share": share}
            row |= {"x_mm": 1e3 * x, "y_mm": 1e3 * y, "shaken_by": near_words(frequency, shaking)}
            rows.append(row)
        return pd.DataFrame(rows)

    @property
    def notes(self) -> tuple[str, ...]:
        """What the figures cover and what they do not, in sentences."""
        stiffened = " and its stresses stiffen or soften the panel" if self.prestressed else ""
        air = (
            "the air follows the panel's motion at once, without damping or delay"
            if self.air_spring
            else "the air neither springs nor damps"
        )
        bolted = (
            f", with {len(self.added)} added mass{'es' if len(self.added) > 1 else ''}" if self.added else ""
        )
        covers = (
            f"Small vibrations about load case '{self.case}': the supports that act in it act all the time{stiffened}, "
            f"gaps stay open, and {air}. What vibrates is panel, doublers and ribs{bolted}; struts and fixings have no "
            "mass of their own. Nothing is said of how far it swings, and nothing of flutter."
        )
        said = [covers]
        if self.on_ground:
            said.append("The panel lies on the ground in this load case; the ground holds nothing here.")
        if np.any(self.frequencies == 0.0) and self.air_spring:
            said.append(DIVERGES)
        if self.merged:
            which = " and ".join(str(number) for number in self.merged)
            one = len(self.merged) == 1
            said.append(
                f"Mode{'' if one else 's'} {which} merge{'s with the next' if one else ''}. {FLUTTER}"
            )
        return tuple(said)

    def __repr__(self) -> str:
        """Write splitter, load case and frequencies on one line."""
        figures = ", ".join(f"{frequency:.1f}" for frequency in self.frequencies)
        return f"Natural frequencies of '{self.model.design.name}' in '{self.case}': {figures} Hz"


@one_blas_thread()
def natural_modes(
    model: Model,
    count: int = 6,
    *,
    case: str | LoadCase | None = None,
    prestress: bool = False,
    air_spring: bool = False,
    added: Sequence[tuple[float, float, float]] = (),
    follower: Follower | None = None,
) -> Modes:
    """Find the lowest natural frequencies of a panel and their shapes.

    Small vibrations about a load case: the supports that act in it act all the time, gaps stay open.  The mass is
    that of panel, doublers and ribs, rotary inertia included; that of struts and fixings is not.  Nothing is said of
    flutter.  With an air spring the pressure follows the gap at every instant, see
    :func:`splitterfem.analysis.airspring.with_air`; otherwise the air neither springs nor damps.

    Parameters
    ----------
    model : Model
    count : int
        How many.
    case : str or LoadCase, optional
        About which; the panel under its own weight when left out.
    prestress : bool
        Whether the stresses of the case stiffen or soften the panel.
    air_spring : bool
        Whether the pressure of the case follows the gap as the panel moves.
    added : sequence of (x, y, mass)
        Masses bolted to the panel: places in m and kg.
    follower : Follower, optional
        The air of an air spring, in place of that of the case.

    Raises
    ------
    DesignError
        If a mass is off the panel or not above zero, `count` is not at least one, or an air spring has no load case
        whose pressure follows the gap.
    SolveError
        If the modes do not converge.
    """
    if count < 1:
        raise DesignError(f"{count} natural frequencies were asked for; ask for at least one.")
    if air_spring and case is None:
        raise DesignError("An air spring has no air: name the load case whose air it is.")
    solution = solve(model, AT_REST if case is None else case)
    air = _air(solution) if air_spring and follower is None else follower
    model, structure = solution.model, solution.model.structure
    stiffness, contributions = held_stiffness(solution), ribs_of(model)
    if prestress:
        stiffness = sp.csc_array(stiffness + _prestress(solution))
    mass = mass_matrix(model.panel, sheet_mass(model), contributions, n_extra=structure.n_extra)
    mass = sp.csc_array(mass + _added(model, added))
    found = vibration(stiffness, mass, structure.free, count if air is None else count + SPARE, shift=LOWEST)
    swinging = _in_air(found, air, solution, count)
    shapes = tuple(mode_shape(model, vector) for vector in swinging.shapes.T)
    vertical = np.zeros(mass.shape[0])
    vertical[2 : model.panel.space.n_dofs : 5] = 1.0
    moved = (swinging.shapes.T @ (mass @ vertical)) ** 2 / float(vertical @ (mass @ vertical))
    return Modes(
        model=model,
        frequencies=np.sqrt(np.maximum(swinging.values, 0.0)) / (2.0 * np.pi),
        shapes=shapes,
        participation=moved,
        residual=found.residual,
        case=solution.case.name,
        prestressed=prestress,
        added=tuple(added),
        air_spring=air is not None,
        on_ground=solution.ground.touches,
        merged=tuple(place + 1 for place in swinging.merged),
        truncation=swinging.truncation,
    )


def _prestress(solution: Solution) -> sp.csc_array:
    """Stiffness that the stresses of a solution add: those that slopes have stretched too where it deflects far."""
    model, x = solution.model, unknowns(solution)
    if solution.response.large:
        return sp.csc_array(model.large.tangent(x) - model.structure.matrix)
    return model.large.geometric(x)


def _in_air(found: Eigenpairs, air: Follower | None, solution: Solution, count: int) -> AirModes:
    """Modes with the stiffness of the air, or as they are when there is none."""
    if air is None:
        return AirModes(found.values, found.shapes, (), 0.0)
    n_dofs = solution.model.panel.space.n_dofs
    return with_air(found.values, found.shapes, air, solution.response.x, count, n_dofs=n_dofs)


def _air(solution: Solution) -> Follower:
    """Air of a load case as it follows the gap."""
    found = sag_follower(solution.model, solution.case)
    if found is None:
        raise DesignError(
            f"Load case '{solution.case.name}' has no air that follows the gap: give it a speed, and its pressure map "
            "a gap_exponent above zero, such as 1, or take the gap law."
        )
    return found


def sheet_mass(model: Model) -> SheetMass:
    """Mass of sheet and doublers; rotary inertia as of a homogeneous sheet, which is a small part anyway."""
    area = np.asarray(model.sheet.mass_per_area, dtype=float)
    thickness = float(model.sheet.base.thickness)
    return SheetMass(area, area * thickness**2 / 12.0, np.zeros_like(area))


def _added(model: Model, added: Sequence[tuple[float, float, float]]) -> sp.csc_array:
    n = model.structure.matrix.shape[0]
    total = sp.csc_array((n, n))
    for x, y, mass in added:
        if not mass > 0.0:
            raise DesignError(f"A mass of {mass:g} kg is added; give one above zero.")
        at = np.array([[x], [y]])
        element = model.locator.find(at, reach=CHORD_REACH)
        if element[0] < 0:
            raise DesignError(
                f"The mass of {mass:g} kg at x {1e3 * x:.0f}, y {1e3 * y:.0f} mm is off the panel; move it onto it."
            )
        rows = model.panel.displacement_rows(element, at)[0, :3]
        dofs = model.panel.space.dofs[element[0]]
        block = mass * rows.T @ rows
        pairs = (np.repeat(dofs, len(dofs)), np.tile(dofs, len(dofs)))
        total = total + sp.csc_array(sp.coo_array((block.ravel(), pairs), shape=(n, n)))
    return sp.csc_array(total)
