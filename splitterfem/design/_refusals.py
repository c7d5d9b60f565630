"""What makes a splitter as a whole one that is refused."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import TYPE_CHECKING

from pydantic_core import PydanticCustomError

from splitterfem.design._finding import Finding
from splitterfem.design._pairs import half_names
from splitterfem.design._record import refuse
from splitterfem.errors import DesignError

if TYPE_CHECKING:
    from splitterfem.design.splitter import Splitter


def refuse_faults(findings: Iterable[Finding]) -> None:
    """Raise what makes a design one that cannot be built."""
    lines = [(finding.path, finding.sentence) for finding in findings if finding.severity == "error"]
    if lines:
        raise PydanticCustomError("design_check", "the design cannot be built", {"findings": lines})


def refuse_same_names(splitter: Splitter) -> None:
    """Refuse two parts or two cases of one name; the halves of a mirrored pair have names too."""
    names = Counter(name for part in splitter.parts() for name in {part.name, *half_names(part)})
    try:
        cases = Counter(case.name for case in splitter.all_cases)
    except DesignError as problem:
        refuse(str(problem))
    for counts, what in ((names, "parts"), (cases, "cases")):
        twice = [name for name, count in counts.items() if count > 1]
        if twice:
            refuse(f"two {what} are called '{twice[0]}'; give each a name of its own")
