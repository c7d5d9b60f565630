"""Threads and strength classes that a design names and the tables do not have: what will not be judged."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from splitterfem.design import Finding, Splitter
from splitterfem.errors import DesignError
from splitterfem.strength.hardware import bolt_class, thread


def unlisted(splitter: Splitter) -> tuple[Finding, ...]:
    """Find hardware that is not in the tables, so that its own strength is not judged.

    Parameters
    ----------
    splitter : Splitter

    Returns
    -------
    tuple of Finding
        Warnings, with the nearest names that the tables have.
    """
    return tuple(_unlisted(splitter))


def _unlisted(splitter: Splitter) -> Iterator[Finding]:
    for strut in splitter.struts:
        path = f"struts.{strut.name}"
        yield from _look(f"{path}.thread", strut.thread, thread)
        yield from _look(f"{path}.strength_class", strut.strength_class, bolt_class)
    for bolt in splitter.bolts:
        path = f"bolts.{bolt.name}"
        yield from _look(f"{path}.strength_class", bolt.strength_class, bolt_class)
        if bolt.strength_class is not None and bolt.diameter is not None:
            yield from _look(f"{path}.diameter", f"M{1e3 * float(bolt.diameter):g}", thread)


def _look(path: str, name: str | None, find: Callable[[str], object]) -> Iterator[Finding]:
    if name is None:
        return
    try:
        find(name)
    except DesignError as problem:
        said = str(problem)
        text = f"its steel is not judged, for {said[0].lower()}{said[1:]}"
        yield Finding("not-in-table", "warning", path, None, text)
