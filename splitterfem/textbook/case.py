"""A value that somebody published, and what computes it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field


@dataclass(frozen=True)
class Case:
    """One row of a table of benchmarks.

    Attributes
    ----------
    subject : str
        "plates", "vibration", "ribs" or "joints".
    name : str
        What stands there, and what is looked at.
    unit : str
        Of the value, such as ``"q a^4 / D"``.
    published : float
        Its digits may be more than are printed: where a series or a closed form is published, it was summed further.
    within : float
        Difference over the published value that is allowed.
    source : str
    compute : callable
        Returns the value as the library's elements give it.
    """

    subject: str
    name: str
    unit: str
    published: float
    within: float
    source: str
    compute: Callable[[], float] = field(repr=False, compare=False)

    def difference(self) -> float:
        """Compute the value, and return its difference over the published one."""
        return self.compute() / self.published - 1.0
