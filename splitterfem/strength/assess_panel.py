"""Utilisation of the panel and its doublers of a solved load case.

Strains are taken at three points inside every element and averaged over a disc of one panel thickness in radius.
Neither plate theory nor the strengths of a board resolve less: under the edge of a pad or at the end of a rib the
theory has peaks that grow as the mesh gets finer, and a real board of that thickness spreads them (common
practice, no source). The averages do not change as the mesh gets finer.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from math import nan

import numpy as np
import scipy.sparse as sp
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from splitterfem import curves
from splitterfem.analysis import Solution
from splitterfem.design import Doubler, Sheet, StrengthSettings
from splitterfem.errors import DesignError
from splitterfem.fem import recover
from splitterfem.fem.panel import generalised_stiffness, points_on_elements
from splitterfem.fem.reference import quadrature
from splitterfem.model import written_out
from splitterfem.model.sheets import sheet_stiffness
from splitterfem.strength.panel import panel_utilisation
from splitterfem.strength.row import Check
from splitterfem.strength.timber import TimberFactors, gamma_M, k_mod
from splitterfem.strength.utilisation import DesignFactors, PanelUtilisation

Array = NDArray[np.float64]
Index = NDArray[np.int64]

ORDER = 2
"""Degree of the quadrature whose points are looked at: three inside every element."""

CHUNK = 2000
"""Points that are handled at once, to bound the memory."""

STRIP = 50_000
"""The same where neighbours are sought: narrow strips have much beside them."""


@dataclass(frozen=True, eq=False)
class PanelState:
    """Strains of the panel at ``n`` points.

    Attributes
    ----------
    elements : ndarray of int, shape (n,)
    xy : ndarray, shape (2, n)
        In m.
    area : ndarray, shape (n,)
        That a point stands for, m2.
    strains : ndarray, shape (n, 8)
        Mid-surface strains, curvatures (1/m) and transverse shear strains, as in `PlateStiffness`.
    """

    elements: Index
    xy: Array
    area: Array
    strains: Array

    def averaged(self, radius: float) -> PanelState:
        """Return the same points with their strains averaged over a radius in m."""
        return replace(self, strains=averaged(self.xy, self.strains, area=self.area, radius=radius))

    def under(self, doubler: Doubler, solution: Solution) -> PanelState:
        """Keep the points whose elements a doubler covers."""
        model = solution.model
        area = curves.polygon(doubler.outline.loop(), float(model.design.mesh.chord))
        keep = shapely.contains(area, shapely.points(model.panel.space.centroids))[self.elements]
        return PanelState(self.elements[keep], self.xy[:, keep], self.area[keep], self.strains[keep])


def panel_state(solution: Solution) -> PanelState:
    """Strains at three points inside every element of the panel, not averaged yet."""
    model, response = solution.model, solution.response
    X, weights = quadrature(ORDER)
    elements, xy = points_on_elements(model.panel.space, X)
    strains = np.empty((len(elements), 8))
    for start in range(0, len(elements), CHUNK):
        part = slice(start, start + CHUNK)
        strains[part] = recover.strains(
            model.panel, response.x, elements[part], xy[:, part], large=response.large
        )
    area = 2.0 * np.tile(weights, model.panel.space.n_elements) * model.panel.space.area[elements]
    return PanelState(elements, xy, area, strains)


def averaged(xy: Array, values: Array, *, area: Array, radius: float) -> Array:
    """Area-weighted mean of values (n, m) over all points within a radius in m of each point (2, n)."""
    weighted = area[:, None] * np.column_stack([values, np.ones(len(area))])
    order = np.argsort(xy[0], kind="stable")
    x, sums = xy[0][order], np.empty_like(weighted)
    margin = radius * (1.0 + 1e-9)
    for start in range(0, len(x), STRIP):  # strips, which bound the memory, with what lies beside them
        end = min(start + STRIP, len(x))
        first = int(np.searchsorted(x, x[start] - margin))
        last = int(np.searchsorted(x, x[end - 1] + margin, side="right"))
        around = order[first:last]
        found = _with_neighbours(xy[:, around], weighted[around], radius)
        sums[order[start:end]] = found[start - first : end - first]
    return np.asarray(sums[:, :-1] / sums[:, -1:])


def _with_neighbours(xy: Array, values: Array, radius: float) -> Array:
    """Sum of values (n, m) over each of some points and all those within a radius of it."""
    pairs = cKDTree(xy.T).query_pairs(radius, output_type="ndarray")
    near = sp.coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(len(values), len(values)))
    return np.asarray(values + near @ values + near.T @ values)


def design_factors(solution: Solution) -> DesignFactors:
    """Factors of the design's settings for the duration of the case."""
    settings = solution.model.design.strength
    return DesignFactors(
        board_factors(settings, solution.case.duration),
        float(settings.metal_factor),
        float(settings.load_factor),
    )


def board_factors(settings: StrengthSettings, duration: str) -> TimberFactors:
    """k_mod of the service class and the duration, over the design's own gamma_M of boards."""
    gamma = float(settings.gamma_m_wood)
    usual = gamma == gamma_M("plywood")
    source = "EN 1995-1-1 tables 3.1 and 2.3" if usual else "EN 1995-1-1 table 3.1, gamma_M of the design"
    return TimberFactors(
        k_mod(settings.service_class, duration), gamma, source, "memory" if usual else "user"
    )


def panel_utilisations(solution: Solution, state: PanelState) -> PanelUtilisation:
    """Utilisations of the panel's own sheet at the points of a state, doublers left out.

    Raises
    ------
    DesignError
        If the sheet has no strength to judge it by.
    """
    sheet = solution.model.design.panel.sheet
    return _utilisations(sheet, state.strains, solution, generalised_stiffness(solution.model.sheet.base))


def panel_checks(solution: Solution) -> list[Check]:
    """Judge the panel and every doubler: the worst point of every mode.

    A doubler's strains are averaged over the points under it only, the panel's over all.
    """
    points, radius = panel_state(solution), solution.model.sheet.base.thickness
    checks = []
    for name, part, judge in judged_sheets(solution, points):
        state = part.averaged(radius)
        checks += _judged(name, state, partial(judge, state))
    return checks


Judge = Callable[[PanelState], PanelUtilisation]


def judged_sheets(solution: Solution, points: PanelState) -> list[tuple[str, PanelState, Judge]]:
    """Name the panel and each doubler, the points over which its strains are averaged, and what judges these."""
    found: list[tuple[str, PanelState, Judge]] = [("panel", points, partial(panel_utilisations, solution))]
    found += [
        (doubler.name, points.under(doubler, solution), partial(_doubler, solution, doubler))
        for doubler in written_out(solution.model.design.doublers)
    ]
    return found


def _doubler(solution: Solution, doubler: Doubler, state: PanelState) -> PanelUtilisation:
    """Utilisations of a doubler from the panel's strains carried on to its own mid-surface."""
    own = sheet_stiffness(doubler.sheet)
    side = 1.0 if doubler.side == "above" else -1.0
    z = side * 0.5 * (solution.model.sheet.base.thickness + own.thickness)
    strains = state.strains.copy()
    strains[:, :3] -= z * strains[:, 3:6]
    return _utilisations(doubler.sheet, strains, solution, generalised_stiffness(own))


def _utilisations(sheet: Sheet, strains: Array, solution: Solution, stiffness: Array) -> PanelUtilisation:
    forces = strains @ stiffness.T
    return panel_utilisation(
        forces[:, :3],
        forces[:, 3:6],
        forces[:, 6:],
        sheet=sheet.resolved,
        thickness=float(sheet.thickness),
        grain_angle=float(sheet.grain_angle),
        factors=design_factors(solution),
    )


def _judged(name: str, state: PanelState, make: Callable[[], PanelUtilisation]) -> list[Check]:
    """Judge a sheet, or say in one row without a ratio why it cannot be judged."""
    try:
        return make().checks(part=name, x=state.xy[0], y=state.xy[1])
    except DesignError as problem:
        return [unjudged(name, "panel", "stress of the sheet", str(problem))]


def unjudged(
    part: str,
    kind: str,
    mode: str,
    why: str,
    *,
    demand: float = 0.0,
    unit: str = "N",
    at: Array | None = None,
) -> Check:
    """Row without a ratio, with the reason in its note."""
    x, y = (nan, nan) if at is None else (float(at[0]), float(at[1]))
    return Check(
        part=part,
        kind=kind,
        x=x,
        y=y,
        mode=mode,
        demand=demand,
        demand_unit=unit,
        allowable=nan,
        ratio=nan,
        basis="user",
        source="no strength known",
        note=f"not judged: {why}",
    )
