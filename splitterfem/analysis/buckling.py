"""Linear buckling of a panel and its ribs under a load case."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from splitterfem.analysis.fields import Field
from splitterfem.analysis.linearised import held_stiffness, mode_shape, ribs_of, unknowns
from splitterfem.analysis.solution import Solution, solve
from splitterfem.design import LoadCase
from splitterfem.errors import DesignError
from splitterfem.fem.largedeflection import LargeDeflection
from splitterfem.fem.modes import buckling
from splitterfem.model import Model
from splitterfem.threads import one_blas_thread

Array = NDArray[np.float64]

CAUTION = (
    "A buckling factor is that of a perfectly flat panel under a load that grows as a whole; real panels are not flat, "
    "and long before they reach it they bow. Below a factor of 3 look at the large-deflection solution (judgement)."
)
"""What is printed with every buckling factor."""


@dataclass(frozen=True, eq=False)
class Buckling:
    """Factors on a load case at which a panel buckles, lowest first.

    Attributes
    ----------
    model : Model
        What buckles.
    factors : ndarray, shape (k,)
        Empty when the load only stretches the panel.
    shapes : tuple of Field
        Deflection of each, positive down, the largest being 1.
    residual : float
        Largest miss of the eigenvalue equation, relative.
    case : str
    """

    model: Model
    factors: Array
    shapes: tuple[Field, ...]
    residual: float
    case: str

    @property
    def table(self) -> pd.DataFrame:
        """Columns: shape, factor (on the whole load), x_mm and y_mm (where it bows most)."""
        rows = []
        for number, (factor, shape) in enumerate(zip(self.factors, self.shapes, strict=True), start=1):
            x, y = shape.highest()[1]
            rows.append({"shape": number, "factor": factor, "x_mm": 1e3 * x, "y_mm": 1e3 * y})
        return pd.DataFrame(rows, columns=["shape", "factor", "x_mm", "y_mm"])

    @property
    def lowest(self) -> float:
        """Lowest factor; infinite when the load only stretches the panel."""
        return float(self.factors.min(initial=np.inf))

    @property
    def notes(self) -> tuple[str, ...]:
        """What the factors cover and what they do not, in sentences; `CAUTION` is the last."""
        covers = (
            "Panel and ribs under the stresses of the linear solution; the supports that act in it act all the time. "
            "The walls of ribs are judged with the utilisations of the ribs, struts with theirs."
        )
        stretched = f"Load case '{self.case}' does not buckle the panel in any way that was found."
        return (*([] if len(self.factors) else [stretched]), covers, CAUTION)

    def __repr__(self) -> str:
        """Write splitter, load case and factors on one line."""
        figures = ", ".join(f"{factor:.1f}" for factor in self.factors) or "none"
        return f"Buckling factors of '{self.model.design.name}' in '{self.case}': {figures}"


@one_blas_thread()
def buckling_factors(model: Model, case: str | LoadCase | Solution, count: int = 3) -> Buckling:
    """Find the factors on a load case at which the panel and its ribs buckle.

    The stresses are those of the linear solution, whatever the case says of large deflection; the supports that act
    in it go on acting.  Sheet, lines and foot layers of ribs all carry their share; local buckling of a rib's walls is
    judged with its utilisation, struts with theirs.  See `CAUTION` for what a factor is worth.

    Parameters
    ----------
    model : Model
    case : str, LoadCase or Solution
        A linear solution of a load case stands for it, so that it is not solved again.
    count : int
        How many; fewer come back when the load does not buckle the panel in so many ways.

    Raises
    ------
    DesignError
        If the case is unknown or loads nothing, or `count` is not at least one.
    SolveError
        If the shapes do not converge.
    """
    if count < 1:
        raise DesignError(f"{count} buckling factors were asked for; ask for at least one.")
    solution = case if isinstance(case, Solution) else solve(model, case, large_deflection=False)
    structure = solution.model.structure
    geometric = LargeDeflection(structure, ribs_of(solution.model)).geometric(unknowns(solution))
    found = buckling(held_stiffness(solution), geometric, structure.free, count)
    shapes = tuple(mode_shape(solution.model, vector) for vector in found.shapes.T)
    return Buckling(solution.model, found.values, shapes, found.residual, solution.case.name)
