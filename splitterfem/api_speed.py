"""The face of the library for what becomes of a splitter over speed: sweeps, first ground touch, divergence."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import fields
from typing import TYPE_CHECKING, Any

from splitterfem import api
from splitterfem.analysis import divergence as _divergence
from splitterfem.analysis import sweep as _sweep
from splitterfem.analysis.atspeed import USUAL_TOP, AtSpeed
from splitterfem.analysis.overspeed import over_speed
from splitterfem.analysis.touch import TouchSpeed
from splitterfem.analysis.touch import ground_touch_speed as _touch_speed
from splitterfem.design import LoadCase, SpeedSweep, Splitter
from splitterfem.errors import DesignError
from splitterfem.model import Model
from splitterfem.units import quantity

if TYPE_CHECKING:
    from matplotlib.axes import Axes

SPREAD = (0.4, 1.3)
"""Slowest and fastest speed of a sweep over that of its case when none are given (judgement)."""


class Sweep(_sweep.Sweep):
    """A load case at several speeds with its picture."""

    def plot(self, ax: Axes | None = None, **options: Any) -> Axes:
        """Draw sag, gap, downforce and utilisation over speed; see :func:`splitterfem.output.sweepview.plot_sweep`."""
        from splitterfem.output.sweepview import plot_sweep

        return plot_sweep(self, ax, **options)

    def _repr_html_(self) -> str:
        """Write the table, and what else is known; notebooks ask for it by this name."""
        import html

        from splitterfem.output.speed_words import limit_sentences

        table = str(self.table.to_html(index=False, float_format="{:.4g}".format))
        return table + "".join(f"<p>{html.escape(said)}</p>" for said in limit_sentences(self))


class Divergence(_divergence.Divergence):
    """Divergence speeds as a notebook shows them."""

    def _repr_html_(self) -> str:
        """Write the table and the explanation; notebooks ask for it by this name."""
        import html

        table = str(self.table.to_html(index=False, float_format="{:.4g}".format))
        return table + "".join(f"<p>{html.escape(said)}</p>" for said in self.explanation)


def speed_sweep(
    splitter: Splitter | Model,
    case: str | LoadCase,
    speeds: Iterable[object] | None = None,
    *,
    large_deflection: bool | None = None,
    sag_feedback: bool | None = None,
    judge: Callable[[api.Solution], float | None] | bool = True,
    divergence: bool = False,
) -> Sweep:
    """Solve a load case at several speeds.

    Parameters
    ----------
    splitter : Splitter or Model
        A design, or a model of it from :func:`splitterfem.build`.
    case : str or LoadCase
        A load case of the design by its name, or one of your own, whose pressures follow the speed.
    speeds : list of speed, or (from, to, steps), optional
        Of the car, in words or in m/s: a list of them, or a tuple of slowest, fastest and a whole number of steps.
        From 40 to 130 % of the case's own speed when left out.
    large_deflection, sag_feedback : bool, optional
        In place of what the case says.
    judge : bool or callable
        Whether to find the utilisation at each speed; or what gives it from a solution, None when nothing can be
        judged.
    divergence : bool
        Whether to find the speed at which the panel first touches the ground as well, and the divergence speeds where
        the pressure can follow the sag.

    Returns
    -------
    Sweep
        With ``table``, ``touch``, ``divergence`` and ``plot()``.

    Raises
    ------
    DesignError
        See :func:`splitterfem.analysis.sweep.speed_sweep`.
    UnitError
        If a speed is no speed.

    Examples
    --------
    >>> sweep = sf.speed_sweep(splitter, "straight", ("80 km/h", "240 km/h", 9))  # doctest: +SKIP
    """
    model = splitter if isinstance(splitter, Model) else api.build(splitter)
    at = AtSpeed(model, case, large_deflection=large_deflection, sag_feedback=sag_feedback)
    asked = _judge(judge)
    found = over_speed(at, _speeds(speeds, at), judge=asked, limits=divergence)
    return Sweep(**{field.name: getattr(found, field.name) for field in fields(found)})


def ground_touch_speed(
    splitter: Splitter | Model,
    case: str | LoadCase,
    *,
    up_to: object = USUAL_TOP,
    large_deflection: bool | None = None,
    sag_feedback: bool | None = None,
) -> TouchSpeed:
    """Find the speed at which a splitter first touches the ground.

    Parameters
    ----------
    splitter : Splitter or Model
        A design, or a model of it from :func:`splitterfem.build`.
    case : str or LoadCase
        A load case of the design by its name, or one of your own, whose pressures follow the speed.
    up_to : speed
        Up to which is looked, in words or in m/s; 400 km/h when left out.
    large_deflection, sag_feedback : bool, optional
        In place of what the case says.

    Returns
    -------
    TouchSpeed
        With ``speed``, ``at``, ``under``, ``outcome`` and ``sentence``.

    Raises
    ------
    DesignError, MechanismError, SolveError
        See :func:`splitterfem.analysis.touch.ground_touch_speed`.
    """
    model = splitter if isinstance(splitter, Model) else api.build(splitter)
    return _touch_speed(
        model, case, up_to=_speed(up_to), large_deflection=large_deflection, sag_feedback=sag_feedback
    )


def divergence_speed(
    splitter: Splitter | Model,
    case: str | LoadCase,
    *,
    up_to: object | None = None,
    large_deflection: bool | None = None,
) -> Divergence:
    """Find the speed at which suction grows as fast with the sag as the splitter resists it.

    Parameters
    ----------
    splitter : Splitter or Model
        A design, or a model of it from :func:`splitterfem.build`.
    case : str or LoadCase
        A load case of the design by its name, or one of your own, whose pressure can follow the gap.
    up_to : speed, optional
        Up to which equilibria are followed, in words or in m/s; 400 km/h, or 2.5 times the speed of the case if that
        is more, when left out.
    large_deflection : bool, optional
        In place of what the case says.

    Returns
    -------
    Divergence
        With ``linear``, ``limit``, ``touch``, ``table`` and ``explanation``.  Flutter is not judged.

    Raises
    ------
    DesignError, MechanismError, SolveError
        See :func:`splitterfem.analysis.divergence.divergence_speed`.
    """
    model = splitter if isinstance(splitter, Model) else api.build(splitter)
    found = _divergence.divergence_speed(
        model, case, up_to=None if up_to is None else _speed(up_to), large_deflection=large_deflection
    )
    return Divergence(**{field.name: getattr(found, field.name) for field in fields(found)})


def _judge(judge: Callable[[api.Solution], float | None] | bool) -> _sweep.Judge | None:
    """Return what judges a solution as it comes from the analysis."""
    if isinstance(judge, bool):
        from splitterfem.output.judged import worst_ratio

        return worst_ratio if judge else None
    return lambda plain: judge(
        api.Solution(**{part.name: getattr(plain, part.name) for part in fields(plain)})
    )


def _speed(given: object) -> float:
    return float(quantity(given, "speed", name="speed"))


def _speeds(given: Iterable[object] | None, at: AtSpeed) -> list[float]:
    """Speeds of a sweep in m/s."""
    if given is None:
        return list(usual_sweep(at.case.name, at.speed).speeds)
    if isinstance(given, tuple) and len(given) == 3 and isinstance(given[2], int):
        slowest, fastest = (_speed(one) for one in given[:2])
        return list(SpeedSweep(case=at.case.name, slowest=slowest, fastest=fastest, steps=given[2]).speeds)
    return [_speed(one) for one in given]


def usual_sweep(case: str, speed: float) -> SpeedSweep:
    """Return the sweep over speed of a load case about its own speed in m/s.

    Raises
    ------
    DesignError
        If it has none.
    """
    if speed <= 0.0:
        raise DesignError(f"Load case '{case}' has no speed of its own: say from which to which to go.")
    return SpeedSweep(case=case, slowest=SPREAD[0] * speed, fastest=SPREAD[1] * speed)
