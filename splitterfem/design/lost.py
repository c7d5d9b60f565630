"""Which ribs a load case means that says their joints are lost."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from splitterfem.errors import DesignError, nearest

if TYPE_CHECKING:
    from splitterfem.design.cases import LoadCase
    from splitterfem.design.parts import Rib


def ribs_meant(name: str, ribs: Iterable[Rib]) -> frozenset[str]:
    """Ribs that a name means, mirrored pairs written out; empty when it means none.

    Either one rib, the halves of a mirrored pair included, or both "<name> left" and "<name> right", also where
    these are written out one by one or only one is left.
    """
    known = _written_out(ribs)
    return frozenset({name} & known or {f"{name} left", f"{name} right"} & known)


def no_such_rib(name: str, ribs: Iterable[Rib]) -> str:
    """Say that there is no rib of this name, and which names are near."""
    ribs = tuple(ribs)
    if not ribs:
        return f"there is no rib '{name}', and no rib at all in this splitter; leave it out"
    known = _written_out(ribs) | {rib.name for rib in ribs}
    return f"there is no rib '{name}'; {nearest(name, known)}"


def lost_joints(case: LoadCase, ribs: Iterable[Rib]) -> frozenset[str]:
    """Ribs, mirrored pairs written out, whose joint is lost in a load case.

    Raises
    ------
    DesignError
        If the case names a rib that there is not; the nearest names are given.
    """
    ribs = tuple(ribs)
    lost: frozenset[str] = frozenset()
    for name in case.unbonded:
        meant = ribs_meant(name, ribs)
        if not meant:
            raise DesignError(f"Load case '{case.name}', unbonded: {no_such_rib(name, ribs)}")
        lost |= meant
    return lost


def _written_out(ribs: Iterable[Rib]) -> set[str]:
    """Names of ribs with those of both halves in place of a mirrored pair's."""
    return {
        name
        for rib in ribs
        for name in ((f"{rib.name} left", f"{rib.name} right") if rib.mirror else (rib.name,))
    }
