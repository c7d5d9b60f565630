"""One finding of a check."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Severity = Literal["error", "warning", "note"]


@dataclass(frozen=True)
class Finding:
    """Something found in a design.

    Attributes
    ----------
    code : str
        Stable name of the kind of finding.
    severity : {"error", "warning", "note"}
        Errors keep a design from being made; warnings ask for a second look.
    path : str
        Table and field, with parts by name.
    where : (float, float) or None
        Place on the panel (m), when there is one.
    sentence : str
        What was found and what would mend it.
    """

    code: str
    severity: Severity
    path: str
    where: tuple[float, float] | None
    sentence: str

    def __str__(self) -> str:
        """Write the path and the sentence."""
        return f"{self.path}: {self.sentence}"
