"""The catalogue of bad input: every entry is refused with exactly the sentence that it names, and quietly."""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path

import pytest
from bad_input_tools import BASE, Entry, entries, laid_out, no_warnings, reach

import splitterfem as sf
from splitterfem.cli import main

pytest.importorskip("ezdxf")

CATALOGUE = entries()


@pytest.mark.parametrize("entry", [pytest.param(entry, id=entry["name"]) for entry in CATALOGUE])
def test_what_is_said(
    entry: Entry, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    place = laid_out(tmp_path, entry)
    with no_warnings():
        said, code = reach(entry, place, monkeypatch, capsys)
    assert said.replace(str(tmp_path), "{folder}") == entry["says"]
    assert code == entry.get("exit")
    noise = capsys.readouterr()
    assert (noise.out, noise.err) == ("", "")


@pytest.mark.parametrize(
    "entry", [pytest.param(entry, id=entry["name"]) for entry in CATALOGUE if entry["by"] == "load"]
)
def test_the_command_line_says_the_same(
    entry: Entry, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["check", str(laid_out(tmp_path, entry))]) == 1
    out, err = capsys.readouterr()
    assert out == ""
    wanted = [f"splitterfem: {line}" for line in entry["says"].splitlines()]
    assert err.replace(str(tmp_path), "{folder}").splitlines() == wanted


def test_the_catalogue_is_one() -> None:
    """Names are unique, every way is taken often, and no entry says nothing."""
    assert not [name for name, count in Counter(entry["name"] for entry in CATALOGUE).items() if count > 1]
    assert len(CATALOGUE) >= 150
    assert all(entry["says"].strip() and "Traceback" not in entry["says"] for entry in CATALOGUE)
    ways = Counter(entry["by"].split()[0] for entry in CATALOGUE)
    assert (
        min(ways[way] for way in ("load", "air", "dxf", "surface", "offsets", "flextest", "study", "command"))
        >= 10
    )


@pytest.mark.parametrize("name", ["club", "inches", "drawn", "measured", "gridded"])
def test_what_is_spoilt_was_right(name: str, tmp_path: Path) -> None:
    """The base designs are read without a word and solved, so that the change alone is at fault."""
    place = laid_out(tmp_path, {"file": f"{name}.toml"})
    with no_warnings():
        splitter = sf.load(place)
        model = sf.build(splitter)
        for case in splitter.all_cases:
            assert sf.solve(model, case).max_sag > 0.0


PADS = {
    "the front edge": ("570 mm", "0 mm", "60 mm"),
    "the round corner": ("34 mm", "466 mm", "60 mm"),
    "the opening": ("150 mm", "85 mm", "50 mm"),
    "the side": ("400 mm", "-485 mm", "30 mm"),
}


@pytest.mark.parametrize("edge", PADS)
def test_what_the_check_lets_pass_is_solved(edge: str) -> None:
    """A pad that touches an edge and lies on the panel, to the mm of the drawing, is no fault for the solver either."""
    club = sf.load(BASE / "club.toml")
    x, y, size = PADS[edge]
    push = {"kind": "point", "at": (x, y), "force": ("0 N", "0 N", "-100 N"), "pad": size}
    touching = club.with_(
        cases=[sf.LoadCase(name="touching", forces=[push])], handling=(), sweeps=(), doublers=()
    )
    pinned = touching.with_(pins=[*touching.pins, {"name": "edge pin", "at": (x, y), "pad": size}])
    assert sf.solve(pinned, "touching").max_sag > 0.0
    beyond = {**push, "pad": f"{float(size[:-3]) + 6.0} mm"}
    with pytest.raises(sf.DesignError, match="has a pad that reaches"):
        touching.with_(cases=[sf.LoadCase(name="touching", forces=[beyond])])


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        (
            "bolts.bolt.strength_class",
            "8.9",
            "bolts.bolt.strength_class: its steel is not judged, for there is no strength class '8.9' in the "
            "table; did you mean '8.8'?",
        ),
        (
            "bolts.bolt.diameter",
            "7.3 mm",
            "bolts.bolt.diameter: its steel is not judged, for there is no thread 'M7.3' in the table; "
            "known: 1/4-20 UNC, 1/4-28 UNF, 10-32 UNF, 3/8-16 UNC, 3/8-24 UNF, 5/16-18 UNC, 5/16-24 UNF, M10, M12, M4, "
            "M5, M6, M8",
        ),
        (
            "struts.strut.thread",
            "M80",
            "struts.strut.thread: its steel is not judged, for there is no thread 'M80' in the table; did "
            "you mean 'M8' or 'M10'?",
        ),
    ],
)
def test_hardware_that_is_in_no_table_is_named_by_the_check(
    field: str, value: str, sentence: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    place = laid_out(tmp_path, {"file": "club.toml"})
    assert main(["check", str(place), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["findings"] == []
    sf.save(sf.load(place).with_(field, value), place)
    assert main(["check", str(place), "--json"]) == 0
    (finding,) = json.loads(capsys.readouterr().out)["findings"]
    assert finding["severity"] == "warning"
    assert f"{finding['path']}: {finding['sentence']}" == sentence
