"""The face of the library for small changes: how figures of a load case change with places and sizes of parts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from typing import Any

from splitterfem import api
from splitterfem.analysis import gradients as _gradients
from splitterfem.analysis.measures import Which
from splitterfem.design import LoadCase, Splitter
from splitterfem.model import Model
from splitterfem.units import quantity


class Gradients(_gradients.Gradients):
    """Derivatives of figures of a load case by places and sizes of parts."""

    def _repr_html_(self) -> str:
        """Write the table, and what the figures cover; notebooks ask for it by this name."""
        table = self.table.to_html(index=False, float_format="{:.4g}".format)
        return table + "".join(f"<p>{note}</p>" for note in self.notes)


def gradients(
    splitter: Splitter | Model,
    case: str | LoadCase,
    *,
    measures: Sequence[str | Sequence[Any]] = ("worst sag",),
    by: Sequence[str] | None = None,
) -> Gradients:
    """Find how figures of a load case change with places and sizes of parts, to first order, from one solve.

    Parameters
    ----------
    splitter : Splitter or Model
        A design, or a model of it from :func:`splitterfem.build`.
    case : str or LoadCase
        A load case of the design by its name, or one of your own; contact, ground and large deflection as it says.
    measures : sequence of str or places
        "worst sag", "mean sag", "least clearance", "mass", a place (x, y) for the sag there, "worst utilisation",
        "utilisation of panel", "utilisation of ribs", "utilisation of joints", "utilisation of hardware".
    by : sequence of str, optional
        Names of parts for all their places, ``"cross tube dx"`` for the way of a whole part, or paths such as
        ``"panel.sheet.thickness"``, ``"ribs.cross tube.section.height"``, ``"struts.front.foot.x"``; all places of all
        parts and the sheet's thickness when left out.

    Returns
    -------
    Gradients
        With ``.table``: per millimetre of way or size, and ``.of(measure, parameter)`` in SI units.

    Raises
    ------
    DesignError
        If there is no such measure or parameter, or it has no derivative.
    MechanismError
        If the supports do not hold the panel under this load.
    SolveError
        If the load case cannot be solved.
    """
    from splitterfem.strength.governing import worst_utilisation

    solution = api.solve(splitter, case)
    asked: list[Which | _gradients.Figure] = []
    for one in measures:
        if isinstance(one, str):
            asked.append(worst_utilisation(solution, one) if "utilisation" in one else one)
        else:
            asked.append(tuple(quantity(part, "length", name="place") for part in one))
    found = _gradients.gradients(solution, asked, by=by)
    return Gradients(**{field.name: getattr(found, field.name) for field in fields(found)})
