"""A solved load case: sag, clearance, forces, mass and air."""

from __future__ import annotations

import time
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Self

import numpy as np
from numpy.typing import ArrayLike, NDArray

from splitterfem.analysis import fields
from splitterfem.analysis.balance import balance_of
from splitterfem.analysis.car import CarForces, car_forces
from splitterfem.analysis.clearance import Clearance, clearance
from splitterfem.analysis.groundcontact import GroundContact, ground_contact
from splitterfem.analysis.linear_range import LinearRange, linear_range
from splitterfem.analysis.mass import MassProperties, mass_properties
from splitterfem.design import LoadCase
from splitterfem.design.combine import settled
from splitterfem.errors import DesignError
from splitterfem.fem.response import Response
from splitterfem.model import CaseLoad, Model, SagFollower, case_load, following, sag_follower
from splitterfem.threads import one_blas_thread

if TYPE_CHECKING:
    import pandas as pd

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Solution:
    """Equilibrium of a splitter under one load case.

    Attributes
    ----------
    model : Model
    case : LoadCase
    load : CaseLoad
        Load vector and its parts.
    response : Response
        Unknowns, support forces and the checks of the solution.
    seconds : dict of str to float
        Time of loading and solving; the model has its own.
    follower : SagFollower or None
        Air that follows the sag, when it does.
    """

    model: Model
    case: LoadCase
    load: CaseLoad
    response: Response
    seconds: dict[str, float] = field(default_factory=dict, compare=False)
    follower: SagFollower | None = field(default=None, compare=False, repr=False)

    @property
    def status(self) -> str:
        """One line: how well the answer fulfils its equations."""
        r = self.response
        newton = "" if r.newton is None else f", {r.newton.iterations} Newton steps"
        return (
            f"solved: residual {r.residual:.0e}, equilibrium {r.imbalance:.0e}, supports {r.play_residual:.0e} "
            f"in {r.steps} step{'s' if r.steps > 1 else ''}{newton}"
        )

    @property
    def residual(self) -> float:
        """Out-of-balance nodal forces relative to the load."""
        return self.response.residual

    @property
    def equilibrium(self) -> float:
        """Largest of the six sums of loads and reactions, relative to the load."""
        return self.response.imbalance

    @cached_property
    def sag(self) -> fields.Field:
        """Sag over the panel in m, positive down."""
        return fields.sag_field(self.model, self.response.x)

    @property
    def max_sag(self) -> float:
        """Largest sag in m, positive down."""
        return self.sag.highest()[0]

    @property
    def max_sag_at(self) -> tuple[float, float]:
        """Place (x, y) of the largest sag in m."""
        return self.sag.highest()[1]

    def sag_at(self, x: ArrayLike, y: ArrayLike) -> Array:
        """Sag at points.

        Parameters
        ----------
        x, y : array_like
            In m; broadcast against each other.

        Returns
        -------
        ndarray
            In m, positive down, of the broadcast shape; nan off the panel.
        """
        X, Y = np.broadcast_arrays(np.asarray(x, dtype=float), np.asarray(y, dtype=float))
        found = fields.displacements_at(self.model, self.response.x, np.vstack([X.ravel(), Y.ravel()]))
        return np.asarray(-found[:, 2].reshape(X.shape))

    @cached_property
    def clearance(self) -> Clearance:
        """Gap to the ground under the panel and under ribs on its lower face.

        Raises
        ------
        DesignError
            If the design has no car, so no ride height is known.
        """
        return clearance(self.model, self.case, self.response, self.sag)

    @property
    def min_clearance(self) -> float:
        """Smallest gap to the ground in m: ride height less sag, ribs below the panel included."""
        return self.clearance.least

    @property
    def min_clearance_at(self) -> tuple[float, float]:
        """Place (x, y) of the smallest gap in m."""
        return self.clearance.at

    @cached_property
    def ground(self) -> GroundContact:
        """What of the panel lies on the ground, and how hard."""
        return ground_contact(self.model, self.response)

    @cached_property
    def linear_range(self) -> LinearRange | None:
        """How far a linear solution can be trusted; None for one with large deflection."""
        return None if self.response.large else linear_range(self.model, self.response)

    @cached_property
    def at_rest(self) -> Self | None:
        """The same load case with pressure that does not follow the sag; None when it does not anyway."""
        if self.follower is None:
            return None
        case = self.case.with_(sag_feedback=False)
        load = case_load(self.model, case)
        near = np.concatenate([self.response.x, self.response.extra])
        response = balance_of(self.model, case, load, None).solve(start=near)
        return type(self)(self.model, case, load, response, {"solve": response.seconds})

    @cached_property
    def supports(self) -> pd.DataFrame:
        """Force of every support on the panel; units in the column names."""
        from splitterfem.analysis.tables import support_table

        return support_table(self.model, self.response)

    @cached_property
    def contacts(self) -> pd.DataFrame:
        """What touches: lips of rear pockets, stops, tension-only struts, the ground."""
        from splitterfem.analysis.tables import contact_table

        return contact_table(self.model, self.response)

    @cached_property
    def ribs(self) -> pd.DataFrame:
        """Length, mass and largest forces of every rib; units in the column names."""
        from splitterfem.analysis.tables import rib_table

        return rib_table(self.model, self.response)

    @cached_property
    def joints(self) -> pd.DataFrame:
        """Largest shear flow and slip of the joint of every rib; units in the column names."""
        from splitterfem.analysis.jointforces import joint_table

        return joint_table(self.model, self.response)

    @cached_property
    def mass_properties(self) -> MassProperties:
        """Mass and centre of gravity of panel and ribs."""
        return mass_properties(self.model)

    @property
    def mass(self) -> float:
        """Mass of panel and ribs in kg, without struts and fixings."""
        return self.mass_properties.mass

    @property
    def centre_of_gravity(self) -> tuple[float, float, float]:
        """Of panel and ribs (x, y, z) in m; z from the panel's mid-surface."""
        return self.mass_properties.centre

    @cached_property
    def car(self) -> CarForces:
        """What the car feels of the air on panel and tunnels: downforce, its centre and band, drag, axle loads."""
        return car_forces(self.model.design, self.case, self.load)

    @property
    def downforce(self) -> float:
        """Net air force on panel and tunnels in N, positive down; zero without a pressure map."""
        return self.car.downforce

    @property
    def centre_of_pressure(self) -> tuple[float, float]:
        """Where the downforce acts (x, y) in m; nan without one."""
        return self.car.centre


@one_blas_thread()
def solve(
    model: Model,
    case: str | LoadCase,
    *,
    large_deflection: bool | None = None,
    sag_feedback: bool | None = None,
) -> Solution:
    """Solve a model for a load case.

    Parameters
    ----------
    model : Model
    case : str or LoadCase
        A load case of the design by its name, or one of your own.  Where it says that joints of ribs are lost, the
        solution has a model of its own.
    large_deflection, sag_feedback : bool, optional
        In place of what the case says.

    Raises
    ------
    DesignError
        If the name is unknown, a load is off the panel, or the case loses the joint of a rib that there is not.
    MechanismError
        If the supports do not hold the panel under this load.
    SolveError
        If the answer fails its own checks.
    """
    chosen = settled(model.design.case(case) if isinstance(case, str) else case, model.design)
    asked = {"large_deflection": large_deflection, "sag_feedback": sag_feedback}
    if changes := {name: value for name, value in asked.items() if value is not None}:
        chosen = chosen.with_(**changes)
    fitting = model.for_case(chosen)
    start = time.perf_counter()
    load = case_load(fitting, chosen)
    return solve_load(fitting, chosen, load, seconds={"load": time.perf_counter() - start})


def solve_load(
    model: Model, case: LoadCase, load: CaseLoad, *, seconds: dict[str, float] | None = None
) -> Solution:
    """Solve a model, as it is, for a load that is already assembled.

    Parameters
    ----------
    model : Model
    case : LoadCase
        To which the load belongs.
    load : CaseLoad
    seconds : dict of str to float, optional
        Time that the loading took.

    Raises
    ------
    DesignError
        If there is no load.
    MechanismError
        If the supports do not hold the panel under this load.
    SolveError
        If the answer fails its own checks.
    """
    if not np.any(load.vector):
        raise DesignError(
            f"Load case '{case.name}' loads nothing: give it a speed and a pressure map, a force, or gravity."
        )
    start = time.perf_counter()
    follower = sag_follower(model, case) if case.sag_feedback else None
    response = balance_of(model, case, load, follower).solve()
    spent = {**(seconds or {}), "solve": time.perf_counter() - start}
    return solution_of(model, case, load, response, follower=follower, seconds=spent)


def solution_of(
    model: Model,
    case: LoadCase,
    load: CaseLoad,
    response: Response,
    *,
    follower: SagFollower | None = None,
    seconds: dict[str, float] | None = None,
) -> Solution:
    """Put a solution together; the load at rest gets what follows the sag."""
    if follower is not None and response.added is not None:
        load = following(model, load, response.added, follower.notes(response.x))
    return Solution(model, case, load, response, seconds or {}, follower)
