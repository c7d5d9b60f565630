"""Where the next strut helps most: what a spring to the chassis would do at every place of the panel."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import pandas as pd
import scipy.sparse as sp
import shapely
from numpy.typing import NDArray

from splitterfem.analysis.fields import Field
from splitterfem.analysis.gain_moves import Move, move_gains
from splitterfem.analysis.measures import Measure, Which, measured
from splitterfem.analysis.sensitivity import Sensitivity, Tangent, lowest_modes, sensitivity, tangent_of
from splitterfem.analysis.solution import Solution, solve
from splitterfem.design import LoadCase, Pad
from splitterfem.errors import DesignError
from splitterfem.fem.loads import deflection_matrix
from splitterfem.fem.modes import Eigenpairs
from splitterfem.fem.push import own_flexibility
from splitterfem.fem.restraint import Restraint
from splitterfem.fem.structure import Structure
from splitterfem.model import Model, pad_polygon
from splitterfem.threads import one_blas_thread

Array = NDArray[np.float64]

FOOT = Pad(diameter=0.04)
"""Foot of a strut's bracket, as a strut has it when nothing else is said."""

STIFFNESS = 1e6
"""Of a strut in N/m: an 8 mm rod with its end fittings and the bracket at the chassis (judgement)."""

APART = 0.15
"""Distance in m that best places have from each other at least."""

MODES, HALVINGS = 24, 50
"""Natural modes that take part beside the static flexibility, and halvings of the search for a frequency."""

AT_ONCE = 256
"""Pads that are cut at the edges of elements at once."""

QUADRATIC = 2
"""Degree of the deflection in an element, which pads integrate exactly."""


@dataclass(frozen=True, eq=False)
class StrutGain:
    """How much better a measure gets with one more upright strut at each place.

    Attributes
    ----------
    of : Sensitivity
        Load case and measure, with their derivative.
    stiffness : float
        Of the strut in N/m; infinite for a rigid one.
    pad : Pad
        Its foot; the part of it that lies on the panel, near an edge.
    field : Field
        Gain at the corners of the mesh, in m of sag or clearance or in Hz; positive is better.
    """

    of: Sensitivity
    stiffness: float
    pad: Pad
    field: Field

    @property
    def model(self) -> Model:
        """Model of the load case."""
        return self.of.solution.model

    @property
    def case(self) -> str:
        """Name of the load case."""
        return self.of.solution.case.name

    @property
    def measure(self) -> Measure:
        """What is to get better, as it is now."""
        return self.of.measure

    def best(self, count: int = 3, *, apart: float = APART) -> list[tuple[float, tuple[float, float]]]:
        """Return the best places, each at least ``apart`` (m) from those before: gain in m or Hz, place in m.

        Only places where the whole foot lies on the panel.
        """
        field, found = self.field, list[tuple[float, tuple[float, float]]]()
        panel = self.model.design.panel.polygon(float(self.model.design.mesh.chord))
        left = np.ones(len(field.values), dtype=bool)
        while len(found) < count and left.any():
            i = int(np.flatnonzero(left)[np.argmax(field.values[left])])
            at = (float(field.x[i]), float(field.y[i]))
            left[i] = False
            if shapely.covers(panel, pad_polygon(self.pad, at)):
                found.append((float(field.values[i]), at))
                left &= np.hypot(field.x - at[0], field.y - at[1]) >= apart
        return found

    def tried(self, x: float, y: float) -> Measure:
        """Solve the load case anew with the strut at a place in m, on the same mesh.

        Raises
        ------
        DesignError
            If the place is off the panel.
        """
        return measured(solve(self._with_strut(x, y), self.of.solution.case), self.measure.which)

    @cached_property
    def moves(self) -> list[Move]:
        """What moving each strut, bolt, pin and stop is worth, the most first."""
        return move_gains(self.of)

    @cached_property
    def table(self) -> pd.DataFrame:
        """The best three places for one more strut, each tried, best first.

        Columns: place, x_mm, y_mm, and in the measure's unit gain_.., with_it_.. (the measure with the strut tried; the
        worst place may then be another) and better_.. (by how much).
        """
        unit, per = self.measure.unit, self.measure.per_unit
        rows = []
        for gain, (x, y) in self.best():
            value = self.tried(x, y).value
            better = value - self.measure.value if self.measure.rising else self.measure.value - value
            rows.append(
                {
                    "x_mm": 1e3 * x,
                    "y_mm": 1e3 * y,
                    f"gain_{unit}": gain / per,
                    f"with_it_{unit}": value / per,
                    f"better_{unit}": better / per,
                }
            )
        table = pd.DataFrame(rows).sort_values(f"better_{unit}", ascending=False, ignore_index=True)
        table.insert(0, "place", np.arange(1, len(table) + 1))
        return table

    @property
    def move_table(self) -> pd.DataFrame:
        """What moving each part is worth, the most first.

        Columns: part, kind, x_mm, y_mm, and in the measure's unit per 10 mm of way forward_.., left_.., best_.. (in the
        best direction), and best_way_deg (from x towards y).
        """
        per, unit = 1e2 * self.measure.per_unit, f"{self.measure.unit}_per_10mm"
        rows = [
            {
                "part": move.name,
                "kind": move.kind,
                "x_mm": 1e3 * move.at[0],
                "y_mm": 1e3 * move.at[1],
                f"forward_{unit}": move.forward / per,
                f"left_{unit}": move.left / per,
                f"best_{unit}": move.steepest / per,
                "best_way_deg": np.degrees(move.direction),
            }
            for move in self.moves
        ]
        return pd.DataFrame(rows)

    @property
    def notes(self) -> tuple[str, ...]:
        """What the figures cover and what they do not, in sentences."""
        said = [
            "One more strut, upright, that carries nothing until the case acts, at each place by itself; the supports "
            "that act now go on acting.",
            "A strut's foot is moved alone, its head stays; what a whole way is worth is found by solving again.",
        ]
        if self.of.solution.response.large:
            said.append("Large deflection is taken as small changes about the solution.")
        if self.of.solution.follower is not None:
            said.append("The air follows the sag, but for the panel's own give at the strut, which is that without air.")
        return (*said, *self.of.notes)

    def __repr__(self) -> str:
        """Write splitter, load case, measure and the best place on one line."""
        unit, per = self.measure.unit, self.measure.per_unit
        gain, (x, y) = self.best(1)[0]
        return (
            f"Strut gain of '{self.model.design.name}' in '{self.case}': {self.measure.name} "
            f"{self.measure.value / per:.1f} {unit}, {gain / per:.2g} {unit} better with one at x {1e3 * x:.0f}, "
            f"y {1e3 * y:.0f} mm"
        )

    def _with_strut(self, x: float, y: float) -> Model:
        model = self.model
        row = spread_rows(model, self.pad, np.array([[x, y]]))
        give = 0.0 if np.isinf(self.stiffness) else 1.0 / self.stiffness
        strut = Restraint("new strut", "upright", row, compliance=give, place=(x, y))
        structure = Structure(
            model.panel,
            (*model.structure.restraints, strut),
            contributions=model.rib_parts,
            n_extra=model.structure.n_extra,
        )
        return replace(model, structure=structure, base=None, _spares={})


@one_blas_thread()
def strut_gain(
    model: Model,
    case: str | LoadCase,
    *,
    stiffness: float = STIFFNESS,
    pad: Pad = FOOT,
    measure: Which = "worst sag",
) -> StrutGain:
    """Find what one more upright strut is worth at every corner of the mesh, and what moving a support is worth.

    A spring of stiffness k at place i changes what is to fall by ``z_i x_i / (1 / k + c_i)``, with the deflections of
    state and adjoint there and the panel's own flexibility c_i: exact, not to first order, as long as the same supports
    act (Sherman & Morrison, Ann. Math. Stat. 21 (1950) 124-127).  The first frequency is the root of
    ``1 / k + c_i + sum_j v_ji^2 (1 / (w_j - w) - 1 / w_j)`` above the first of the natural modes v_j with the squares
    w_j (Weinstein's equation with the static rest; after Gould, Variational Methods for Eigenvalue Problems, 1966; from
    memory).

    Parameters
    ----------
    model : Model
    case : str or LoadCase
        Supports that act, ground, large deflection and air that follows the sag are as it says.
    stiffness : float
        Of the strut, end fittings and bracket included, in N/m, above zero; infinite for a rigid one.
    pad : Pad
        Its foot.
    measure : str or (x, y)
        See :func:`splitterfem.analysis.gain.rib_gain`.

    Raises
    ------
    DesignError
        If the case is unknown, the measure has no meaning in it, or the stiffness is not above zero.
    MechanismError
        If the supports do not hold the panel under the case.
    SolveError
        If the case cannot be solved.
    """
    if not stiffness > 0.0:
        raise DesignError(f"The stiffness of the strut is {stiffness:g} N/m; give one above zero.")
    of = sensitivity(solve(model, case), measure)
    solution = of.solution
    x, y = solution.model.mesh.points
    rows = spread_rows(solution.model, pad, solution.model.mesh.points.T)
    if of.square:
        values = _risen(solution, rows, stiffness)
    else:
        give = flexibility(tangent_of(solution), _with_extra(solution.model, rows))
        values = (rows @ of.adjoint) * (rows @ of.state) / (1.0 / stiffness + give)
    return StrutGain(of, stiffness, pad, Field(x, y, solution.model.mesh.triangles.T, values))


def flexibility(tangent: Tangent, rows: sp.csr_array) -> Array:
    """Motion (k,) that each row (k, n) measures under a unit force on itself, with the supports that act."""
    held, side = tangent.held, tangent.side
    first = held.influence.shape[1]
    reach = rows @ held.influence
    if held.rows.shape[0] > first:
        ground = sp.csr_array(held.rows[first:])
        answers = [rows @ held.tied_answer(row.toarray().ravel()) for row in ground]
        reach = np.column_stack([reach, *answers])
    pull = np.empty((len(side), len(side)))
    for i, unit in enumerate(np.eye(len(side))):
        motion, force = held.play.correct(side, unit, np.zeros(len(side)))
        pull[:, i] = held.ties * motion - force
    return own_flexibility(held, rows) + np.einsum("ki,ij,kj->k", reach, pull, reach)


def spread_rows(model: Model, pad: Pad, places: Array) -> sp.csr_array:
    """Mean deflection (k, n_dofs) of a pad at each place (k, 2) in m, over what of it lies on the panel.

    Raises
    ------
    DesignError
        If all of a pad is off the panel.
    """
    corners = shapely.get_coordinates(pad_polygon(pad, (0.0, 0.0)))
    blocks = []
    for first in range(0, len(places), AT_ONCE):
        areas = shapely.polygons(corners + places[first : first + AT_ONCE, None])
        samples, owner = model.locator.areas(areas, order=QUADRATIC)
        on_panel = np.bincount(owner, samples.weights, minlength=len(areas))
        if not np.all(on_panel > 0.0):
            x, y = 1e3 * places[first + int(np.argmin(on_panel))]
            raise DesignError(f"A strut at x {x:.0f}, y {y:.0f} mm has its foot off the panel: move it onto it.")
        pairs = (owner, np.arange(len(owner)))
        shares = sp.csr_array((samples.weights / on_panel[owner], pairs), shape=(len(areas), len(owner)))
        blocks.append(shares @ deflection_matrix(model.panel, samples.elements, samples.xy))
    return sp.csr_array(sp.vstack(blocks))


def _with_extra(model: Model, rows: sp.csr_array) -> sp.csr_array:
    return sp.csr_array(sp.hstack([rows, sp.csr_array((rows.shape[0], model.structure.n_extra))]))


def _risen(solution: Solution, rows: sp.csr_array, stiffness: float) -> Array:
    """Rise (k,) of the first natural frequency in Hz with a spring on each row (k, n_dofs)."""
    model = solution.model
    modes, _ = lowest_modes(solution, MODES)
    base = model.structure.base
    side = np.zeros(base.rows.shape[0], dtype=np.int64)
    side[model.structure.acting_rows] = solution.response.side
    give = flexibility(Tangent(base, side, None), _with_extra(model, rows))
    return _first_root(modes, rows @ modes.shapes[: rows.shape[1]], 1.0 / stiffness + give)


def _first_root(modes: Eigenpairs, swing: Array, give: Array) -> Array:
    """Rise (k,) in Hz of the first frequency by springs where modes swing (k, j), with a static give (k,) in m/N."""
    squares = modes.values
    low, high = np.full(len(give), squares[0]), np.full(len(give), squares[1])
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        terms = swing**2 * (1.0 / (squares - middle[:, None]) - 1.0 / squares)
        below = give + terms.sum(axis=1) < 0.0
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return np.asarray((np.sqrt(low) - np.sqrt(squares[0])) / (2.0 * np.pi))
