"""The version of the library, in the one place where it is written; the build reads it from here."""

from __future__ import annotations

__version__ = "0.1.0"
