"""What the utilisations leave out: what could not be judged, and what the design says nothing about."""

from __future__ import annotations

from collections.abc import Iterator

from splitterfem.design import Bolt, Part, RearPocket, Splitter, Stop, Strut
from splitterfem.design.joints import Bond
from splitterfem.output.judged import Judged
from splitterfem.output.wording import Words

MOST_NAMES = 8
"""Parts that are named in one sentence."""

_OPENING = "not judged: "


def left_out(judged: Judged, words: Words) -> list[str]:
    """Say in one sentence each what has no utilisation and why.

    Parameters
    ----------
    judged : Judged
    words : Words
        Units.
    """
    return [*_could_not_be_judged(judged, words), *_not_given(judged)]


def _could_not_be_judged(judged: Judged, words: Words) -> list[str]:
    """Rows without a ratio; parts that share mode and reason share a sentence."""
    groups: dict[tuple[str, str, str], list[tuple[str, float]]] = {}
    for row in judged.unjudged.to_dict("records"):
        why = str(row["note"]).removeprefix(_OPENING)
        groups.setdefault((row["mode"], why, row["unit"]), []).append((row["part"], float(row["demand"])))
    sentences = []
    for (mode, why, unit), parts in groups.items():
        most = max(demand for _, demand in parts)
        acting = f" (demand {words.of_table(most, unit)})" if most > 0.0 else ""
        sentences.append(f"{_names([name for name, _ in parts])}, {mode}{acting}: {why.rstrip('.')}.")
    return sentences


def _not_given(judged: Judged) -> list[str]:
    """Parts without any row, and what of the others is never looked at because the design does not describe it."""
    design, known = judged.solutions[0].model.design, set(judged.rows["part"])
    groups: dict[tuple[str, str], list[str]] = {}
    for name, what, why in (*_supports(design, known), *_glued(judged, known)):
        groups.setdefault((what, why), []).append(name)
    return [f"{what}{_names(names)}: {why}." for (what, why), names in groups.items()]


def _supports(design: Splitter, known: set[str]) -> Iterator[tuple[str, str, str]]:
    """Name, what of it, and why nothing is said about it."""
    for part in (*design.struts, *design.bolts, *design.pins, *design.pockets, *design.stops):
        for half in part.sides():
            found = _missing(half)
            if half.name not in known:
                found = ("", "the design gives neither sizes nor a rating to judge it by")
            if found is not None:
                yield half.name, *found


def _missing(part: Part) -> tuple[str, str] | None:
    """Say what of a part that is judged has no data in the design, and why it is not judged."""
    if isinstance(part, Strut) and part.end_rating is None:
        return "end fittings of ", "no rating is given"
    if isinstance(part, Bolt) and part.strength_class is None:
        return "steel of ", "no strength class is given"
    if isinstance(part, RearPocket) and part.lip_thickness is None:
        return "lips of ", "no thickness is given"
    if isinstance(part, Stop):
        return "body and fixing of ", "the design does not describe them"
    return None


def _glued(judged: Judged, known: set[str]) -> Iterator[tuple[str, str, str]]:
    model = judged.solutions[0].model
    for rib in model.ribs:
        if f"joint of {rib.name}" in known:
            continue
        ideal = isinstance(rib.design.joint, Bond)
        yield rib.name, "joint of ", "taken as an ideal bond" if ideal else "no strength is given"
    for doubler in model.design.doublers:
        for half in doubler.sides():
            yield half.name, "glue of ", "taken as an ideal bond"


def _names(names: list[str]) -> str:
    unique = list(dict.fromkeys(names))
    more = len(unique) - MOST_NAMES
    return ", ".join(unique[:MOST_NAMES]) + (f" and {more} more" if more > 0 else "")
