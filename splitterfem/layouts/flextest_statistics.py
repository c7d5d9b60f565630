"""Least squares in the logarithms of positive parameters, and what the readings say about them.

The estimate, its covariance and its intervals are those of nonlinear regression (Bates & Watts, Nonlinear Regression
Analysis and Its Applications, 1988, chapters 2 and 6; from memory): the covariance from the derivatives at the
estimate, the intervals from the profile of the sum of squares where that is not a parabola.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy import optimize, stats

from splitterfem.errors import SolveError

Array = NDArray[np.float64]
Vector = Callable[[Array], Array]

WIDEST = float(np.log(1e4))
"""Largest change of a parameter either way, as the logarithm of a factor."""

COVERED = 0.95
"""Of the intervals."""

ALIKE = 0.95
"""Size of a correlation beyond which two parameters cannot be told apart."""

FLAT = 0.03
"""Smallest over largest singular value, columns of one size, below which some mixture of parameters is not seen."""

SHARES = 0.3
"""Share of a parameter in such a mixture from which it is named."""

UNFELT = 1e-7
"""Size of a column over that of the readings below which no reading feels a parameter."""

TOO_LARGE = 0.05
"""Probability of a chi-square below which the stated uncertainties are taken for too small."""


@dataclass(frozen=True, eq=False)
class Estimate:
    """Parameters that fit readings best.

    Attributes
    ----------
    logs : ndarray, shape (p,)
        Natural logarithms of the parameters over their starts.
    residuals : ndarray, shape (n,)
        Measured less computed, over the uncertainty of each reading if that is known.
    jacobian : ndarray, shape (n, p)
        Derivatives of what is computed by the logarithms, over the same uncertainties.
    readings : ndarray, shape (n,)
        Measured values over the same uncertainties.
    known : bool
        Whether the uncertainties of the readings were given.
    rises : ndarray, shape (p, 2), or None
        Square root of what the sum of squares rises by at both ends of the linear intervals, over the variance, with
        the other parameters adapted; None when it was not looked at.
    evaluations : int
        Models that were solved.
    """

    logs: Array
    residuals: Array
    jacobian: Array
    readings: Array
    known: bool
    rises: Array | None = None
    evaluations: int = 0

    @property
    def freedom(self) -> int:
        """Readings less parameters."""
        return int(len(self.residuals) - len(self.logs))

    @property
    def chi_square(self) -> float:
        """Sum of squares of the residuals; over the stated uncertainties when these are known, else in m2."""
        return float(self.residuals @ self.residuals)

    @property
    def probability(self) -> float:
        """Probability of a chi-square as large as this or larger; nan when no uncertainties are known."""
        if not self.known or self.freedom < 1:
            return float("nan")
        return float(stats.chi2.sf(self.chi_square, self.freedom))

    @property
    def widened(self) -> bool:
        """Whether the stated uncertainties are too small for the residuals, so that intervals are widened to fit."""
        return bool(self.probability < TOO_LARGE)

    @property
    def variance(self) -> float:
        """Variance of a residual: one where uncertainties are known and fit, else from the residuals themselves."""
        if self.known and not self.widened:
            return 1.0
        return self.chi_square / self.freedom if self.freedom > 0 else float("nan")

    @property
    def quantile(self) -> float:
        """Standard deviations on each side of a 95 % interval: Student's t where the variance is an estimate."""
        tail = 0.5 + 0.5 * COVERED
        if self.known and not self.widened:
            return float(stats.norm.ppf(tail))
        return float(stats.t.ppf(tail, self.freedom)) if self.freedom > 0 else float("nan")

    @cached_property
    def felt(self) -> NDArray[np.bool_]:
        """Which parameters (p,) any reading feels."""
        size = np.abs(self.jacobian).max(axis=0, initial=0.0)
        return np.asarray(size > UNFELT * float(np.abs(self.readings).max()))

    @cached_property
    def _decomposed(self) -> tuple[Array, Array, Array, Array]:
        """Sizes of the columns that are felt, and their singular value decomposition, columns of size one."""
        J = self.jacobian[:, self.felt]
        sizes = np.linalg.norm(J, axis=0)
        left, values, right = np.linalg.svd(J / sizes, full_matrices=False)
        return sizes, left, values, right

    @cached_property
    def covariance(self) -> Array:
        """Of the logarithms, shape (p, p): variances without end and no correlations where nothing is felt."""
        sizes, _, values, right = self._decomposed
        root = right.T / np.maximum(values, 1e-300)
        found = np.zeros(2 * self.logs.shape)
        found[np.ix_(self.felt, self.felt)] = self.variance * (root @ root.T) / np.outer(sizes, sizes)
        found[~self.felt, ~self.felt] = np.inf
        return found

    @property
    def errors(self) -> Array:
        """Standard uncertainties (p,) of the logarithms: for small ones those of the parameters in proportion."""
        return np.asarray(np.sqrt(self.covariance.diagonal()))

    @property
    def correlation(self) -> Array:
        """Correlations (p, p) of the logarithms; nan with what no reading feels."""
        root = np.where(self.felt, self.errors, np.nan)
        found = self.covariance / np.outer(root, root)
        found[np.diag_indices_from(found)] = 1.0
        return np.asarray(found)

    @property
    def linear_interval(self) -> Array:
        """Ends (p, 2) of the 95 % intervals of the logarithms from the covariance alone."""
        half = self.quantile * self.errors
        return np.column_stack([self.logs - half, self.logs + half])

    @property
    def interval(self) -> Array:
        """Ends (p, 2) of the 95 % intervals of the logarithms, from the profile where that was looked at."""
        straight = self.linear_interval
        if self.rises is None:
            return straight
        found, t = straight.copy(), self.quantile
        for i, (low, high) in enumerate(self.rises):
            half = t * self.errors[i]
            if np.isfinite([low, high, half]).all() and min(low, high) > 0.25 * t:
                # the distance as a parabola of the root of the rise, through both ends and the estimate
                bend = half * (1.0 / high - 1.0 / low) / (high + low)
                slope = half / high - bend * high
                found[i] = self.logs[i] + np.array([-slope * t + bend * t * t, slope * t + bend * t * t])
        return found

    @property
    def bent(self) -> Array:
        """Return by how much the profile (p,) departs from a parabola at the ends: 0 is none; nan if unknown."""
        if self.rises is None:
            return np.full(len(self.logs), np.nan)
        return np.asarray(np.abs(self.rises / self.quantile - 1.0).max(axis=1))

    @cached_property
    def leverage(self) -> Array:
        """Share (n,) of each reading in what is computed for itself."""
        _, left, values, _ = self._decomposed
        return np.asarray(np.sum(left[:, values > 1e-10 * values[0]] ** 2, axis=1))

    @property
    def deleted(self) -> Array:
        """Return residuals (n,) over their standard deviation from a fit without the reading; nan where undefined.

        Cook & Weisberg, Residuals and Influence in Regression (1982), section 2.2; from memory.
        """
        free = self.freedom
        with np.errstate(invalid="ignore", divide="ignore"):
            own = self.residuals / np.sqrt(self.chi_square / free * (1.0 - self.leverage)) if free else np.nan
            found = own * np.sqrt((free - 1.0) / (free - own**2))
        return np.where(1.0 - self.leverage > 1e-9, found, np.nan) * np.ones(len(self.residuals))

    @property
    def suspicious(self) -> NDArray[np.bool_]:
        """Readings (n,) farther off than chance lets one of so many be, at 5 % for all of them together."""
        if self.freedom < 3:
            return np.zeros(len(self.residuals), dtype=bool)
        limit = stats.t.ppf(1.0 - 0.5 * (1.0 - COVERED) / len(self.residuals), self.freedom - 1)
        return np.asarray(np.abs(np.nan_to_num(self.deleted)) > limit)

    @property
    def alike(self) -> list[tuple[int, ...]]:
        """Groups of parameters that the readings cannot tell apart: pairs first, or what mixture is not seen."""
        R = np.nan_to_num(self.correlation)
        pairs = [(i, j) for i in range(len(R)) for j in range(i) if abs(R[i, j]) > ALIKE]
        found: list[tuple[int, ...]] = [(j, i) for i, j in pairs]
        _, _, values, right = self._decomposed
        if not found and len(values) > 1 and values[-1] < FLAT * values[0]:
            found = [tuple(int(i) for i in np.flatnonzero(self.felt)[np.abs(right[-1]) > SHARES])]
        return found


def fit_logs(computed: Vector, slopes: Vector, readings: Array, count: int, *, known: bool) -> Estimate:
    """Fit the logarithms of positive parameters to readings by least squares.

    Parameters
    ----------
    computed : callable
        Of logarithms (p,): what is computed for each reading, shape (n,); not finite where nothing can be.
    slopes : callable
        Of logarithms (p,): its derivatives, shape (n, p).
    readings : ndarray, shape (n,)
        In the same units; over their uncertainties if those are known.
    count : int
        Number of parameters, p.
    known : bool
        Whether the uncertainties are known, so that readings come over them.

    Raises
    ------
    SolveError
        If the search does not end.
    """
    found = optimize.least_squares(
        lambda logs: computed(logs) - readings,
        np.zeros(count),
        jac=slopes,
        method="trf",
        x_scale="jac",
        bounds=(-WIDEST, WIDEST),
        ftol=1e-8,
        xtol=1e-6,
        gtol=None,
        max_nfev=60,
    )
    if found.status < 1:
        raise SolveError(
            f"The fit of {count} parameters did not settle in {found.nfev} solves: fit fewer of them, or begin nearer "
            "by changing the design."
        )
    return Estimate(found.x, -found.fun, found.jac, readings, known, evaluations=int(found.nfev))


def profiled(estimate: Estimate, computed: Vector, slopes: Vector) -> Estimate:
    """Look at the sum of squares at both ends of every linear interval, the other parameters adapted.

    Parameters
    ----------
    estimate : Estimate
    computed, slopes : callable
        As of `fit_logs`.
    """
    count, t, least = len(estimate.logs), estimate.quantile, estimate.chi_square
    rises = np.full((count, 2), np.nan)
    solved = 0
    for i in np.flatnonzero(estimate.felt):
        way = t * estimate.covariance[:, i] / estimate.errors[i]
        if not np.isfinite(way).all() or np.abs(estimate.logs + way).max() > WIDEST:
            continue
        for side, sign in enumerate((-1.0, 1.0)):
            there = estimate.logs + sign * way
            out = estimate.readings - computed(there)
            solved += 1
            if not np.isfinite(out).all():
                continue
            others = np.delete(slopes(there), i, axis=1)
            adapted = out - others @ np.linalg.lstsq(others, out, rcond=None)[0] if count > 1 else out
            rises[i, side] = np.sqrt(max(float(adapted @ adapted) - least, 0.0) / estimate.variance)
    return replace(estimate, rises=rises, evaluations=estimate.evaluations + solved)
