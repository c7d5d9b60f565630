"""Where the next strut helps most: what a spring to the chassis would do at every place of the panel."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import pandas as pd
import scipy.sparse as sp
import shapely
from numpy.typing import NDArray

from splitterfem.analysis.fields import CHORD_REACH, Field
from splitterfem.analysis.gain_moves import Move, move_gains
from splitterfem.analysis.gain_places import mirrored
from splitterfem.analysis.gain_springs import spring_gains
from splitterfem.analysis.gain_words import amount
from splitterfem.analysis.measures import Asked, Measure, measured
from splitterfem.analysis.sensitivity import Sensitivity, sensitivity
from splitterfem.analysis.solution import solve
from splitterfem.design import LoadCase, Pad
from splitterfem.errors import DesignError
from splitterfem.fem.restraint import Restraint
from splitterfem.fem.structure import Structure
from splitterfem.model import Model, pad_polygon
from splitterfem.model.pads import spread_rows
from splitterfem.threads import one_blas_thread

Array = NDArray[np.float64]

FOOT = Pad(diameter=0.04)
"""Foot of a strut's bracket, as a strut has it when nothing else is said."""

STIFFNESS = 1e6
"""Of a strut in N/m: an 8 mm rod with its end fittings and the bracket at the chassis (judgement)."""

APART = 0.15
"""Distance in m that best places have from each other at least."""


@dataclass(frozen=True, eq=False)
class StrutGain:
    """How much better a measure gets with one more upright strut, or pair of them, at each place.

    Attributes
    ----------
    of : Sensitivity
        Load case and measure, with their derivative.
    stiffness : float
        Of a strut in N/m; infinite for a rigid one.
    pad : Pad
        Its foot; the part of it that lies on the panel, near an edge.
    mirror : bool
        Whether struts come in pairs, left and right.
    field : Field
        Gain at the corners of the mesh, in m of sag or clearance or in Hz; positive is better, nan where the other of a
        pair is off the panel.
    """

    of: Sensitivity
    stiffness: float
    pad: Pad
    mirror: bool
    field: Field

    @property
    def model(self) -> Model:
        """Model of the load case."""
        return self.of.solution.model

    @property
    def case(self) -> str:
        """Name of the load case."""
        return self.of.solution.case.name

    @property
    def measure(self) -> Measure:
        """What is to get better, as it is now."""
        return self.of.measure

    def best(self, count: int = 3, *, apart: float = APART) -> list[tuple[float, tuple[float, float]]]:
        """Return the best places, each at least ``apart`` (m) from those before: gain in m or Hz, place in m.

        Only places where the whole foot lies on the panel, and that of the other of a pair beside it.
        """
        field, found = self.field, list[tuple[float, tuple[float, float]]]()
        panel = self.model.design.panel.polygon(float(self.model.design.mesh.chord))
        left = np.isfinite(field.values)
        while len(found) < count and left.any():
            i = int(np.flatnonzero(left)[np.argmax(field.values[left])])
            at = (float(field.x[i]), float(field.y[i]))
            left[i] = False
            if all(shapely.covers(panel, foot) for foot in self._feet(at)) and not self._overlap(at):
                found.append((float(field.values[i]), at))
                left &= np.hypot(field.x - at[0], field.y - at[1]) >= apart
                if self.mirror:
                    left &= np.hypot(field.x - at[0], field.y + at[1]) >= apart
        return found

    def tried(self, x: float, y: float) -> Measure:
        """Solve the load case anew with the strut, or pair, at a place in m, on the same mesh.

        Raises
        ------
        DesignError
            If the place is off the panel.
        """
        return measured(solve(self._with_strut(x, y), self.of.solution.case), self.measure.which)

    @cached_property
    def moves(self) -> list[Move]:
        """What moving each strut, bolt, pin and stop is worth, the most first; of pairs both halves at once."""
        return move_gains(self.of, pairs=self.mirror)

    @cached_property
    def table(self) -> pd.DataFrame:
        """The best three places for one more strut, or pair, each tried, best first.

        Columns: place, x_mm, y_mm, and in the measure's unit ``gain_..``, ``with_it_..`` (the measure with the strut
        tried; the worst place may then be another) and ``better_..`` (by how much).
        """
        unit, per = self.measure.heading, self.measure.per_unit
        rows = []
        for gain, (x, y) in self.best():
            tried = self.tried(x, y)
            rows.append(
                {
                    "x_mm": 1e3 * x,
                    "y_mm": 1e3 * y,
                    f"gain_{unit}": gain / per,
                    f"with_it_{unit}": tried.value / per,
                    f"better_{unit}": tried.better_than(self.measure) / per,
                }
            )
        columns = ["x_mm", "y_mm", f"gain_{unit}", f"with_it_{unit}", f"better_{unit}"]
        table = pd.DataFrame(rows, columns=columns)
        table = table.sort_values(f"better_{unit}", ascending=False, ignore_index=True)
        table.insert(0, "place", np.arange(1, len(table) + 1))
        return table

    @property
    def move_table(self) -> pd.DataFrame:
        """What moving each part is worth, the most first; of pairs both halves at once.

        Columns: part, kind, x_mm, y_mm, and in the measure's unit per 10 mm of way ``forward_..``, ``left_..``,
        ``best_..`` (in the best direction), and best_way_deg (from x towards y).
        """
        per, unit = 1e2 * self.measure.per_unit, f"{self.measure.heading}_per_10mm"
        names = (
            "part",
            "kind",
            "x_mm",
            "y_mm",
            f"forward_{unit}",
            f"left_{unit}",
            f"best_{unit}",
            "best_way_deg",
        )
        rows = [
            (
                move.name,
                move.kind,
                1e3 * move.at[0],
                1e3 * move.at[1],
                move.forward / per,
                move.left / per,
                move.steepest / per,
                np.degrees(move.direction),
            )
            for move in self.moves
        ]
        return pd.DataFrame(rows, columns=list(names))

    @property
    def notes(self) -> tuple[str, ...]:
        """What the figures cover and what they do not, in sentences."""
        said = [
            f"One more {'pair of struts' if self.mirror else 'strut'}, upright, that carries nothing until the case "
            "acts, at each place by itself; the supports that act now go on acting.",
            "A strut's foot is moved alone, its head stays; what a whole way is worth is found by solving again.",
        ]
        if self.of.solution.response.large and not self.of.square:
            said.append("Large deflection is taken as small changes about the solution.")
        if self.of.solution.follower is not None and not self.of.square:
            said.append(
                "The air follows the sag, but for the panel's own give at the strut, which is that without air."
            )
        return (*said, *self.of.notes)

    def __repr__(self) -> str:
        """Write splitter, load case, measure and the best place on one line."""
        best = "".join(
            f", {amount(gain, self.measure, '.2g')} better with one at x {1e3 * x:.0f}, y {1e3 * y:.0f} mm"
            for gain, (x, y) in self.best(1)
        )
        return (
            f"Strut gain of '{self.model.design.name}' in '{self.case}': {self.measure.name} "
            f"{amount(self.measure.value, self.measure)}{best}"
        )

    def _feet(self, at: tuple[float, float]) -> list[shapely.Polygon]:
        x, y = at
        return [pad_polygon(self.pad, place) for place in ((x, y), (x, -y))[: 1 + self.mirror]]

    def _overlap(self, at: tuple[float, float]) -> bool:
        feet = self._feet(at)
        return len(feet) == 2 and bool(shapely.intersects(*feet))

    def _with_strut(self, x: float, y: float) -> Model:
        model = self.model
        give = 0.0 if np.isinf(self.stiffness) else 1.0 / self.stiffness
        places = np.array([[x, y], [x, -y]])[: 1 + self.mirror]
        rows = _feet_rows(model, self.pad, places)
        struts = tuple(
            Restraint(f"new strut {i + 1}", "upright", rows[[i]], compliance=give, place=(px, py))
            for i, (px, py) in enumerate(places.tolist())
        )
        structure = Structure(
            model.panel,
            (*model.structure.restraints, *struts),
            contributions=model.rib_parts,
            n_extra=model.structure.n_extra,
            repeated=True,
        )
        return replace(model, structure=structure, base=None, _spares={})


@one_blas_thread()
def strut_gain(
    model: Model,
    case: str | LoadCase,
    *,
    stiffness: float = STIFFNESS,
    pad: Pad = FOOT,
    measure: Asked = "worst sag",
    mirror: bool = False,
) -> StrutGain:
    """Find what one more upright strut is worth at every corner of the mesh, and what moving a support is worth.

    Exact, not to first order, as long as the same supports act; see :mod:`splitterfem.analysis.gain_springs`.  Of the
    worst sag and the least clearance, some tens of places all over the panel are watched.

    Parameters
    ----------
    model : Model
    case : str or LoadCase
        Supports that act, ground, large deflection and air that follows the sag are as it says.
    stiffness : float
        Of a strut, end fittings and bracket included, in N/m, above zero; infinite for a rigid one.
    pad : Pad
        Its foot.
    measure : str, (x, y) or OwnMeasure
        See :func:`splitterfem.analysis.gain.rib_gain`.
    mirror : bool
        Whether struts come in pairs, left and right.

    Raises
    ------
    DesignError
        If the case is unknown, the measure has no meaning in it, or the stiffness is not above zero.
    MechanismError
        If the supports do not hold the panel under the case.
    SolveError
        If the case cannot be solved.
    """
    if not stiffness > 0.0:
        raise DesignError(f"The stiffness of the strut is {stiffness:g} N/m; give one above zero.")
    of = sensitivity(solve(model, case), measure)
    fitting = of.solution.model
    places = fitting.mesh.points
    there = np.ones(places.shape[1], dtype=bool)
    if mirror:
        there = fitting.locator.find(mirrored(places), reach=CHORD_REACH) >= 0
    rows = [_feet_rows(fitting, pad, places[:, there].T)]
    if mirror:
        rows.append(_feet_rows(fitting, pad, mirrored(places[:, there]).T))
    values = np.full(places.shape[1], np.nan)
    values[there] = spring_gains(of, tuple(rows), stiffness)
    field = Field(places[0], places[1], fitting.mesh.triangles.T, values)
    return StrutGain(of, stiffness, pad, mirror, field)


def _feet_rows(model: Model, pad: Pad, places: Array) -> sp.csr_array:
    return spread_rows(model.panel, model.locator, pad, places, what="The foot of a strut")
