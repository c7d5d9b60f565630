"""The speed at which the air overcomes a panel: static divergence, about the unsagged panel and as it sags."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from splitterfem.analysis import divergence_words
from splitterfem.analysis.atspeed import ANY_SPEED, USUAL_TOP, AtSpeed
from splitterfem.analysis.fields import Field, sag_field
from splitterfem.analysis.linearised import mode_shape
from splitterfem.analysis.touch import TouchSpeed, follow, top_speed, touch_of
from splitterfem.design import LoadCase
from splitterfem.errors import DesignError
from splitterfem.fem.branch import Branch
from splitterfem.fem.divergence import Feedback, feedback
from splitterfem.model import Model
from splitterfem.threads import one_blas_thread

Array = NDArray[np.float64]

BEYOND = 2.5
"""Times the case's own speed up to which is looked at least: divergence beyond it does not matter (judgement)."""

ROUNDS, SETTLED = 6, 1e-6
"""Most rounds of the search for the linear divergence speed, and the feedback factor's distance from one at its end."""

START = 0.1
"""Share of the dynamic pressure of linear divergence, or of the highest speed, with which the search begins."""


@dataclass(frozen=True, eq=False)
class Divergence:
    """Speeds at which suction grows as fast with the sag as the panel resists it.

    Attributes
    ----------
    model : Model
    case : str
        Load case.
    speed : float
        Of the car in the case in m/s; zero when it has none.
    factor : float
        Share of a sag that the air gives back at the case's own speed, about the panel without sag: the sag becomes
        about ``1 / (1 - factor)`` times as large.
    linear : float or None
        Divergence speed in m/s about the panel without sag; None where its sag takes load away.
    shape : Field or None
        How the panel bows then, positive down, the largest value being 1.
    swings : bool
        Whether a swinging shape is given back more than that one: no static divergence, but nothing good either.
    limit : float or None
        Speed in m/s of the last equilibrium as the panel sags; None when there is one up to `up_to`.
    up_to : float
        Speed in m/s up to which equilibria were followed.
    touch : TouchSpeed
        Where the panel touches the ground on the way.
    path : pandas.DataFrame
        Equilibria that were found: speed_kmh, feedback_factor (of the sagged panel), max_sag_mm, min_clearance_mm
        (negative below ground, which is not there).
    large : bool
        Whether slopes stretch the panel.
    share : float or None
        Dynamic pressure of the case over that of the lower of the two divergence speeds; None without either.
    remarks : tuple of str
        What does not follow the sag, and how the boundary layer of the gap law was taken.
    """

    model: Model
    case: str
    speed: float
    factor: float
    linear: float | None
    shape: Field | None
    swings: bool
    limit: float | None
    up_to: float
    touch: TouchSpeed
    path: pd.DataFrame
    large: bool
    share: float | None
    remarks: tuple[str, ...] = ()

    @property
    def lowest(self) -> float | None:
        """Lower of the two divergence speeds in m/s."""
        return min((speed for speed in (self.linear, self.limit) if speed is not None), default=None)

    @property
    def amplification(self) -> float:
        """Sag over that at rest at the case's own speed, by the linear feedback factor; infinite beyond divergence."""
        return 1.0 / (1.0 - self.factor) if self.factor < 1.0 else float("inf")

    @property
    def explanation(self) -> tuple[str, ...]:
        """What was found, why the two figures differ, what comes first, and what is not judged, in sentences."""
        return self.said()

    def said(self, system: Literal["metric", "us"] = "metric") -> tuple[str, ...]:
        """Return the explanation in the units of a system."""
        return divergence_words.explanation(self, system)

    @property
    def table(self) -> pd.DataFrame:
        """One row for each speed: what, speed_kmh (nan where there is none), meaning."""
        return divergence_words.table(self)

    def __repr__(self) -> str:
        """Write splitter, load case and speeds on one line."""
        linear, limit = (
            "none" if speed is None else f"{3.6 * speed:.0f} km/h" for speed in (self.linear, self.limit)
        )
        return (
            f"Divergence of '{self.model.design.name}' in '{self.case}': linear {linear}, as it sags {limit} "
            f"(up to {3.6 * self.up_to:.0f} km/h)"
        )


@one_blas_thread()
def divergence_speed(
    model: Model, case: str | LoadCase, *, up_to: float | None = None, large_deflection: bool | None = None
) -> Divergence:
    """Find the speed at which the air overcomes the panel.

    Twice: about the panel without sag, where it is an eigenvalue (linear); and by following the equilibria as the
    panel sags, with gap and suction changing, to the last one there is (a limit point).  There is no ground in either,
    and the pressure follows the sag, whatever the case says of them.

    Parameters
    ----------
    model : Model
    case : str or LoadCase
        Whose pressure follows the gap: by the gap law, or by the ``gap_exponent`` of a measured map.
    up_to : float, optional
        Speed in m/s up to which equilibria are followed: 400 km/h, or 2.5 times the speed of the case if that is more.
    large_deflection : bool, optional
        In place of what the case says.

    Raises
    ------
    DesignError
        If the case is unknown, its pressure does not follow the gap or belongs to no speed, or `up_to` is not above
        zero.
    MechanismError
        If the supports do not hold the panel.
    SolveError
        If an eigenvalue does not converge, or there is no equilibrium even at low speed.
    """
    at = AtSpeed(model, case, large_deflection=large_deflection, sag_feedback=False)
    return divergence_of(at, up_to=up_to)


def divergence_of(at: AtSpeed, *, up_to: float | None = None) -> Divergence:
    """Find the divergence speed of a case whose loads at some speeds may be assembled already."""
    highest = max(USUAL_TOP, BEYOND * at.speed) if up_to is None else top_speed(up_to)
    if not follows_gap(at):
        raise DesignError(
            f"Load case '{at.case.name}' has no air that follows the gap: give its pressure map a gap_exponent above "
            "zero, such as 1, or take the gap law."
        )
    linear, own, back = _linear(at, highest)
    aim = highest if linear is None else min(linear, highest)
    branch = follow(at, START * aim**2, highest, feedback=True)
    limit = None if branch.lost is None else float(np.sqrt(branch.lost))
    lowest = min((speed for speed in (linear, limit) if speed is not None), default=None)
    return Divergence(
        model=at.model,
        case=at.case.name,
        speed=at.speed,
        factor=own,
        linear=linear,
        shape=None if back.shape is None else mode_shape(at.model, back.shape),
        swings=back.swinging > 0.0,
        limit=limit,
        up_to=highest,
        touch=touch_of(at, branch, highest, feedback=True),
        path=_path(at, branch),
        large=at.case.large_deflection,
        share=None if lowest is None else (at.air_speed(at.speed) / at.air_speed(lowest)) ** 2,
        remarks=_remarks(at, linear, highest),
    )


def follows_gap(at: AtSpeed) -> bool:
    """Whether the air of a case follows the gap, or would if the case asked for it."""
    return at.follower_at(at.speed or ANY_SPEED) is not None


def _linear(at: AtSpeed, highest: float) -> tuple[float | None, float, Feedback]:
    """Divergence speed about the panel without sag, feedback factor at the case's own speed, and what is given back.

    The factor goes with the square of the air's speed but for the boundary layer of the gap law, so that its root is
    searched for as a straight line through the last two speeds.
    """
    side = _acting(at)
    speed = at.speed or ANY_SPEED
    back = _feedback_at(at, speed, side)
    own = back.factor if at.speed else 0.0
    if back.factor == 0.0:
        return None, own, back
    root, last = float(np.sqrt(back.factor)), (0.0, 0.0)
    for _ in range(ROUNDS):
        if abs(root - 1.0) <= SETTLED:
            break
        foreseen = speed + (1.0 - root) * (speed - last[0]) / (root - last[1])
        nearer = min(foreseen, highest) if foreseen > 0.0 else 0.5 * speed
        if nearer == speed:
            # beyond the highest speed the boundary layer is taken as there
            return foreseen, own, back
        last, speed = (speed, root), nearer
        back = _feedback_at(at, speed, side)
        if back.factor == 0.0:
            return None, own, back
        root = float(np.sqrt(back.factor))
    return speed, own, back


def _acting(at: AtSpeed) -> NDArray[np.int64]:
    """Supports that act in the case with the pressure as at rest and without ground, shape (m,)."""
    structure = at.model.structure
    speed = at.speed or ANY_SPEED
    response = at.balance_at(speed, feedback=False, ground=False, large=False).solve()
    side = np.zeros(structure.base.rows.shape[0], dtype=np.int64)
    side[structure.acting_rows] = response.side
    return side


def _feedback_at(at: AtSpeed, speed: float, side: NDArray[np.int64]) -> Feedback:
    follower = at.follower_at(speed)
    assert follower is not None
    structure = at.model.structure
    n = structure.panel.space.n_dofs
    by_panel = follower.slope(np.zeros(n))
    return feedback(structure.base, side, lambda step: structure.with_extra(by_panel(step[:n])))


def _path(at: AtSpeed, branch: Branch) -> pd.DataFrame:
    n = at.model.panel.space.n_dofs
    rows = [
        {
            "speed_kmh": 3.6 * float(np.sqrt(point.load)),
            "feedback_factor": point.feedback.factor,
            "max_sag_mm": 1e3 * sag_field(at.model, point.x[:n]).highest()[0],
            "min_clearance_mm": 1e3 * point.watched,
        }
        for point in branch.points
    ]
    return pd.DataFrame(rows)


def _remarks(at: AtSpeed, linear: float | None, highest: float) -> tuple[str, ...]:
    follower = at.follower_at(at.speed or ANY_SPEED)
    assert follower is not None
    found = list(follower.remarks)
    if follower.laws:
        beyond = linear is not None and linear > highest
        which = "no thinner than at the highest looked at" if beyond else "the divergence speed included"
        found.append(f"The boundary layer of the gap law is that of each speed, {which}.")
    return tuple(found)
