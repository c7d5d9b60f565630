"""The face of the library for searches, and for studies of any kind that are read again."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import fields, replace
from typing import TYPE_CHECKING, Any

from splitterfem.api_study_sweeps import Study
from splitterfem.design import LoadCase, Splitter
from splitterfem.layouts import finds as _finds
from splitterfem.layouts import results as _results
from splitterfem.layouts.goal import Goal
from splitterfem.layouts.parameters import Parameter
from splitterfem.layouts.plan import plan_of
from splitterfem.layouts.running import Progress

if TYPE_CHECKING:
    from matplotlib.axes import Axes


class Search(_finds.Found, Study):
    """What a search found, with its picture."""

    def plot(self, measure: str | None = None, ax: Axes | None = None, **options: Any) -> Axes:
        """Draw the objectives, see :func:`splitterfem.output.frontview.plot_found`; or a measure over parameters."""
        if measure is not None:
            return super().plot(measure, ax, **options)
        from splitterfem.output.frontview import plot_found

        return plot_found(self, ax, **options)

    def _repr_html_(self) -> str:
        """Write one line, the best layouts and how small steps were made; notebooks ask for it by this name."""
        import html

        table = str(self.best.to_html(float_format="{:.4g}".format))
        notes = "".join(f"<p>{html.escape(note)}</p>" for note in self.notes)
        return f"<p>{html.escape(repr(self))}</p>{table}{notes}"


def search(
    splitter: Splitter,
    changes: Mapping[Any, Any] | Iterable[Parameter],
    cases: str | LoadCase | Iterable[str | LoadCase],
    *,
    objectives: Sequence[str] = ("mass", "worst sag"),
    limits: Mapping[str, Any] | None = None,
    measures: Iterable[Any] | None = None,
    layouts: int = 200,
    seed: int = 20,
    refine: int = 3,
    file: str | os.PathLike[str] | None = None,
    workers: int | str | None = None,
    cluster: Any = None,
    fresh_mesh: bool = True,
    progress: bool | Progress | None = None,
) -> Search:
    """Search for good layouts among ranges, sections and joints to choose from, and parts that are there or not.

    Proposals come from a sampler of Optuna.  Then small steps are made from the best layouts in the parameters that are
    continuous ranges: by derivatives, where all these are places of supports or sizes and all objectives and limits are
    sags, least clearance, mass or worst utilisation; else by trying, for by places of ribs derivatives are too rough.
    A good layout found is not proven to be the best there is; another seed shows how much is left to chance.  A search
    with a file goes on from it like a sweep.

    Parameters
    ----------
    splitter : Splitter
    changes : mapping, or list of Parameter
        As of :func:`sweep`; a range ``(from, to)`` without steps is continuous.
    cases : str, LoadCase or list of them
        As of :func:`sweep`.
    objectives : list of str
        Measures that are to get better; several are weighed against each other by no number, but give a front.
    limits : mapping, optional
        Limits on measures, in words or in SI units: at most for sag, mass, cost, utilisation, at least for clearance,
        downforce, first frequency and distance to the envelope.
    measures : list, optional
        Further measures for the table; those of objectives and limits are always there.
    layouts : int
        To propose.
    seed : int
        The same seed gives the same search, whatever the number of workers.
    refine : int
        Good layouts from which small steps are made.  By trying, each costs about twice as many solves as there are
        continuous parameters, up to eight times; by derivatives, usually 8 to 25 on the mesh of the layout and one in
        full, and the same once or twice more where the mesh has changed.
    file : path, optional
        As of :func:`sweep`, like those that follow.
    workers : int or "all", optional
        Processes on this machine.
    cluster : distributed.Client or str, optional
        A Dask cluster in place of workers.
    fresh_mesh : bool
        Whether each layout gets a mesh of its own.
    progress : bool or callable, optional
        Whether to show a bar, or what is told how far the search is.

    Returns
    -------
    Search
        As :class:`Study`, with ``best``, ``front``, ``notes`` (how small steps were made) and ``plot()``.

    Raises
    ------
    DesignError, UnitError
        If something is unknown or cannot be read.
    FileError
        If the file is of another study, damaged, or in use.
    MissingExtraError
        If Optuna, or what workers or cluster need, is not installed.

    Examples
    --------
    >>> found = sf.study.search(  # doctest: +SKIP
    ...     sf.demo(), {("cross tube", "dx"): ("-30 mm", "40 mm"), ("angle", "present"): None}, "straight, 210 km/h",
    ...     objectives=["mass", "worst sag"], limits={"worst utilisation": 1.0}, layouts=60, file="search.jsonl",
    ... )
    """
    from splitterfem.layouts.searching import goal_of, settings
    from splitterfem.layouts.searching import search as run
    from splitterfem.output.progressbar import progress_of

    named = [objectives] if isinstance(objectives, str) else list(objectives)
    wanted = [*named, *(limits or {}), *(measures or ())]
    first = plan_of("search", splitter, changes, cases, wanted or None, fresh_mesh=fresh_mesh)
    goal = goal_of(first, named, limits or {})
    more = settings(goal, layouts=layouts, seed=seed, refine=refine)
    with progress_of(progress, "search") as told:
        found = run(
            replace(first, more=more), goal, layouts=layouts, seed=seed, refine=refine, file=file, workers=workers,
            cluster=cluster, progress=told,
        )  # fmt: skip
    return Search(**{part.name: getattr(found, part.name) for part in fields(found)})


def read(path: str | os.PathLike[str], *, base: Splitter | None = None) -> Study:
    """Read a study again: from its file, whole or interrupted, or from what ``to_csv`` or ``to_parquet`` wrote.

    Parameters
    ----------
    path : path
    base : Splitter, optional
        In place of the base design that was written down, if its pressure maps lie elsewhere now.

    Returns
    -------
    Study
        A :class:`Search` where it was one.

    Raises
    ------
    FileError
        If the file is missing, damaged or none of those.
    MissingExtraError
        If it is Parquet and pyarrow is not installed.
    """
    from splitterfem.output.study_files import read_study

    return _whole(read_study(path, base=base))


def _whole(plain: _results.Study) -> Study:
    """Give a study its pictures and files."""
    if plain.plan.kind == "search":
        known = {part.name: getattr(plain, part.name) for part in fields(_results.Study)}
        return Search(**known, goal=Goal.from_spec(plain.plan, plain.plan.more))
    return Study(**{part.name: getattr(plain, part.name) for part in fields(plain)})
