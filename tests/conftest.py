"""Fixtures that several test files share: the demonstration, solved once."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest
from hypothesis import settings

import splitterfem as sf

# A run repeats the one before it; set the variable to look for faults where none has looked.
settings.register_profile(
    "repeatable", derandomize="SPLITTERFEM_NEW_EXAMPLES" not in os.environ, database=None
)
settings.load_profile("repeatable")


@pytest.fixture(scope="session")
def demo_solutions():
    """All load cases of the demonstration, solved."""
    splitter = sf.demo()
    model = sf.build(splitter)
    return [sf.solve(model, case) for case in splitter.cases]


@pytest.fixture(scope="session")
def demo_solution(demo_solutions):
    """The first load case of the demonstration, solved."""
    return demo_solutions[0]


@pytest.fixture
def coarse_file(tmp_path):
    """A design file with its taps beside it: the demonstration on a coarse mesh."""
    taps = Path(sf.__file__).parent / "data" / "demo_taps.csv"
    shutil.copy(taps, tmp_path / taps.name)
    place = tmp_path / "coarse.toml"
    sf.save(sf.demo().with_("mesh.size", "80 mm"), place)
    return place
