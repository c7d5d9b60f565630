"""Numbers in the head of a mesh file that promise more than the file can hold.

The readers of legacy VTK, Gmsh and AVS files make room for as many points, cells and numbers as a file says that it
has, before they look for them; of Gmsh files also for every number up to the largest number of a point. A few digits
could so ask for any memory. Here they are compared with the size of the file first.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import numpy as np

from splitterfem.errors import FileError

MOST_PLACES = 1_000_000
"""Places that a grid written by its dimensions may have."""

LARGEST_TAG = 9_999_999
"""Largest number of a point or an element of a Gmsh file."""

_VTK_WORDS = (
    "POINTS", "CELLS", "CELL_TYPES", "POINT_DATA", "CELL_DATA", "LOOKUP_TABLE", "COLOR_SCALARS", "SCALARS", "FIELD",
    "LINES", "POLYGONS", "VERTICES", "TRIANGLE_STRIPS", "X_COORDINATES", "Y_COORDINATES", "Z_COORDINATES", "OFFSETS",
    "CONNECTIVITY",
)  # fmt: skip
_VTK_TYPES = (
    "bit", "char", "unsigned_char", "short", "unsigned_short", "int", "unsigned_int", "long", "unsigned_long", "float",
    "double", "vtkidtype", "vtktypeint64",
)  # fmt: skip
_LONG_INTEGER = re.compile(rb"(?<![\w.+-])\+?\d{8,}(?![\w.])")
_LONGEST_LINE = 400


def check_counts(content: bytes, ending: str, name: str) -> None:
    """Refuse a file whose counts cannot be true.

    Parameters
    ----------
    content : bytes
        Of the file.
    ending : str
        ``.vtk``, ``.msh`` or ``.avs``; others are left alone.
    name : str
        Of the file, for messages.

    Raises
    ------
    FileError
        One sentence that names the file and the mend.
    """
    if ending == ".vtk":
        _check_vtk(content, name)
    elif ending == ".avs":
        _check_digits(content[:100_000], name)
    elif ending == ".msh":
        _check_msh(content, name)


def _too_many(count: int, what: str, name: str) -> FileError:
    return FileError(
        f"{name} promises {count:.3g} numbers under '{what}', more than a file of its size can hold; export it again."
    )


def _check_vtk(content: bytes, name: str) -> None:
    for words in _short_lines(content):
        counts = [int(word[:19]) for word in words[1:] if word.removeprefix("+").isdecimal()]
        if words[0].upper() == "DIMENSIONS":
            places = int(np.prod([float(count) for count in counts]).clip(max=1e18))
            if places > MOST_PLACES:
                raise FileError(f"{name} asks for a grid of {places:.2g} places; cut it to the panel.")
        elif words[0].upper() in _VTK_WORDS:
            if max(counts, default=0) > len(content):
                raise _too_many(max(counts), words[0], name)
        elif (
            words[-1].lower() in _VTK_TYPES and len(counts) == 2 and counts[0] * counts[1] > 8 * len(content)
        ):
            raise _too_many(counts[0] * counts[1], words[0], name)


def _short_lines(content: bytes) -> Iterator[list[str]]:
    """Words of the lines that may be headings: those behind the title that begin with a letter and are short."""
    for found in re.finditer(rb"\n[ \t]*([^\W\d][^\n]{0,%d})(?=\r?\n)" % _LONGEST_LINE, content):
        words = found[1].decode("latin-1").split()
        if 2 <= len(words) <= 5:
            yield words


def _check_digits(content: bytes, name: str) -> None:
    found = _LONG_INTEGER.search(content)
    if found:
        line = content.count(b"\n", 0, found.start()) + 1
        raise FileError(
            f"{name}, line {line}: the number {found[0][:20].decode()} has more than 7 digits, which no mesh of a "
            "panel needs; number its points from 1 and export it again."
        )


def _check_msh(content: bytes, name: str) -> None:
    head = re.match(
        rb"(?:\$Comments.*?\$EndComments\s*)?\$MeshFormat\s+(\S+)\s+(\d)\s+(\d+)", content, re.DOTALL
    )
    if head is None or head[2] == b"0":
        _check_digits(content, name)
    elif head[1] == b"4.0":
        raise FileError(f"{name} is binary MSH 4.0; export it as MSH 4.1, or as text.")
    elif head[1].startswith(b"4"):
        _check_binary(content, name, int(head[3]))
    else:
        for found in re.finditer(rb"\$(?:Nodes|Elements|PhysicalNames)\s+(\d+)", content):
            if int(found[1][:19]) > len(content):
                raise _too_many(int(found[1][:19]), found[0].split()[0].decode(), name)


def _check_binary(content: bytes, name: str, width: int) -> None:
    """Go through the blocks of points of a binary MSH 4.1 file, and look at the first count of its elements."""
    count = np.dtype("<u4" if width == 4 else "<u8")
    for section in (b"$Nodes\n", b"$Elements\n"):
        start = content.find(section)
        if start < 0:
            continue
        at = start + len(section)
        totals = _numbers(content, at, 4, count)
        if len(totals) == 4 and max(totals[:2]) > len(content):
            raise _too_many(max(totals[:2]), section.decode().strip(), name)
        at += 4 * count.itemsize
        for _ in range(totals[0] if len(totals) == 4 else 0):
            kind = _numbers(content, at, 3, np.dtype("<i4"))
            number = _numbers(content, at + 12, 1, count)
            if len(kind) < 3 or not number:
                break
            if number[0] > len(content):
                raise _too_many(number[0], section.decode().strip(), name)
            at += 12 + count.itemsize
            tags = _numbers(content, at, number[0] if section == b"$Nodes\n" else 0, count)
            if tags and max(tags) > LARGEST_TAG:
                raise FileError(
                    f"{name} has a point of number {max(tags)}; number its points from 1 and export it again."
                )
            at += number[0] * (count.itemsize + 24 if section == b"$Nodes\n" else 0)
            if section != b"$Nodes\n":
                break


def _numbers(content: bytes, at: int, number: int, kind: np.dtype[Any]) -> list[int]:
    """As many whole numbers as there are of those asked for."""
    there = max(0, min(number, (len(content) - at) // kind.itemsize))
    return [int(one) for one in np.frombuffer(content, kind, there, at)] if there else []
