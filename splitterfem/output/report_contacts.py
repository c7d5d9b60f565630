"""What a report says of contact, of pressure that follows the sag, and of the range of linear solutions."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import pandas as pd

from splitterfem.analysis import Solution
from splitterfem.analysis.groundcontact import GroundContact
from splitterfem.output.case_words import with_numbers
from splitterfem.output.contact_words import friction_words, ground_words, lips, slack
from splitterfem.output.contactmarks import LIPS
from splitterfem.output.followed import followed_headings, followed_pairs, following
from splitterfem.output.range_words import range_sentences
from splitterfem.output.report_tables import CASES_TO_A_TABLE, Table, minus, table_of
from splitterfem.output.wording import Words

_SIGNS = {"upper lip": "\N{BLACK UP-POINTING TRIANGLE}", "lower lip": "\N{BLACK DOWN-POINTING TRIANGLE}"}

Row = tuple[str, str, list[str]]
"""What touches, where, and a cell for each load case."""


def contact_part(solutions: Sequence[Solution], words: Words) -> dict[str, object]:
    """Everything that a report says of contact, of sag feedback, and of how far linear solutions can be trusted.

    Parameters
    ----------
    solutions : sequence of Solution
        Of one splitter.
    words : Words
        Units.

    Returns
    -------
    dict
        ``contacts``: None when nothing can touch and nothing lies on the ground, else ``tables``, ``ground`` (bad news)
        and ``friction``; ``marks``, what contacts look like in the pictures, empty without any; ``followed``: None, or
        a table of figures with and without sag feedback; ``range``: ``warnings`` and ``notes``.
    """
    warnings, notes = range_sentences(solutions)
    return {
        "contacts": _contacts(solutions, words),
        "marks": _marks(solutions),
        "followed": _followed(solutions, words),
        "range": {
            "warnings": [minus(text) for text in with_numbers(warnings)],
            "notes": [minus(text) for text in with_numbers(notes)],
        },
    }


def _contacts(solutions: Sequence[Solution], words: Words) -> dict[str, object] | None:
    design = solutions[0].model.design
    said = [(number, ground_words(solution, words)) for number, solution in enumerate(solutions, start=1)]
    ground = [minus(f"Load case {number} {text}.") for number, text in said if text]
    rows = list(_rows(solutions, words))
    if not (rows or ground):
        return None
    return {
        "tables": _tables(rows, len(solutions), words),
        "ground": ground,
        "friction": friction_words(design),
    }


def _tables(rows: Sequence[Row], cases: int, words: Words) -> list[Table]:
    """Share load cases evenly among tables of at most six."""
    if not rows:
        return []
    each = -(-cases // -(-cases // CASES_TO_A_TABLE))
    found = []
    for start in range(0, cases, each):
        part = range(start, min(start + each, cases))
        headings = ["what touches", "where", *(f"case {i + 1}\n{words.force}" for i in part)]
        lying = [
            n
            for n, (what, _, cells) in enumerate(rows)
            if what == "ground" and any(cells[i] != "-" for i in part)
        ]
        texts = [[what, where, *(cells[i] for i in part)] for what, where, cells in rows]
        found.append(table_of(headings, texts, alarms=lying))
    return found


def _rows(solutions: Sequence[Solution], words: Words) -> Iterator[Row]:
    yield from _pocket_rows(solutions, words)
    yield from _stop_rows(solutions, words)
    yield from _strut_rows(solutions, words)
    yield from _ground_rows(solutions, words)


def _force(value: float, words: Words) -> str:
    return words.number(abs(value), words.force, 0)


def _pocket_rows(solutions: Sequence[Solution], words: Words) -> Iterator[Row]:
    """One row for each lip that is touched in some load case; one for a pocket that never is."""
    pushes = [lips(solution) for solution in solutions]
    for pocket in (s.name for s in solutions[0].model.supports if s.kind == "rear pocket"):
        used = [lip for lip in LIPS if any((pocket, lip) in found for found in pushes)]
        for lip in used:
            cells = [_force(f[pocket, lip], words) if (pocket, lip) in f else "-" for f in pushes]
            yield pocket, lip, cells
        if not used:
            yield pocket, "touches nothing", ["-"] * len(solutions)


def _stop_rows(solutions: Sequence[Solution], words: Words) -> Iterator[Row]:
    """One row for each stop: its force, or how far it is open."""

    def cell(row: pd.Series) -> str:
        if row["fz_N"]:
            return f"{_force(row['fz_N'], words)} {row['touches']}"
        return f"{words.sag(1e-3 * row['gap_mm'])} {words.size} open"

    tables = [solution.contacts for solution in solutions]
    for index in tables[0].index[tables[0]["kind"] == "stop"]:
        yield str(tables[0].loc[index, "support"]), "stop", [cell(table.loc[index]) for table in tables]


def _strut_rows(solutions: Sequence[Solution], words: Words) -> Iterator[Row]:
    """One row for each strut that contact decides on or that hangs slack somewhere."""
    tables = [solution.supports for solution in solutions]
    loose = [set(slack(solution)) for solution in solutions]
    contacts = solutions[0].contacts
    one_sided = set(contacts.loc[contacts["kind"] == "strut", "support"])
    for index, name in enumerate(tables[0]["support"]):
        if name in one_sided or any(name in some for some in loose):
            axial = [float(table["axial_N"].iloc[index]) for table in tables]
            cells = [
                "slack" if name in some else _force(f, words) for f, some in zip(axial, loose, strict=True)
            ]
            yield str(name), "strut, axial", cells


def _ground_rows(solutions: Sequence[Solution], words: Words) -> Iterator[Row]:
    grounds = [solution.ground for solution in solutions]
    unders = dict.fromkeys(patch.under for ground in grounds for patch in ground.patches)
    for under in unders:
        forces = [_under(ground, under) for ground in grounds]
        where = "under the panel" if under == "panel" else f"under {under}"
        yield "ground", where, [_force(force, words) if force else "-" for force in forces]


def _under(ground: GroundContact, under: str) -> float:
    return sum(patch.force for patch in ground.patches if patch.under == under)


def _marks(solutions: Sequence[Solution]) -> str:
    """Explain the marks of contacts that the pictures have; they have no room for a legend."""
    touched = {lip for solution in solutions for _, lip in lips(solution)}
    said = [f"{_SIGNS[lip]} touches the {lip} of a rear pocket" for lip in LIPS if lip in touched]
    if any((s.contacts.loc[s.contacts["kind"] == "stop", "fz_N"] != 0.0).any() for s in solutions):
        said.append("a half-filled stop touches, filled in front above the panel, behind below it")
    if any(slack(solution) for solution in solutions):
        said.append("a dotted strut hangs slack")
    if any(solution.ground.touches for solution in solutions):
        said.append("what is hatched and has a force beside it lies on the ground")
    return f"In the pictures: {'; '.join(said)}." if said else ""


def _followed(solutions: Sequence[Solution], words: Words) -> Table | None:
    """Figures with sag feedback, each beside that without it."""
    found = following(solutions)
    if not found:
        return None
    headings = ["", "pressure follows the sag"]
    for name, unit in followed_headings(words):
        headings += [f"{name}\n{unit}", f"at rest\n{unit}"]
    rows = [
        [str(n), s.case.name, *(cell for pair in followed_pairs(s, rest, words) for cell in pair)]
        for n, s, rest in found
    ]
    return table_of(headings, rows)
