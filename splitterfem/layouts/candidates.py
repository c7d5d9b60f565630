"""Candidate ribs and struts for layouts of one splitter, and the splitter without them."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations
from typing import Any

from splitterfem.design import LoadCase, Rib, Splitter, Strut
from splitterfem.design._pairs import half_names
from splitterfem.design.combine import settled
from splitterfem.design.crossing import SHORTEST, covered, meeting, strip
from splitterfem.errors import DesignError, nearest

Version = tuple[str, frozenset[str]]
"""Name of a rib, and names of the candidates that it is notched for."""


@dataclass(frozen=True)
class Candidates:
    """What layouts are made of.

    Attributes
    ----------
    bare : Splitter
        The splitter without the candidates.
    ribs : tuple of Rib
    struts : tuple of Strut
    instead : dict of str to str
        For a candidate strut the one of the splitter that gives way to it.
    """

    bare: Splitter
    ribs: tuple[Rib, ...]
    struts: tuple[Strut, ...]
    instead: dict[str, str]

    @property
    def names(self) -> tuple[str, ...]:
        """Names of all candidates, ribs first."""
        return (*(rib.name for rib in self.ribs), *(strut.name for strut in self.struts))

    def design(self, layout: Sequence[str]) -> Splitter:
        """Return the splitter with a layout's ribs and struts."""
        chosen = set(layout)
        gone = {self.instead[name] for name in layout if name in self.instead}
        struts = tuple(strut for strut in self.bare.struts if strut.name not in gone)
        return self.bare.with_(
            ribs=(*self.bare.ribs, *(rib for rib in self.ribs if rib.name in chosen)),
            struts=(*struts, *(strut for strut in self.struts if strut.name in chosen)),
        )

    @cached_property
    def apart(self) -> frozenset[frozenset[str]]:
        """Pairs of candidates that exclude each other.

        Ribs that meet on one face of which not one is notched for the other, and struts instead of the same one.
        """
        pairs = set[frozenset[str]]()
        for one, other in combinations(self.ribs, 2):
            halves = [(a, b) for a in one.sides() for b in other.sides()]
            if one.side == other.side and not all(_fit(a, b) for a, b in halves):
                pairs.add(frozenset((one.name, other.name)))
        for one_name, other_name in combinations(self.instead, 2):
            if self.instead[one_name] == self.instead[other_name]:
                pairs.add(frozenset((one_name, other_name)))
        return frozenset(pairs)

    @cached_property
    def _cuts(self) -> dict[str, frozenset[str]]:
        """For each notched rib the candidates that it is notched for where they are."""
        found = {}
        for rib in self.ribs:
            if rib.crossing == "notched":
                found[rib.name] = frozenset(
                    other.name
                    for other in self.ribs
                    if other.side == rib.side and other.crossing == "through" and _meet(rib, other)
                )
        return found

    def version(self, name: str, layout: Collection[str]) -> Version:
        """Say as what a rib appears in a layout: its name, and those of the candidates that it is notched for."""
        return name, frozenset(self._cuts.get(name, frozenset()).intersection(layout))

    def excluded(self, layout: Sequence[str]) -> tuple[str, str] | None:
        """Return the first pair of a layout that exclude each other."""
        return next((pair for pair in combinations(layout, 2) if frozenset(pair) in self.apart), None)


def _meet(one: Rib, other: Rib) -> bool:
    return any(meeting(a, b) is not None for a in one.sides() for b in other.sides())


def _fit(one: Rib, other: Rib) -> bool:
    """Whether two ribs on one face can both be there: they keep clear, or one is notched for the other."""
    if meeting(one, other) is None:
        return True
    notched = [rib for rib in (one, other) if rib.crossing == "notched"]
    if len(notched) != 1:
        return False
    through = other if notched[0] is one else one
    cuts = covered(notched[0].points, [strip(through, through.foot_width)])
    return any(end - start > SHORTEST for start, end in cuts)


def candidates_of(
    splitter: Splitter,
    ribs: Sequence[Rib | Mapping[str, Any] | str],
    struts: Sequence[Strut | Mapping[str, Any]] = (),
    instead: Mapping[str, str] | None = None,
) -> Candidates:
    """Read candidates.

    Parameters
    ----------
    splitter : Splitter
    ribs : sequence of Rib, mapping or str
        The name of a rib of the splitter makes that one a candidate.
    struts : sequence of Strut or mapping
    instead : mapping of str to str, optional
        From the name of a candidate strut to that of the splitter's own that gives way to it.

    Raises
    ------
    DesignError
        If something cannot be read, two candidates have one name, a rib of the splitter that is no candidate is
        notched, or a candidate cannot stand beside the splitter's own parts.
    """
    own = {rib.name: rib for rib in splitter.ribs}
    read, taken = list[Rib](), set[str]()
    for given in ribs:
        if isinstance(given, str):
            if given not in own:
                raise DesignError(
                    f"There is no rib '{given}' on the splitter that could be a candidate; {nearest(given, own)}"
                )
            taken.add(given)
            read.append(own[given])
        else:
            read.append(given if isinstance(given, Rib) else Rib(**given))
    bare = splitter.with_(ribs=tuple(rib for rib in splitter.ribs if rib.name not in taken))
    added = tuple(strut if isinstance(strut, Strut) else Strut(**strut) for strut in struts)
    found = Candidates(bare, tuple(read), added, dict(instead or {}))
    _check(found)
    return found


def _check(found: Candidates) -> None:
    if not found.names:
        raise DesignError("There is no candidate to make layouts of: give ribs, struts or both.")
    known = {name for part in found.bare.parts() for name in (part.name, *half_names(part))}
    for name in found.names:
        if name in known:
            raise DesignError(
                f"There are two parts of the name '{name}' among the candidates and the splitter: rename one; a rib of "
                "the splitter becomes a candidate when its name alone is given."
            )
        known.add(name)
    for rib in found.bare.ribs:
        if rib.crossing == "notched":
            raise DesignError(
                f"Rib '{rib.name}' of the splitter is notched, so that what is left of it depends on the layout: "
                'make it a candidate by giving its name, or set crossing = "through".'
            )
    for name, old in found.instead.items():
        if name not in {strut.name for strut in found.struts}:
            strut_names = [strut.name for strut in found.struts]
            raise DesignError(
                f"There is no candidate strut '{name}' that could stand instead of another; "
                f"{nearest(name, strut_names) if strut_names else 'there are none'}"
            )
        if old not in {strut.name for strut in found.bare.struts}:
            raise DesignError(
                f"Candidate '{name}' is to stand instead of '{old}', which is no strut of the splitter; "
                f"{nearest(old, [strut.name for strut in found.bare.struts])}"
            )
    for name in found.names:
        found.design((name,))  # refuses what does not stand beside the splitter's own parts


def linear_case(splitter: Splitter, case: str | LoadCase) -> LoadCase:
    """Return a load case as screening takes it.

    Raises
    ------
    DesignError
        If the case is unknown, or its deflection is not proportional to its loads.
    """
    chosen = settled(splitter.case(case) if isinstance(case, str) else case, splitter)
    for asked, what, field in (
        (chosen.large_deflection, "large deflection", "large_deflection"),
        (chosen.sag_feedback, "air that follows the sag", "sag_feedback"),
    ):
        if asked:
            raise DesignError(
                f"Load case '{chosen.name}' asks for {what}, of which a screening knows nothing: screen "
                f"with case.with_({field}=False), and solve the best layouts with it."
            )
    return chosen
