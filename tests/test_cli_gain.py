"""The command that says where the next rib or strut helps most, against the library."""

from __future__ import annotations

import json

import pandas as pd
import pytest
from tiny_panel import tiny_panel

import splitterfem as sf
from splitterfem.cli import main

STRUT = {
    "name": "strut",
    "mirror": True,
    "foot": ["350 mm", "150 mm"],
    "bracket_height": "20 mm",
    "head": ["300 mm", "120 mm", "200 mm"],
    "diameter": "6 mm",
}


@pytest.fixture(scope="module")
def coarse(tmp_path_factory: pytest.TempPathFactory):
    path = tmp_path_factory.mktemp("gain") / "coarse.toml"
    sf.save(tiny_panel(struts=[STRUT]), path)
    return path


def test_ribs_and_struts_for_machines(coarse, tmp_path, capsys):
    """Pairs, as the panel has mirrored parts; the library says the same."""
    asked = [
        "gain",
        str(coarse),
        "--measure",
        "mean sag",
        "--length",
        "200 mm",
        "--out",
        str(tmp_path / "new"),
        "--json",
    ]
    assert main(asked) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["invented"] is True
    model = sf.build(sf.load(coarse))
    struts = sf.strut_gain(model, "lean", measure="mean sag", mirror=True)
    ribs = sf.rib_gain(model, "lean", measure="mean sag", mirror=True)
    tried = {
        "rib_gain": [
            1e3 * (ribs.measure.value - place.measure.value) for place in ribs.best(length="200 mm")
        ],
        "strut_gain": list(struts.table["better_mm"]),
    }
    for name, gain in (("rib_gain", ribs), ("strut_gain", struts)):
        found = told[name]
        assert found["pairs"] is True
        assert found["now_mm"] == pytest.approx(1e3 * gain.measure.value, rel=1e-9)
        assert [row["better_mm"] for row in found["best"]] == pytest.approx(tried[name], rel=1e-6)
        points = pd.read_csv(tmp_path / "new" / f"{name}.csv")
        assert len(points) == len(ribs.x if name == "rib_gain" else struts.field.x)
    assert [row["part"] for row in told["strut_gain"]["moves"]] == list(struts.move_table["part"])
    assert [path.rsplit("/", 1)[1] for path in told["written"]] == [
        "rib_gain.png",
        "rib_gain.csv",
        "strut_gain.png",
        "strut_gain.csv",
    ]


def test_a_place_and_one_rib_for_people(coarse, capsys):
    asked = ["gain", str(coarse), "--new", "rib", "--no-pairs", "--at", "300 mm", "36 in", "--like", "tube"]
    assert main(asked) == 1
    assert "off the panel" in capsys.readouterr().err
    asked[-4:-2] = ["300 mm", "0 in"]
    assert main([*asked, "--length", "8 in", "--units", "us"]) == 0
    said = capsys.readouterr().out
    assert "(invented data)" in said
    assert "One more rib, tube 2.362 × 0.787 × 0.079 in; load case 'lean'" in said
    assert "strut" not in said.replace("supports", "")


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (["--like", "tuba"], "there is no rib 'tuba'; did you mean 'tube'?"),
        (["--measure", "worst sags"], "There is no measure 'worst sags'; did you mean 'worst sag'?"),
        (["--case", "learn"], "did you mean 'lean'?"),
    ],
)
def test_what_cannot_be_is_one_sentence(coarse, capsys, asked, said):
    assert main(["gain", str(coarse), "--new", "rib", *asked]) == 1
    assert said in capsys.readouterr().err
