"""The face of the library: load a design, solve it, look at it, report it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import fields
from pathlib import Path
from typing import TYPE_CHECKING, Any

from splitterfem import analysis
from splitterfem.api_design import bill_of_materials as bill_of_materials
from splitterfem.api_design import demo as demo
from splitterfem.api_design import plot_design as plot_design
from splitterfem.api_design import plot_envelope as plot_envelope
from splitterfem.api_design import template as template
from splitterfem.api_solution import Solution as Solution
from splitterfem.design import LoadCase, Splitter, places_in_both
from splitterfem.model import Model
from splitterfem.model import build as build_model

if TYPE_CHECKING:
    import pandas as pd

_last: list[tuple[Splitter, Model]] = []
"""The model that was built last, so that a second load case of the same design costs no new factorisation."""


def build(splitter: Splitter) -> Model:
    """Turn a design into a factorised model, or return the one that was built last if nothing changed.

    Load cases, car and name do not count as a change.  Where cases lose joints of ribs, the model keeps a factorised
    matrix for each of the last few sets of them, so that cases can be solved in any order.

    Parameters
    ----------
    splitter : Splitter

    Returns
    -------
    Model
        The design as operators on a mesh, for `solve` and all that takes a model.

    Raises
    ------
    DesignError, MeshError, MechanismError
        If the design cannot be built, meshed or held.
    """
    for known, model in _last:
        if _same_structure(known, splitter):
            return model if known is splitter else _with_design(model, splitter)
    with places_in_both(splitter):
        model = build_model(splitter)
    _last[:] = [(splitter, model)]
    return model


def solve(
    splitter: Splitter | Model,
    case: str | LoadCase,
    *,
    large_deflection: bool | None = None,
    sag_feedback: bool | None = None,
) -> Solution:
    """Solve a design for a load case.

    Parameters
    ----------
    splitter : Splitter or Model
        A design, or a model of it from :func:`build`.
    case : str or LoadCase
        A load case of the design by its name, or one of your own.  Ribs in its ``unbonded`` have lost their joint.
    large_deflection : bool, optional
        Whether slopes stretch panel and ribs; as the case says when left out.
    sag_feedback : bool, optional
        Whether the pressure follows the gap as the panel sags; as the case says when left out.

    Returns
    -------
    Solution
        What follows: sag, gaps, forces, utilisations, pictures and files.

    Raises
    ------
    DesignError
        If a name is unknown, a part or load is off the panel, or the pressure is to follow the sag and cannot.
    MechanismError
        If the supports do not hold the panel.
    SolveError
        If no equilibrium is found, or the answer fails its own residual or equilibrium test.
    """
    model = splitter if isinstance(splitter, Model) else build(splitter)
    with places_in_both(model.design):
        found = analysis.solve(model, case, large_deflection=large_deflection, sag_feedback=sag_feedback)
    return _whole(found)


def lose_one(
    splitter: Splitter | Model,
    case: str | LoadCase,
    *,
    judge: Callable[[Solution], float | None] | None = None,
) -> pd.DataFrame:
    """Solve a load case with each support, and the joint of each rib, lost in turn, worst first.

    Losing a support costs no new factorisation, losing a joint one; mesh and panel are those of the model.

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


def worst_of_cases(splitter: Splitter, cases: list[str | LoadCase] | None = None) -> pd.DataFrame:
    """Solve load cases and find the worst of every measure, and which case gives it.

    Parameters
    ----------
    splitter : Splitter
    cases : list of str or LoadCase, optional
        All cases of the design, handling included, when left out.

    Returns
    -------
    pandas.DataFrame
        See :func:`splitterfem.strength.cases.worst_of`.

    Raises
    ------
    DesignError
        If there is no load case, or one cannot be solved as it is.
    MechanismError
        If the supports do not hold the panel in one of them.
    """
    from splitterfem.strength.cases import worst_of

    chosen = list(splitter.all_cases) if cases is None else cases
    model = build(splitter)
    return worst_of([solve(model, case) for case in chosen])


def envelope(
    splitter: Splitter,
    solutions: analysis.Solution | Iterable[analysis.Solution] = (),
    *,
    solve_cases: bool = False,
) -> pd.DataFrame:
    """Compare a splitter with the limits of its envelope, which are its user's own numbers.

    Parameters
    ----------
    splitter : Splitter
        With an envelope.
    solutions : Solution or iterable of Solution
        Load cases of this splitter that are solved already.
    solve_cases : bool
        Whether to solve the load cases that limits need and that are not among the solutions; otherwise these
        limits get the verdict "not measured".

    Returns
    -------
    pandas.DataFrame
        See :func:`splitterfem.analysis.envelope.envelope_table` for its columns.

    Raises
    ------
    DesignError
        See :func:`splitterfem.analysis.envelope.check_envelope`.
    """
    from splitterfem.analysis.envelope import cases_to_solve, check_envelope, envelope_table

    known = [solutions] if isinstance(solutions, analysis.Solution) else list(solutions)
    if solve_cases:
        names = {solution.case.name for solution in known}
        known += [solve(splitter, name) for name in cases_to_solve(splitter) if name not in names]
    return envelope_table(check_envelope(splitter, known))


def report(
    splitter: Splitter,
    path: str | Path,
    *,
    cases: list[str] | None = None,
    losses: bool = True,
    **options: Any,
) -> Path:
    """Solve load cases and write a report for the customer, as PDF or as one HTML file.

    Parameters
    ----------
    splitter : Splitter
    path : path
        Ends in ``.pdf`` or ``.html``. An existing file is replaced when the new one is complete.
    cases : list of str, optional
        Names of load cases; all of the design, handling included, when left out. Limits of the envelope that need
        other cases stay unmeasured.
    losses : bool
        Whether to solve the load case with the largest utilisation again with one part after the other lost.
    **options
        ``units``, ``paper`` ("a4" or "letter"), ``title``, ``prepared_for``, ``prepared_by``, ``job`` and ``date``, see
        :func:`splitterfem.output.report.write_report`.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    DesignError, MeshError, MechanismError, SolveError
        If a load case is unknown, or cannot be solved as it is.
    FileError, UnitError
        If the file's name has another ending, it cannot be written, or there are no such units.
    MissingExtraError
        If typst is not installed.
    """
    from splitterfem.output.report import front_of, write_report

    front_of(path, **{name: value for name, value in options.items() if name != "behaviour"})
    names = [case.name for case in splitter.all_cases] if cases is None else cases
    model = build(splitter)
    return write_report([solve(model, name) for name in names], path, losses=losses, **options)


def _whole(plain: analysis.Solution) -> Solution:
    """Give a solution its pictures and files."""
    return Solution(**{part.name: getattr(plain, part.name) for part in fields(plain)})


def _same_structure(a: Splitter, b: Splitter) -> bool:
    names = ("panel", "doublers", "ribs", "struts", "bolts", "pins", "pockets", "stops", "mesh")
    return a is b or all(getattr(a, name) == getattr(b, name) for name in names)


def _with_design(model: Model, splitter: Splitter) -> Model:
    from dataclasses import replace

    return replace(model, design=splitter)
