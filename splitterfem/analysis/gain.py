"""Where the next rib helps most: gain per metre of rib at every place, in every direction, from one adjoint solve."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from splitterfem.analysis import gain_words
from splitterfem.analysis.gain_density import Directional
from splitterfem.analysis.gain_line import Parts, bonded_parts, laid, line_gain, point_gains, with_ribs
from splitterfem.analysis.gain_places import RibPlace, best_places, grid_of, mirrored
from splitterfem.analysis.gain_whole import Known, known_of, whole_gain
from splitterfem.analysis.measures import Asked, Measure, measured
from splitterfem.analysis.sensitivity import Sensitivity, sensitivity
from splitterfem.analysis.solution import solve
from splitterfem.design import LoadCase, Rib
from splitterfem.errors import DesignError
from splitterfem.materials import BarMaterial, Section
from splitterfem.model import Model
from splitterfem.threads import one_blas_thread

Array = NDArray[np.float64]
Side = Literal["above", "below"]

SPACING = 0.025
"""Distance in m of the places that are looked at."""

LENGTH = 0.4
"""Length in m of the ribs for which places are sought."""


@dataclass(frozen=True, eq=False)
class RibGain:
    """How much better a measure gets with a rib laid at each place, in its best direction there.

    Attributes
    ----------
    of : Sensitivity
        Load case and measure, with their derivative.
    rib : Rib
        Section, material and side of the rib; its points mean nothing.
    mirror : bool
        Whether ribs are laid in pairs, left and right.
    spacing : float
        Of the places in m.
    x, y : ndarray, shape (n,)
        Places in m.
    gain : ndarray, shape (n,)
        In the best direction, per metre of rib: m/m, of a frequency Hz/m, of a ratio 1/m; positive is better.
    direction : ndarray, shape (n,)
        Best direction in rad, from x towards y.
    terms : Directional
        Gain per metre in every direction.
    """

    of: Sensitivity
    rib: Rib
    mirror: bool
    spacing: float
    x: Array
    y: Array
    gain: Array
    direction: Array
    terms: Directional

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

    @property
    def mass_per_metre(self) -> float:
        """Of the rib, in kg/m."""
        return float(self.rib.section.properties().area) * float(self.rib.resolved.density)

    @property
    def per_gram(self) -> Array:
        """Gain (n,) per gram of rib."""
        return np.asarray(self.gain / (1e3 * self.mass_per_metre))

    def towards(self, angle: float) -> Array:
        """Gain (n,) per metre of rib in one direction everywhere, in rad from x towards y."""
        return self.terms.at(angle)

    def along(self, points: Sequence[Sequence[float]]) -> float:
        """Gain of a whole rib along a polyline to first order, parts of its section where they are.

        Parameters
        ----------
        points : sequence of (x, y)
            In m; of a pair those of one of the two.

        Raises
        ------
        DesignError
            If part of the rib is not on the panel.
        """
        return sum(line_gain(self.of, parts) for parts in self._parts(points))

    def whole(self, points: Sequence[Sequence[float]]) -> float:
        """Estimate the gain of a whole rib along a polyline, which takes its own bend away.

        Of the worst place all that may be the worst then are watched.  See :mod:`splitterfem.analysis.gain_whole`;
        `tried` finds it exactly.

        Parameters
        ----------
        points : sequence of (x, y)
            In m; of a pair those of one of the two.

        Raises
        ------
        DesignError
            If part of the rib is not on the panel.
        """
        return whole_gain(self.of, self._known, self._parts(points))

    def tried(self, points: Sequence[Sequence[float]]) -> Measure:
        """Solve the load case anew with the whole rib along a polyline, on the same mesh.

        Parameters
        ----------
        points : sequence of (x, y)
            In m; of a pair those of one of the two.

        Returns
        -------
        Measure
            With the rib; the worst place may be another.

        Raises
        ------
        DesignError
            If part of the rib is not on the panel.
        """
        now = self.of.solution
        solution = solve(with_ribs(self.model, self._laid(points)), now.case)
        return measured(solution, self.measure.which)

    def best(
        self, count: int = 3, *, length: float = LENGTH, apart: float | None = None, tried: bool = True
    ) -> list[RibPlace]:
        """Find the best places for straight ribs of a length, clear of edges, openings and what stands there.

        Parameters
        ----------
        count : int
            How many at most.
        length : float
            In m.
        apart : float, optional
            Least distance in m between the places; a quarter of the length when left out.
        tried : bool
            Whether to solve with each rib there, to sort by that, and to leave out those that make it worse, unless
            all do; otherwise they are sorted by the estimate of the whole rib's gain.

        Raises
        ------
        DesignError
            If no such rib fits on the panel, or `count` or `length` is not above zero.
        """
        if count < 1 or not (np.isfinite(length) and length > 0.0):
            raise DesignError(
                f"{count} places for ribs of {1e3 * length:g} mm were asked for; ask for at least one, and a length "
                "above zero."
            )
        apart = 0.25 * length if apart is None else apart
        asked = (count, length, apart, tried)
        if asked not in self._best:
            self._best[asked] = best_places(self, count, length, apart, tried=tried)
        return list(self._best[asked])

    @cached_property
    def table(self) -> pd.DataFrame:
        """The best three places, each tried, best first; see :func:`splitterfem.analysis.gain_words.rib_table`."""
        return gain_words.rib_table(self, LENGTH)

    @property
    def notes(self) -> tuple[str, ...]:
        """What the figures cover and what they do not, in sentences."""
        return gain_words.rib_notes(self)

    def __repr__(self) -> str:
        """Write splitter, load case, measure and the best place on one line."""
        return gain_words.rib_line(self)

    @cached_property
    def _best(self) -> dict[tuple[int, float, float, bool], list[RibPlace]]:
        """Places that were sought before: trying them takes seconds, and table and picture want the same."""
        return {}

    @cached_property
    def _known(self) -> Known:
        return known_of(self.of)

    def _laid(self, points: Sequence[Sequence[float]]) -> tuple[Rib, ...]:
        rib = self.rib.with_(points=tuple((float(x), float(y)) for x, y in points), mirror=self.mirror)
        return rib.sides()

    def _parts(self, points: Sequence[Sequence[float]]) -> list[Parts]:
        return [laid(self.model, rib) for rib in self._laid(points)]


@one_blas_thread()
def rib_gain(
    model: Model,
    case: str | LoadCase,
    *,
    section: Section,
    material: str | BarMaterial,
    measure: Asked = "worst sag",
    side: Side = "above",
    mirror: bool = False,
    spacing: float = SPACING,
) -> RibGain:
    """Find what a rib is worth at every place and in every direction.

    Parameters
    ----------
    model : Model
    case : str or LoadCase
        Supports that act, ground, large deflection and air that follows the sag are as it says.
    section : Section
        Of the rib.
    material : str or BarMaterial
        Of the rib.
    measure : str, (x, y) or OwnMeasure
        What is to get better: one of `MEASURES`, a place in m for the sag there, or what reads one of your own.  The
        worst sag and the least clearance are those of the place where they are now.
    side : {"above", "below"}
        Face on which the rib lies.
    mirror : bool
        Whether ribs are laid in pairs, left and right; the gain is then the mean of the two.
    spacing : float
        Of the places in m.

    Returns
    -------
    RibGain

    Raises
    ------
    DesignError
        If the case is unknown, the measure has no meaning in it, a rib cannot be built so, or the spacing is not above
        zero or wider than the panel.
    MechanismError
        If the supports do not hold the panel under the case.
    SolveError
        If the case cannot be solved.
    """
    if not (np.isfinite(spacing) and spacing > 0.0):
        raise DesignError(f"The spacing of the places is {1e3 * spacing:g} mm; give one above zero.")
    rib = Rib(name="new rib", points=((0.0, 0.0), (1.0, 0.0)), section=section, material=material, side=side)
    of = sensitivity(solve(model, case), measure)
    xy = grid_of(of.solution.model, spacing, mirror=mirror)
    parts = bonded_parts(of.solution.model, rib)
    terms = point_gains(of, parts, xy)
    if mirror:
        other = point_gains(of, parts, mirrored(xy)).mirrored()
        terms = Directional(0.5 * (terms.terms + other.terms))
    gain, direction = terms.best()
    return RibGain(of, rib, mirror, spacing, xy[0], xy[1], gain, direction, terms)
