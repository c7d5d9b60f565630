"""Derivatives of figures of a load case by places and sizes of parts, without a further solve of the whole.

With forces out of balance ``r(x, f, p) = 0`` and restraints that miss their bounds by ``g(x, f, p) = 0``, a figure J
has the derivative ``dJ/dp - z . dr/dp - q . dg/dp`` where z and q are the answer of the solved panel to ``dJ/dx`` (the
adjoint method of design sensitivities: Haug, Choi & Komkov, Design Sensitivity Analysis of Structural Systems, 1986;
from memory).  ``dr/dp`` and ``dg/dp`` are differences at the same unknowns ("semi-analytic"), for which stiffness,
supports and loads are made anew on the same mesh and nothing is factorised.  A figure whose derivative by the unknowns
is not known, such as a utilisation, is followed along the change of the unknowns with the parameter instead: one
answer of the factorised panel for each parameter.

The restraints that act, and the places of the ground that touch, go on acting; a worst place stays where it is.

All is on one mesh, as it stands.  There a rib's stiffness changes in small jumps where it passes edges of elements,
which a derivative knows nothing of: by the way of a rib and by its ends, mean sag and the sag at a place came out
within some 20 % of those of meshes made anew where the elements along it were half as long as its foot is wide, worse
where they were longer, and the worst sag, where it hardly changes, by several times.
By places of supports and by sizes, they are those of full solves to five digits.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from splitterfem.analysis.clearance import free_gap
from splitterfem.analysis.closeby import Near, Point, point_at
from splitterfem.analysis.mass import mass_properties
from splitterfem.analysis.measures import Which, fall, measured
from splitterfem.analysis.parameters import MOVABLE, Parameter, parameters
from splitterfem.analysis.solution import Solution
from splitterfem.errors import DesignError
from splitterfem.threads import one_blas_thread

Array = NDArray[np.float64]

VARIED = ("panel", "doublers", *MOVABLE, "car")
"""Fields of a design by which there are derivatives."""


NOTES = (
    "The supports and places of the ground that act now go on acting, and a worst place stays where it is: "
    "good for small changes; what a whole way is worth is found by solving again.",
    "By places of ribs the figures depend on the mesh, often by 20 % and by more where they are small: compare two "
    "solutions before you rely on them.",
)
"""What derivatives cover and what they do not."""


@dataclass(frozen=True, eq=False)
class Figure:
    """A figure that is read off a solution.

    Attributes
    ----------
    name : str
    unit : str
        In which people read it, such as "mm" or "-".
    per_unit : float
        Its unit in SI.
    value : float
        In SI units.
    read : callable
        Reads it off a solution close by.
    followed : bool
        Whether that one has the unknowns and forces that go with its parameters, not those of the solution.
    governed_by : str
        What makes it as large as it is, for a note.
    """

    name: str
    unit: str
    per_unit: float
    value: float
    read: Callable[[Solution], float]
    followed: bool = True
    governed_by: str = ""


@dataclass(frozen=True, eq=False)
class Gradients:
    """Derivatives of figures of a load case by figures of the design.

    Attributes
    ----------
    solution : Solution
    names, units : tuple of str
        Of what is differentiated.
    per_units : ndarray, shape (j,)
        Units in SI.
    now : ndarray, shape (j,)
        What is differentiated, in SI units.
    parameters : tuple of Parameter
    values : ndarray, shape (k, j)
        Derivative by each parameter of each figure, in SI units.
    notes : tuple of str
        What the figures cover and what they do not, in sentences.
    """

    solution: Solution
    names: tuple[str, ...]
    units: tuple[str, ...]
    per_units: Array
    now: Array
    parameters: tuple[Parameter, ...]
    values: Array
    notes: tuple[str, ...]

    @property
    def table(self) -> pd.DataFrame:
        """One row for each parameter.

        Columns: parameter, now_mm (of a length; nan of a way), and for each figure its change for one millimetre more,
        in its unit: ``worst sag_mm_per_mm``.  Of a parameter that is no length the change is for one SI unit, and
        the column ``per`` says so.
        """
        lengths = np.array([one.unit == "m" for one in self.parameters])
        scale = np.where(lengths, 1e-3, 1.0)
        found: dict[str, object] = {
            "parameter": [one.name for one in self.parameters],
            "now": [one.value / (1e-3 if one.unit == "m" else 1.0) for one in self.parameters],
            "per": np.where(lengths, "mm", "SI unit"),
        }
        for j, (name, unit) in enumerate(zip(self.names, self.units, strict=True)):
            found[f"{name}_{unit}"] = self.values[:, j] * scale / self.per_units[j]
        return pd.DataFrame(found)

    def of(self, measure: str, parameter: str) -> float:
        """Return one derivative in SI units by the names of both.

        Raises
        ------
        DesignError
            If there is no such one.
        """
        names = [one.name for one in self.parameters]
        if measure not in self.names or parameter not in names:
            raise DesignError(
                f"There is no derivative of '{measure}' by '{parameter}'; there are those of "
                f"{', '.join(self.names)} by {', '.join(names)}."
            )
        return float(self.values[names.index(parameter), self.names.index(measure)])

    def __repr__(self) -> str:
        """Write splitter, load case and what is there on one line."""
        return (
            f"Gradients of '{self.solution.model.design.name}' in '{self.solution.case.name}': "
            f"{', '.join(self.names)} by {len(self.parameters)} parameters"
        )


@one_blas_thread()
def gradients(
    solution: Solution,
    measures: Sequence[Which | Figure] = ("worst sag",),
    *,
    by: Sequence[str] | None = None,
) -> Gradients:
    """Differentiate figures of a solved load case by figures of its design.

    Parameters
    ----------
    solution : Solution
        Also with large deflection, contact, joints that slip and air that follows the sag.
    measures : sequence of str, (x, y) or Figure
        "worst sag", "mean sag", "least clearance", "mass", a place in m for the sag there, or a figure of your own.
    by : sequence of str, optional
        See :func:`splitterfem.analysis.parameters.parameters`.

    Raises
    ------
    DesignError
        If there is no such measure or parameter, or it has no derivative: a change of outline or openings, for example,
        or of the panel when the air follows the sag.
    """
    point, design = point_at(solution), solution.model.design
    chosen = [one if isinstance(one, Figure) else _figure(solution, one) for one in measures]
    whats = parameters(design, by)
    for what in whats:
        _refuse(what, solution, chosen)
    falls = [_adjoint_load(solution, one) for one in measures]
    adjoint = point.tangent.adjoint(np.column_stack(falls)) if any(map(np.any, falls)) else None
    values = np.array([_by(point, what, chosen, falls, adjoint) for what in whats])
    return Gradients(
        solution,
        tuple(one.name for one in chosen),
        tuple(one.unit for one in chosen),
        np.array([one.per_unit for one in chosen]),
        np.array([one.value for one in chosen]),
        tuple(whats),
        values.reshape(len(whats), len(chosen)),
        NOTES + tuple(f"The {one.name} is that of {one.governed_by}." for one in chosen if one.governed_by),
    )


def _figure(solution: Solution, which: Which) -> Figure:
    """Measure by its name or place, read at unknowns that do not change: its own place and datum may."""
    if which == "mass":
        return Figure("mass", "g", 1e-3, solution.mass, lambda near: mass_properties(near.model).mass, False)
    if which == "first frequency":
        raise DesignError(
            "The first frequency has no derivative here: ask rib_gain or strut_gain for what changes it."
        )
    measure = measured(solution, which)

    def read(near: Solution) -> float:
        if which != "least clearance":
            return 0.0
        return free_gap(near.model, near.case, solution.response.x, solution.sag).least

    return Figure(measure.name, "mm", 1e-3, measure.value, read, followed=False)


def _adjoint_load(solution: Solution, which: Which | Figure) -> Array:
    """Differentiate a measure by all unknowns (n,): zero for one that does not depend on them or is followed."""
    if isinstance(which, Figure) or which == "mass":
        return np.zeros(solution.model.structure.matrix.shape[0])
    measure = measured(solution, which)
    sense = -1.0 if measure.rising else 1.0
    return sense * solution.model.structure.with_extra(fall(solution, measure))


def _refuse(what: Parameter, solution: Solution, chosen: Sequence[Figure]) -> None:
    field = what.name.partition(".")[0]
    if not what.part and field not in VARIED:
        raise DesignError(
            f"There is no derivative by '{what.name}': name something below {', '.join(VARIED)}."
        )
    if solution.follower is None:
        return
    if not what.part and field in ("panel", "doublers", "car"):
        raise DesignError(
            f"There is no derivative by '{what.name}' while the air follows the sag: take sag_feedback=False, or "
            "compare two solutions."
        )
    if any(one.followed for one in chosen):
        raise DesignError(
            "Utilisations have no derivative while the air follows the sag: take sag_feedback=False, or compare two "
            "solutions."
        )


def _by(
    point: Point,
    what: Parameter,
    chosen: Sequence[Figure],
    falls: Sequence[Array],
    adjoint: tuple[Array, Array] | None,
) -> list[float]:
    """Differentiate all figures by one parameter."""
    near = Near(point, what)
    change = what.derivative(near.out)
    followed = np.array([one.followed for one in chosen])
    way = point.followed(change) if followed.any() else None
    found = what.derivative(lambda by: near.read(chosen, by, way))
    if adjoint is not None:
        z, q = adjoint
        found = found - z.T @ change[: len(z)] - q.T @ change[len(z) :]
    return [float(value) for value in found]
