"""What comes of a scatter: percentiles, probabilities, and which input matters."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any, Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from splitterfem.errors import DesignError
from splitterfem.layouts.measures import limit_of
from splitterfem.layouts.results import Study
from splitterfem.layouts.scatter_spread import Spread
from splitterfem.layouts.scatter_statistics import (
    Influence,
    Interval,
    by_ranks,
    by_sobol,
    percentile,
    proportion,
)

Array = NDArray[np.float64]
Scheme = Literal["ranks", "sobol"]

SHARES = (0.05, 0.5, 0.95)
"""Percentiles of the table."""

TOUCH = 1e-6
"""Gap in mm from which the panel counts as on the ground: it lies on it, and never under it."""


@dataclass(frozen=True, eq=False, repr=False)
class Scatter(Study):
    """Draws of a splitter with their figures.

    Attributes
    ----------
    spreads : tuple of Spread
        Distribution of each parameter of the plan.
    draws : int
        Independent draws; with the scheme "sobol" there are as many again, and a mixture of both for each parameter.
    scheme : {"ranks", "sobol"}
    seed : int
    """

    spreads: tuple[Spread, ...] = ()
    draws: int = 0
    scheme: Scheme = "ranks"
    seed: int = 0

    @cached_property
    def sample(self) -> pd.DataFrame:
        """Rows of ``table`` that are draws, without the mixtures of the scheme "sobol" and what was refused."""
        count = self.draws * (2 if self.scheme == "sobol" else 1)
        table = self.table
        return table[(table.index <= count) & (table["refused"] == "")]

    @property
    def refused(self) -> int:
        """Draws that could not be built or solved."""
        count = self.draws * (2 if self.scheme == "sobol" else 1)
        return sum(1 for done in self.layouts if done.number <= count and done.refused)

    def figures(self, measure: str) -> Array:
        """Values (n,) of a measure over the draws, in the unit of its column.

        Raises
        ------
        DesignError
            If it was not asked, or no draw has it.
        """
        found = self.sample[self.plan.measure(measure).column].to_numpy(dtype=float)
        known = found[np.isfinite(found)]
        if not len(known):
            raise DesignError(f"No draw has a {measure}: {self._reason()}")
        return np.asarray(known)

    def _reason(self) -> str:
        said = next((done.refused for done in self.layouts if done.refused), "")
        return said or "it has no meaning in these load cases."

    def percentile(self, measure: str, share: float) -> Interval:
        """Percentile of a measure with what sampling leaves open.

        Parameters
        ----------
        measure : str
        share : float
            Of the draws that lie below, between 0 and 1.

        Raises
        ------
        DesignError
            If the measure was not asked, or the share is none.
        """
        if not 0.0 < share < 1.0:
            raise DesignError(f"A percentile at {share:g} was asked for; give a share between 0 and 1.")
        return percentile(self.figures(measure), share)

    def probability(self, measure: str, *, above: Any = None, below: Any = None) -> Interval:
        """Probability that a measure lies above, or below, a limit, with what sampling leaves open.

        Parameters
        ----------
        measure : str
        above, below : quantity
            One of the two, in words or in SI units; the limit itself counts.

        Raises
        ------
        DesignError, UnitError
            If not just one limit is given, or it cannot be read.
        """
        if (above is None) == (below is None):
            raise DesignError("Give one limit, above or below.")
        values, one = self.figures(measure), self.plan.measure(measure)
        limit = limit_of(one, above if below is None else below)
        hits = values >= limit if below is None else values <= limit
        return proportion(int(np.sum(hits)), len(values))

    @property
    def touches(self) -> Interval:
        """Probability that the panel touches the ground."""
        values = self.figures("least clearance")
        return proportion(int(np.sum(values <= TOUCH)), len(values))

    @property
    def fails(self) -> Interval:
        """Probability that some part is used beyond its strength."""
        values = self.figures("worst utilisation")
        return proportion(int(np.sum(values > 1.0)), len(values))

    @cached_property
    def percentiles(self) -> pd.DataFrame:
        """Percentiles of every measure.

        Columns: measure, unit, mean, standard_deviation, p5, p50, p95 and, behind each of the last three, its 95 %
        interval as ``..._low`` and ``..._high``.
        """
        rows = []
        for one in self.plan.measures:
            values = self.figures(one.name)
            row: dict[str, object] = {"measure": one.name, "unit": one.unit or "-", "mean": values.mean()}
            row["standard_deviation"] = values.std(ddof=1)
            for share in SHARES:
                found, name = percentile(values, share), f"p{100 * share:.0f}"
                row |= {name: found.value, f"{name}_low": found.low, f"{name}_high": found.high}
            rows.append(row)
        return pd.DataFrame(rows)

    @property
    def events(self) -> dict[str, Interval]:
        """Probabilities of what must not be, by name, as far as it was measured."""
        names = {one.name for one in self.plan.measures}
        found = {}
        if "least clearance" in names:
            found["touches the ground"] = self.touches
        if "worst utilisation" in names:
            found["utilisation above 1"] = self.fails
        return found

    @cached_property
    def probabilities(self) -> pd.DataFrame:
        """Probabilities of what must not be, as far as it was measured.

        Columns: event, probability, low_95, high_95 (exact, after Clopper & Pearson), draws.
        """
        rows = [
            {
                "event": event,
                "probability": p.value,
                "low_95": p.low,
                "high_95": p.high,
                "draws": len(self.sample),
            }
            for event, p in self.events.items()
        ]
        return pd.DataFrame(rows, columns=["event", "probability", "low_95", "high_95", "draws"])

    def influence(self, measure: str) -> Influence:
        """How much each parameter matters for a measure.

        Raises
        ------
        DesignError
            If it was not asked, or too few draws have it.
        """
        column = self.plan.measure(measure).column
        values = self.table[column].to_numpy(dtype=float)
        n, d = self.draws, len(self.plan.parameters)
        if self.scheme == "sobol":
            if len(values) != n * (d + 2):
                raise DesignError(
                    "The study is unfinished, so that no indices can be told; continue it from its file."
                )
            parts = values.reshape(d + 2, n)
            whole = np.isfinite(parts).all(axis=0)
            self._enough(int(whole.sum()), 16)
            return by_sobol(parts[0, whole], parts[1, whole], parts[2:, whole], seed=self.seed)
        names = [one.column for one in self.plan.parameters]
        inputs = self.table[names].to_numpy(dtype=float)
        whole = np.isfinite(values)
        self._enough(int(whole.sum()), 3 * d + 2)
        return by_ranks(inputs[whole], values[whole], seed=self.seed)

    def _enough(self, found: int, need: int) -> None:
        if found < need:
            raise DesignError(
                f"{found} draws tell nothing about {len(self.spreads)} inputs; take at least {need}."
            )

    def influence_table(self, measure: str) -> pd.DataFrame:
        """Influence of every parameter on a measure, the one that matters most first.

        Columns: parameter, scatters (its distribution), and with the scheme "ranks" coefficient (of the regression of
        ranks, between -1 and 1) and standard_error; with the scheme "sobol" first_order, first_order_error, total and
        total_error, as shares of the variance.
        """
        found, rows = self.influence(measure), []
        for i in found.order:
            one = self.plan.parameters[i]
            row: dict[str, object] = {"parameter": one.name, "scatters": self.spreads[i].words(one.unit)}
            if found.total is None or found.total_error is None:
                row |= {"coefficient": found.first[i], "standard_error": found.first_error[i]}
            else:
                row |= {"first_order": found.first[i], "first_order_error": found.first_error[i]}
                row |= {"total": found.total[i], "total_error": found.total_error[i]}
            rows.append(row)
        return pd.DataFrame(rows)

    @property
    def notes(self) -> tuple[str, ...]:
        """What the figures cover and what they do not, in sentences."""
        said = [
            f"{len(self.sample)} draws, inputs independent of each other, all on one mesh. Intervals are of 95 %, for "
            "the sampling alone: how well the distributions are known is not in them, and a probability near zero "
            "hangs on the far ends of distributions, which nobody has measured."
        ]
        if self.refused:
            said.append(
                f"{self.refused} draws could not be built or solved and do not count: {self._reason()}"
            )
        return tuple(said)
