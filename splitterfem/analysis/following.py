"""Which load cases have pressure that can follow the sag."""

from __future__ import annotations

from splitterfem.design import LoadCase
from splitterfem.design.combine import settled
from splitterfem.model import Model, sag_follower


def can_follow(model: Model, case: str | LoadCase) -> bool:
    """Tell whether the pressure of a load case can follow the sag: by the gap law, or by a map with a gap_exponent.

    Parameters
    ----------
    model : Model
    case : str or LoadCase
        A load case of the design by its name, or one of your own.

    Raises
    ------
    DesignError
        If the case is unknown, or its pressure map cannot be used.
    FileError
        If the file of a map cannot be read.
    """
    chosen = settled(model.design.case(case) if isinstance(case, str) else case, model.design)
    # a case that asks for it would raise where it cannot
    return sag_follower(model, chosen.with_(sag_feedback=False)) is not None
