"""The catalogue of bad input in ``bad_input/*.toml``: laying out its files, and reaching the library with them.

An entry says how one file of ``bad_input/base`` is spoilt, by what way the library meets it, and what exactly is
said then:

- ``change``: pairs of a text of the file, which occurs once, and what is put in its place; or ``append``; or
  ``content``, the whole file; or ``hex``, its bytes; or ``made``, the name of a maker here, for what is large;
- ``of``: the file, when it is not the one that the way reads;
- ``by``: the way, such as "load", "check", "solve lean", "air straight", "offsets", "dxf", "flextest", "study",
  "kept", "command";
- ``says``: the text of the error; ``{folder}`` stands for the folder; ``exit``: the exit code of a command.
"""

from __future__ import annotations

import contextlib
import shutil
import tomllib
import warnings
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import splitterfem as sf
from splitterfem.cli import main

CATALOGUE = Path(__file__).parent / "bad_input"

BASE = CATALOGUE / "base"

Entry = dict[str, Any]


def entries() -> list[Entry]:
    """Every entry with the defaults of its file; names are unique."""
    found: list[Entry] = []
    for place in sorted(CATALOGUE.glob("*.toml")):
        content = tomllib.loads(place.read_text(encoding="utf-8"))
        rows = content.pop("wrong")
        found += [{**content, **row, "name": f"{place.stem}: {row['name']}"} for row in rows]
    return found


def laid_out(folder: Path, entry: Entry) -> Path:
    """Copy the base files into a folder and spoil one of them; returns the file that the way reads."""
    for source in BASE.iterdir():
        shutil.copy(source, folder / source.name)
    spoilt = folder / entry.get("of", entry["file"])
    if "made" in entry:
        _MAKERS[entry["made"]](spoilt)
    elif "hex" in entry:
        spoilt.write_bytes(bytes.fromhex(entry["hex"]))
    elif "content" in entry:
        spoilt.write_bytes(entry["content"].encode())
    if "change" in entry or "append" in entry:
        text = spoilt.read_text(encoding="utf-8")
        for old, new in entry.get("change", []):
            if text.count(old) != 1:
                raise AssertionError(f"{old!r} occurs {text.count(old)} times in {spoilt.name}")
            text = text.replace(old, new)
        spoilt.write_bytes((text + entry.get("append", "")).encode())
    return folder / entry["file"]


@contextlib.contextmanager
def no_warnings() -> Iterator[None]:
    """Make every warning an error, but for what other packages say of one another."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        for kind in (DeprecationWarning, PendingDeprecationWarning, FutureWarning):
            warnings.filterwarnings("ignore", category=kind)
            warnings.filterwarnings("error", category=kind, module="splitterfem")
        yield


def reach(entry: Entry, place: Path, monkeypatch: Any, capsys: Any) -> tuple[str, int | None]:
    """Go the way of an entry; returns what was said and, of a command, the exit code."""
    way, _, rest = entry["by"].partition(" ")
    if way == "command":
        monkeypatch.chdir(place.parent)
        return _command(entry["argv"], capsys)
    if way == "check":
        return _command(["check", str(place)], capsys)
    try:
        _WAYS[way](place, rest, entry)
    except sf.SplitterError as problem:
        return str(problem), None
    return "", None


def _command(argv: list[str], capsys: Any) -> tuple[str, int]:
    code = main(argv)
    said = capsys.readouterr()
    assert said.out == "", said.out
    return said.err.rstrip("\n"), code


def _air(place: Path, case: str, entry: Entry) -> None:
    """Read the pressure map of a load case."""
    from splitterfem.model.airload import pressure_field

    del entry
    splitter = sf.load(place)
    pressure_field(splitter, splitter.case(case))


def _flextest(place: Path, rest: str, entry: Entry) -> None:
    from splitterfem.layouts.flextest_file import read_flex_test

    read_flex_test(place)


def _study(place: Path, rest: str, entry: Entry) -> None:
    from splitterfem.layouts.studyfile import read_study_file

    read_study_file(place, sf.load(place.parent / "club.toml"))


def _kept(place: Path, rest: str, entry: Entry) -> None:
    from splitterfem.layouts.journal import read_journal

    read_journal(place)


def _surface(place: Path, rest: str, entry: Entry) -> None:
    from splitterfem.aero import read_surface

    read_surface(place, entry.get("field", "p"), kind="pressure", length_unit=entry.get("unit", "mm"))


_WAYS: dict[str, Callable[[Path, str, Entry], object]] = {
    "load": lambda place, rest, entry: sf.load(place),
    "solve": lambda place, rest, entry: sf.solve(sf.load(place), rest),
    "air": _air,
    "offsets": lambda place, rest, entry: sf.read_offsets(place, **entry.get("with", {"rear": "0 mm"})),
    "dxf": lambda place, rest, entry: sf.read_dxf(place, **entry.get("with", {})),
    "flextest": _flextest,
    "study": _study,
    "kept": _kept,
    "surface": _surface,
}


def _many(line: str, count: int, head: str = "") -> Callable[[Path], None]:
    """Make a maker of a file of one line many times; ``#`` in it becomes its number."""
    return lambda place: (
        place.write_text(head + "".join(line.replace("#", str(i)) for i in range(count))) and None
    )


def _more(line: str, count: int) -> Callable[[Path], None]:
    """Make a maker that puts one line many times behind what a base file has."""
    return lambda place: (
        place.write_text(
            place.read_text(encoding="utf-8") + "".join(line.replace("#", str(i)) for i in range(count))
        )
        and None
    )


_RIB = """
[[ribs]]
name = "rib #"
points = [["300 mm", "-400 mm"], ["300 mm", "400 mm"]]
section = { shape = "flat", width = "20 mm", height = "10 mm" }
material = "mild steel"
"""

_HEADER = "0\nSECTION\n2\nHEADER\n9\n$INSUNITS\n70\n4\n0\nENDSEC\n"
_LINE = "0\nLINE\n8\n0\n10\n#\n20\n0\n11\n#\n21\n5\n"


def _drawn(piece: str, count: int, behind: str = "") -> Callable[[Path], None]:
    """Make a maker of a DXF file with one piece many times."""
    end = f"{behind}0\nENDSEC\n0\nEOF\n"
    head = f"{_HEADER}0\nSECTION\n2\nENTITIES\n"
    return lambda place: (
        place.write_text(head + "".join(piece.replace("#", str(i)) for i in range(count)) + end) and None
    )


def _nested(place: Path) -> None:
    """A block in a block in a block, forty times."""
    within = ["0\nLINE\n8\n0\n10\n0\n20\n0\n11\n1\n21\n0\n"]
    within += [f"0\nINSERT\n8\n0\n2\nB{i}\n10\n0\n20\n0\n" for i in range(39)]
    blocks = "".join(
        f"0\nBLOCK\n8\n0\n2\nB{i}\n70\n0\n10\n0\n20\n0\n30\n0\n3\nB{i}\n{inside}0\nENDBLK\n8\n0\n"
        for i, inside in enumerate(within)
    )
    insert = "0\nINSERT\n8\n0\n2\nB39\n10\n0\n20\n0\n"
    place.write_text(
        f"{_HEADER}0\nSECTION\n2\nBLOCKS\n{blocks}0\nENDSEC\n"
        f"0\nSECTION\n2\nENTITIES\n{insert}0\nENDSEC\n0\nEOF\n"
    )


_MAKERS: dict[str, Callable[[Path], None]] = {
    "10000 ribs": _more(_RIB, 10_000),
    "500 ribs": _more(_RIB, 500),
    "3 MB of comment": _many("# a line of comment that says nothing at all\n", 70_000, "version = 1\n"),
    "line of 30000 characters": _many("x", 30_000, "version = 1\nname = '"),
    "5000 brackets": _many("[", 5000, "version = 1\nname = "),
    "21 MB of taps": _many("1,2,0.5\n", 2_700_000, "x_mm,y_mm,cp\n"),
    "200001 taps": _many("#,2,0.5\n", 200_001, "x_mm,y_mm,cp\n"),
    "2000 stations": _many("#,600\n", 2000, "y_mm,x_front_mm\n"),
    "2 MB of stations": _many("1,600\n", 400_000, "y_mm,x_front_mm\n"),
    "2001 readings": _many(
        "550,0,200,550,0,4.1\n", 2001, (BASE / "readings.csv").read_text().splitlines()[0] + "\n"
    ),
    "long line": _many("1", 20_000, "x_mm,y_mm,cp\n"),
    "30000 lines": _drawn(_LINE, 30_000),
    "120000 lines": _drawn(_LINE, 120_000),
    "11 MB of comments": _drawn("999\na comment of the program that wrote it\n", 300_000),
    "long DXF line": _drawn("x", 20_000, behind="\n"),
    "40 blocks": _nested,
}
