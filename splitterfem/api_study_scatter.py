"""The face of the library for scatter: figures of a splitter when materials, joints and loads scatter."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from dataclasses import fields
from typing import TYPE_CHECKING, Any

from splitterfem.api_study_sweeps import Study
from splitterfem.design import LoadCase, Splitter
from splitterfem.layouts import scatter as _scatter
from splitterfem.layouts.running import Progress

if TYPE_CHECKING:
    from matplotlib.axes import Axes


class Scatter(_scatter.Scatter, Study):
    """Draws of a splitter with their figures, files and pictures."""

    def plot(self, measure: str | None = None, ax: Axes | None = None, **options: Any) -> Axes:
        """Draw how measures scatter, and what that comes from; see `splitterfem.output.scatterview.plot_scatter`."""
        from splitterfem.output.scatterview import plot_scatter

        return plot_scatter(self, ax, measures=None if measure is None else [measure], **options)

    def _repr_html_(self) -> str:
        """Write percentiles and probabilities, and what they cover; notebooks ask for it by this name."""
        import html

        tables = (self.percentiles, self.probabilities)
        said = "".join(str(table.to_html(index=False, float_format="{:.4g}".format)) for table in tables)
        return said + "".join(f"<p>{html.escape(note)}</p>" for note in self.notes)


def scatter(
    splitter: Splitter,
    spreads: Mapping[Any, Any],
    cases: str | LoadCase | Iterable[str | LoadCase],
    *,
    draws: int = _scatter.DRAWS,
    scheme: _scatter.Scheme = "ranks",
    seed: int = 1,
    measures: Iterable[Any] | None = None,
    file: str | os.PathLike[str] | None = None,
    workers: int | str | None = None,
    cluster: Any = None,
    progress: bool | Progress | None = None,
) -> Scatter:
    """Find how much sag, clearance and utilisation scatter when materials, joints and loads do.

    Parameters
    ----------
    splitter : Splitter
    spreads : mapping
        What scatters and how.  What: "moduli", "strength", "density" and "thickness" of the sheet, "joints" of the
        ribs, "strut ends", "load", each one factor on what the design says; or a path such as "car.ride_height".  How:
        ``"10 %"`` is normal with this standard deviation, ``"±0.5 mm"`` uniform within; ``("lognormal", "12 %")``,
        ``("normal", "15 mm", "0.2 mm")``, ``("uniform", "14 mm", "15 mm")``, ``("triangular", "60 mm", "75 mm",
        "80 mm")``.
    cases : str, LoadCase or list of them
        Each draw is solved for all of them, and measured by the worst.
    draws : int
        A power of two.
    scheme : {"ranks", "sobol"}
        "ranks" tells from the draws themselves which input matters, as long as everything rises or falls with each;
        "sobol" tells shares of the variance, for (inputs + 2) times as many solves.
    seed : int
        The same one gives the same draws.
    measures : list, optional
        As of :func:`sweep`; worst sag, least clearance and worst utilisation when left out.
    file : path, optional
        As of :func:`sweep`, like those that follow.
    workers : int or "all", optional
        Processes on this machine.
    cluster : distributed.Client or str, optional
        A Dask cluster in place of workers.
    progress : bool or callable, optional
        Whether to show a bar, or what is told how far the scatter is.

    Returns
    -------
    Scatter
        With ``table``, ``percentiles``, ``probabilities``, ``probability(measure, above=...)``,
        ``influence_table(measure)``, ``notes``, ``plot()``, ``design(layout)`` and what a :class:`Study` has.

    Raises
    ------
    DesignError, UnitError
        If something is unknown or cannot be read.
    FileError, MissingExtraError, SolveError
        As :func:`sweep`.

    Examples
    --------
    >>> import splitterfem as sf
    >>> coarse = sf.demo().with_("mesh.size", "200 mm")
    >>> found = sf.study.scatter(coarse, {"moduli": "10 %"}, "push on the lip", draws=8, measures=["worst sag"])
    >>> 0.05 < found.percentiles["standard_deviation"][0] / found.percentiles["mean"][0] < 0.2
    True
    """
    from splitterfem.output.progressbar import progress_of

    wanted = cases if isinstance(cases, (str, LoadCase)) else list(cases)
    with progress_of(progress, "scatter") as told:
        found = _scatter.scatter(
            splitter,
            spreads,
            wanted,
            draws=draws,
            scheme=scheme,
            seed=seed,
            measures=measures,
            file=file,
            workers=workers,
            cluster=cluster,
            progress=told,
        )
    return Scatter(**{part.name: getattr(found, part.name) for part in fields(found)})
