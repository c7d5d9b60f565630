"""The head of a report, and where its figures come from: names, version, fingerprint of the input, files."""

from __future__ import annotations

from collections.abc import Sequence

from splitterfem.analysis import Solution
from splitterfem.output.origin import fingerprint, versions
from splitterfem.output.report_front import Front
from splitterfem.output.sources import cases_behind, fingerprints
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
            ["computed with", ", ".join(f"{name} {version}" for name, version in versions().items())],
            [
                "fingerprint of the input",
                f"{digits} (of the design and the files it names; SHA-256, first digits)",
            ],
            *([name, f"{found} (SHA-256, first digits)"] for name, found in _files(solutions).items()),
        ],
    }


def _files(solutions: Sequence[Solution]) -> dict[str, str]:
    return fingerprints(solutions[0].model.design, cases_behind(solutions))
