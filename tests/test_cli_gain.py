"""The command that says where the next rib or strut helps most, against the library."""

from __future__ import annotations

import json

import pandas as pd
import pytest

import splitterfem as sf
from splitterfem.cli import main

CASE = "straight, 210 km/h"


@pytest.fixture(scope="module")
def coarse(tmp_path_factory: pytest.TempPathFactory):
    path = tmp_path_factory.mktemp("gain") / "coarse.toml"
    sf.save(sf.demo().with_("mesh.size", "150 mm"), path)
    return path


def test_ribs_and_struts_for_machines(coarse, tmp_path, capsys):
    """Pairs, as the demonstration has mirrored parts; the library says the same."""
    asked = ["gain", str(coarse), "--measure", "mean sag", "--out", str(tmp_path / "new"), "--json"]
    assert main(asked) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["invented"] is True
    model = sf.build(sf.load(coarse))
    struts = sf.strut_gain(model, CASE, measure="mean sag", mirror=True)
    ribs = sf.rib_gain(model, CASE, measure="mean sag", mirror=True)
    for name, gain in (("rib_gain", ribs), ("strut_gain", struts)):
        found = told[name]
        assert found["pairs"] is True
        assert found["now_mm"] == pytest.approx(1e3 * gain.measure.value, rel=1e-9)
        assert [row["better_mm"] for row in found["best"]] == pytest.approx(
            list(gain.table["better_mm"]), rel=1e-6
        )
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
    asked = ["gain", str(coarse), "--new", "rib", "--no-pairs", "--at", "900 mm", "36 in", "--like", "angle"]
    assert main(asked) == 1
    assert "off the panel" in capsys.readouterr().err
    asked[-4:-2] = ["900 mm", "0 in"]
    assert main([*asked, "--units", "us"]) == 0
    said = capsys.readouterr().out
    assert "(invented data)" in said
    assert "One more rib, angle 1.500 × 1.500 × 0.126 in; load case 'straight, 210 km/h'" in said
    assert "strut" not in said.replace("supports", "")


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (["--like", "angel"], "there is no rib 'angel'; did you mean 'angle'?"),
        (["--measure", "worst sags"], "There is no measure 'worst sags'; did you mean 'worst sag'?"),
        (["--case", "straight"], "did you mean 'straight, 210 km/h'?"),
    ],
)
def test_what_cannot_be_is_one_sentence(coarse, capsys, asked, said):
    assert main(["gain", str(coarse), "--new", "rib", *asked]) == 1
    assert said in capsys.readouterr().err
