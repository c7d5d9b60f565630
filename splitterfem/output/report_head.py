"""The head of a report, and where its figures come from: names, version, fingerprint of the input, files."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Sequence

from splitterfem.analysis import Solution
from splitterfem.design import LoadCase, Splitter, dumps
from splitterfem.design.combine import settled
from splitterfem.errors import DesignError, FileError
from splitterfem.output.report_front import Front
from splitterfem.output.sources import cases_behind, file_print, files_of, fingerprints
from splitterfem.version import __version__


def head_part(solutions: Sequence[Solution], front: Front) -> dict[str, object]:
    """Return what stands at the head and at the foot of a report, and where it comes from.

    Parameters
    ----------
    solutions : sequence of Solution
    front : Front

    Returns
    -------
    dict
        ``name`` of the design, ``title``, ``subject``, ``note``, ``invented``, ``date``, ``version``, ``fingerprint``,
        ``paper``, ``names`` (rows of who it is for and by whom), ``footer``, ``origin`` (rows).
    """
    design = solutions[0].model.design
    digits, day = fingerprint(design, [solution.case for solution in solutions]), front.date.isoformat()
    given = (("prepared for", front.prepared_for), ("prepared by", front.prepared_by), ("job", front.job))
    names = [[label, text] for label, text in given if text.strip()]
    what = "Front splitter: sag, clearance, forces and strength"
    return {
        "name": design.name,
        "title": front.title.strip() or design.name,
        "subject": f"{what}. Design: {design.name}" if front.title.strip() else what,
        "note": design.note,
        "invented": design.invented,
        "date": day,
        "version": __version__,
        "fingerprint": digits,
        "paper": front.sheet,
        "names": names,
        "footer": f"splitterfem {__version__}, input {digits}. An estimate, not a certificate.",
        "origin": [
            ["design", design.name],
            *names,
            ["date", day],
            ["computed with", f"splitterfem {__version__}"],
            [
                "fingerprint of the input",
                f"{digits} (of the design and the files it names; SHA-256, first digits)",
            ],
            *([name, f"{found} (SHA-256, first digits)"] for name, found in _files(solutions).items()),
        ],
    }


def _files(solutions: Sequence[Solution]) -> dict[str, str]:
    return fingerprints(solutions[0].model.design, cases_behind(solutions))


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
