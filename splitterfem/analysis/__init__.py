"""Questions asked of one model: sag, clearance, support forces, rib forces."""

from __future__ import annotations

from splitterfem.analysis.solution import Solution, solve

__all__ = ["Solution", "solve"]
