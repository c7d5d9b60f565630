"""What was found of the next rib, as a line, a table and sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

if TYPE_CHECKING:
    from splitterfem.analysis.gain import RibGain
    from splitterfem.analysis.measures import Measure

FIRST_ORDER = (
    "The gain is that of the first small share of the rib's stiffness, taken for the whole: it ranks places and "
    "directions. A whole rib helps less, often many times less, because it takes its own bend away; that is estimated "
    "for the best places, and the figures with the rib tried are those of a new solution with the rib there."
)
"""What a gain is worth."""


def amount(value: float, measure: Measure, form: str = "") -> str:
    """Write an amount of a measure with its unit; a ratio has none."""
    if measure.kind == "ratio":
        return f"{value:{form or '.2f'}}"
    return f"{value / measure.per_unit:{form or '.1f'}} {measure.unit}"


def rib_line(gain: RibGain) -> str:
    """Splitter, load case, measure and the best place on one line."""
    measure = gain.measure
    i = int(np.argmax(gain.gain))
    return (
        f"Rib gain of '{gain.model.design.name}' in '{gain.case}': {measure.name} "
        f"{amount(measure.value, measure)}, at best {amount(gain.gain[i], measure, '.3g')} per metre of rib to first "
        f"order at x {1e3 * gain.x[i]:.0f}, y {1e3 * gain.y[i]:.0f} mm"
    )


def rib_table(gain: RibGain, length: float) -> pd.DataFrame:
    """Tabulate the best three places for ribs of a length in m, each tried, best first.

    Columns: place, x_mm, y_mm (middle of the rib), angle_deg (from x towards y), length_mm, mass_g (of a pair that of
    both), and in the measure's unit first_order_.. and whole_.. (gain to first order, and estimated of the whole rib),
    with_it_.. (the measure with the rib tried; the worst place may then be another) and better_.. (by how much).
    """
    unit, per = gain.measure.heading, gain.measure.per_unit
    rows = []
    for number, place in enumerate(gain.best(length=length), start=1):
        assert place.measure is not None
        rows.append(
            {
                "place": number,
                "x_mm": 1e3 * place.at[0],
                "y_mm": 1e3 * place.at[1],
                "angle_deg": np.degrees(place.angle),
                "length_mm": 1e3 * place.length,
                "mass_g": 1e3 * place.mass,
                f"first_order_{unit}": place.gain / per,
                f"whole_{unit}": place.whole / per,
                f"with_it_{unit}": place.measure.value / per,
                f"better_{unit}": place.improvement(gain.measure) / per,
            }
        )
    return pd.DataFrame(rows)


def rib_notes(gain: RibGain) -> tuple[str, ...]:
    """Say what the figures cover and what they do not."""
    of = gain.of
    said = [*of.notes, FIRST_ORDER, "The rib is bonded without slip, and the supports that act go on acting."]
    if of.square == 0.0:
        missing = "is not, for the load case has neither gravity nor acceleration,"
        said.append(f"The rib's own weight {'is' if np.any(of.felt) else missing} counted.")
        if of.solution.follower is not None:
            said.append("The air follows the sag in it, but for the estimate of a whole rib's own part.")
    if gain.rib.side == "below" and (gain.measure.name == "least clearance" or of.solution.case.ground):
        said.append("What a rib below the panel takes of the clearance by its own height is not counted.")
    return tuple(said)
