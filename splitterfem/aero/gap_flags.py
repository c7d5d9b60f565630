"""Where the gap-flow estimate leaves the ground it stands on, and the sentences that say so."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from splitterfem.aero.gap_law import GapLaw
from splitterfem.aero.gap_relief import FloatArray

BoolArray = NDArray[np.bool_]

LOW_TRUST_GAP = 0.020
"""Below this gap the boundary layer fills too much of it for the model to be trusted, m; judgement."""

HIGHEST_RATIO = 0.15
"""Largest gap per length for which the flow counts as one-dimensional; judgement."""

STEEPEST = float(np.tan(np.radians(10.0)))
"""Largest slope of the gap for which the flow counts as attached; judgement."""

LARGEST_AREA_RATIO = 2.0
"""Exit area of the tunnels and the gap per area of the gap, above which nothing more is credited; judgement."""


@dataclass(frozen=True, eq=False)
class GapFlags:
    """Doubts about a gap flow; each array is true where the doubt holds.

    Parameters
    ----------
    touching, choked, low_trust : ndarray of bool, shape (n_strips, n_stations)
        Gap of zero or less; gap below the choking one; gap below 20 mm.
    bounded : ndarray of bool, shape (n_strips, n_stations)
        Pressure coefficient held at its lowest or highest value.
    capped : ndarray of bool, shape (n_strips,)
        Strip so low that the suction rises no further.
    too_high : ndarray of bool, shape (n_strips,)
        Mean gap above 0.15 of the strip's length.
    steep : ndarray of bool, shape (n_strips,)
        Slope of the gap above 10 degrees somewhere.
    area_capped : ndarray of bool, shape (n_strips,)
        Tunnels with an exit larger than is credited.
    """

    touching: BoolArray
    choked: BoolArray
    low_trust: BoolArray
    bounded: BoolArray
    capped: BoolArray
    too_high: BoolArray
    steep: BoolArray
    area_capped: BoolArray

    def sentences(self) -> tuple[str, ...]:
        """Return what a report has to say, most serious first; empty where there is no doubt."""
        found = (
            (self.touching, "The panel touches the ground in the gap-flow estimate"),
            (self.choked, "The gap is so small that the flow chokes, and no further suction is counted"),
            (self.low_trust, "The gap is below 20 mm, where the estimate is hardly to be trusted"),
            (self.bounded, "The pressure coefficient was held at its bound"),
            (self.capped, "The panel is so low for its length that the suction was kept from rising further"),
            (self.too_high, "The gap is above 0.15 lengths, where the model of a thin gap does not hold"),
            (self.steep, "The gap opens or closes by more than 10 degrees, where the flow may separate"),
            (
                self.area_capped,
                "The tunnels open the exit to more than twice the gap; the rest is not counted",
            ),
        )
        return tuple(f"{text} ({_share(where)})." for where, text in found if where.any())


def _share(where: BoolArray) -> str:
    strips = where.reshape(len(where), -1).max(axis=1)
    return f"on {np.count_nonzero(strips)} of {len(strips)} strips"


def find_flags(
    law: GapLaw,
    distance: FloatArray,
    gap: FloatArray,
    *,
    mean_ratio: FloatArray,
    area_ratio: FloatArray,
    raw_cp: FloatArray,
) -> GapFlags:
    """Look for the doubts in a gap flow.

    Parameters
    ----------
    law : GapLaw
        Its choking gap, cap and lowest pressure.
    distance, gap : ndarray, shape (n_strips, n_stations)
        From the lip, and as given, m.
    mean_ratio, area_ratio : ndarray, shape (n_strips,)
        Mean gap per length, and exit area per area of the gap at the rear edge.
    raw_cp : ndarray, shape (n_strips, n_stations)
        Pressure coefficient before it was bounded.
    """
    slope = np.abs(np.diff(gap, axis=1) / np.diff(distance, axis=1))
    return GapFlags(
        touching=gap <= 0.0,
        choked=gap < law.choke_gap,
        low_trust=gap < LOW_TRUST_GAP,
        bounded=(raw_cp < law.lowest_cp) | (raw_cp > 1.0),
        capped=mean_ratio < law.flat_below,
        too_high=mean_ratio > HIGHEST_RATIO,
        steep=np.any(slope > STEEPEST, axis=1),
        area_capped=area_ratio > LARGEST_AREA_RATIO,
    )
