"""Leaning on the panel everywhere: the stiffness that a hand feels at every point."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
import scipy.sparse as sp
from numpy.typing import NDArray

from splitterfem.analysis.fields import Field
from splitterfem.design import LoadCase, Pad
from splitterfem.design.combine import settled
from splitterfem.errors import DesignError
from splitterfem.fem.push import pushed
from splitterfem.model import Model, case_load
from splitterfem.model.pads import spread_rows
from splitterfem.threads import one_blas_thread

Array = NDArray[np.float64]

HAND = Pad(diameter=0.06)
"""The heel of a hand."""

FORCE = 200.0
"""A firm push with a hand, N (common practice, no source)."""

AT_REST = LoadCase(name="own weight", ground=False)

APART = 0.15
"""Distance in m within which nothing is softer than a soft spot."""

SPOTS = 6
"""Soft spots that the table lists at most."""


@dataclass(frozen=True, eq=False)
class PushMap:
    """What is felt when the panel is pushed down by hand, point by point.

    Attributes
    ----------
    model : Model
        What is pushed.
    stiffness : Field
        Push over the sag right under it, in N/m; nan where the push lifts the panel off its supports.
    force : float
        Of the push in N.
    pad : Pad
        Over which it is spread; the part of it that lies on the panel, near an edge.
    case : str
        Load case that acts at the same time.
    """

    model: Model
    stiffness: Field
    force: float
    pad: Pad
    case: str

    @property
    def lifts(self) -> NDArray[np.bool_]:
        """Points (n,) at which the push lifts the panel off its supports."""
        return np.isnan(self.stiffness.values)

    def softest(self, count: int = 3, *, apart: float = APART) -> list[tuple[float, tuple[float, float]]]:
        """Return the softest spots: stiffness in N/m and place in m, softest first.

        Parameters
        ----------
        count : int
            At most so many.
        apart : float
            Distance in m within which nothing is softer than a spot, so that spots are at least so far apart.
        """
        field, found = self.stiffness, list[tuple[float, tuple[float, float]]]()
        values = np.where(self.lifts, np.inf, field.values)
        for i in np.argsort(values, kind="stable"):
            x, y, k = float(field.x[i]), float(field.y[i]), float(values[i])
            if len(found) >= count or not np.isfinite(k):
                break
            near = np.hypot(field.x - x, field.y - y) < apart
            taken = any(np.hypot(x - there[0], y - there[1]) < apart for _, there in found)
            if k <= values[near].min() and not taken:
                found.append((k, (x, y)))
        return found

    @property
    def table(self) -> pd.DataFrame:
        """Softest spots, softest first.

        Columns: spot, stiffness_N_per_mm, x_mm, y_mm, sag_mm (under the push itself).
        """
        spots = self.softest(SPOTS)
        found = {
            "spot": np.arange(1, len(spots) + 1),
            "stiffness_N_per_mm": np.array([1e-3 * k for k, _ in spots]),
            "x_mm": np.array([1e3 * x for _, (x, _) in spots]),
            "y_mm": np.array([1e3 * y for _, (_, y) in spots]),
            "sag_mm": np.array([1e3 * self.force / k for k, _ in spots]),
        }
        return pd.DataFrame(found)

    @property
    def points(self) -> pd.DataFrame:
        """All points.

        Columns: x_mm, y_mm, stiffness_N_per_mm and sag_mm (under the push itself), nan where the push lifts the panel.
        """
        field = self.stiffness
        found = {
            "x_mm": 1e3 * field.x,
            "y_mm": 1e3 * field.y,
            "stiffness_N_per_mm": 1e-3 * field.values,
            "sag_mm": 1e3 * self.force / field.values,
        }
        return pd.DataFrame(found)

    @property
    def notes(self) -> tuple[str, ...]:
        """What the figures cover, in sentences."""
        said = [
            f"Each figure is the push over the sag under the hand itself, on top of load case '{self.case}'. Lips, "
            "stops and slack struts touch or let go as they would, so another force can feel another stiffness. There "
            "is no ground under the panel, the pressure of the case does not follow the sag, and slopes stretch "
            "nothing. Over an edge or an opening, the part of the hand that lies on the panel pushes."
        ]
        if self.lifts.any():
            share = 100.0 * float(np.mean(self.lifts))
            said.append(
                f"At {share:.3g} % of the points the push lifts the panel off its supports, for nothing holds it down."
            )
        return tuple(said)

    def __repr__(self) -> str:
        """Write splitter, load case and the softest spot on one line."""
        head = f"Push map of '{self.model.design.name}' in '{self.case}', {self.force:.0f} N"
        spots = self.softest(1)
        if not spots:
            return f"{head}: every push lifts the panel off its supports"
        k, (x, y) = spots[0]
        return f"{head}: softest {1e-3 * k:.3g} N/mm at x {1e3 * x:.0f}, y {1e3 * y:.0f} mm"


@one_blas_thread()
def push_map(
    model: Model,
    case: str | LoadCase | None = None,
    *,
    force: float = FORCE,
    pad: Pad = HAND,
) -> PushMap:
    """Push the panel down at every corner of its mesh, one point after the other, and find how far it gives.

    One-sided supports act as they would: a push that closes the play of a pocket feels it.  There is no ground, the
    panel bends in proportion, and the factorisation is that of the model.

    Parameters
    ----------
    model : Model
    case : str or LoadCase, optional
        What acts at the same time; the panel's own weight when left out.
    force : float
        Of the push in N, above zero.
    pad : Pad
        Over which it is spread.

    Raises
    ------
    DesignError
        If the case is unknown or off the panel, or the force is not above zero.
    MechanismError
        If the supports do not hold the panel under the case.
    """
    if not (np.isfinite(force) and force > 0.0):
        raise DesignError(f"The push is {force:g} N; give a force above zero.")
    design = model.design
    chosen = (
        AT_REST if case is None else settled(design.case(case) if isinstance(case, str) else case, design)
    )
    fitting = model.for_case(chosen)
    structure, mesh = fitting.structure, fitting.mesh
    load = structure.with_extra(case_load(fitting, chosen).vector)
    sag = -pushed(structure, load, _pad_rows(fitting, pad), -force)
    x, y = mesh.points
    stiffness = Field(x, y, mesh.triangles.T, force / sag)
    return PushMap(fitting, stiffness, float(force), pad, chosen.name)


def _pad_rows(model: Model, pad: Pad) -> sp.csr_array:
    """Mean deflection (k, n) of the pad around every corner of the mesh, over what of it lies on the panel."""
    places = model.mesh.points.T
    mean = spread_rows(model.panel, model.locator, pad, places, what="A push")
    return sp.csr_array(sp.hstack([mean, sp.csr_array((len(places), model.structure.n_extra))]))
