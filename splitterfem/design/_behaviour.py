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
    yield from _sweeps(splitter)
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


def _sweeps(splitter: Splitter) -> Iterator[Finding]:
    """Find sweeps over speed of cases that there are not, or in which nothing changes with the speed."""
    known = {case.name: case for case in splitter.all_cases}
    for number, sweep in enumerate(splitter.sweeps, start=1):
        path = f"sweeps.#{number}.case"
        if sweep.case not in known:
            yield from _known(splitter, sweep.case, path)
            continue
        case = known[sweep.case]
        parts = [case, *(known[part.case] for part in case.combines if part.case in known and part.factor)]
        windy = [part for part in parts if part.pressure is not None]
        still = next(
            (part for part in windy if part.pressure is not None and not part.pressure.by_speed), None
        )
        if not windy:
            text = f"load case '{case.name}' has no pressure map, so that nothing changes with the speed; name another"
            yield Finding("nothing-by-speed", "error", path, None, text)
        elif still is not None:
            text = (
                f"the pressures of load case '{still.name}' belong to no speed; give its map coefficients (cp) or the "
                "reference_speed at which they were measured"
            )
            yield Finding("nothing-by-speed", "error", path, None, text)


def _known(splitter: Splitter, name: str, path: str) -> Iterator[Finding]:
    """Find the name of a load case that there is not."""
    known = [case.name for case in splitter.all_cases]
    if name not in known:
        mend = nearest(name, known) if known else "there are none at all"
        yield Finding("no-such-case", "error", path, None, f"there is no load case '{name}'; {mend}")
