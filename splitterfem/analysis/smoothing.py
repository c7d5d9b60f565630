"""Smooth curves along a rib through values that jump from element to element.

Strains of finite elements are accurate in the mean over an element and wander within it, the more so where a line
cuts the elements at random.  A least-squares spline through the values at all quadrature points of the line takes
the means and leaves the wander out (Hinton & Campbell 1974, Local and global smoothing of discontinuous finite
element functions using a least squares method, Int. J. Numer. Meth. Engng 8, 461-480).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import BSpline

Array = NDArray[np.float64]

DEGREE = 3


@dataclass(frozen=True, eq=False)
class SmoothCurve:
    """A cubic spline on every straight piece of a line, free to jump at its bends.

    Attributes
    ----------
    breaks : ndarray, shape (m + 1,)
        Distances along the line at which pieces start and end, in m.
    pieces : tuple of BSpline
        One for each piece.
    """

    breaks: Array
    pieces: tuple[BSpline, ...]

    def at(self, s: Array) -> Array:
        """Values (n, k) at distances ``s`` (n,) along the line in m."""
        piece = np.clip(np.searchsorted(self.breaks, s, side="right") - 1, 0, len(self.pieces) - 1)
        values = np.empty((len(s), self.pieces[0].c.shape[1]))
        for number, curve in enumerate(self.pieces):
            values[piece == number] = curve(s[piece == number])
        return values


def smoothed(s: Array, values: Array, weights: Array, *, breaks: Array, spacing: float) -> SmoothCurve:
    """Fit cubic splines in the sense of least squares.

    Parameters
    ----------
    s : ndarray, shape (n,)
        Distances along the line in m.
    values : ndarray, shape (n, k)
        What is smoothed.
    weights : ndarray, shape (n,)
        Length or area for which each value stands.
    breaks : ndarray, shape (m + 1,)
        Distances at which straight pieces of the line start and end, in m.
    spacing : float
        About the distance between the knots of the splines, in m; wiggles shorter than this are left out.
    """
    pieces = []
    for start, end in pairwise(breaks):
        inside = (s >= start) & (s <= end)
        spans = max(1, round(float(end - start) / spacing))
        knots = np.concatenate([[start] * DEGREE, np.linspace(start, end, spans + 1), [end] * DEGREE])
        root = np.sqrt(weights[inside])[:, None]
        matrix = BSpline.design_matrix(s[inside], knots, DEGREE).toarray()
        # lstsq takes the smallest solution where a short piece has fewer points than coefficients
        found = np.linalg.lstsq(root * matrix, root * values[inside], rcond=None)[0]
        pieces.append(BSpline(knots, found, DEGREE))
    return SmoothCurve(breaks, tuple(pieces))
