"""Whether what is asked of a design can be asked: cases that are there, masses that are on the panel."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import TYPE_CHECKING

import shapely

from splitterfem.curves import in_mm
from splitterfem.design._finding import Finding
from splitterfem.design._ground import Ground
from splitterfem.errors import nearest

if TYPE_CHECKING:
    from splitterfem.design.splitter import Splitter


def behaviour(splitter: Splitter, ground: Ground) -> Iterator[Finding]:
    """Find questions about load cases that there are not, and masses beside the panel."""
    for name in splitter.buckling:
        yield from _known(splitter, name, "buckling")
    for name, count in Counter(splitter.buckling).items():
        if count > 1:
            text = f"names the load case '{name}' {count} times; name it once"
            yield Finding("case-twice", "error", "buckling", None, text)
    vibration = splitter.vibration
    if vibration is None:
        return
    if vibration.case is not None:
        yield from _known(splitter, vibration.case, "vibration.case")
    for mass in vibration.added:
        if not ground.holds(shapely.Point(mass.at)):
            what, _ = ground.where_off(shapely.Point(mass.at))
            place = (float(mass.at[0]), float(mass.at[1]))
            text = f"lies {what} at {in_mm(place)} mm; move it onto the panel"
            yield Finding("mass-off-panel", "error", f"vibration.added.{mass.name}.at", place, text)


def _known(splitter: Splitter, name: str, path: str) -> Iterator[Finding]:
    """Find the name of a load case that there is not."""
    known = [case.name for case in splitter.all_cases]
    if name not in known:
        mend = nearest(name, known) if known else "there are none at all"
        yield Finding("no-such-case", "error", path, None, f"there is no load case '{name}'; {mend}")
