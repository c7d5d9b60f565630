"""The face of the library for sweeps: what a study may change, all combinations of it, and their table."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from dataclasses import fields
from pathlib import Path
from typing import TYPE_CHECKING, Any

from splitterfem.design import LoadCase, Splitter
from splitterfem.layouts import results as _results
from splitterfem.layouts.parameters import Parameter
from splitterfem.layouts.parameters import parameter as _parameter
from splitterfem.layouts.plan import plan_of
from splitterfem.layouts.running import Progress

if TYPE_CHECKING:
    from matplotlib.axes import Axes


class Study(_results.Study):
    """Many layouts with their table, files and pictures."""

    def to_csv(self, path: str | os.PathLike[str]) -> Path:
        """Write the table as comma-separated values; see :func:`splitterfem.output.study_files.write_csv`."""
        from splitterfem.output.study_files import write_csv

        return write_csv(self, path)

    def to_parquet(self, path: str | os.PathLike[str]) -> Path:
        """Write the table as Parquet; see :func:`splitterfem.output.study_files.write_parquet`."""
        from splitterfem.output.study_files import write_parquet

        return write_parquet(self, path)

    def plot(self, measure: str | None = None, ax: Axes | None = None, **options: Any) -> Axes:
        """Draw a measure over one or two parameters; see :func:`splitterfem.output.studyview.plot_study`."""
        from splitterfem.output.studyview import plot_study

        return plot_study(self, measure, ax, **options)

    def _repr_html_(self) -> str:
        """Write one line and the table; notebooks ask for it by this name."""
        import html

        table = str(self.table.to_html(float_format="{:.4g}".format, max_rows=40))
        return f"<p>{html.escape(repr(self))}</p>{table}"


def parameter(splitter: Splitter, key: Any, values: Any = None, *, name: str | None = None) -> Parameter:
    """Say what a study may change, and to what, with a name of one's own for its tables.

    Parameters
    ----------
    splitter : Splitter
        What is changed; the kind and the unit of the values come from it.
    key : str, tuple or callable
        A path of :meth:`splitterfem.Splitter.with_` such as ``"struts.front left.foot.x"``; several paths in a tuple,
        which get the same value; ``(part, "dx")`` or ``(part, "dy")`` to move a part forward or to the left;
        ``(part, "present")`` for a part that is there or not; or a function of a design and a value that returns a
        design, for studies in one process without a file.
    values : tuple, list, mapping or array
        A tuple ``(from, to)`` is a range, ``(from, to, steps)`` that many values of it; a list has the values
        themselves; a mapping gives each value, such as the table of a section or a joint, a label.  Left out for a part
        that is there or not.
    name : str, optional

    Returns
    -------
    Parameter
        With its values, its unit and the path of what it changes.

    Raises
    ------
    DesignError
        If the place or a value is none, or there are no values.

    Examples
    --------
    >>> import splitterfem as sf
    >>> sf.study.parameter(sf.demo(), ("cross tube", "dx"), ("-30 mm", "30 mm", 3), name="tube forward").cells
    (-30.0, 0.0, 30.0)
    """
    return _parameter(splitter, key, values, name=name)


def sweep(
    splitter: Splitter,
    changes: Mapping[Any, Any] | Iterable[Parameter],
    cases: str | LoadCase | Iterable[str | LoadCase],
    *,
    measures: Iterable[Any] | None = None,
    file: str | os.PathLike[str] | None = None,
    workers: int | str | None = None,
    cluster: Any = None,
    fresh_mesh: bool = True,
    progress: bool | Progress | None = None,
) -> Study:
    """Solve all combinations of the values of one, two or more parameters.

    Every finished layout is kept in the file, if there is one; the same call with the same file goes on where it was
    ended, even when it was killed.  Control-C ends a study in order: what is done is returned.

    Parameters
    ----------
    splitter : Splitter
        What the changes begin with.
    changes : mapping, or list of Parameter
        Values by what they change, see :func:`parameter` for both; the last one changes fastest.
    cases : str, LoadCase or list of them
        Each layout is solved for all of them, and measured by the worst.
    measures : list, optional
        Of "worst sag", "mean sag", "least clearance", "downforce", "mass", "cost", "worst utilisation",
        "first frequency", "envelope distance", or a place (x, y) for the sag there; worst sag, least clearance and mass
        when left out.  Mass and cost are those of the bill of materials, as far as they are known; downforce is the
        least of the load cases with air; the first frequency is that under its own weight; the distance to the envelope
        is the least of all limits that the drawing and these load cases tell, positive inside.
    file : path, optional
        To keep finished layouts in.
    workers : int or "all", optional
        Processes on this machine; this one alone when left out.  A script that asks for more is to do its work below
        ``if __name__ == "__main__":``.
    cluster : distributed.Client or str, optional
        A Dask cluster, or the address of its scheduler, in place of workers.
    fresh_mesh : bool
        Whether each layout gets a mesh of its own, as :func:`splitterfem.solve` makes it.  With False, layouts with the
        outline and the openings of the splitter stand on its mesh, which takes about half the time; but that mesh is
        fine where ribs and pads were, not where they are: a rib of the demonstration that is moved by 40 mm then sags
        4 % less than on a mesh of its own, a bias in favour of what was moved.
    progress : bool or callable, optional
        Whether to show a bar; or what is told how many layouts are finished, how many there will be, and how many
        seconds are left.  In a terminal or a notebook a bar is shown when left out.

    Returns
    -------
    Study
        With ``table``, ``plot()``, ``design(layout)``, ``save_design(layout, path)``, ``to_csv(path)`` and
        ``to_parquet(path)``.  A layout that cannot be built or solved has its reason in the column "refused".

    Raises
    ------
    DesignError, UnitError
        If something is unknown or cannot be read.
    FileError
        If the file is of another study, damaged, or in use.
    MissingExtraError
        If workers or cluster need a package that is not installed.
    SolveError
        If the workers are lost.

    Examples
    --------
    >>> import splitterfem as sf
    >>> coarse = sf.demo().with_("mesh.size", "200 mm")
    >>> found = sf.study.sweep(coarse, {"panel.sheet.thickness": ["12 mm", "15 mm"]}, "push on the lip")
    >>> [bool(sag > 1.0) for sag in found.table["worst sag mm"]]
    [True, False]
    """
    from splitterfem.layouts.sweeping import sweep as run
    from splitterfem.output.progressbar import progress_of

    plan = plan_of("sweep", splitter, changes, cases, measures, fresh_mesh=fresh_mesh)
    with progress_of(progress, "sweep") as told:
        found = run(plan, file=file, workers=workers, cluster=cluster, progress=told)
    return Study(**{part.name: getattr(found, part.name) for part in fields(found)})
