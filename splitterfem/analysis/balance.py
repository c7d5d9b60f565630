"""Solve the equilibrium of a load case: supports, ground, large deflection, air that follows the sag."""

from __future__ import annotations

from splitterfem.design import LoadCase
from splitterfem.fem.equilibrium import Balance
from splitterfem.model import CaseLoad, Model, SagFollower


def balance_of(model: Model, case: LoadCase, load: CaseLoad, follower: SagFollower | None) -> Balance:
    """Put together what a load case asks for.

    Parameters
    ----------
    model : Model
    case : LoadCase
        Settled, on the model that fits it.
    load : CaseLoad
        At rest.
    follower : SagFollower or None
        Air that follows the sag.
    """
    return Balance(
        model.structure,
        load.vector,
        large=model.large if case.large_deflection else None,
        follower=follower,
        obstacle=model.ground.obstacle(model, case) if case.ground else None,
    )
