"""A page in a notebook on which parts are moved by sliders and sag, clearance and mass follow.

From the bottom: `places` (what can be moved and where to), `trial` (a design in the making, without any widgets),
`pictures` (PNG of a trial), `figures` (its numbers in words), `page` (sliders and buttons, and what they do).
"""

from __future__ import annotations

from splitterfem.live.opening import explore
from splitterfem.live.page import Page
from splitterfem.live.trial import Trial

__all__ = ["Page", "Trial", "explore"]
