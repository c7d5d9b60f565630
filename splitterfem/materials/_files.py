"""The files of the catalogue."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files
from typing import Any

IN_FILE = {"file": True}
"""Validation context: every quantity in the catalogue's files carries its unit."""


@cache
def catalogue(name: str) -> dict[str, Any]:
    """Content of a file of the catalogue; not to be changed."""
    path = files("splitterfem.materials") / "catalogue" / name
    return tomllib.loads(path.read_text(encoding="utf-8"))
