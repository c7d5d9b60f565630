"""What a mesh file would become in memory, looked at before it is read.

A few bytes of a compressed VTU can unpack to gigabytes. That is found here without keeping any of it.
"""

from __future__ import annotations

import base64
import contextlib
import lzma
import re
import zlib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NamedTuple
from xml.etree import ElementTree

import numpy as np

from splitterfem.aero._count_guard import check_counts
from splitterfem.errors import FileError, neighbours

LARGEST_MESH = 100_000_000
"""Bytes that a mesh file may have."""

MOST_UNPACKED = 300_000_000
"""Bytes that the arrays of a compressed file may have together."""

_PIECE = 1 << 20
_UNPACKERS: dict[str, Callable[[], Any]] = {
    "vtkZLibDataCompressor": zlib.decompressobj,
    "vtkLZMADataCompressor": lzma.LZMADecompressor,
}
_SIZES = {"UInt32": "u4", "UInt64": "u8"}
_DAMAGED = "is damaged or cut short, so export it again."


def check_size(file: Path) -> None:
    """Refuse a mesh file that is missing or too large, also once it is unpacked.

    Raises
    ------
    FileError
        One sentence that names the file and the mend.
    """
    try:
        if not file.exists():
            raise FileError(
                f"There is no file {file}; {neighbours(file, 'check the path of the mesh')}.".replace(
                    "?.", "?"
                )
            )
        if not file.is_file():
            raise FileError(f"{file} is not a file; give the path of a mesh.")
        with file.open("rb") as stream:
            content = stream.read(LARGEST_MESH + 1)
    except OSError as problem:
        raise FileError(f"{file} cannot be read ({problem.strerror}); check its permissions.") from None
    if len(content) > LARGEST_MESH:
        raise FileError(f"{file.name} is larger than {LARGEST_MESH // 1_000_000} MB; cut it to the panel.")
    check_counts(content, file.suffix.lower(), file.name)
    if file.suffix.lower() == ".vtu":
        _check_vtu(content, file.name)


class _Packed(NamedTuple):
    """Arrays behind each other, as bytes or in base64, and where each begins."""

    data: bytes
    offsets: list[int]
    encoded: bool


def _check_vtu(content: bytes, name: str) -> None:
    """Unpack every array piece by piece, keeping nothing, until the limit is reached."""
    try:
        root, tail = _tree(content)
        # The reader keeps the cells of the last piece only, so more than one would be lost without a word.
        pieces = len(root.findall(".//Piece"))
        if pieces > 1:
            raise FileError(f"{name} is in {pieces} pieces; merge them into one before the export.")
        kind, sizes = root.get("compressor"), root.get("header_type", "UInt32")
        if sizes not in _SIZES:  # with signed sizes the reader can go backwards for ever
            raise ValueError
        if kind is None:
            return
        if kind not in _UNPACKERS:
            raise FileError(f"{name} is compressed by {kind[:40]!r}; export it with zlib, or uncompressed.")
        order = np.dtype(_SIZES[sizes]).newbyteorder(">" if root.get("byte_order") == "BigEndian" else "<")
        total = 0
        for packed in _arrays(root, tail):
            for offset in packed.offsets:
                for block in _blocks(packed, offset, order):
                    for size in _unpacked(_UNPACKERS[kind](), block):
                        total += size
                        if total > MOST_UNPACKED:
                            raise FileError(
                                f"{name} unpacks to more than {MOST_UNPACKED // 1_000_000} MB; cut it to the panel."
                            )
    except FileError:
        raise
    except Exception:  # a damaged file can fail anywhere
        raise FileError(f"{name} {_DAMAGED}") from None


def _tree(content: bytes) -> tuple[ElementTree.Element, bytes | None]:
    """XML of the file, and the raw bytes appended to it, if that is how it keeps its arrays."""
    with contextlib.suppress(ElementTree.ParseError):
        return ElementTree.fromstring(content), None
    found = re.search(rb'<AppendedData[^>]+(?:">)', content)
    if found is None:
        raise ValueError
    stop = content.index(b"</AppendedData>")
    root = ElementTree.fromstring(content[: found.end()] + content[stop:])
    return root, content[found.end() : stop].split(b"_", 1)[1]


def _arrays(root: ElementTree.Element, tail: bytes | None) -> Iterator[_Packed]:
    offsets = [
        int(one.get("offset", "0")) for one in root.iter("DataArray") if one.get("format") == "appended"
    ]
    if tail is not None:
        yield _Packed(tail, offsets, encoded=False)
    appended = root.find("AppendedData")
    if tail is None and appended is not None and appended.text:
        yield _Packed(appended.text.strip()[1:].encode(), offsets, encoded=True)
    for one in root.iter("DataArray"):
        if one.get("format") == "binary" and one.text:
            yield _Packed(one.text.strip().encode(), [0], encoded=True)


def _blocks(packed: _Packed, offset: int, order: np.dtype[Any]) -> Iterator[bytes]:
    """Compressed blocks of one array: a count, two sizes, the size of each block, then the blocks."""
    data, step = packed.data[offset:], order.itemsize

    def first(count: int) -> bytes:
        return base64.b64decode(data[: _characters(count)])[:count] if packed.encoded else data[:count]

    number = int(np.frombuffer(first(step), order)[0])
    head = step * (3 + number)
    if head > len(data):
        raise ValueError
    sizes = np.frombuffer(first(head), order)[3:].astype(np.int64)
    stored = int(sizes.sum())
    body = (
        base64.b64decode(data[_characters(head) :][: _characters(stored)]) if packed.encoded else data[head:]
    )
    ends = np.cumsum(sizes)
    if len(body) < stored:
        raise ValueError
    for start, end in zip(ends - sizes, ends, strict=True):
        yield body[start:end]


def _characters(count: int) -> int:
    """Length of so many bytes in base64."""
    return -(-count // 3) * 4


def _unpacked(unpacker: Any, block: bytes) -> Iterator[int]:
    """Sizes of what comes out of a block, a piece at a time."""
    rest = block
    while not unpacker.eof:
        piece = unpacker.decompress(rest, _PIECE)
        if not piece and not getattr(unpacker, "unconsumed_tail", b""):
            return
        yield len(piece)
        rest = getattr(unpacker, "unconsumed_tail", b"")
