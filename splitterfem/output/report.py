"""The report that goes to the customer: a PDF set by typst from plain data and vector pictures."""

from __future__ import annotations

import datetime
import json
import os
import tempfile
from collections.abc import Sequence
from importlib.resources import files as resources
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from splitterfem.analysis import Solution
from splitterfem.analysis.behaviour import Behaviour
from splitterfem.analysis.behaviour import behaviour as find_behaviour
from splitterfem.errors import DesignError, FileError, MissingExtraError, nearest
from splitterfem.output import files
from splitterfem.output.judged import Losses, judged, worst_ratio
from splitterfem.output.wording import System, words_for

if TYPE_CHECKING:
    from types import ModuleType

Paper = Literal["a4", "us-letter"]
_PAPERS = ("a4", "us-letter")


def write_report(
    solutions: Sequence[Solution],
    path: str | os.PathLike[str],
    *,
    paper: Paper = "a4",
    units: System = "metric",
    date: datetime.date | None = None,
    losses: Losses | bool = True,
    behaviour: Behaviour | bool = True,
) -> Path:
    """Write a report on load cases of one splitter as PDF.

    Nothing is downloaded. With the same solutions, versions and date the file has the same bytes.

    Parameters
    ----------
    solutions : sequence of Solution
        Load cases of one splitter, in the order in which they are to appear.
    path : path
        An existing file is replaced when the new one is complete.
    paper : {"a4", "us-letter"}
    units : {"metric", "us"}
    date : datetime.date, optional
        Printed in it; today when left out.
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
        typst is not installed.
    DesignError
        No solution is given, they are of different splitters, or the paper is unknown.
    UnitError
        Another system of units.
    FileError
        The file cannot be written.
    """
    _check(solutions, paper)
    words_for(units)
    files.ready(path)
    setter = typesetter()
    lost = judged(solutions).lose_one() if losses is True else losses or None
    model = solutions[0].model
    asked = find_behaviour(model, judge=worst_ratio) if behaviour is True else behaviour or None
    day = date or datetime.date.today()
    pdf = _set(
        setter, solutions, paper=paper, units=units, date=day, losses=lost, behaviour=asked, format="pdf"
    )
    return files.write_bytes(path, pdf[0])


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


def _check(solutions: Sequence[Solution], paper: str) -> None:
    if not solutions:
        raise DesignError("A report needs at least one solved load case; there is none.")
    if paper not in _PAPERS:
        raise DesignError(f"There is no paper '{paper}'; {nearest(paper, _PAPERS)}")
    first = solutions[0].model.design
    for solution in solutions[1:]:
        if solution.model.design != first:
            raise DesignError(
                f"A report is on one splitter, but load case '{solution.case.name}' was solved on "
                "another design; write a report for each."
            )


def _set(
    setter: Any,
    solutions: Sequence[Solution],
    *,
    paper: str,
    units: System,
    date: datetime.date,
    losses: Losses | None,
    behaviour: Behaviour | None = None,
    format: Literal["pdf", "png"],
) -> list[bytes]:
    """Set the report in a folder of its own; return the PDF, or one PNG for each page."""
    with tempfile.TemporaryDirectory(prefix="splitterfem-") as name:
        folder = Path(name)
        _fill(folder, solutions, paper, units, date, losses, behaviour)
        try:
            made = setter.compile(
                str(folder / "report.typ"),
                root=name,
                font_paths=[_fonts()],
                format=format,
                ppi=110.0 if format == "png" else None,
                timestamp=datetime.datetime(date.year, date.month, date.day, tzinfo=datetime.UTC),
            )
        except RuntimeError as problem:
            raise FileError(f"The report could not be set: {str(problem).splitlines()[0]}") from problem
    return made if isinstance(made, list) else [made]


def _fill(
    folder: Path,
    solutions: Sequence[Solution],
    paper: str,
    units: System,
    date: datetime.date,
    losses: Losses | None,
    behaviour: Behaviour | None = None,
) -> None:
    """Put template, data and pictures into a folder."""
    from splitterfem.output import report_pictures as pictures
    from splitterfem.output.report_behaviour import write_pictures
    from splitterfem.output.report_data import report_data
    from splitterfem.output.report_maps import distinct_maps
    from splitterfem.output.report_speed import write_pictures as write_speed

    words = words_for(units)
    data = {**report_data(solutions, words, date, losses=losses, behaviour=behaviour), "paper": paper}
    (folder / "data.json").write_text(json.dumps(data, ensure_ascii=False, allow_nan=False), encoding="utf-8")
    design, unit = solutions[0].model.design, words.size
    (folder / "design.svg").write_bytes(pictures.design_svg(design, unit))
    for number, solution in enumerate(solutions, start=1):
        (folder / f"sag-{number}.svg").write_bytes(pictures.sag_svg(solution, unit))
        (folder / f"clearance-{number}.svg").write_bytes(pictures.clearance_svg(solution, unit))
    for number, shown in enumerate(distinct_maps(solutions), start=1):
        (folder / f"pressure-{number}.svg").write_bytes(pictures.pressure_svg(design, shown, unit))
    if design.envelope is not None:
        (folder / "envelope.svg").write_bytes(pictures.envelope_svg(solutions, unit))
    write_pictures(behaviour, folder, words)
    write_speed(() if behaviour is None else behaviour.sweeps, folder, words)
    (folder / "report.typ").write_text(
        resources("splitterfem.output").joinpath("report.typ").read_text(encoding="utf-8"), encoding="utf-8"
    )


def _fonts() -> str:
    """Folder of the fonts that come with matplotlib, so that the report looks the same on every machine."""
    import matplotlib

    return str(Path(matplotlib.get_data_path()) / "fonts" / "ttf")
