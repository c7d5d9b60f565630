"""What an output was made of: fingerprint of the input, versions, and the day, as every file carries them."""

from __future__ import annotations

import datetime
import hashlib
import os
from collections.abc import Collection, Sequence
from functools import cache
from importlib import metadata

from matplotlib.figure import Figure, SubFigure

from splitterfem.analysis import Solution
from splitterfem.design import LoadCase, Splitter, dumps
from splitterfem.design.combine import settled
from splitterfem.errors import DesignError, FileError
from splitterfem.output.sources import file_print, files_of
from splitterfem.version import __version__

COLUMN = "made_by"
"""Heading of the last column of tables of comma-separated values; only their first row has it."""

NUMERICS = ("numpy", "scipy", "scikit-fem", "netgen-mesher", "shapely")
"""Packages on which figures depend, as far as they do on any."""

Made = Splitter | Solution | Sequence[Solution]
"""What something can be made of: a design, or load cases of one that were solved."""


def today() -> datetime.date:
    """Return the day that outputs are dated with: ``SOURCE_DATE_EPOCH`` in UTC if it is set, else that of the clock.

    The variable is that of reproducible-builds.org: seconds since 1970-01-01 UTC.

    Raises
    ------
    DesignError
        The variable is no number of seconds.
    """
    given = os.environ.get("SOURCE_DATE_EPOCH", "").strip()
    if not given:
        return datetime.date.today()
    try:
        return datetime.datetime.fromtimestamp(int(given), tz=datetime.UTC).date()
    except (ValueError, OverflowError, OSError):
        raise DesignError(
            f"SOURCE_DATE_EPOCH is {given[:40]!r}; give whole seconds since 1970-01-01 UTC, or unset it."
        ) from None


@cache
def versions() -> dict[str, str]:
    """Return the versions of this library and of the packages on which figures depend, by name."""
    return {"splitterfem": __version__, **{name: _version(name) for name in NUMERICS}}


def _version(name: str) -> str:
    try:
        return metadata.version(name)
    except metadata.PackageNotFoundError:
        return "unknown"


def fingerprint(design: Splitter, cases: Sequence[LoadCase]) -> str:
    """First 12 hex digits of the SHA-256 of a design and of the files that it names, or why there is none.

    Hashed is the design as its file has it, and after it a line for each file (drawing, pressure maps) with its name
    and the first 12 digits of its own SHA-256.  Load cases that are not in the design take the place of those that
    are.
    """
    try:
        known = [settled(case, design) for case in design.all_cases]
        if any(case not in known for case in cases):
            names = {case.name for case in cases}
            design = design.with_(cases=tuple(cases), handling=(), **_asked_of(design, names))
        text = dumps(design)
    except DesignError:
        return "none: it cannot be a file"
    named = "".join(f"\n{file} {_print(design, file)}" for file in files_of(design, design.all_cases))
    return hashlib.sha256((text + named).encode("utf-8")).hexdigest()[:12]


def _print(design: Splitter, file: str) -> str:
    """Fingerprint of a file; one that only load cases name which were not solved may be missing."""
    try:
        return file_print(design, file)
    except FileError:
        return "missing"


def _asked_of(design: Splitter, names: Collection[str]) -> dict[str, object]:
    """Return what a design asks about these load cases, to put in place of what it asks about all."""
    wanted = design.vibration
    if wanted is not None and not (wanted.case is None or wanted.case in names):
        wanted = None
    return {
        "vibration": wanted,
        "buckling": tuple(name for name in design.buckling if name in names),
        "sweeps": tuple(sweep for sweep in design.sweeps if sweep.case in names),
    }


def input_of(made: Made) -> str:
    """Return the fingerprint of what an output is made of."""
    return fingerprint(*_design_and_cases(made))


def _design_and_cases(made: Made) -> tuple[Splitter, tuple[LoadCase, ...]]:
    if isinstance(made, Splitter):
        return made, ()
    solutions = [made] if isinstance(made, Solution) else list(made)
    return solutions[0].model.design, tuple(solution.case for solution in solutions)


def origin(made: Made) -> str:
    """Say in one line what something is made of, such as ``splitterfem 0.1.0, input 3fa9c2d01b77``."""
    return f"splitterfem {__version__}, input {input_of(made)}"


def full_origin(made: Made) -> str:
    """Say what something is made of, with the versions of the packages on which its figures depend."""
    return _with_versions(input_of(made))


def _with_versions(digits: str) -> str:
    others = ", ".join(f"{name} {version}" for name, version in versions().items() if name != "splitterfem")
    return f"splitterfem {__version__}, input {digits}; {others}"


def origin_data(made: Made) -> dict[str, object]:
    """Return ``version``, ``input`` (the fingerprint) and ``versions`` as plain data, ready for JSON."""
    return {"version": __version__, "input": input_of(made), "versions": dict(versions())}


def sign(figure: Figure | SubFigure | None, made: Made) -> None:
    """Note on a figure what it shows, so that its file can say so; a solution is not kept alive by it."""
    if figure is not None:
        figure.splitterfem_made = _design_and_cases(made)  # type: ignore[union-attr]


def is_signed(figure: Figure | SubFigure | None) -> bool:
    """Tell whether it is noted on a figure what it shows."""
    return hasattr(figure, "splitterfem_made")


def signed(figure: Figure | SubFigure | None) -> str:
    """Return the origin of a figure, or the library's version alone where nobody has signed it."""
    made = getattr(figure, "splitterfem_made", None)
    return f"splitterfem {__version__}" if made is None else _with_versions(fingerprint(*made))
