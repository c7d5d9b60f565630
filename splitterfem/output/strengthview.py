"""Stress and utilisation of a solved panel in plan view."""

from __future__ import annotations

from typing import Unpack

import numpy as np
from matplotlib.axes import Axes

from splitterfem.analysis import Solution
from splitterfem.analysis.fields import Field
from splitterfem.output import style
from splitterfem.output.fieldpicture import Sight, plot_sight
from splitterfem.output.fieldview import Look, Worst
from splitterfem.output.judged import weakest
from splitterfem.output.planpicture import Manner, PlanOptions
from splitterfem.output.strengthfields import (
    Direction,
    Face,
    stress_field,
    usual_direction,
    utilisation_field,
)
from splitterfem.output.wording import ratio_words, three_figures, words_for
from splitterfem.strength.assess import utilisation_of
from splitterfem.units import convert

__all__ = ["plot_stress", "plot_utilisation"]

WAYS = {
    "along": "along the grain",
    "across": "across the grain",
    "shear": "in shear",
    "von Mises": "von Mises",
}


def plot_utilisation(
    solution: Solution,
    ax: Axes | None = None,
    *,
    step: float | None = None,
    span: tuple[float, float] | None = None,
    **options: Unpack[PlanOptions],
) -> Axes:
    """Draw what share of its strength the panel uses, the worst of all modes at each place, with the worst called out.

    The figures are those of ``solution.utilisation``: strains averaged over a disc of one thickness in radius.  Ribs,
    joints and fixings are not in the colours; what is used most of all is said under the picture.

    Parameters
    ----------
    solution : Solution
    ax : Axes, optional
        Where to draw; a new figure when left out.
    step : float, optional
        Between contour lines; a round one when left out.
    span : two floats, optional
        Least and greatest share of the colours, for pictures that are to be compared.
    **options
        ``unit``, ``title``, ``legend``, ``frame``: see :class:`splitterfem.output.planpicture.PlanOptions`.

    Raises
    ------
    DesignError
        If the sheet has no strength to judge it by.
    UnitError
        Another unit, a step that is not positive, or a span without two values.
    """
    manner = Manner(**options)
    field = utilisation_field(solution)
    value, at = field.highest()
    look = Look("share of the panel's strength that is used; 1 is the limit", style.SAG_COLOURS, step, span)
    most = weakest(utilisation_of(solution))
    hint = "Dark is used most."
    if most is not None:
        hint += f" Used most of all parts: {most['part']}, {most['mode']}, to {ratio_words(float(most['ratio']))}."
    worst, shown = Worst(at, f"{ratio_words(value)} of the limit"), _for_scale(field, 1.0, manner)
    return plot_sight(Sight(solution, shown, worst, look, "Utilisation of the panel", hint), manner, ax)


def plot_stress(
    solution: Solution,
    ax: Axes | None = None,
    *,
    face: Face = "lower",
    direction: Direction | None = None,
    step: float | None = None,
    span: tuple[float, float] | None = None,
    **options: Unpack[PlanOptions],
) -> Axes:
    """Draw a stress at a face of the panel, tension brown and compression blue, with the largest called out.

    Parameters
    ----------
    solution : Solution
    ax : Axes, optional
        Where to draw; a new figure when left out.
    face : {"lower", "upper"}
    direction : {"along", "across", "shear", "von Mises"}, optional
        To the grain or fibre; along it, or von Mises in metal, when left out.
    step : float, optional
        Between contour lines, in MPa or psi; a round one when left out.
    span : two floats, optional
        Least and greatest stress of the colours, in MPa or psi, for pictures that are to be compared.
    **options
        ``unit``, ``title``, ``legend``, ``frame``: see :class:`splitterfem.output.planpicture.PlanOptions`.  Stresses
        are in MPa with mm, in psi with in.

    Raises
    ------
    DesignError
        Another face or direction.
    UnitError
        Another unit, a step that is not positive, or a span without two values.
    """
    manner = Manner(**options)
    way = usual_direction(solution) if direction is None else direction
    unit = words_for("us" if manner.unit == "in" else "metric").stress
    field = stress_field(solution, face=face, direction=way)
    at = int(np.argmax(np.abs(field.values)))
    value = convert(float(field.values[at]), unit)
    signed = way != "von Mises"
    said = f"{'-' if value < 0.0 else ''}{three_figures(abs(value))} {unit}"
    bar = f"stress {WAYS[way]}{', tension above zero' if signed else ''} ({unit})"
    look = Look(bar, style.SIGNED if signed else style.SAG_COLOURS, step, span)
    hint = "Brown is pulled, blue is pressed; white has no stress." if signed else "Dark is stressed most."
    shown = _for_scale(field, convert(1.0, unit), manner)
    worst = Worst((float(field.x[at]), float(field.y[at])), said)
    return plot_sight(Sight(solution, shown, worst, look, f"Stress at the {face} face", hint), manner, ax)


def _for_scale(field: Field, per_unit: float, manner: Manner) -> Field:
    """Field that the scale of a picture of lengths turns into another unit."""
    return Field(field.x, field.y, field.triangles, field.values * per_unit / manner.scale.per_metre)
