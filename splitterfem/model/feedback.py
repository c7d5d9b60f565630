"""Air that follows the sag of a panel, for the load cases of a design.

Under the panel the gap is the static one less the sag.  When the panel sags the gap narrows, suction grows, and the
panel sags more.  What the sag adds to the load at rest is found here; the load at rest is that of
:mod:`splitterfem.model.airload`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from splitterfem import aero
from splitterfem.design import LoadCase, Splitter
from splitterfem.design.gap import GapLawMap
from splitterfem.errors import DesignError
from splitterfem.fem.loads import deflection_matrix
from splitterfem.model.air import air_density
from splitterfem.model.airload import pressure_field
from splitterfem.model.assembly import Model
from splitterfem.model.feedback_air import GapAir, MapAir, Wind
from splitterfem.model.feedback_points import REACH, PanelPoints, Stations, panel_points, stations
from splitterfem.model.feedback_ratio import gap_rule
from splitterfem.model.gaplaw import gap_estimates, ground_gap, tunnels_of
from splitterfem.model.loads import acting

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class SagFollower:
    """Load of the air beyond that at rest, for the panel's unknowns; see :class:`splitterfem.fem.follower.Follower`.

    Make it with :func:`sag_follower`.

    Attributes
    ----------
    model : Model
    speed : float
        Highest of the car in m/s, of the case and those that it combines.
    maps : tuple of MapAir
        Measured maps of the case and of those that it combines, also those that do not follow.
    laws : tuple of GapAir
        Estimates by the gap law.
    remarks : tuple of str
        What is to be said whatever the sag.
    """

    model: Model
    speed: float
    maps: tuple[MapAir, ...]
    laws: tuple[GapAir, ...]
    remarks: tuple[str, ...] = ()

    def load(self, x: Array) -> Array:
        """Load vector (n_dofs,) in N that the unknowns ``x`` (n_dofs,) add to the load at rest; zero for ``x = 0``."""
        total = np.zeros(self.model.panel.space.n_dofs)
        if self._following:
            w = self._points.deflection @ x
            total += self._points.load @ np.sum([air.added(w) for air in self._following], axis=0)
        if self.laws:
            under = self._stations
            w = under.deflection @ x
            total += under.load @ np.sum([air.added(w) for air in self.laws], axis=0)
        return total

    def slope(self, x: Array) -> Callable[[Array], Array]:
        """Return the derivative of the load at ``x``; it takes changes of unknowns to changes of the load (n_dofs,)."""
        terms: list[Callable[[Array], Array]] = []
        if self._following:
            points = self._points
            w = points.deflection @ x
            by_w = np.sum([air.added_slope(w) for air in self._following], axis=0)
            terms.append(lambda step: points.load @ (by_w * (points.deflection @ step)))
        if self.laws:
            under = self._stations
            w_under = under.deflection @ x
            by_gap = [air.added_slope(w_under) for air in self.laws]

            def of_laws(step: Array) -> Array:
                dw = under.deflection @ step
                return np.asarray(under.load @ np.sum([part(dw) for part in by_gap], axis=0))

            terms.append(of_laws)
        return lambda step: np.asarray(np.sum([term(step) for term in terms], axis=0))

    def pressure_at(self, x: Array, points: Array) -> Array:
        """Net pressure of all air of the case with the sag, load factors included.

        Parameters
        ----------
        x : ndarray, shape (n_dofs,)
            Unknowns of the panel.
        points : ndarray, shape (2, n)
            In m.

        Returns
        -------
        ndarray, shape (n,)
            In Pa, positive down; nan off the panel.
        """
        elements = self.model.locator.find(points, reach=REACH)
        on = elements >= 0
        here = points[:, on]
        found = np.full(points.shape[1], np.nan)
        w = deflection_matrix(self.model.panel, elements[on], here) @ x
        found[on] = sum(air.pressure(here, w) for air in self.maps)
        if self.laws:
            w = self._stations.deflection @ x
            found[on] += sum(air.pressure(here, w) for air in self.laws)
        return found

    def notes(self, x: Array) -> tuple[str, ...]:
        """Sentences on how far the air at the unknowns ``x`` (n_dofs,) can be trusted."""
        space = self.model.panel.space
        found = list(self.remarks)
        for measured in self.maps:
            found += measured.notes(space.node_points, x[2::5])
        for law in self.laws:
            found += law.notes(self._stations.deflection @ x)
        return tuple(dict.fromkeys(found))

    def at_speed(self, speed: float) -> SagFollower:
        """Return the air of the same case with the car at another speed, head winds and air kept.

        Combined cases with other speeds than the highest keep their share of it.  Nothing is built anew but the flow
        at rest, so that this is cheap; the boundary layer of the gap law is that of the speed.

        Parameters
        ----------
        speed : float
            Of the car in m/s, above zero.

        Raises
        ------
        DesignError
            If the speed is not above zero, a wind from behind is faster, or the gap law cannot be used at it.
        """
        if not (np.isfinite(speed) and speed > 0.0):
            raise DesignError(f"The speed is {speed:g} m/s: give one above zero.")
        share = speed / self.speed if self.speed > 0.0 else None

        def at(wind: Wind) -> Wind:
            other = replace(wind, car=speed if share is None else share * wind.car)
            if other.speed <= 0.0:
                raise DesignError(
                    f"Load case '{wind.case}' has a wind from behind that is faster than the car at {speed:g} m/s: "
                    "give a higher speed."
                )
            return other

        return replace(self._blown(at), speed=speed)

    def scaled(self, factor: float) -> SagFollower:
        """Return the air of the same case with ``factor`` times the dynamic pressure, by the speed of the air.

        Pressures that belong to no speed stay as they are.

        Raises
        ------
        DesignError
            If the factor is not above zero, or the gap law cannot be used at the speed.
        """
        if not (np.isfinite(factor) and factor > 0.0):
            raise DesignError(f"The factor on the dynamic pressure is {factor:g}: give one above zero.")
        root = float(np.sqrt(factor))
        other = self._blown(lambda wind: replace(wind, car=root * wind.car, head=root * wind.head))
        return replace(other, speed=root * self.speed)

    def _blown(self, change: Callable[[Wind], Wind]) -> SagFollower:
        maps = tuple(air.blown(change(air.wind)) if air.by_speed else air for air in self.maps)
        return replace(self, maps=maps, laws=tuple(air.blown(change(air.wind)) for air in self.laws))

    @property
    def _following(self) -> list[MapAir]:
        return [air for air in self.maps if air.rule is not None]

    @property
    def _points(self) -> PanelPoints:
        return panel_points(self.model.panel)

    @property
    def _stations(self) -> Stations:
        return stations(self.model, self.laws[0].rest.grid)


def sag_follower(model: Model, case: LoadCase) -> SagFollower | None:
    """Make the air of a case and of those that it combines follow the sag.

    Every case that is combined has its own speed and its own static stand; the sag is that of all together.  Whether
    the case asks for it is not looked at, but for the errors.

    Parameters
    ----------
    model : Model
    case : LoadCase

    Returns
    -------
    SagFollower or None
        None when no pressure follows the gap, or the car stands still.

    Raises
    ------
    DesignError
        If the case has `sag_feedback` and nothing follows, a combined case is not there, or a pressure map or the gap
        law cannot be used.
    FileError
        If the file of a map cannot be read.
    MeshError
        If the mesh misses a strip of the gap law.
    """
    parts = [(part, factor) for part, factor in acting(model.design, case) if part.pressure is not None]
    awake = [(part, factor) for part, factor in parts if _blows(part)]
    if not any(_follows(part) for part, _ in awake):
        if case.sag_feedback:
            raise DesignError(f"Load case '{case.name}' has sag_feedback{_missing([p for p, _ in parts])}")
        return None
    maps = [_map_air(model, p, f) for p, f in awake if not isinstance(p.pressure, GapLawMap)]
    laws = [_gap_air(model.design, p, p.pressure, f) for p, f in awake if isinstance(p.pressure, GapLawMap)]
    speed = max(float(part.speed) for part in (case, *(part for part, _ in awake)))
    return SagFollower(model, speed, tuple(maps), tuple(laws), _tunnel_words(model.design, case))


def _follows(case: LoadCase) -> bool:
    pressure = case.pressure
    return isinstance(pressure, GapLawMap) or (pressure is not None and pressure.gap_exponent > 0.0)


def _blows(case: LoadCase) -> bool:
    return case.pressure is not None and (_wind(case).q > 0.0 or not case.pressure.by_speed)


def _missing(parts: list[LoadCase]) -> str:
    """Say what a case lacks for its pressure to follow the sag."""
    if not parts:
        return " but no pressure map: give it one, or drop sag_feedback."
    if not any(_follows(part) for part in parts):
        return (
            ", but its pressure does not follow the gap: give its pressure map a gap_exponent above zero, such as 1, "
            "or take the gap law."
        )
    return " but no speed: give it one, or drop sag_feedback."


def _wind(case: LoadCase) -> Wind:
    return Wind(case.name, float(case.speed), float(case.head_wind), air_density(case))


def _map_air(model: Model, case: LoadCase, factor: float) -> MapAir:
    """Air of a measured map."""
    pressure = case.pressure
    assert pressure is not None
    assert not isinstance(pressure, GapLawMap)
    field = pressure_field(model.design, case)
    rule = gap_rule(model.design, case, pressure)
    xy = panel_points(model.panel).xy
    gap = np.zeros(xy.shape[1]) if rule is None else rule.static(xy[0])
    push = factor * field.at(*xy)
    return MapAir(_wind(case), factor, field, rule, pressure.by_speed, push, gap)


def _gap_air(design: Splitter, case: LoadCase, pressure: GapLawMap, factor: float) -> GapAir:
    """Air of the gap law."""
    estimates = gap_estimates(design, case, pressure)
    assert estimates is not None
    rest: aero.GapMap = estimates.of(pressure.band)
    return GapAir(
        _wind(case),
        factor * float(case.factor) * float(pressure.scale),
        rest,
        rest.grid.gap(ground_gap(design, case)),
        rest.grid.tunnel_height(tunnels_of(design)),
    )


def _tunnel_words(design: Splitter, case: LoadCase) -> tuple[str, ...]:
    """Say which tunnels load the panel as at rest."""
    blowing = any(_wind(part).q > 0.0 for part, _ in acting(design, case))
    names = [
        f"'{name}'"
        for cutout in design.panel.cutouts
        if cutout.tunnel is not None and cutout.tunnel.carried_by == "rim"
        for name, _ in cutout.sides()
    ]
    if not (blowing and names):
        return ()
    one = len(names) == 1
    return (
        f"The load of tunnel{'' if one else 's'} {' and '.join(names)} on {'its rim is' if one else 'their rims is'} "
        "that at rest: it does not follow the sag.",
    )
