"""The face of the library: load a design, solve it, look at it, report it."""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from splitterfem import analysis
from splitterfem.design import LoadCase, Splitter, load
from splitterfem.model import Model
from splitterfem.model import build as build_model

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes

_last: list[tuple[Splitter, Model]] = []
"""The model that was built last, so that a second load case of the same design costs no new factorisation."""


class Solution(analysis.Solution):
    """A solved load case with its utilisations, pictures and files."""

    @cached_property
    def utilisation(self) -> pd.DataFrame:
        """Utilisation of every part and mode, worst first; see :func:`splitterfem.strength.utilisation_table`."""
        from splitterfem.strength import utilisation_table
        from splitterfem.strength.assess import assess

        return utilisation_table(assess(self))

    def plot_sag(self, ax: Axes | None = None, **options: Any) -> Axes:
        """Draw sag contours in plan view; see :func:`splitterfem.output.plots.plot_sag`."""
        from splitterfem.output.plots import plot_sag

        return plot_sag(self, ax, **options)

    def plot_clearance(self, ax: Axes | None = None, **options: Any) -> Axes:
        """Draw the gap to the ground in plan view; see :func:`splitterfem.output.plots.plot_clearance`."""
        from splitterfem.output.plots import plot_clearance

        return plot_clearance(self, ax, **options)

    def to_vtu(self, path: str | Path) -> Path:
        """Write the mesh with sag, displacements and resultants; see ``splitterfem.output.exports``."""
        from splitterfem.output.exports import write_vtu

        return write_vtu(self, path)

    def to_contour_csv(self, path: str | Path, **options: Any) -> Path:
        """Write contour lines of the sag as CSV; see ``splitterfem.output.exports``."""
        from splitterfem.output.exports import write_contours

        return write_contours(self, path, **options)

    def __repr__(self) -> str:
        """Write splitter, load case, sag, gap and downforce on one line."""
        from splitterfem.output.summary import one_line

        return one_line(self)

    def _repr_html_(self) -> str:
        """Write the headline figures as a small table; notebooks ask for it by this name."""
        from splitterfem.output.summary import html_table

        return html_table(self)

    def summary(self) -> dict[str, object]:
        """Headline figures with units in their keys, ready for JSON."""
        from splitterfem.output.summary import summary

        return summary(self)


def build(splitter: Splitter) -> Model:
    """Turn a design into a factorised model, or return the one that was built last if nothing changed.

    Load cases, car and name do not count as a change.

    Raises
    ------
    DesignError, MeshError, MechanismError
        If the design cannot be built, meshed or held.
    """
    for known, model in _last:
        if _same_structure(known, splitter):
            return model if known is splitter else _with_design(model, splitter)
    model = build_model(splitter)
    _last[:] = [(splitter, model)]
    return model


def solve(splitter: Splitter | Model, case: str | LoadCase) -> Solution:
    """Solve a design for a load case.

    Parameters
    ----------
    splitter : Splitter or Model
        A design, or a model of it from :func:`build`.
    case : str or LoadCase
        A load case of the design by its name, or one of your own.

    Returns
    -------
    Solution

    Raises
    ------
    DesignError
        If a name is unknown or a part or load is off the panel.
    MechanismError
        If the supports do not hold the panel.
    SolveError
        If the answer fails its own residual or equilibrium test.
    """
    model = splitter if isinstance(splitter, Model) else build(splitter)
    return _whole(analysis.solve(model, case))


def lose_one(
    splitter: Splitter | Model,
    case: str | LoadCase,
    *,
    judge: Callable[[Solution], float | None] | None = None,
) -> pd.DataFrame:
    """Solve a load case with each support, and the joint of each rib, lost in turn, worst first.

    Parameters
    ----------
    splitter : Splitter or Model
        A design, or a model of it from :func:`build`.
    case : str or LoadCase
        A load case of the design by its name, or one of your own.
    judge : callable, optional
        Given each solution, returns its worst utilisation, load over resistance, or None when nothing can be judged.

    Returns
    -------
    pandas.DataFrame
        See :func:`splitterfem.analysis.loss.lose_one` for its columns and for what it leaves out.

    Raises
    ------
    DesignError
        If the load case is unknown, loads nothing, or loads something off the panel.
    MechanismError
        If the supports do not hold the panel even with nothing lost.
    """
    from splitterfem.analysis.loss import lose_one

    model = splitter if isinstance(splitter, Model) else build(splitter)
    return lose_one(model, case, judge=None if judge is None else lambda plain: judge(_whole(plain)))


def bill_of_materials(splitter: Splitter) -> pd.DataFrame:
    """List what is built with mass and cost; see :func:`splitterfem.analysis.bill.bill_of_materials`."""
    from splitterfem.analysis.bill import bill_of_materials

    return bill_of_materials(splitter)


def demo() -> Splitter:
    """Return the demonstration splitter: invented, a club hill-climb saloon."""
    return load(Path(__file__).parent / "data" / "demo.toml")


def plot_design(splitter: Splitter, ax: Axes | None = None, **options: Any) -> Axes:
    """Draw what is built in plan view; see :func:`splitterfem.output.plots.plot_design`."""
    from splitterfem.output.plots import plot_design

    return plot_design(splitter, ax, **options)


def report(splitter: Splitter, path: str | Path, *, cases: list[str] | None = None, **options: Any) -> Path:
    """Solve the load cases and write a PDF report; see ``splitterfem.output.report``."""
    from splitterfem.output.report import write_report

    names = [case.name for case in splitter.cases] if cases is None else cases
    model = build(splitter)
    return write_report([solve(model, name) for name in names], path, **options)


def _whole(plain: analysis.Solution) -> Solution:
    """Give a solution its pictures and files."""
    return Solution(plain.model, plain.case, plain.load, plain.response, plain.seconds)


def _same_structure(a: Splitter, b: Splitter) -> bool:
    names = ("panel", "doublers", "ribs", "struts", "bolts", "pins", "pockets", "mesh")
    return a is b or all(getattr(a, name) == getattr(b, name) for name in names)


def _with_design(model: Model, splitter: Splitter) -> Model:
    from dataclasses import replace

    return replace(model, design=splitter)
