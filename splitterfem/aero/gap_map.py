"""Net pressure over a panel on which nothing was measured, estimated from the flow through the gap."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray
from shapely.geometry import MultiPolygon, Polygon

from splitterfem.aero.gap_flow import StripFlow, strip_flow
from splitterfem.aero.gap_grid import GapFunction, StripGrid, Tunnel
from splitterfem.aero.gap_law import Band, BandName, GapLaw
from splitterfem.aero.gap_nose import UpperSide
from splitterfem.aero.gap_relief import FloatArray
from splitterfem.errors import DesignError


@dataclass(frozen=True, eq=False)
class GapMap:
    """Net pressure ``q (Cp_upper - Cp_lower)``, the lower side from the gap flow, the upper side from the nose.

    Make it with :meth:`from_panel`; :func:`gap_maps` makes the low, typical and high one together.

    An estimate with an error of 40 to 50 % either way, without stall and yaw: scale it to a measured total with
    :meth:`scaled` where one is known.

    Parameters
    ----------
    grid : StripGrid
        Strips under the panel.
    lower : array_like, shape (n_strips, n_stations)
        Pressure coefficient on the lower side.
    q : float
        Dynamic pressure, Pa.
    upper : UpperSide or None
        Pressure on the upper side; None where it is that of the undisturbed air.
    flow : StripFlow or None
        Where ``lower`` came from, for its flags.
    factor : float
        On the whole net pressure.

    Raises
    ------
    DesignError
        If ``lower`` does not fit the grid or q is negative.
    """

    grid: StripGrid
    lower: FloatArray
    q: float
    upper: UpperSide | None
    flow: StripFlow | None = None
    factor: float = 1.0

    def __post_init__(self) -> None:
        lower = np.array(self.lower, dtype=np.float64)
        fits = (len(self.grid.lip), len(self.grid.shares))
        if lower.shape != fits or not np.isfinite(lower).all():
            raise DesignError(
                f"The lower side has pressure coefficients of shape {lower.shape}; give {fits} finite numbers."
            )
        if not (np.isfinite(self.q) and self.q >= 0.0 and np.isfinite(self.factor)):
            raise DesignError(
                f"The gap map has a dynamic pressure of {self.q:g} Pa and a factor of {self.factor:g}; "
                f"give finite numbers, the pressure zero or more."
            )
        lower.setflags(write=False)
        object.__setattr__(self, "lower", lower)

    @classmethod
    def from_panel(
        cls,
        panel: Polygon | MultiPolygon,
        gap: GapFunction,
        *,
        q: float,
        laws: Band[GapLaw],
        upper: Band[UpperSide] | None,
        band: BandName = "typical",
        tunnels: Sequence[Tunnel] = (),
        density: float = 1.225,
        strips: int = 40,
        stations: int = 60,
    ) -> GapMap:
        """Estimate the map for one band.

        Parameters
        ----------
        panel : shapely Polygon or MultiPolygon
            Plan view, m; x is forward, the lip at large x.
        gap : callable
            Takes arrays x and y in m, returns the gap between panel and road in m.
        q : float
            Dynamic pressure, Pa, above zero.
        laws : Band of GapLaw
            From :func:`~splitterfem.aero.gap_law.gap_laws`.
        upper : Band of UpperSide, or None
            From :func:`~splitterfem.aero.gap_nose.nose_zones`; None counts no pressure on the upper side.
        band : {"low", "typical", "high"}
            Which of the estimates.
        tunnels : sequence of Tunnel
            That lead on behind the panel.
        density : float
            Of the air, kg/m3; gives the speed for the boundary layer.
        strips, stations : int
            Fineness.

        Raises
        ------
        DesignError
            If the panel, the gap or a number cannot be used.
        """
        if not (np.isfinite(q) and q > 0.0 and density > 0.0):
            raise DesignError(
                f"The gap flow has a dynamic pressure of {q:g} Pa in air of {density:g} kg/m3; give both above zero."
            )
        grid = StripGrid.from_panel(panel, strips=strips, stations=stations)
        law = laws.of(band)
        flow = strip_flow(
            law,
            grid.distance,
            grid.gap(gap),
            speed=float(np.sqrt(2.0 * q / density)),
            relief=grid.relief(law.relief),
            tunnel_height=grid.tunnel_height(tunnels),
        )
        return cls(grid, flow.cp, q, None if upper is None else upper.of(band), flow)

    def at(self, x: ArrayLike, y: ArrayLike) -> FloatArray:
        """Net pressure at points (m), Pa."""
        shape = np.broadcast(x, y).shape
        lower = (self.grid.interpolation(x, y) @ self.lower.ravel()).reshape(shape)
        upper = 0.0 if self.upper is None else self.upper.cp(x, y)
        return np.asarray(self.factor * self.q * (upper - lower))

    def extrapolated(self, x: ArrayLike, y: ArrayLike) -> NDArray[np.bool_]:
        """Whether the points (m) lie outside the panel, where the map was not estimated."""
        return self.grid.outside(x, y)

    def scaled(self, factor: float) -> GapMap:
        """Return the map times ``factor``, such as a measured total over the estimated one."""
        return replace(self, factor=self.factor * factor)


def gap_maps(
    panel: Polygon | MultiPolygon,
    gap: GapFunction,
    *,
    q: float,
    laws: Band[GapLaw],
    upper: Band[UpperSide] | None,
    tunnels: Sequence[Tunnel] = (),
    density: float = 1.225,
    strips: int = 40,
    stations: int = 60,
) -> Band[GapMap]:
    """Low, typical and high estimate of the net pressure; parameters as for :meth:`GapMap.from_panel`.

    Raises
    ------
    DesignError
        If the panel, the gap or a number cannot be used.
    """

    def made(band: BandName) -> GapMap:
        return GapMap.from_panel(
            panel,
            gap,
            q=q,
            laws=laws,
            upper=upper,
            band=band,
            tunnels=tunnels,
            density=density,
            strips=strips,
            stations=stations,
        )

    return Band(made("low"), made("typical"), made("high"))
