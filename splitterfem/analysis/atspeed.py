"""A load case at other speeds of the car: its load, its air that follows the sag, its equilibria."""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from splitterfem.analysis.balance import balance_of
from splitterfem.analysis.clearance import Clearance, free_gap
from splitterfem.analysis.fields import sag_field
from splitterfem.design import LoadCase
from splitterfem.design.combine import settled
from splitterfem.errors import DesignError
from splitterfem.fem.equilibrium import Balance
from splitterfem.model import CaseLoad, Model, SagFollower, case_load, sag_follower
from splitterfem.model.loads import acting

Array = NDArray[np.float64]

USUAL_TOP = 400.0 / 3.6
"""Speed in m/s up to which is looked when nothing else is said."""

ANY_SPEED = 50.0
"""Speed in m/s in place of that of a case that has none."""


class AtSpeed:
    """A load case whose car goes faster or slower: everything else of it stays.

    The speeds of cases that it combines go in proportion.  Loads are assembled once for each speed.

    Parameters
    ----------
    model : Model
    case : str or LoadCase
    large_deflection, sag_feedback : bool, optional
        In place of what the case says.

    Attributes
    ----------
    model : Model
        With the joints lost that the case says are lost.
    case : LoadCase
        Settled, at its own speed.
    speed : float
        Its own speed in m/s, the highest of those that it combines; zero when it has none.

    Raises
    ------
    DesignError
        If the case is unknown, or its pressures do not follow the speed.
    """

    def __init__(
        self,
        model: Model,
        case: str | LoadCase,
        *,
        large_deflection: bool | None = None,
        sag_feedback: bool | None = None,
    ) -> None:
        chosen = settled(model.design.case(case) if isinstance(case, str) else case, model.design)
        asked = {"large_deflection": large_deflection, "sag_feedback": sag_feedback}
        if changes := {name: value for name, value in asked.items() if value is not None}:
            chosen = chosen.with_(**changes)
        self.model, self.case = model.for_case(chosen), chosen
        self._parts = [part for part, _ in acting(model.design, chosen) if part.pressure is not None]
        _check(chosen, self._parts)
        self.speed = max(float(part.speed) for part in (chosen, *self._parts))
        self._loads: dict[float, CaseLoad] = {}

    def case_at(self, speed: float) -> LoadCase:
        """Return the case with the car at a speed in m/s."""
        return self.case.with_(speed=self._share(float(self.case.speed), speed))

    def model_at(self, speed: float) -> Model:
        """Return the model with the cases that are combined at their share of a speed in m/s."""
        names = {part.case for part in self.case.combines}
        if not names:
            return self.model
        design = self.model.design
        cases = [
            case.with_(speed=self._share(float(case.speed), speed)) if case.name in names else case
            for case in design.cases
        ]
        return replace(self.model, design=design.with_(cases=cases))

    def load_at(self, speed: float) -> CaseLoad:
        """Return the load at rest with the car at a speed in m/s.

        Raises
        ------
        DesignError
            If a pressure map cannot be used at it.
        """
        if speed not in self._loads:
            self._loads[speed] = case_load(self.model_at(speed), self.case_at(speed))
        return self._loads[speed]

    def follower_at(self, speed: float) -> SagFollower | None:
        """Return the air that follows the sag with the car at a speed in m/s; None when none does.

        Raises
        ------
        DesignError
            If the gap law cannot be used at it.
        """
        return None if self._follower is None else self._follower.at_speed(speed)

    @cached_property
    def _follower(self) -> SagFollower | None:
        speed = self.speed or ANY_SPEED
        return sag_follower(self.model_at(speed), self.case_at(speed))

    @property
    def follows(self) -> bool:
        """Whether the pressure follows the sag in the case."""
        return self.case.sag_feedback

    def balance_at(self, speed: float, *, feedback: bool, ground: bool, large: bool | None = None) -> Balance:
        """Put together the problem with the car at a speed in m/s.

        Parameters
        ----------
        speed : float
        feedback, ground : bool
            Whether the pressure follows the sag, and whether there is ground.
        large : bool, optional
            Whether slopes stretch the panel; as the case says when left out.
        """
        wanted = self.case.large_deflection if large is None else large
        case = self.case_at(speed).with_(ground=ground, large_deflection=wanted)
        return balance_of(
            self.model, case, self.load_at(speed), self.follower_at(speed) if feedback else None
        )

    def gap(self, x: Array) -> Clearance:
        """Gap to the ground with unknowns (n,) of a panel that no ground stops: negative below it."""
        panel = x[: self.model.panel.space.n_dofs]
        return free_gap(self.model, self.case, panel, sag_field(self.model, panel))

    def air_speed(self, speed: float) -> float:
        """Speed of the air in m/s with the car at a speed in m/s, that of the case itself or of the part that leads."""
        fastest = max((self.case, *self._parts), key=lambda part: float(part.speed))
        return speed + float(fastest.head_wind)

    def slowest(self, highest: float) -> float:
        """Speed in m/s that is next to nothing, or next to no wind where it blows from behind."""
        behind = [
            -float(part.head_wind) * (self.speed / float(part.speed) if self.speed and part.speed else 1.0)
            for part in self._parts
        ]
        return 1e-3 * highest + max(0.0, *behind)

    def _share(self, own: float, speed: float) -> float:
        return own * speed / self.speed if self.speed > 0.0 else speed


def _check(case: LoadCase, parts: list[LoadCase]) -> None:
    if not parts:
        raise DesignError(
            f"Load case '{case.name}' has no pressure map, so that nothing in it changes with the speed: give it one."
        )
    for part in parts:
        if part.pressure is not None and not part.pressure.by_speed:
            raise DesignError(
                f"The pressures of load case '{part.name}' belong to no speed: give its pressure map coefficients "
                "(cp), or the reference_speed at which they were measured."
            )
