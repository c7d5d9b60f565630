"""The report that goes to the customer, as PDF set by typst or as one HTML file, from the same plain data."""

from __future__ import annotations

import contextlib
import datetime
import json
import os
import tempfile
from collections.abc import Iterator, Sequence
from importlib.resources import files as resources
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, Unpack

from splitterfem.analysis import Solution
from splitterfem.analysis.behaviour import Behaviour
from splitterfem.analysis.behaviour import behaviour as find_behaviour
from splitterfem.errors import DesignError, FileError, MissingExtraError
from splitterfem.output import files
from splitterfem.output.judged import Losses, judged, worst_ratio
from splitterfem.output.origin import today
from splitterfem.output.report_front import Front, FrontOptions, Paper
from splitterfem.output.wording import System

if TYPE_CHECKING:
    from types import ModuleType

HTML = (".html", ".htm")
"""Endings of files that become HTML; one of PDF is the other kind there is."""

_TYPST_PAPERS = {"a4": "a4", "letter": "us-letter"}


def write_report(
    solutions: Sequence[Solution],
    path: str | os.PathLike[str],
    *,
    paper: Paper | None = None,
    units: System = "metric",
    date: datetime.date | None = None,
    title: str = "",
    prepared_for: str = "",
    prepared_by: str = "",
    job: str = "",
    losses: Losses | bool = True,
    behaviour: Behaviour | bool = True,
) -> Path:
    """Write a report on load cases of one splitter as PDF, or as HTML if the name of the file ends so.

    Nothing is downloaded, neither to write it nor to read it. With the same solutions, versions and date the file has
    the same bytes.

    Parameters
    ----------
    solutions : sequence of Solution
        Load cases of one splitter, in the order in which they are to appear.
    path : path
        Ends with ``.pdf``, ``.html`` or ``.htm``. An existing file is replaced when the new one is complete.
    paper : {"a4", "letter"}, optional
        Letter with US units and A4 with metric ones when left out. Of an HTML file it is the paper to print on.
    units : {"metric", "us"}
    date : datetime.date, optional
        Printed in it; today when left out.
    title : str
        In place of the name of the splitter.
    prepared_for, prepared_by, job : str
        Customer, shop, and number or name of the job, as plain text; left out where empty.
    losses : bool or Losses
        Whether to solve the load case with the largest utilisation again with one part after the other lost and
        to tell what comes of it; what came of it, when that was done already.
    behaviour : bool or Behaviour
        Whether to find the natural frequencies, buckling factors and sweeps over speed that the design asks for, and to
        tell them; what they are, when they were found already.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    MissingExtraError
        A PDF is wanted and typst is not installed.
    DesignError
        No solution is given, they are of different splitters, the paper is unknown, or a title or name is not one
        line of printable characters.
    UnitError
        Another system of units.
    FileError
        The ending of the file is another, or the file cannot be written.
    """
    _check(solutions)
    front = front_of(
        path,
        units=units,
        paper=paper,
        date=date,
        title=title,
        prepared_for=prepared_for,
        prepared_by=prepared_by,
        job=job,
    )
    lost = judged(solutions).lose_one() if losses is True else losses or None
    model = solutions[0].model
    if behaviour is True:
        behaviour = find_behaviour(model, judge=worst_ratio, solved=solutions)
    asked = behaviour or None
    if kind_of(path) == "html":
        return files.write_bytes(path, _html(solutions, front, lost, asked))
    return files.write_bytes(path, _set(typesetter(), solutions, front, losses=lost, behaviour=asked)[0])


def front_of(
    path: str | os.PathLike[str], *, date: datetime.date | None = None, **options: Unpack[FrontOptions]
) -> Front:
    """Return the head of a report after a look whether it can be written; worth a call before a long run.

    Parameters
    ----------
    path : path
        The file that is to be.
    date : datetime.date, optional
        Today when left out, or the day of ``SOURCE_DATE_EPOCH`` if that is set.
    **options
        ``units``, ``paper``, ``title``, ``prepared_for``, ``prepared_by`` and ``job`` as `write_report` has them.

    Raises
    ------
    MissingExtraError, DesignError, UnitError, FileError
        As `write_report`.
    """
    front = Front(date=date or today(), **options)
    if kind_of(path) == "pdf":
        typesetter()
    files.ready(path)
    return front


def kind_of(path: str | os.PathLike[str]) -> Literal["pdf", "html"]:
    """Kind of report that a file is to be, by its ending.

    Raises
    ------
    FileError
        Its name ends with neither .pdf nor .html nor .htm.
    """
    ending = Path(path).suffix.lower()
    if ending == ".pdf":
        return "pdf"
    if ending in HTML:
        return "html"
    name = Path(path).name or path
    raise FileError(f"A report cannot be written as '{name}'; let its name end in .pdf or .html.")


def typesetter() -> ModuleType:
    """Return the typst module.

    Raises
    ------
    MissingExtraError
        It is not installed.
    """
    try:
        import typst
    except ImportError:
        raise MissingExtraError(
            "A report needs typst, which is not installed: run  pip install 'splitterfem[report]'"
        ) from None
    return typst


def _check(solutions: Sequence[Solution]) -> None:
    if not solutions:
        raise DesignError("A report needs at least one solved load case; there is none.")
    first = solutions[0].model.design
    for solution in solutions[1:]:
        if solution.model.design != first:
            raise DesignError(
                f"A report is on one splitter, but load case '{solution.case.name}' was solved on "
                "another design; write a report for each."
            )


def _html(
    solutions: Sequence[Solution], front: Front, losses: Losses | None, behaviour: Behaviour | None
) -> bytes:
    """Return the report as one HTML file."""
    from splitterfem.output.html_report import page
    from splitterfem.output.report_compose import compose

    composed = compose(solutions, front, losses, behaviour)
    return page(composed.document, composed.pictures).encode("utf-8")


def _set(
    setter: Any,
    solutions: Sequence[Solution],
    front: Front,
    *,
    losses: Losses | None,
    behaviour: Behaviour | None = None,
    format: Literal["pdf", "png"] = "pdf",
    ppi: float = 110.0,
) -> list[bytes]:
    """Set the report in a folder of its own; return the PDF, or one PNG for each page."""
    day = front.date
    with _workshop() as name:
        folder = Path(name)
        _fill(folder, solutions, front, losses, behaviour)
        try:
            made = setter.compile(
                str(folder / "report.typ"),
                root=name,
                font_paths=[_fonts()],
                format=format,
                ppi=ppi if format == "png" else None,
                timestamp=datetime.datetime(day.year, day.month, day.day, tzinfo=datetime.UTC),
            )
        except RuntimeError as problem:
            raise FileError(f"The report could not be set: {str(problem).splitlines()[0]}") from problem
    return made if isinstance(made, list) else [made]


@contextlib.contextmanager
def _workshop() -> Iterator[str]:
    """Give a folder for what a report is set from."""
    try:
        with tempfile.TemporaryDirectory(prefix="splitterfem-", ignore_cleanup_errors=True) as name:
            yield name
    except OSError as problem:
        place, reason = os.environ.get("TMPDIR") or tempfile.gettempdir(), problem.strerror or str(problem)
        raise FileError(
            f"The report could not be set, for files cannot be written in {place}: {reason.lower()}; make room "
            "there, or set TMPDIR to a folder that has some."
        ) from problem


def _fill(
    folder: Path,
    solutions: Sequence[Solution],
    front: Front,
    losses: Losses | None,
    behaviour: Behaviour | None = None,
) -> None:
    """Put template, data and pictures into a folder."""
    from splitterfem.output.report_compose import compose

    composed = compose(solutions, front, losses, behaviour)
    data = {**composed.document, "paper": _TYPST_PAPERS[front.sheet]}
    (folder / "data.json").write_text(json.dumps(data, ensure_ascii=False, allow_nan=False), encoding="utf-8")
    for name, picture in composed.pictures.items():
        (folder / name).write_bytes(picture)
    (folder / "report.typ").write_text(
        resources("splitterfem.output").joinpath("report.typ").read_text(encoding="utf-8"), encoding="utf-8"
    )


def _fonts() -> str:
    """Folder of the fonts that come with matplotlib, so that the report looks the same on every machine."""
    import matplotlib

    return str(Path(matplotlib.get_data_path()) / "fonts" / "ttf")
