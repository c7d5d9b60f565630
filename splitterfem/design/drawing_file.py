"""Opening a DXF file: what it is, whether it is whole, and the unit of its numbers.

Group codes and header variables are those of the DXF reference published by the maker of the format.
"""

from __future__ import annotations

import codecs
import contextlib
import io
import logging
import re
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from splitterfem.design.drawing_frame import factor_of, limited_bytes, printable
from splitterfem.errors import FileError, MissingExtraError, SplitterError

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document

MOST_BYTES = 10_000_000
"""Size of a DXF file; a panel with its dimensions and title block is far smaller."""

MOST_RECORDS = 100_000
"""Entities, vertices, table entries and objects of a DXF file."""

_LONGEST_LINE = 10_000

_MOST_LINES = 800_000

INSERT_UNITS = {1: "in", 2: "ft", 4: "mm", 5: "cm", 6: "m", 9: "thou", 13: "um"}
"""Units of length by the code of the header variable $INSUNITS; 0 means that the drawing has none."""


def open_dxf(path: Path) -> tuple[Document, list[str]]:
    """Read a DXF document, mending what is damaged but not what is missing.

    Parameters
    ----------
    path : Path
        An ASCII DXF file of at most 10 MB.

    Returns
    -------
    ezdxf.document.Drawing
        The document.
    list of str
        A sentence when something had to be mended.

    Raises
    ------
    FileError
        The file is missing, too large, cut off, or no DXF.
    MissingExtraError
        The package that reads DXF is not installed.
    """
    try:
        from ezdxf import recover
        from ezdxf.filemanagement import dxf_stream_info, read
        from ezdxf.lldxf.const import DXFError
    except ImportError:
        raise MissingExtraError(
            "reading a DXF file needs ezdxf, which is not installed: run  pip install 'splitterfem[dxf]'"
        ) from None
    content = limited_bytes(path, MOST_BYTES, "DXF file").removeprefix(codecs.BOM_UTF8)
    _refuse_other_formats(content, path.name)
    with no_traceback(path.name), _quiet():
        info = dxf_stream_info(io.StringIO(content.decode("utf-8", errors="ignore")))
        text = io.TextIOWrapper(io.BytesIO(content), encoding=info.encoding, errors="surrogateescape")
        try:
            return read(text), []
        except (DXFError, ValueError, LookupError, TypeError, AttributeError):
            document, auditor = recover.read(io.BytesIO(content))
        count = len(auditor.errors) + len(auditor.fixes)
        faults = f"{count} fault{'s' if count != 1 else ''} of its structure" if count else "its structure"
        return document, [f"The file is damaged and {faults} had to be mended; compare the outline with it."]


def unit_of(document: Document, given: str | None, file: str) -> tuple[str, float, str]:
    """Return the unit of a drawing, its size in metres, and a sentence about it.

    Parameters
    ----------
    document : ezdxf.document.Drawing
        Whose header may name a unit.
    given : str, optional
        A unit that goes before that of the header.
    file : str
        Name of the file, for errors.

    Raises
    ------
    FileError
        The file names no unit, or one that no panel is drawn in, and none is given.
    DesignError
        The given unit is none of length.
    """
    code = document.header.get("$INSUNITS", 0)
    in_file = INSERT_UNITS.get(code) if isinstance(code, int) else None
    if given is not None:
        name, factor = factor_of(given, where="unit")
        said = f"names {in_file}" if in_file else "names none"
        return name, factor, f"The unit is {name}, as asked for; the file {said}."
    if in_file is None:
        found = "does not name the unit of its numbers" if not code else f"names a unit of code {code!r:.12}"
        raise FileError(f"{file} {found}, so give it, for example unit='mm'")
    name, factor = factor_of(in_file, where="unit")
    return name, factor, f"The unit is {name}, as the file says."


@contextlib.contextmanager
def no_traceback(file: str) -> Iterator[None]:
    """Turn whatever a damaged file sets off in the reading package into one sentence.

    Raises
    ------
    FileError
        For every error that is not already one of this library.
    """
    try:
        yield
    except SplitterError:
        raise
    except (RecursionError, MemoryError):
        raise FileError(
            f"{file} is nested too deeply or too large to read; save the panel in a file of its own"
        ) from None
    except Exception as problem:  # the file comes from strangers: any kind of error can be provoked by it
        raise FileError(f"{file} cannot be read as DXF: {reason(problem)}; save it anew as DXF") from None


def reason(problem: Exception) -> str:
    """Return what an error says, unless it speaks of the workings of a program rather than of the file."""
    spoken = isinstance(problem, ValueError) or type(problem).__module__.startswith("ezdxf")
    text = printable(str(problem), 120).rstrip(".;") if spoken else ""
    return text if any(c.isalpha() for c in text) else "its structure is damaged"


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """Keep the reading package from writing its warnings to the terminal."""
    logger = logging.getLogger("ezdxf")
    handler = logging.NullHandler()
    logger.addHandler(handler)
    try:
        yield
    finally:
        logger.removeHandler(handler)


def _refuse_other_formats(content: bytes, file: str) -> None:
    """Refuse what is no ASCII DXF, and a DXF whose end is missing."""
    if content.startswith(b"AutoCAD Binary DXF"):
        raise FileError(f"{file} is a binary DXF; save it as ASCII DXF")
    if re.match(rb"AC1[0-9]{3}", content):
        raise FileError(f"{file} is a DWG; save it as DXF")
    if b"\0" in content:
        raise FileError(f"{file} is not text and so no DXF; save the drawing as ASCII DXF")
    if b"SECTION" not in content[:100_000]:
        raise FileError(f"{file} is no DXF, for it has no SECTION; save the drawing as ASCII DXF")
    long = re.search(rb"[^\r\n]{%d}" % _LONGEST_LINE, content)
    if long:
        line = content.count(b"\n", 0, long.start()) + 1
        raise FileError(
            f"{file}, line {line}: the line is longer than {_LONGEST_LINE} characters, which no line of a DXF "
            "is; save the drawing anew"
        )
    records = sum(1 for _ in re.finditer(rb"\n *0\r?\n *[A-Z]", content))
    if records > MOST_RECORDS:
        raise FileError(
            f"{file} has {records} records, and more than {MOST_RECORDS} are not read; save the panel in a file of "
            "its own"
        )
    lines = content.count(b"\n")
    if lines > _MOST_LINES:
        raise FileError(
            f"{file} has {lines} lines, and more than {_MOST_LINES} are not read; save the panel in a file of its own"
        )
    end = content[-1000:].split()[-2:]
    if end != [b"0", b"EOF"]:
        found = printable(end[-1].decode("latin-1"), 30)
        raise FileError(
            f"{file} is cut off, for it ends with '{found}' and not with EOF; save or copy it anew"
        )
