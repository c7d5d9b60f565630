"""Gap to the ground: ride height and rake less sag, under the panel and under ribs below it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from splitterfem.analysis.fields import Field
from splitterfem.design import LoadCase
from splitterfem.fem.recover import displacements
from splitterfem.fem.response import Response
from splitterfem.model import Model, clearance_datum

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Clearance:
    """Gap to the ground.

    Attributes
    ----------
    field : Field
        Gap in m between the ground and the panel's lower face.
    least : float
        Smallest gap in m, ribs on the lower face included.
    at : tuple of float
        Its place (x, y) in m.
    under : str
        What comes lowest there: ``"panel"`` or the rib's name.
    """

    field: Field
    least: float
    at: tuple[float, float]
    under: str


def clearance(model: Model, case: LoadCase, response: Response, sag: Field) -> Clearance:
    """Gap under the whole panel for a response and the sag that it makes.

    The static gap at x is the ride height less x tan(rake), measured to the panel's lower face.  Where the panel
    lies on the ground the gap is zero; it is negative only in a case without ground.

    Raises
    ------
    DesignError
        If no ride height is given.
    """
    found = free_gap(model, case, response.x, sag)
    if not response.ground.any():
        return found
    # the ground holds places by their mean: their edges may lie a few hundredths of a millimetre lower
    gap = found.field
    held = Field(gap.x, gap.y, gap.triangles, np.maximum(gap.values, 0.0))
    return Clearance(held, 0.0, found.at, found.under)


def free_gap(model: Model, case: LoadCase, unknowns: Array, sag: Field) -> Clearance:
    """Gap under the panel with its unknowns (n_dofs,), as if there were no ground to stop it: negative below ground.

    Raises
    ------
    DesignError
        If no ride height is given.
    """
    datum = clearance_datum(model.design, case)
    gap = Field(sag.x, sag.y, sag.triangles, datum(sag.x) - sag.values)
    least, at = gap.lowest()
    under = "panel"
    for rib in model.ribs:
        if rib.side > 0:
            continue
        samples = rib.operators.lines[0].samples
        w = displacements(model.panel, unknowns, samples.elements, samples.xy)[:, 2]
        below = datum(samples.xy[0]) + w - rib.properties.height
        i = int(np.argmin(below))
        if below[i] < least:
            least, at, under = float(below[i]), (float(samples.xy[0, i]), float(samples.xy[1, i])), rib.name
    return Clearance(gap, least, at, under)
