"""What a design asks besides its load cases, answered: natural frequencies, buckling factors, sweeps over speed."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from splitterfem.analysis.buckling import Buckling, buckling_factors
from splitterfem.analysis.modes import Modes, natural_modes
from splitterfem.analysis.overspeed import sweep_asked
from splitterfem.analysis.solution import Solution
from splitterfem.analysis.sweep import Judge, Sweep
from splitterfem.design import AddedMass, Splitter, Vibration
from splitterfem.design.combine import settled
from splitterfem.model import Model

Placed = tuple[float, float, float]
"""Place x, y in m and mass in kg."""


@dataclass(frozen=True, eq=False)
class Behaviour:
    """Answers to what a design asks.

    Attributes
    ----------
    modes : Modes or None
        Natural vibrations.
    buckling : tuple of Buckling
        One for each load case.
    sweeps : tuple of Sweep
        Over speed.
    """

    modes: Modes | None = None
    buckling: tuple[Buckling, ...] = ()
    sweeps: tuple[Sweep, ...] = ()

    def __bool__(self) -> bool:
        """Tell whether there is anything."""
        return self.modes is not None or bool(self.buckling or self.sweeps)


def asks(splitter: Splitter) -> bool:
    """Tell whether a design asks for anything besides its load cases."""
    return splitter.vibration is not None or bool(splitter.buckling or splitter.sweeps)


def behaviour(
    model: Model,
    cases: Collection[str] | None = None,
    *,
    judge: Judge | None = None,
    solved: Sequence[Solution] = (),
) -> Behaviour:
    """Answer what a design asks besides its load cases.

    Parameters
    ----------
    model : Model
    cases : collection of str, optional
        Only what is about these load cases, and natural frequencies about none; everything when left out.
    judge : callable, optional
        Gives the worst utilisation of a solution, for sweeps over speed.
    solved : sequence of Solution
        Load cases of the model that are solved already, so that none of them is solved again for its buckling factors.

    Raises
    ------
    DesignError
        As :func:`splitterfem.analysis.modes.natural_modes` and
        :func:`splitterfem.analysis.buckling.buckling_factors`.
    SolveError
        If modes or shapes do not converge.
    """
    design = model.design
    wanted = design.vibration
    if wanted is not None and not (wanted.case is None or cases is None or wanted.case in cases):
        wanted = None
    return Behaviour(
        None if wanted is None else modes_of(model, wanted),
        tuple(
            buckling_factors(model, _known(model, name, solved))
            for name in design.buckling
            if cases is None or name in cases
        ),
        tuple(
            sweep_asked(model, asked, judge)
            for asked in design.sweeps
            if cases is None or asked.case in cases
        ),
    )


def _known(model: Model, name: str, solved: Sequence[Solution]) -> str | Solution:
    """Return the linear solution of a load case as the design has it, or its name where there is none."""
    case = settled(model.design.case(name), model.design)
    for solution in solved:
        as_asked = not solution.response.large and (solution.follower is not None) == case.sag_feedback
        if solution.case == case and solution.model.design is model.design and as_asked:
            return solution
    return name


def modes_of(model: Model, wanted: Vibration) -> Modes:
    """Find the natural frequencies that a record asks for."""
    return natural_modes(
        model,
        wanted.modes,
        case=wanted.case,
        prestress=wanted.prestress,
        air_spring=wanted.air_spring,
        added=[placed(mass) for mass in wanted.added],
    )


def placed(mass: AddedMass) -> Placed:
    """Place and size of an added mass as plain numbers."""
    return float(mass.at[0]), float(mass.at[1]), float(mass.mass)
