"""Solve the equilibrium of a load case: supports, ground, large deflection, air that follows the sag."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from splitterfem.design import LoadCase
from splitterfem.fem.equilibrium import Balance
from splitterfem.model import CaseLoad, Model

if TYPE_CHECKING:
    from splitterfem.model.feedback import SagFollower

Array = NDArray[np.float64]


def balance_of(
    model: Model, case: LoadCase, load: CaseLoad, *, follower: SagFollower | None = None
) -> Balance:
    """Put together what a load case asks for.

    Parameters
    ----------
    model : Model
    case : LoadCase
        Settled, on the model that fits it.
    load : CaseLoad
        At rest.
    follower : SagFollower, optional
        Air that follows the sag; that of the case when left out.

    Raises
    ------
    DesignError
        If the case asks for sag feedback and its pressure cannot follow.
    """
    if follower is None and case.sag_feedback:
        from splitterfem.model.feedback import sag_follower

        follower = sag_follower(model, case)
    return Balance(
        model.structure,
        load.vector,
        large=model.large if case.large_deflection else None,
        follower=follower if case.sag_feedback else None,
        obstacle=model.ground.obstacle(model, case) if case.ground else None,
    )
