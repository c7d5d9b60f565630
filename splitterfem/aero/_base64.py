"""Base64 as files of VTK have it: several pieces one after the other, each with its own padding."""

from __future__ import annotations

import base64
import contextlib
import importlib
from collections.abc import Iterator
from types import SimpleNamespace
from typing import Any


def first_piece(text: str | bytes) -> bytes:
    """Decode base64 up to the first padding, which ends a piece (RFC 4648, section 3.3).

    Python itself did so until later releases of 3.13 began to refuse what follows.

    Examples
    --------
    >>> from splitterfem.aero._base64 import first_piece
    >>> first_piece("YWI=Y2RlZmc=")
    b'ab'
    """
    letters = text.encode("ascii") if isinstance(text, str) else text
    end = letters.find(b"=")
    if end >= 0:
        end += 2 if letters[end + 1 : end + 2] == b"=" else 1
        letters = letters[:end]
    return base64.b64decode(letters)


@contextlib.contextmanager
def padding_ends_a_piece() -> Iterator[None]:
    """Let meshio's reader of VTU files, which relies on it, decode so under every version of Python."""
    reader: Any = importlib.import_module("meshio.vtu._vtu")
    before = reader.base64
    reader.base64 = SimpleNamespace(b64decode=first_piece, b64encode=base64.b64encode)
    try:
        yield
    finally:
        reader.base64 = before
