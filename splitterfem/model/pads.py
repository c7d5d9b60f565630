"""Pads of supports and forces as areas in plan, and mirrored pairs written out."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
import scipy.sparse as sp
import shapely
import shapely.affinity
from numpy.typing import NDArray

from splitterfem import curves
from splitterfem.design import Pad, Part
from splitterfem.errors import DesignError
from splitterfem.fem.loads import deflection_matrix
from splitterfem.fem.locate import Locator
from splitterfem.fem.panel import Panel

P = TypeVar("P", bound=Part)

PAD_CHORD = 0.01
"""Largest distance of a round pad's polygon from its circle, over the radius."""

AT_ONCE = 256
"""Pads that are cut at the edges of elements at once."""

QUADRATIC = 2
"""Degree of the deflection in an element, which pads integrate exactly."""


def written_out(parts: tuple[P, ...]) -> tuple[P, ...]:
    """Parts with every mirrored pair as two."""
    return tuple(side for part in parts for side in part.sides())


def pad_radius(pad: Pad) -> float:
    """Radius of the circle around a pad in m."""
    if pad.diameter is not None:
        return 0.5 * float(pad.diameter)
    return 0.5 * float(np.hypot(pad.length or 0.0, pad.width or 0.0))


def pad_polygon(pad: Pad, at: tuple[float, float]) -> shapely.Polygon:
    """Area of a pad in plan, centred at a point in m, blown up to its true area where it is round."""
    polygon = curves.polygon(pad.loop(at), PAD_CHORD * pad_radius(pad))
    grow = float(np.sqrt(pad.area / polygon.area))
    return shapely.affinity.scale(polygon, grow, grow, origin=at)


def spread_rows(
    panel: Panel, locator: Locator, pad: Pad, places: NDArray[np.float64], *, what: str
) -> sp.csr_array:
    """Mean deflection (k, n_dofs) of a pad at each place (k, 2) in m, over what of it lies on the panel.

    Raises
    ------
    DesignError
        If all of a pad is off the panel; ``what`` names it.
    """
    corners = shapely.get_coordinates(pad_polygon(pad, (0.0, 0.0)))
    blocks = []
    for first in range(0, len(places), AT_ONCE):
        areas = shapely.polygons(corners + places[first : first + AT_ONCE, None])
        samples, owner = locator.areas(areas, order=QUADRATIC)
        on_panel = np.bincount(owner, samples.weights, minlength=len(areas))
        if not np.all(on_panel > 0.0):
            x, y = 1e3 * places[first + int(np.argmin(on_panel))]
            raise DesignError(f"{what} at x {x:.0f}, y {y:.0f} mm lies off the panel: move it onto it.")
        pairs = (owner, np.arange(len(owner)))
        shares = sp.csr_array((samples.weights / on_panel[owner], pairs), shape=(len(areas), len(owner)))
        blocks.append(shares @ deflection_matrix(panel, samples.elements, samples.xy))
    return sp.csr_array(sp.vstack(blocks))
