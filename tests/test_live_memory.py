"""The live page over many moves: memory stays where it is."""

from __future__ import annotations

import gc
import resource
import sys
from pathlib import Path

import pytest
from matplotlib.figure import Figure
from tiny_panel import tiny_panel

import splitterfem as sf
from splitterfem.model import Model

WARM, MOVES = 60, 200

MOST_MB = 30.0
"""One solved model of this panel takes about 4 MB, so that keeping one in twenty of them would show."""


def resident_mb():
    """Memory of the process in MB: what it has now, or the most it ever had where that is not told."""
    if Path("/proc/self/statm").exists():
        pages = int(Path("/proc/self/statm").read_text().split()[1])
        return pages * resource.getpagesize() / 1e6
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most / (1e6 if sys.platform == "darwin" else 1e3)


def alive(kind):
    gc.collect()
    return sum(isinstance(thing, kind) for thing in gc.get_objects())


@pytest.mark.slow
def test_memory_stays_flat_over_two_hundred_moves():
    page = sf.explore(tiny_panel(), "lean")
    slider = page.controls.x

    def slide(count):
        for number in range(count):
            slider.value = 210.0 + 5.0 * (number % 17)
            assert page.message == ""

    slide(WARM)
    figures, models, before = alive(Figure), alive(Model), resident_mb()
    slide(MOVES)
    assert alive(Figure) == figures
    assert alive(Model) == models
    assert resident_mb() - before < MOST_MB
