"""How far a linear solution can be trusted: what stretching would change."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from splitterfem.fem.factor import factorise
from splitterfem.fem.modes import supported
from splitterfem.fem.response import Response
from splitterfem.model import Model

Array = NDArray[np.float64]

MOST_SHARE = 0.05
"""Share of the load that stretching may carry in a linear solution; judgement."""


@dataclass(frozen=True)
class LinearRange:
    """What a linear solution leaves out.

    Attributes
    ----------
    sag_over_thickness : float
        Largest deflection, up or down, over the sheet's thickness.
    membrane_share : float
        By how much the load would have to grow for the same shape of deflection if slopes stretched panel and ribs,
        as a share of the load that bends them. Negative where thrust makes the panel softer.
    """

    sag_over_thickness: float
    membrane_share: float

    @property
    def within(self) -> bool:
        """Whether the linear solution can stand for itself: stretching changes it by no more than `MOST_SHARE`."""
        return abs(self.membrane_share) <= MOST_SHARE

    @property
    def sentence(self) -> str:
        """Say what was found, and what to do about it."""
        found = f"the largest deflection is {self.sag_over_thickness:.2g} sheet thicknesses"
        share = 100.0 * abs(self.membrane_share)
        if self.within:
            return f"Linear solution within its range: {found}, stretching carries about {share:.1f} % of the load."
        percent = f"about {share:.0f}" if share < 100.0 else "more than 100"
        way = "stiffens" if self.membrane_share > 0.0 else "softens"
        return (
            f"Linear solution outside its range: {found}, and stretching {way} the panel by {percent} %; solve with "
            "large_deflection = true."
        )


def linear_range(model: Model, response: Response) -> LinearRange:
    """Judge a linear solution: hold its deflection, let panel and ribs give way in plane, and see what that asks for.

    With the deflection held, von Karman's forces are linear in what moves in the plane, so that one solution of the
    in-plane part finds it exactly.  The supports that act go on acting.
    """
    structure, large = model.structure, model.large
    x = np.concatenate([response.x, response.extra])
    acting = structure.acting_rows[np.flatnonzero(response.side != 0)]
    law = structure.base.play.law
    held = supported(structure.matrix, sp.csr_array(structure.rows[acting]), law.compliance[acting])
    plane = _in_plane(model)
    block = factorise(sp.csc_array(held[plane][:, plane]))
    slid = np.zeros_like(x)
    slid[plane] = block.solve(-large.stretched(x)[plane])
    bent = x.copy()
    bent[plane] = 0.0
    load = float(bent @ (structure.matrix @ x))
    moved = x + slid
    more = float(bent @ (large.stretched(moved) + held @ slid))
    thickness = float(model.sheet.base.thickness)
    largest = float(np.abs(response.x[2::5]).max())
    return LinearRange(largest / thickness, more / load if load else 0.0)


def _in_plane(model: Model) -> NDArray[np.int64]:
    """Free unknowns u and v, and the ribs' own."""
    n = model.panel.space.n_dofs
    free = model.structure.free
    return np.asarray(free[(free >= n) | (free % 5 < 2)])
