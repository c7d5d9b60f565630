"""Fore-and-aft strips under a panel, and interpolation from their stations to any point."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from scipy.sparse import csr_array
from shapely.geometry import MultiPolygon, Polygon

from splitterfem.aero.gap_relief import FloatArray, relief_profile
from splitterfem.errors import DesignError

GapFunction: TypeAlias = Callable[[FloatArray, FloatArray], ArrayLike]

EDGE_TOLERANCE = 1e-3
"""A point this near the panel counts as on it: chords of a rounded corner stand off by less, m."""


@dataclass(frozen=True)
class Tunnel:
    """An underfloor tunnel that leads on from the gap.

    Parameters
    ----------
    right, left : float
        Sides of the strips that feed it, y in m, ``right < left``.
    exit_area : float
        Of the ramp's exit, above the gap that remains under the rear edge, m2.

    Raises
    ------
    DesignError
        If the sides are in the wrong order or the area is negative.
    """

    right: float
    left: float
    exit_area: float

    def __post_init__(self) -> None:
        if not (np.isfinite([self.right, self.left]).all() and self.right < self.left):
            raise DesignError(
                f"The tunnel reaches from y = {1e3 * self.right:.1f} to {1e3 * self.left:.1f} mm; "
                f"give the smaller y as 'right'."
            )
        if not (np.isfinite(self.exit_area) and self.exit_area >= 0.0):
            raise DesignError(f"The tunnel has an exit area of {self.exit_area:g} m2; give zero or more.")


@dataclass(frozen=True, eq=False)
class StripGrid:
    """Strips of equal width side by side under a panel, with stations from lip to rear edge.

    Make it with :meth:`from_panel`.

    Parameters
    ----------
    panel : shapely Polygon or MultiPolygon
        Plan view with its openings filled, m.
    edges : ndarray, shape (n_strips + 1,)
        Sides of the strips, y in m, increasing.
    lip, rear : ndarray, shape (n_strips,)
        Most forward and most rearward x on the middle line of each strip, m.
    shares : ndarray, shape (n_stations,)
        Stations from the lip (0) to the rear edge (1).
    """

    panel: Polygon | MultiPolygon
    edges: FloatArray
    lip: FloatArray
    rear: FloatArray
    shares: FloatArray

    @classmethod
    def from_panel(cls, panel: Polygon | MultiPolygon, *, strips: int = 40, stations: int = 60) -> StripGrid:
        """Lay strips under a panel; x is forward, so that the air runs from large x to small x.

        Parameters
        ----------
        panel : shapely Polygon or MultiPolygon
            Plan view, m. Openings are filled: the gap goes on under them.
        strips : int
            Across the width, 2 to 1000.
        stations : int
            Along each strip, 3 to 1000.

        Raises
        ------
        DesignError
            If the panel is empty or crosses itself, a number is out of range, or a strip misses the panel.
        """
        if panel.is_empty or not panel.is_valid:
            reason = "is empty" if panel.is_empty else shapely.is_valid_reason(panel)
            raise DesignError(f"The panel for the gap flow cannot be used: {reason}; give a simple outline.")
        if not (2 <= strips <= 1000 and 3 <= stations <= 1000):
            raise DesignError(
                f"The gap flow is asked for {strips} strips of {stations} stations; "
                f"give 2 to 1000 strips and 3 to 1000 stations."
            )
        filled = shapely.union_all(shapely.polygons(shapely.get_exterior_ring(shapely.get_parts(panel))))
        shapely.prepare(filled)
        aft, right, front, left = filled.bounds
        edges = np.linspace(right, left, strips + 1)
        middle = 0.5 * (edges[1:] + edges[:-1])
        ends = np.stack(np.broadcast_arrays([[aft - 1.0, front + 1.0]], middle[:, None]), axis=-1)
        cut = shapely.bounds(shapely.intersection(shapely.linestrings(ends), filled))
        length = cut[:, 2] - cut[:, 0]
        if not np.all(length > 1e-6):
            worst = middle[int(np.argmin(np.nan_to_num(length)))]
            raise DesignError(
                f"The panel has no length along the flow at y = {1e3 * worst:.1f} mm; "
                f"make a gap flow for each part of the panel."
            )
        return cls(filled, edges, cut[:, 2], cut[:, 0], np.linspace(0.0, 1.0, stations))

    @property
    def middle(self) -> FloatArray:
        """Middle line y of each strip, m, shape (n_strips,)."""
        return np.asarray(0.5 * (self.edges[1:] + self.edges[:-1]))

    @property
    def length(self) -> FloatArray:
        """Of each strip, m, shape (n_strips,)."""
        return self.lip - self.rear

    @property
    def distance(self) -> FloatArray:
        """From the lip, m, shape (n_strips, n_stations)."""
        return self.length[:, None] * self.shares

    @property
    def points(self) -> tuple[FloatArray, FloatArray]:
        """Positions x, y of the stations, m, each of shape (n_strips, n_stations)."""
        x = self.lip[:, None] - self.distance
        return x, np.repeat(self.middle[:, None], len(self.shares), axis=1)

    def gap(self, function: GapFunction) -> FloatArray:
        """Gap at the stations from a function of x and y (m in, m out), shape (n_strips, n_stations).

        Raises
        ------
        DesignError
            If the function returns another shape, or a gap that is not finite.
        """
        x, y = self.points
        values = np.asarray(function(x, y), dtype=np.float64)
        if values.shape not in (x.shape, ()):
            raise DesignError(
                f"The gap function returned shape {values.shape} for points of shape {x.shape}; "
                f"write it with array arithmetic."
            )
        values = np.array(np.broadcast_to(values, x.shape))
        if not np.all(np.isfinite(values)):
            at = np.unravel_index(int(np.argmin(np.isfinite(values))), x.shape)
            raise DesignError(
                f"The gap function is not finite at x = {1e3 * x[at]:.1f}, y = {1e3 * y[at]:.1f} mm; "
                f"make it finite under the whole panel."
            )
        return values

    def relief(self, mean: float) -> FloatArray:
        """Side relief of each strip, with ``mean`` over the width; see :func:`relief_profile`."""
        return relief_profile(mean, self.edges)

    def tunnel_height(self, tunnels: Sequence[Tunnel]) -> FloatArray:
        """Exit area of the tunnels behind each strip per width of the strip, m, shape (n_strips,).

        Raises
        ------
        DesignError
            If a tunnel lies beside the panel in part.
        """
        height = np.zeros(len(self.lip))
        for tunnel in tunnels:
            if tunnel.right < self.edges[0] - 1e-6 or tunnel.left > self.edges[-1] + 1e-6:
                raise DesignError(
                    f"The tunnel from y = {1e3 * tunnel.right:.1f} to {1e3 * tunnel.left:.1f} mm reaches beside the "
                    f"panel ({1e3 * self.edges[0]:.1f} to {1e3 * self.edges[-1]:.1f} mm); keep it behind the panel."
                )
            common = np.minimum(self.edges[1:], tunnel.left) - np.maximum(self.edges[:-1], tunnel.right)
            share = np.maximum(common, 0.0) / (tunnel.left - tunnel.right)
            height += share * tunnel.exit_area / np.diff(self.edges)
        return height

    def interpolation(self, x: ArrayLike, y: ArrayLike) -> csr_array:
        """Matrix that takes values at the stations to points.

        Linear across between the middle lines and linear along the flow in shares of the length; beyond the
        outermost middle lines and ends the nearest value holds.

        Parameters
        ----------
        x, y : array_like, of one common shape with n entries
            Points, m.

        Returns
        -------
        csr_array, shape (n, n_strips * n_stations)
            Rows sum to 1; columns run through the stations of the first strip, then of the second.
        """
        X, Y = (np.ravel(c).astype(np.float64) for c in np.broadcast_arrays(x, y))
        strips, stations = len(self.lip), len(self.shares)
        k, across = _place((Y - self.middle[0]) / (self.edges[1] - self.edges[0]), strips)
        lip = (1.0 - across) * self.lip[k] + across * self.lip[k + 1]
        length = (1.0 - across) * self.length[k] + across * self.length[k + 1]
        i, along = _place((lip - X) / length * (stations - 1), stations)
        columns = np.stack([(k + a) * stations + i + b for a in (0, 1) for b in (0, 1)], axis=1)
        weights = np.stack([a * b for a in (1.0 - across, across) for b in (1.0 - along, along)], axis=1)
        starts = np.arange(0, 4 * len(X) + 1, 4)
        return csr_array((weights.ravel(), columns.ravel(), starts), shape=(len(X), strips * stations))

    def outside(self, x: ArrayLike, y: ArrayLike) -> NDArray[np.bool_]:
        """Whether points (m) lie more than a millimetre outside the panel."""
        return np.asarray(
            ~shapely.dwithin(self.panel, shapely.points(*np.broadcast_arrays(x, y)), EDGE_TOLERANCE)
        )


def _place(position: FloatArray, count: int) -> tuple[NDArray[np.intp], FloatArray]:
    """Index of the interval and share within it, held to ``count`` evenly spaced values."""
    held = np.clip(position, 0.0, count - 1.0)
    index = np.minimum(held.astype(np.intp), count - 2)
    return index, held - index
