"""All benchmarks in one table."""

from __future__ import annotations

from collections.abc import Callable

import pandas as pd

from splitterfem.errors import DesignError, nearest
from splitterfem.textbook import joints, plates, ribs, vibration
from splitterfem.textbook.case import Case

SUBJECTS: dict[str, Callable[[], list[Case]]] = {
    "plates": plates.cases,
    "vibration": vibration.cases,
    "ribs": ribs.cases,
    "joints": joints.cases,
}


def all_cases(subject: str | None = None) -> list[Case]:
    """Cases of one subject, "plates", "vibration", "ribs" or "joints", or of all.

    Raises
    ------
    DesignError
        If there is no such subject.
    """
    if subject is None:
        return [case for make in SUBJECTS.values() for case in make()]
    if subject not in SUBJECTS:
        raise DesignError(f"there are no benchmarks of '{subject}'; {nearest(subject, SUBJECTS)}")
    return SUBJECTS[subject]()


def table(subject: str | None = None) -> pd.DataFrame:
    """Compute benchmarks and set them beside what is published.

    Parameters
    ----------
    subject : str, optional
        "plates", "vibration", "ribs" or "joints"; all when left out.

    Returns
    -------
    pandas.DataFrame
        ``subject``, ``what``, ``unit``, ``published``, ``computed``, ``difference_percent``, ``allowed_percent``,
        ``source``.  [M] marks values from memory.

    Raises
    ------
    DesignError
        If there is no such subject.
    """
    rows = []
    for case in all_cases(subject):
        value = case.compute()
        rows.append(
            {
                "subject": case.subject,
                "what": case.name,
                "unit": case.unit,
                "published": case.published,
                "computed": value,
                "difference_percent": 100.0 * (value / case.published - 1.0),
                "allowed_percent": 100.0 * case.within,
                "source": case.source,
            }
        )
    return pd.DataFrame(rows)
