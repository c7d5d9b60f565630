"""The estimate of the mesh's error against the error itself, which a far finer mesh shows (no source outside)."""

from __future__ import annotations

import json

import pytest

import splitterfem as sf
from splitterfem.cli import main
from splitterfem.model import build
from splitterfem.output import mesh_words
from splitterfem.output.wording import words_for

COARSE = sf.MeshSettings(size="150 mm", pad_size="100 mm", chord="1.5 mm")


@pytest.mark.parametrize(
    ("change", "case"),
    [
        ({}, "straight, 210 km/h"),
        ({"ribs": ()}, "straight, 210 km/h"),
        ({"ribs": ()}, "push on the lip"),
    ],
    ids=["ribs", "no ribs", "push"],
)
def test_estimate_is_the_error_to_a_factor_of_two_or_half_a_percent(change, case):
    """Half the size or a third: what is left of the error there is small beside the error that is asked for."""
    design = sf.demo().with_(mesh=COARSE, **change)
    solution = sf.solve(design, case)
    fine = sf.solve(build(design, coarser=0.4), case)
    x, y = solution.max_sag_at
    found = solution.mesh_error
    _agree(found.sag_share, 1.0 - float(fine.sag_at(x, y)) / solution.max_sag)
    assert found.sag == pytest.approx(found.sag_share * solution.max_sag)
    panel = solution.utilisation[solution.utilisation["part"] == "panel"].iloc[0]
    table = fine.utilisation
    there = table[(table["part"] == "panel") & (table["mode"] == panel["mode"])]["ratio"].iloc[0]
    _agree(found.stress_share, panel["ratio"] / there - 1.0)


def _agree(estimate, error):
    assert abs(error) < 2.0 * abs(estimate) + 0.005
    assert abs(estimate) < 2.0 * abs(error) + 0.005


def test_it_is_told_with_worst_sag_and_stress(capsys, tmp_path):
    design = tmp_path / "design.toml"
    sf.save(sf.demo().with_(mesh=COARSE), design)
    assert main(["solve", str(design), "--case", "straight, 210 km/h"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    solution = sf.solve(sf.load(design), "straight, 210 km/h")
    assert mesh_words.mesh_sentence([solution], words_for("metric")) in said
    assert f"{abs(100 * solution.mesh_error.sag_share):.1f} %" in said
    assert main(["solve", str(design), "--case", "straight, 210 km/h", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)["mesh_error"]
    assert data["sag_mm"] == pytest.approx(1e3 * solution.mesh_error.sag, rel=1e-9)
    assert data["panel_stress_percent"] == pytest.approx(100 * solution.mesh_error.stress_share, rel=1e-9)


def test_a_coarser_mesh_without_an_answer_is_told(monkeypatch):
    solution = sf.solve(sf.demo().with_(mesh=COARSE), "push on the lip")

    def refuse(_):
        raise sf.SplitterError("It does not close.")

    monkeypatch.setattr(mesh_words, "error_of", refuse)
    assert mesh_words.mesh_sentence([solution], words_for("us")).startswith("Mesh: its error is not known")
    assert mesh_words.mesh_data([solution]) == {"unknown_because": "It does not close."}
