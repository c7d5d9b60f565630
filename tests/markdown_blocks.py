"""Fenced blocks of Markdown pages, for tests that run what a page prints."""

from __future__ import annotations

import re


def blocks_of(text: str, language: str) -> list[str]:
    """Contents of the fenced blocks of one language, in their order."""
    return re.findall(rf"^```{language}\n(.*?)^```$", text, flags=re.MULTILINE | re.DOTALL)
