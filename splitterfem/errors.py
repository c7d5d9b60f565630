"""Errors of the library: each one names the thing and the mend in a sentence."""

from __future__ import annotations

import difflib
import itertools
from collections.abc import Iterable
from pathlib import Path

_MOST_FILES = 200
"""Files of a folder that are looked at for one of a similar name."""


class SplitterError(Exception):
    """Base of every error that splitterfem raises on purpose."""


class UnitError(SplitterError, ValueError):
    """A quantity that cannot be read: no unit, wrong unit, ambiguous wording."""


class DesignError(SplitterError, ValueError):
    """A design that contradicts itself or cannot be built."""


class FileError(SplitterError, ValueError):
    """A file that is missing, damaged, too large or not what it says it is."""


class MeshError(SplitterError, RuntimeError):
    """A mesh that does not cover the panel or misses a line it should follow."""


class MechanismError(SplitterError, RuntimeError):
    """A panel that its supports do not hold."""


class SolveError(SplitterError, RuntimeError):
    """A solution that fails its own residual or equilibrium test."""


class MissingExtraError(SplitterError, ImportError):
    """An optional package that is needed now and is not installed."""


def nearest(word: str, choices: Iterable[str]) -> str:
    """Return a hint with the nearest valid names, or the whole list when none is near.

    Parameters
    ----------
    word : str
        What was found.
    choices : iterable of str
        What would have been valid.

    Returns
    -------
    str
        ``"did you mean 'a' or 'b'?"`` or ``"known: a, b, c"``.
    """
    known, word = sorted(choices), word[:200]
    close = difflib.get_close_matches(word, known, n=3, cutoff=0.6)
    if not close:  # perhaps in capitals
        folded = {name.casefold(): name for name in known}
        close = [folded[one] for one in difflib.get_close_matches(word.casefold(), folded, n=3, cutoff=0.6)]
    if close:
        return "did you mean " + " or ".join(f"'{name}'" for name in close) + "?"
    return "known: " + ", ".join(known)


def neighbours(missing: Path, otherwise: str = "check its name and folder") -> str:
    """Return a hint at the files of the same ending in the folder of one that is missing.

    Parameters
    ----------
    missing : Path
        What was looked for.
    otherwise : str
        What to say when the folder has none.

    Returns
    -------
    str
        As `nearest`.
    """
    ending = missing.suffix.casefold()
    try:
        found = itertools.islice(missing.absolute().parent.iterdir(), _MOST_FILES)
        names = [one.name for one in found if one.suffix.casefold() == ending and one.name.isprintable()]
    except (OSError, ValueError):
        names = []
    return nearest(missing.name, names) if names else otherwise
