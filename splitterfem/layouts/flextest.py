"""Fitting a model to a flex test: pushes and weights on a finished panel, and what gauges read."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from splitterfem.design import LoadCase, Splitter
from splitterfem.errors import DesignError
from splitterfem.layouts import flextest_words
from splitterfem.layouts.flextest_advice import Advice, advised
from splitterfem.layouts.flextest_bench import Trial, bench_of
from splitterfem.layouts.flextest_file import read_flex_test
from splitterfem.layouts.flextest_parameters import Fit, Parameter, parameters_of, with_factors
from splitterfem.layouts.flextest_readings import FlexReadings
from splitterfem.layouts.flextest_statistics import Estimate, fit_logs, profiled
from splitterfem.materials import SheetMaterial
from splitterfem.model import Model

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class FlexTest:
    """What a flex test says about a splitter.

    Attributes
    ----------
    splitter : Splitter
        As it was before.
    readings : FlexReadings
    parameters : tuple of Parameter
        What was fitted.
    estimate : Estimate
        Logarithms of their factors, with all statistics; residuals over the uncertainties where these are known.
    start : ndarray, shape (n,)
        What the design computes for each reading as it was before, in m.
    computed : ndarray, shape (n,)
        What it computes with the fitted figures, in m.
    advice : tuple of (tuple of int, Advice or None)
        Parameters that the readings cannot tell apart, and which reading would.
    """

    splitter: Splitter
    readings: FlexReadings
    parameters: tuple[Parameter, ...]
    estimate: Estimate
    start: Array
    computed: Array
    advice: tuple[tuple[tuple[int, ...], Advice | None], ...]

    @property
    def values(self) -> dict[str, float]:
        """Fitted values by name, in SI units; factors where figures share one."""
        logs = self.estimate.logs
        return {p.name: p.start * float(np.exp(log)) for p, log in zip(self.parameters, logs, strict=True)}

    @property
    def residuals_in_m(self) -> Array:
        """Measured less computed (n,), in m."""
        return np.asarray(self.readings.deflection - self.computed)

    @property
    def deviation(self) -> float:
        """Standard deviation of the residuals in m, of as many as there are readings more than parameters."""
        free = self.estimate.freedom
        return float(np.sqrt(np.sum(self.residuals_in_m**2) / free)) if free > 0 else float("nan")

    @cached_property
    def table(self) -> pd.DataFrame:
        """Fitted figures with their uncertainties; see :func:`splitterfem.layouts.flextest_words.table`."""
        return flextest_words.table(self)

    @cached_property
    def residuals(self) -> pd.DataFrame:
        """Every reading beside what is computed; see :func:`splitterfem.layouts.flextest_words.residuals`."""
        return flextest_words.residuals(self)

    @property
    def correlation(self) -> pd.DataFrame:
        """Correlations of the fitted figures, named in both directions."""
        names = [parameter.name for parameter in self.parameters]
        return pd.DataFrame(self.estimate.correlation, index=names, columns=names)

    @property
    def notes(self) -> tuple[str, ...]:
        """What the test says and what it cannot say, in sentences."""
        return flextest_words.notes(self)

    def __repr__(self) -> str:
        """Write splitter, file and every fitted figure on one line."""
        return flextest_words.line(self)

    @property
    def design(self) -> Splitter:
        """The splitter with the fitted figures."""
        return self.applied_to(self.splitter)

    def applied_to(self, splitter: Splitter) -> Splitter:
        """Return another splitter with the fitted figures, such as that in the car after a test on the bench.

        Parameters
        ----------
        splitter : Splitter
            With the same parts under the same names; what it says of the fitted figures itself does not count, but
            where several figures share a factor it goes on its own figures, and the sheet must be the same.

        Raises
        ------
        DesignError
            If it has no such part, or another sheet.
        """
        same_sheet = splitter.panel.sheet == self.splitter.panel.sheet
        if any(parameter.of_sheet for parameter in self.parameters) and not same_sheet:
            raise DesignError(
                f"'{splitter.name}' has another sheet than the one that was tested, so its moduli say nothing there."
            )
        own = parameters_of(splitter, [_as_asked(parameter) for parameter in self.parameters])
        logs = [
            log if there.kind == "factor" else log + np.log(here.start / there.start)
            for here, there, log in zip(self.parameters, own, self.estimate.logs, strict=True)
        ]
        source = f"fitted to flex test {self.readings.name}"
        made = with_factors(splitter, own, np.array(logs), source=source)
        values = flextest_words.short_values(self)
        said = f"{values} {source}, by {len(self.readings)} readings."
        return made.with_(note=f"{splitter.note} {said}".strip())


def _as_asked(parameter: Parameter) -> Fit:
    paths = [place.path for place in parameter.places]
    return parameter.name if not paths or paths == [parameter.name] else {parameter.name: paths}


def usual_fit(splitter: Splitter) -> tuple[str, ...]:
    """Say what is fitted when nothing else is asked: both moduli of a sheet with a grain, else one factor."""
    material = splitter.panel.sheet.resolved
    grain = isinstance(material, SheetMaterial) and material.kind == "orthotropic"
    return ("E along", "E across") if grain else ("sheet",)


def fit_flex_test(
    model: Model,
    readings: FlexReadings | str | os.PathLike[str],
    *,
    fit: Fit | Sequence[Fit] | None = None,
    case: str | LoadCase | None = None,
    leave_out: Sequence[int] = (),
    profile: bool = True,
) -> FlexTest:
    """Find the figures of a design with which it gives as a flex test says.

    Every trial is solved on the mesh of the model, lips and stops touching as they would; the search is a trust region
    method (Branch, Coleman & Li, SIAM J. Sci. Comput. 21 (1999) 1-23, as in scipy) on the logarithms of the figures.
    The derivatives take what the panel's bending adds to strains under ribs within single elements as it is.

    Parameters
    ----------
    model : Model
        Of the design, standing as in the test.
    readings : FlexReadings or path
        See :func:`splitterfem.layouts.flextest_file.read_flex_test`.
    fit : str, mapping or sequence of these, optional
        "E along", "E across", "shear modulus", "planar shear" or "sheet" (one factor on all moduli) of the panel's
        sheet; "struts.NAME.end_stiffness", "struts.NAME.stiffness", "stops.NAME.stiffness", "stops.NAME.gap_up",
        "stops.NAME.gap_down", "pockets.NAME.clearance_up", "pockets.NAME.clearance_down",
        "ribs.NAME.joint.slip_modulus", "ribs.NAME.joint.shear_modulus"; a name of one's own with several of these
        paths, which then share a factor.  Both moduli of a sheet with a grain, else "sheet", when left out.
    case : str or LoadCase, optional
        What acts all the time; the panel's own weight when left out.  Without ground and large deflection.
    leave_out : sequence of int
        Lines of the file that do not count.
    profile : bool
        Whether to look at the sum of squares at the ends of every interval, two solves for each figure.

    Returns
    -------
    FlexTest

    Raises
    ------
    FileError
        If the file cannot be read.
    DesignError
        If there are fewer readings than figures, a push or gauge is off the panel, or a figure is not there.
    MechanismError, SolveError
        If the design cannot be solved, or the fit does not settle.
    """
    chosen = readings if isinstance(readings, FlexReadings) else read_flex_test(readings)
    wrong = sorted(set(leave_out) - set(chosen.line.tolist()))
    if wrong:
        raise DesignError(f"Line {wrong[0]} of {chosen.name} holds no reading that could be left out.")
    chosen = chosen.without(np.asarray(leave_out, dtype=np.int64))
    parameters = parameters_of(model.design, usual_fit(model.design) if fit is None else fit)
    known = chosen.uncertainty is not None
    if len(chosen) < len(parameters) + (0 if known else 1):
        raise DesignError(
            f"{chosen.name} has {len(chosen)} readings for {len(parameters)} figures"
            f"{'' if known else ' and their scatter'}; read more, or fit fewer."
        )
    weights = np.ones(len(chosen)) if chosen.uncertainty is None else 1.0 / chosen.uncertainty
    trial = Trial(bench_of(model, chosen, case), parameters, weights)
    return _fitted(trial, chosen, known=known, profile=profile)


def _fitted(trial: Trial, readings: FlexReadings, *, known: bool, profile: bool) -> FlexTest:
    start = trial.computed(np.zeros(len(trial.parameters))) / trial.weights
    measured = trial.weights * readings.deflection
    found = fit_logs(trial.computed, trial.slopes, measured, len(trial.parameters), known=known)
    computed = trial.computed(found.logs) / trial.weights
    groups = found.alike
    force, pad = float(np.median(np.abs(readings.force))), float(np.median(readings.pad))
    pairs = [group for group in groups if len(group) > 1]
    usable = bool(pairs) and found.variance > 0.0
    advice: list[Advice] | list[None] = (
        advised(trial, found, pairs, force, pad) if usable else [None] * len(groups)
    )
    said = tuple(zip(groups, advice, strict=True))
    if profile and found.freedom > 0 and found.variance > 0.0:
        found = profiled(found, trial.computed, trial.slopes)
    design = trial.bench.model.design
    return FlexTest(design, readings, trial.parameters, found, start, computed, said)
