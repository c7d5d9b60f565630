"""A file of candidates for a screening: ribs and struts that layouts are made of."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Annotated

from pydantic import Field

from splitterfem.design import Rib, Strut
from splitterfem.design._record import Name, Record, build
from splitterfem.design.toml_file import read_toml
from splitterfem.errors import FileError

VERSION = 1

MOST = 200
"""Candidates of a file."""


class CandidateFile(Record):
    """What layouts of a screening are made of, as a text file has it.

    Parameters
    ----------
    take : tuple of str
        Ribs of the splitter that become candidates.
    ribs : tuple of Rib
        New ones, as in a design file.
    struts : tuple of Strut
        New ones, as in a design file.
    instead : dict of str to str
        From the name of a candidate strut to that of the splitter's own that gives way to it.
    layouts : tuple of tuple of str
        Names of the candidates of each layout; random ones when there are none.
    """

    take: Annotated[tuple[Name, ...], Field(max_length=MOST)] = ()
    ribs: Annotated[tuple[Rib, ...], Field(max_length=MOST)] = ()
    struts: Annotated[tuple[Strut, ...], Field(max_length=MOST)] = ()
    instead: Annotated[dict[str, str], Field(default_factory=dict)]
    layouts: tuple[tuple[str, ...], ...] = ()


def read_candidates(path: str | os.PathLike[str]) -> CandidateFile:
    """Read candidates from a file.

    Parameters
    ----------
    path : path
        TOML, UTF-8, with ``version = 1``; every quantity is a text with its unit.

    Raises
    ------
    FileError
        The file is missing, too large, not text, not TOML, or of another version.
    DesignError
        A line for each fault, with its place in the file.
    """
    place = Path(path)
    data = read_toml(place, "file of candidates")
    version = data.pop("version", None)
    if isinstance(version, bool) or version != VERSION:
        found = "missing" if version is None else f"{version!r:.40}"
        raise FileError(f"{place.name}: version is {found}; write version = {VERSION} in the first line")
    return build(CandidateFile, data, prefix=place.name, in_file=True, folder=place.absolute().parent)
