"""Which load cases a report shows pictures of, what stands over them, and the pictures themselves."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.figure import Figure

from splitterfem.analysis import Solution
from splitterfem.output.pressureview import total_words
from splitterfem.output.report_maps import PRESSURE_KEY, distinct_maps
from splitterfem.output.report_pictures import beside, clearance_figure, pressure_figure, sag_figure
from splitterfem.output.report_tables import minus
from splitterfem.output.wording import Words

MOST = 12
"""Load cases that are shown in pictures."""


def pictured(solutions: Sequence[Solution]) -> list[int]:
    """Choose the load cases that are shown: all, or those that sag most and those that come nearest to the ground.

    Parameters
    ----------
    solutions : sequence of Solution
    """
    everyone = range(len(solutions))
    if len(solutions) <= MOST:
        return list(everyone)
    by_sag = sorted(everyone, key=lambda i: -solutions[i].max_sag)
    by_gap = sorted(everyone, key=lambda i: solutions[i].min_clearance)
    ranked = dict.fromkeys(i for pair in zip(by_sag, by_gap, strict=True) for i in pair)
    return sorted(list(ranked)[:MOST])


def pictures_part(solutions: Sequence[Solution], words: Words) -> dict[str, object]:
    """Everything that a report says over and under its pictures of pressure, sag and gap.

    Parameters
    ----------
    solutions : sequence of Solution
    words : Words
        Units.

    Returns
    -------
    dict
        ``pressures`` and ``pressure_key``, ``pictures``, ``pictured`` (which load cases, empty for all), and
        ``worst_pictures`` (captions).
    """
    design, chosen = solutions[0].model.design, pictured(solutions)
    worst, lowest = _worst(solutions)
    left = len(solutions) - len(chosen)
    return {
        "pressures": [
            {
                "title": title,
                "file": f"pressure-{n}.svg",
                "total": minus(total_words(design, case, words.size, air=air)),
            }
            for n, (title, case, air, _) in enumerate(distinct_maps(solutions), start=1)
        ],
        "pressure_key": PRESSURE_KEY,
        "pictures": [
            {
                "title": f"{i + 1}  {solutions[i].case.name}",
                "sag": f"sag-{i + 1}.svg",
                "clearance": f"clearance-{i + 1}.svg",
                "sag_words": _sag(solutions[i], words),
                "clearance_words": _gap(solutions[i], words),
            }
            for i in chosen
        ],
        "pictured": _left_out(len(chosen), left) if left else "",
        "worst_pictures": [
            f"{_sag(solutions[worst], words)} (load case {worst + 1})",
            f"{_gap(solutions[lowest], words)} (load case {lowest + 1})",
        ],
    }


def _left_out(shown: int, left: int) -> str:
    return (
        f"Shown are the {shown} load cases that sag most or come nearest to the ground; the other {left} are in the "
        "table of what comes out."
    )


def _worst(solutions: Sequence[Solution]) -> tuple[int, int]:
    """Find the load case that sags most, and of the one that comes nearest to the ground."""
    everyone = range(len(solutions))
    lowest = min(everyone, key=lambda i: (solutions[i].min_clearance, -solutions[i].ground.force))
    return max(everyone, key=lambda i: solutions[i].max_sag), lowest


def _sag(solution: Solution, words: Words) -> str:
    return minus(f"Sag, at most {words.sag(solution.max_sag)} {words.size}")


def _gap(solution: Solution, words: Words) -> str:
    return minus(f"Gap to the ground, at least {words.sag(solution.min_clearance)} {words.size}")


def load_pictures(solutions: Sequence[Solution], words: Words) -> dict[str, bytes]:
    """Draw the pictures that `pictures_part` names, as SVG by their names.

    Parameters
    ----------
    solutions : sequence of Solution
    words : Words
        Units.
    """
    design, unit = solutions[0].model.design, words.size
    chosen = pictured(solutions)
    worst, lowest = _worst(solutions)
    found: dict[str, bytes] = {}
    sags: dict[int, Figure] = {i: sag_figure(solutions[i], unit) for i in dict.fromkeys([*chosen, worst])}
    gaps = {i: clearance_figure(solutions[i], unit) for i in dict.fromkeys([*chosen, lowest])}
    for i in chosen:
        found[f"sag-{i + 1}.svg"], found[f"clearance-{i + 1}.svg"] = beside([sags[i], gaps[i]])
    found["worst-sag.svg"], found["worst-clearance.svg"] = beside([sags[worst], gaps[lowest]])
    maps = [pressure_figure(design, shown, unit) for shown in distinct_maps(solutions)]
    for start in range(0, len(maps), 2):
        for n, picture in enumerate(beside(maps[start : start + 2]), start=start + 1):
            found[f"pressure-{n}.svg"] = picture
    return found
