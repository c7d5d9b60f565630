"""What is said of divergence speeds: two figures, why they differ, what comes first, what they are worth."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import pandas as pd

from splitterfem.aero.gap_steps import CHOKE_BLEND
from splitterfem.model.feedback_ratio import CHOKED
from splitterfem.units import say_as

if TYPE_CHECKING:
    from splitterfem.analysis.divergence import Divergence

System = Literal["metric", "us"]

GOOD, BORDER = 0.25, 0.33
"""Dynamic pressure over that at divergence up to which all is well, and from which it is too much (judgement)."""

ALIKE = 0.02
"""Difference of two speeds, over them, that needs no explanation."""

FLUTTER = (
    "FLUTTER IS NOT JUDGED: this is static divergence, without the panel's mass and without the air's damping and "
    "delay. A panel that is well below it may still shake."
)
"""What is said with every divergence speed."""

LINEAR, NONLINEAR, TOUCH = "linear divergence", "divergence as it sags", "first ground touch"
"""Names of the rows of the table."""


def explanation(found: Divergence, system: System = "metric") -> tuple[str, ...]:
    """Say what was found, why the two figures differ, what comes first, and what is not judged.

    Parameters
    ----------
    found : Divergence
    system : {"metric", "us"}
        Units.
    """
    said = [_linear(found, system), _nonlinear(found, system)]
    said += [
        sentence for sentence in (_differs(found), _first(found, system), _advice(found, system)) if sentence
    ]
    if found.swings:
        said.append(
            "A swinging shape is given back more than the one that diverges: that is no static divergence, but flutter "
            "can begin so."
        )
    return (*said, *found.remarks, FLUTTER)


def table(found: Divergence) -> pd.DataFrame:
    """One row for each speed: what, speed_kmh, meaning."""
    top = say_as(found.up_to, "speed")
    meanings = {
        LINEAR: (
            found.linear,
            "small sag about the panel without sag" if found.linear else "none: a sag takes load away",
        ),
        NONLINEAR: (
            found.limit,
            "last equilibrium as gap and suction change" if found.limit else f"none up to {top}",
        ),
        TOUCH: (found.touch.speed if found.touch.outcome == "touches" else None, found.touch.sentence),
    }
    rows = [
        {"what": what, "speed_kmh": float("nan") if speed is None else 3.6 * speed, "meaning": meaning}
        for what, (speed, meaning) in meanings.items()
    ]
    return pd.DataFrame(rows)


def _speed(value: float, system: System) -> str:
    return say_as(value, "speed", system=system)


def _linear(found: Divergence, system: System) -> str:
    if found.linear is None:
        return (
            "About the panel without sag a sag takes load away or changes none, so that there is no linear divergence "
            "speed: the air stiffens the panel."
        )
    said = (
        f"About the panel without sag, with the supports that act in '{found.case}', the air overcomes the panel at "
        f"{_speed(found.linear, system)} (linear)."
    )
    if not found.speed:
        return said
    own = _speed(found.speed, system)
    if found.factor >= 1.0:
        return f"{said} The case's own {own} is beyond that."
    return (
        f"{said} At the case's own {own} it gives back {100.0 * found.factor:.3g} % of a sag, which makes it about "
        f"{found.amplification:.3g} times as large."
    )


def _nonlinear(found: Divergence, system: System) -> str:
    if found.limit is None:
        return f"Followed as the panel sags, there is an equilibrium up to {_speed(found.up_to, system)} (nonlinear)."
    return (
        f"Followed as the panel sags, the last equilibrium is at {_speed(found.limit, system)} (nonlinear)."
    )


def _differs(found: Divergence) -> str:
    """Say why the two figures differ; nothing when they do not."""
    linear, limit = found.linear, found.limit
    if limit is not None and (linear is None or limit < (1.0 - ALIKE) * linear):
        return (
            "The nonlinear figure is the lower one: weight and suction narrow the gap, and suction grows more than in "
            "proportion in what is left of it."
        )
    higher = (limit is not None and linear is not None and limit > (1.0 + ALIKE) * linear) or (
        limit is None and linear is not None and linear <= found.up_to
    )
    if not higher:
        return ""
    choked = 1e-3 * float(found.path["min_clearance_mm"].iloc[-1]) < CHOKED + CHOKE_BLEND
    reasons = [
        *(["slopes stretch the panel, which stiffens it"] if found.large else []),
        *(["the flow chokes where the gap is small, so that suction stops growing"] if choked else []),
    ]
    why = ", and ".join(reasons) or "suction grows less, or other supports come to act, as the panel sags"
    return f"The nonlinear figure is the higher one: {why}."


def _first(found: Divergence, system: System) -> str:
    """Say whether the ground comes first."""
    touch = found.touch
    if touch.outcome == "lost":
        return f"The ground does not come first: {touch.left(system)} then, and the panel goes down at once."
    if touch.outcome in ("touches", "at rest"):
        speeds = [speed for speed in (found.linear, found.limit) if speed is not None]
        if touch.outcome == "touches" and speeds and touch.speed is not None and min(speeds) < touch.speed:
            return f"{touch.said(system)} The linear figure comes before that."
        later = "From there on the ground carries part of it, and the figures above are not reached."
        return f"{touch.said(system)} {later}"
    return touch.said(system)


def _advice(found: Divergence, system: System) -> str:
    if found.share is None or not found.speed:
        return ""
    said = (
        f"At {_speed(found.speed, system)} the dynamic pressure is {found.share:.2f} of that at the lower divergence "
        f"speed; keep it below {GOOD:.2f} to {BORDER:.2f} (judgement)"
    )
    if found.share > BORDER:
        return f"TOO NEAR TO DIVERGENCE: {said[0].lower()}{said[1:]}."
    return f"{said}, {'which it is' if found.share <= GOOD else 'of which it is at the end'}."
