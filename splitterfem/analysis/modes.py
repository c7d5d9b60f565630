"""Natural frequencies and shapes of a panel in its supports, and what may shake it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
import scipy.sparse as sp
from numpy.typing import NDArray

from splitterfem.analysis.fields import CHORD_REACH, Field
from splitterfem.analysis.linearised import held_stiffness, mode_shape, ribs_of, unknowns
from splitterfem.analysis.solution import solve
from splitterfem.design import LoadCase
from splitterfem.errors import DesignError
from splitterfem.fem.largedeflection import LargeDeflection
from splitterfem.fem.mass import SheetMass, mass_matrix
from splitterfem.fem.modes import vibration
from splitterfem.model import Model
from splitterfem.threads import one_blas_thread

Array = NDArray[np.float64]

AT_REST = LoadCase(name="own weight")
"""Load case that says which one-sided supports hold the panel when nothing else does."""

LOWEST = (2.0 * np.pi * 1.0) ** 2
"""Shift of the eigenvalues in 1/s2: that of 1 Hz, below anything that a held panel has."""

PITCHES = (0.5, 1.0)
"""Usual distances between the ridges of a rumble kerb in m (common practice, no source)."""

SUSPENSION = {"wheel hop": (10.0, 15.0), "car bounce": (4.0, 7.0)}
"""Frequencies of the suspension in Hz (usual figures from memory)."""


@dataclass(frozen=True)
class Modes:
    """Natural vibrations of a panel, lowest first.

    Attributes
    ----------
    frequencies : ndarray, shape (k,)
        In Hz.
    shapes : tuple of Field
        Deflection of each, positive down, the largest being 1.
    participation : ndarray, shape (k,)
        Share of the mass that each moves when the car goes up and down, 0 to 1.
    residual : float
        Largest miss of the eigenvalue equation, relative.
    case : str
        Load case whose supports act and, with `prestressed`, whose stresses stiffen.
    prestressed : bool
    """

    frequencies: Array
    shapes: tuple[Field, ...]
    participation: Array
    residual: float
    case: str
    prestressed: bool

    @property
    def table(self) -> pd.DataFrame:
        """Columns: mode, frequency_Hz, mass_share (moved by vertical shaking), x_mm and y_mm (largest motion)."""
        rows = []
        for number, (frequency, shape, share) in enumerate(
            zip(self.frequencies, self.shapes, self.participation, strict=True), start=1
        ):
            x, y = shape.highest()[1]
            row = {"mode": number, "frequency_Hz": frequency, "mass_share": share}
            rows.append(row | {"x_mm": 1e3 * x, "y_mm": 1e3 * y})
        return pd.DataFrame(rows)


@one_blas_thread()
def natural_modes(
    model: Model,
    count: int = 6,
    *,
    case: str | LoadCase | None = None,
    prestress: bool = False,
    added: Sequence[tuple[float, float, float]] = (),
) -> Modes:
    """Find the lowest natural frequencies of a panel and their shapes.

    Small vibrations about a load case: the supports that act in it act all the time, gaps stay open.  The mass is
    that of panel, doublers and ribs, rotary inertia included; that of struts and fixings is not.  The air neither
    springs nor damps here, and nothing is said of flutter.

    Parameters
    ----------
    model : Model
    count : int
        How many.
    case : str or LoadCase, optional
        About which; the panel under its own weight when left out.
    prestress : bool
        Whether the stresses of the case stiffen or soften the panel.
    added : sequence of (x, y, mass)
        Masses bolted to the panel: places in m and kg.

    Raises
    ------
    DesignError
        If a mass is off the panel or not above zero, or `count` is not at least one.
    SolveError
        If the modes do not converge.
    """
    if count < 1:
        raise DesignError(f"{count} natural frequencies were asked for; ask for at least one.")
    solution = solve(model, AT_REST if case is None else case)
    model, structure = solution.model, solution.model.structure
    stiffness, contributions = held_stiffness(solution), ribs_of(model)
    if prestress:
        stiffness = sp.csc_array(
            stiffness + LargeDeflection(structure, contributions).geometric(unknowns(solution))
        )
    mass = mass_matrix(model.panel, _sheet_mass(model), contributions, n_extra=structure.n_extra)
    mass = sp.csc_array(mass + _added(model, added))
    found = vibration(stiffness, mass, structure.free, count, shift=LOWEST)
    shapes = tuple(mode_shape(model, vector) for vector in found.shapes.T)
    vertical = np.zeros(mass.shape[0])
    vertical[2 : model.panel.space.n_dofs : 5] = 1.0
    moved = (found.shapes.T @ (mass @ vertical)) ** 2 / float(vertical @ (mass @ vertical))
    frequencies = np.sqrt(np.maximum(found.values, 0.0)) / (2.0 * np.pi)
    return Modes(frequencies, shapes, moved, found.residual, solution.case.name, prestress)


def excitations(speeds: Sequence[float]) -> pd.DataFrame:
    """List what may shake a splitter, beside which natural frequencies are to be read.

    Parameters
    ----------
    speeds : sequence of float
        In m/s, over rumble kerbs.

    Returns
    -------
    pandas.DataFrame
        Columns: what, from_Hz, to_Hz, basis.
    """
    rows = [
        {
            "what": f"rumble kerb at {3.6 * speed:.0f} km/h",
            "from_Hz": speed / PITCHES[1],
            "to_Hz": speed / PITCHES[0],
            "basis": f"ridges {PITCHES[0]:g} to {PITCHES[1]:g} m apart; common practice, no source",
        }
        for speed in speeds
    ]
    rows += [
        {"what": what, "from_Hz": low, "to_Hz": high, "basis": "usual figures, from memory"}
        for what, (low, high) in SUSPENSION.items()
    ]
    return pd.DataFrame(rows)


def _sheet_mass(model: Model) -> SheetMass:
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
