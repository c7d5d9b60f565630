"""What a sample says of a scattered figure: percentiles, probabilities, and which input matters, each with its error.

Intervals are those of independent draws.  Scrambled Sobol points scatter less than that, as a rule, so that they are on
the safe side (Owen, J. Complexity 14 (1998) 466-489; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import stats

Array = NDArray[np.float64]

LEVEL = 0.95
"""Of all intervals."""

DRAWS = 400
"""Bootstrap draws for the errors of indices."""


@dataclass(frozen=True)
class Interval:
    """A figure with the 95 % interval that sampling leaves it."""

    value: float
    low: float
    high: float


def percentile(values: Array, share: float) -> Interval:
    """Percentile of a sample with a 95 % interval free of any distribution.

    The ends are order statistics whose ranks are binomial quantiles (Conover, Practical Nonparametric Statistics, 3rd
    ed. 1999, section 3.2; from memory); without end where the sample is too small to have one.

    Parameters
    ----------
    values : ndarray, shape (n,)
    share : float
        Of the values that lie below, between 0 and 1.
    """
    ordered, n = np.sort(values), len(values)
    tail = 0.5 * (1.0 - LEVEL)
    first = int(stats.binom.ppf(tail, n, share))
    last = int(stats.binom.ppf(1.0 - tail, n, share)) + 1
    low = float(ordered[first - 1]) if first >= 1 else -np.inf
    high = float(ordered[last - 1]) if last <= n else np.inf
    return Interval(float(np.quantile(ordered, share)), low, high)


def proportion(hits: int, count: int) -> Interval:
    """Share of hits with its exact 95 % interval (Clopper & Pearson, Biometrika 26 (1934) 404-413; from memory)."""
    tail = 0.5 * (1.0 - LEVEL)
    low = float(stats.beta.ppf(tail, hits, count - hits + 1)) if hits else 0.0
    high = float(stats.beta.ppf(1.0 - tail, hits + 1, count - hits)) if hits < count else 1.0
    return Interval(hits / count, low, high)


@dataclass(frozen=True, eq=False)
class Influence:
    """How much each input matters for a figure.

    Attributes
    ----------
    kind : {"ranks", "sobol"}
        Standardised regression of ranks; or shares of the variance.
    first, first_error : ndarray, shape (d,)
        Coefficients between -1 and 1, or first-order Sobol indices, with their standard errors.
    total, total_error : ndarray, shape (d,), or None
        Total Sobol indices; None for ranks.
    explained : float
        Share of the variance, of the ranks if it is them, that the first ones explain by themselves.
    """

    kind: str
    first: Array
    first_error: Array
    total: Array | None
    total_error: Array | None
    explained: float

    @property
    def order(self) -> NDArray[np.int64]:
        """Inputs (d,), the one that matters most first."""
        size = np.abs(self.first if self.total is None else self.total)
        return np.argsort(-size, kind="stable").astype(np.int64)


def by_ranks(inputs: Array, values: Array, *, seed: int) -> Influence:
    """Standardised coefficients of a regression of ranks on ranks, with bootstrap errors.

    For what rises or falls with each input, at a cost that does not grow with their number (Iman & Conover,
    Technometrics 21 (1979) 499-509; bootstrap: Efron 1979; from memory).

    Parameters
    ----------
    inputs : ndarray, shape (n, d)
    values : ndarray, shape (n,)
    seed : int
        Of the bootstrap.
    """
    found, explained = _rank_regression(inputs, values)
    rng, n = np.random.default_rng(seed), len(values)
    draws = rng.integers(0, n, size=(DRAWS, n))
    tried = np.array([_rank_regression(inputs[draw], values[draw])[0] for draw in draws])
    return Influence("ranks", found, tried.std(axis=0, ddof=1), None, None, explained)


def _rank_regression(inputs: Array, values: Array) -> tuple[Array, float]:
    ranks = stats.rankdata(np.column_stack([inputs, values]), axis=0)
    centred = ranks - ranks.mean(axis=0)
    size = np.sqrt(np.mean(centred**2, axis=0))
    scaled = centred / np.where(size > 0.0, size, 1.0)
    X, y = scaled[:, :-1], scaled[:, -1]
    found = np.linalg.lstsq(X, y, rcond=None)[0]
    variance = float(np.mean(y**2))
    left = float(np.mean((y - X @ found) ** 2))
    return found, 1.0 - left / variance if variance > 0.0 else 0.0


def by_sobol(f_a: Array, f_b: Array, f_ab: Array, *, seed: int) -> Influence:
    """First-order and total Sobol indices with bootstrap errors.

    First order after Saltelli et al., Comput. Phys. Commun. 181 (2010) 259-270, ``f_B (f_AB - f_A)``; total after
    Jansen, Comput. Phys. Commun. 117 (1999) 35-43, ``(f_A - f_AB)^2 / 2``; from memory.

    Parameters
    ----------
    f_a, f_b : ndarray, shape (n,)
        Figures at two samples of all inputs.
    f_ab : ndarray, shape (d, n)
        Figures at the first sample with one input at a time taken from the second.
    seed : int
        Of the bootstrap.
    """
    first, total = _indices(f_a, f_b, f_ab)
    rng, n = np.random.default_rng(seed), len(f_a)
    draws = rng.integers(0, n, size=(DRAWS, n))
    tried = np.array([_indices(f_a[draw], f_b[draw], f_ab[:, draw]) for draw in draws])
    errors = tried.std(axis=0, ddof=1)
    return Influence("sobol", first, errors[0], total, errors[1], float(first.sum()))


def _indices(f_a: Array, f_b: Array, f_ab: Array) -> tuple[Array, Array]:
    both = np.concatenate([f_a, f_b])
    variance, mean = float(both.var()), float(both.mean())
    if not variance > 0.0:
        return np.zeros(len(f_ab)), np.zeros(len(f_ab))
    # less of the mean, which changes nothing but the scatter of the estimate
    first = np.mean((f_b - mean) * (f_ab - f_a), axis=1) / variance
    total = 0.5 * np.mean((f_a - f_ab) ** 2, axis=1) / variance
    return np.asarray(first), np.asarray(total)
