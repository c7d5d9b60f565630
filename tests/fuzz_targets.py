"""Readers of files from strangers, each as a function of bytes: nothing comes out but the library's own errors.

The same functions are fed by tests with random, truncated and mutated files, by the fuzzer, and with every input that
once made one of them fail (``bad_input/found``).
"""

from __future__ import annotations

import contextlib
import shutil
from collections.abc import Callable
from pathlib import Path

import splitterfem as sf
from splitterfem.aero import read_grid, read_surface, read_taps
from splitterfem.design import check
from splitterfem.layouts.flextest_file import read_flex_test
from splitterfem.layouts.journal import read_journal
from splitterfem.layouts.studyfile import read_study_file

BASE = Path(__file__).parent / "bad_input" / "base"

FOUND = Path(__file__).parent / "bad_input" / "found"
"""What once made a reader fail: the name of a file begins with that of its target."""

_CLUB: list[sf.Splitter] = []


def _club() -> sf.Splitter:
    if not _CLUB:
        _CLUB.append(sf.load(BASE / "club.toml"))
    return _CLUB[0]


def _design(place: Path) -> None:
    """A design file: read, looked over, written and read again."""
    splitter = sf.load(place)
    check(splitter)
    sf.save(splitter, place.with_name("again.toml"))
    assert sf.load(place.with_name("again.toml")) == splitter


def _table(place: Path) -> None:
    """A table, by every reader of tables."""
    for read in (
        lambda: read_taps(place, length_unit="mm").map(1.0),
        lambda: read_grid(place, "cp", length_unit="mm").map(),
        lambda: sf.read_offsets(place, unit="mm", rear="0 mm"),
        lambda: sf.read_offsets(place, unit="mm", smooth=True),
        lambda: read_flex_test(place),
    ):
        _tried(read)


def _drawing(place: Path) -> None:
    """A drawing, whole and as one half."""
    _tried(lambda: sf.read_dxf(place, unit="mm"))
    _tried(lambda: sf.read_dxf(place, unit="mm", mirror=True, snap="1 mm"))


def _mesh(place: Path) -> None:
    read_surface(place, "p", kind="pressure", length_unit="mm")


def _kept(place: Path) -> None:
    """A study's file, by the reader of its lines and by that of the study."""
    _tried(lambda: read_journal(place))
    _tried(lambda: sf.study.read(place))


def _tried(read: Callable[[], object]) -> None:
    with contextlib.suppress(sf.SplitterError):
        read()


TARGETS: dict[str, tuple[str, Callable[[Path], object]]] = {
    "toml": ("wrong.toml", _design),
    "csv": ("wrong.csv", _table),
    "dxf": ("wrong.dxf", _drawing),
    "vtu": ("wrong.vtu", _mesh),
    "vtk": ("wrong.vtk", _mesh),
    "msh": ("wrong.msh", _mesh),
    "avs": ("wrong.avs", _mesh),
    "study": ("study.toml", lambda place: read_study_file(place, _club())),
    "kept": ("kept.study", _kept),
}
"""By name: what the file is called, and what reads it."""


def feed(target: str, content: bytes, folder: Path) -> None:
    """Have a reader read these bytes; anything but its own errors comes through."""
    name, read = TARGETS[target]
    place = folder / name
    place.write_bytes(content)
    _tried(lambda: read(place))


def prepared(folder: Path) -> Path:
    """Put the files beside that seeds name, and load what loads at first use, so that no reader is blamed for it."""
    folder.mkdir(exist_ok=True)
    for source in BASE.iterdir():
        shutil.copy(source, folder / source.name)
    _club()
    for target, seeds in SEEDS.items():
        for seed in seeds:
            feed(target, seed, folder)
    return folder


SEEDS: dict[str, list[bytes]] = {
    "toml": [
        (BASE / f"{name}.toml").read_bytes() for name in ("club", "inches", "drawn", "measured", "gridded")
    ],
    "csv": [(BASE / f"{name}.csv").read_bytes() for name in ("taps", "grid", "offsets", "readings")],
    "dxf": [(BASE / "panel.dxf").read_bytes()],
    **{ending: [(BASE / f"surface.{ending}").read_bytes()] for ending in ("vtu", "vtk", "msh", "avs")},
    "study": [(BASE / f"{name}.toml").read_bytes() for name in ("study", "search")],
    "kept": [(BASE / "kept.study").read_bytes()],
}
"""Valid files, from which mutations start."""
