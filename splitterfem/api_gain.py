"""The face of the library for where to add and what to move: gain of ribs, of struts, of moving a support."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields
from typing import TYPE_CHECKING, Any, Literal

from splitterfem import api
from splitterfem.analysis import gain as _gain
from splitterfem.analysis import gain_struts as _gain_struts
from splitterfem.analysis.gain_places import RibPlace
from splitterfem.analysis.measures import Asked, Measure
from splitterfem.design import LoadCase, Pad, Splitter
from splitterfem.errors import DesignError
from splitterfem.materials import BarMaterial, Section
from splitterfem.model import Model
from splitterfem.units import quantity

if TYPE_CHECKING:
    from matplotlib.axes import Axes


class RibGain(_gain.RibGain):
    """Gain of a rib everywhere with its picture; lengths and places in words or in m."""

    def along(self, points: Sequence[Sequence[Any]]) -> float:
        """Gain of a rib along a polyline to first order; see :meth:`splitterfem.analysis.gain.RibGain.along`."""
        return super().along(_points(points))

    def whole(self, points: Sequence[Sequence[Any]]) -> float:
        """Estimate the gain of a whole rib; see :meth:`splitterfem.analysis.gain.RibGain.whole`."""
        return super().whole(_points(points))

    def tried(self, points: Sequence[Sequence[Any]]) -> Measure:
        """Solve anew with the rib there; see :meth:`splitterfem.analysis.gain.RibGain.tried`."""
        return super().tried(_points(points))

    def best(
        self, count: int = 3, *, length: Any = _gain.LENGTH, apart: Any = None, tried: bool = True
    ) -> list[RibPlace]:
        """Find the best places for straight ribs; see :meth:`splitterfem.analysis.gain.RibGain.best`."""
        size = _length(length, "length")
        gap = None if apart is None else _length(apart, "apart")
        return super().best(count, length=size, apart=gap, tried=tried)

    def plot(self, ax: Axes | None = None, *, length: Any = _gain.LENGTH, **options: Any) -> Axes:
        """Draw the best direction at each place; see :func:`splitterfem.output.gainview.plot_rib_gain`."""
        from splitterfem.output.gainview import plot_rib_gain

        return plot_rib_gain(self, ax, length=_length(length, "length"), **options)

    def _repr_html_(self) -> str:
        """Write the table, and what the figures cover; notebooks ask for it by this name."""
        return _html(self.table.to_html(index=False, float_format="{:.4g}".format), self.notes)


class StrutGain(_gain_struts.StrutGain):
    """Gain of a strut everywhere with its picture; places in words or in m."""

    def tried(self, x: Any, y: Any) -> Measure:
        """Solve anew with the strut there; see :meth:`splitterfem.analysis.gain_struts.StrutGain.tried`."""
        return super().tried(_length(x, "x"), _length(y, "y"))

    def plot(self, ax: Axes | None = None, **options: Any) -> Axes:
        """Draw what a strut does at each place; see :func:`splitterfem.output.strutgainview.plot_strut_gain`."""
        from splitterfem.output.strutgainview import plot_strut_gain

        return plot_strut_gain(self, ax, **options)

    def _repr_html_(self) -> str:
        """Write both tables, and what the figures cover; notebooks ask for it by this name."""
        tables = (self.table, self.move_table)
        html = "".join(table.to_html(index=False, float_format="{:.4g}".format) for table in tables)
        return _html(html, self.notes)


def rib_gain(
    splitter: Splitter | Model,
    case: str | LoadCase,
    *,
    section: Section | Mapping[str, object] | None = None,
    material: str | BarMaterial | Mapping[str, object] | None = None,
    measure: str | Sequence[object] = "worst sag",
    side: Literal["above", "below"] = "above",
    mirror: bool = False,
    spacing: object = _gain.SPACING,
) -> RibGain:
    """Find what one more rib is worth at every place and in every direction.

    Parameters
    ----------
    splitter : Splitter or Model
        A design, or a model of it from :func:`splitterfem.build`.
    case : str or LoadCase
        Supports that act, ground, large deflection and air that follows the sag are as it says.
    section : Section or mapping, optional
        Of the rib; that of the splitter's first rib when left out.
    material : str, BarMaterial or mapping, optional
        Of the rib; that of the splitter's first rib when left out.
    measure : str or (x, y)
        What is to get better: "worst sag", "mean sag", "least clearance", "first frequency", "worst utilisation" (or
        "utilisation of panel", "... of ribs", "... of joints", "... of hardware"), or a place, in words or in m, for
        the sag there.
    side : {"above", "below"}
        Face on which the rib lies.
    mirror : bool
        Whether ribs are laid in pairs, left and right.  On a panel that is the same left and right one rib alone does
        little for the worst sag.
    spacing : length
        Of the places.

    Returns
    -------
    RibGain
        With ``x``, ``y``, ``gain`` and ``direction`` of all places, ``along()``, ``whole()`` and ``tried()`` for a rib
        of one's own, ``best()``, ``table``, ``notes`` and ``plot()``.

    Raises
    ------
    UnitError, DesignError
        If something cannot be read, the case or the measure is unknown, or there is no rib to take the section from.
    MechanismError, SolveError
        If the case cannot be solved.

    Examples
    --------
    >>> import splitterfem as sf
    >>> gain = sf.rib_gain(sf.demo().with_("mesh.size", "150 mm"), "straight, 210 km/h", mirror=True)
    >>> gain.whole([("450 mm", "-180 mm"), ("420 mm", "-560 mm")]) > 0.002
    True
    """
    model = splitter if isinstance(splitter, Model) else api.build(splitter)
    known = model.design.ribs[:1]
    if not known and (section is None or material is None):
        raise DesignError(
            "The splitter has no rib whose section and material the new one could have: give section and material."
        )
    found = _gain.rib_gain(
        model,
        case,
        section=known[0].section if section is None else section,  # type: ignore[arg-type]
        material=known[0].material if material is None else material,  # type: ignore[arg-type]
        measure=_measure(measure),
        side=side,
        mirror=mirror,
        spacing=_length(spacing, "spacing"),
    )
    return RibGain(**{field.name: getattr(found, field.name) for field in fields(found)})


def strut_gain(
    splitter: Splitter | Model,
    case: str | LoadCase,
    *,
    stiffness: object = _gain_struts.STIFFNESS,
    pad: object = _gain_struts.FOOT,
    measure: str | Sequence[object] = "worst sag",
    mirror: bool = False,
) -> StrutGain:
    """Find what one more strut is worth at every place, and what it helps to move those that are there.

    Parameters
    ----------
    splitter : Splitter or Model
        A design, or a model of it from :func:`splitterfem.build`.
    case : str or LoadCase
        Supports that act, ground, large deflection and air that follows the sag are as it says.
    stiffness : spring rate
        Of the strut with its ends, in words or in N/m.
    pad : Pad, length or mapping
        Its foot; a length is the diameter of a round pad.
    measure : str or (x, y)
        As for :func:`rib_gain`.
    mirror : bool
        Whether struts come, and mirrored parts are moved, in pairs, left and right.

    Returns
    -------
    StrutGain
        With ``field``, ``best()``, ``tried()``, ``table``, ``moves``, ``move_table``, ``notes`` and ``plot()``.

    Raises
    ------
    UnitError, DesignError
        If something cannot be read, or the case or the measure is unknown.
    MechanismError, SolveError
        If the case cannot be solved.

    Examples
    --------
    >>> import splitterfem as sf
    >>> gain = sf.strut_gain(sf.demo().with_("mesh.size", "150 mm"), "straight, 210 km/h", measure="mean sag")
    >>> gain.best(1)[0][0] > 0.0003
    True
    """
    model = splitter if isinstance(splitter, Model) else api.build(splitter)
    found = _gain_struts.strut_gain(
        model,
        case,
        stiffness=float(quantity(stiffness, "spring rate", name="stiffness")),
        pad=_pad(pad),
        measure=_measure(measure),
        mirror=mirror,
    )
    return StrutGain(**{field.name: getattr(found, field.name) for field in fields(found)})


def _length(given: object, name: str) -> float:
    return float(quantity(given, "length", name=name))


def _points(points: Sequence[Sequence[Any]]) -> list[tuple[float, float]]:
    return [(_length(x, "x"), _length(y, "y")) for x, y in points]


def _measure(given: str | Sequence[object]) -> Asked:
    if not isinstance(given, str):
        return [_length(value, "place") for value in given]
    if "utilisation" not in given:
        return given
    from splitterfem.strength.gain_measure import UtilisationMeasure

    return UtilisationMeasure(given)


def _pad(given: Any) -> Pad:
    if isinstance(given, Pad):
        return given
    return Pad(**given) if isinstance(given, Mapping) else Pad(diameter=given)


def _html(tables: str, notes: Sequence[str]) -> str:
    import html

    return tables + "".join(f"<p>{html.escape(note)}</p>" for note in notes)
