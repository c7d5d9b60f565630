"""A sweep over speed together with what lies beyond it: first ground touch and divergence."""

from __future__ import annotations

from collections.abc import Iterable

from splitterfem.analysis.atspeed import USUAL_TOP, AtSpeed
from splitterfem.analysis.divergence import BEYOND, Divergence, divergence_of, follows_gap
from splitterfem.analysis.sweep import Judge, Sweep, sweep_of
from splitterfem.analysis.touch import TouchSpeed, touch_speed_of
from splitterfem.design import SpeedSweep
from splitterfem.errors import MechanismError, SolveError
from splitterfem.model import Model
from splitterfem.threads import one_blas_thread


@one_blas_thread()
def over_speed(
    at: AtSpeed, speeds: Iterable[float], *, judge: Judge | None = None, limits: bool = True
) -> Sweep:
    """Solve a case at several speeds, and find where it touches the ground and diverges.

    A limit that cannot be found leaves a sentence in the notes of the sweep, which stays as it is.

    Parameters
    ----------
    at : AtSpeed
        The case.
    speeds : iterable of float
        In m/s.
    judge : callable, optional
        Given each solution, returns its worst utilisation.
    limits : bool
        Whether to look for the limits: up to 400 km/h, 2.5 times the speed of the case, or the fastest of the speeds,
        whichever is most.

    Raises
    ------
    DesignError
        See :func:`splitterfem.analysis.sweep.speed_sweep`.
    """
    wanted = list(speeds)
    swept = sweep_of(at, wanted, judge=judge)
    if not limits:
        return swept
    highest = max(USUAL_TOP, BEYOND * at.speed, *wanted)
    touch: TouchSpeed | None = None
    divergence: Divergence | None = None
    missing: list[str] = []
    try:
        if follows_gap(at):
            divergence = divergence_of(at, up_to=highest)
    except (MechanismError, SolveError) as problem:
        missing.append(f"The divergence speed was not found: {problem}")
    try:
        # that of the divergence is with pressure that follows the sag
        known = divergence is not None and at.follows
        touch = divergence.touch if divergence is not None and known else touch_speed_of(at, up_to=highest)
    except (MechanismError, SolveError) as problem:
        missing.append(f"The speed of the first ground touch was not found: {problem}")
    return swept.with_limits(touch, divergence, tuple(missing))


def sweep_asked(model: Model, asked: SpeedSweep, judge: Judge | None = None) -> Sweep:
    """Do a sweep that a record asks for."""
    return over_speed(AtSpeed(model, asked.case), asked.speeds, judge=judge, limits=asked.divergence)
