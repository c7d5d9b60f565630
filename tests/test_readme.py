"""The README keeps its word: its commands are complete, its examples run, its files are there."""

from __future__ import annotations

import re
import shlex
import tomllib
from pathlib import Path

import pytest
from markdown_blocks import blocks_of

import splitterfem as sf
from splitterfem import cli

ROOT = Path(__file__).parents[1]
TEXT = (ROOT / "README.md").read_text("utf-8")
GRAVITY = 9.80665  # m/s2, standard acceleration of free fall (ISO 80000-3)


def blocks(language):
    return blocks_of(TEXT, language)


def test_the_two_commands_come_first_and_are_one_line_each():
    job, tests = blocks("sh")[:2]
    assert job.count("\n") == tests.count("\n") == 1
    assert job.rstrip().endswith("splitterfem demo --out demo_output")
    assert "-m pytest" in tests


@pytest.mark.parametrize("number", [0, 1])
def test_a_command_sets_up_all_it_needs(number):
    steps = [shlex.split(step) for step in blocks("sh")[number].split("&&")]
    assert steps[0] == ["python3", "-m", "venv", ".venv"]
    assert all(step[0].startswith(".venv/bin/") for step in steps[1:])
    assert "--upgrade" in steps[1]
    extras = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]["optional-dependencies"]
    (wanted,) = re.findall(r"\.\[(\w+)\]", " ".join(steps[2]))
    assert wanted in extras


def test_python_example_runs_as_written(tmp_path, monkeypatch, capsys):
    pytest.importorskip("typst")
    example, _, _ = blocks("python")
    assert len(example.splitlines()) <= 25
    monkeypatch.chdir(tmp_path)
    exec(compile(example, "README.md", "exec"), {})
    assert (tmp_path / "leaning.png").read_bytes().startswith(b"\x89PNG")
    assert (tmp_path / "report.pdf").read_bytes().startswith(b"%PDF")
    out = capsys.readouterr().out
    assert re.search(r"largest sag \d\.\d\d in, smallest gap \d\.\d\d in", out)
    assert "pockets 8 in outboard: sag" in out


def test_example_of_what_is_not_linear_runs_as_written(tmp_path, monkeypatch, capsys):
    _, example, _ = blocks("python")
    assert len(example.splitlines()) <= 25
    monkeypatch.chdir(tmp_path)
    exec(compile(example, "README.md", "exec"), {})
    assert (tmp_path / "touches.png").read_bytes().startswith(b"\x89PNG")
    out = capsys.readouterr().out
    sag, rest = map(float, re.search(r"sag (\d\.\d\d) mm, (\d\.\d\d) mm at rest", out).groups())
    assert (
        sag > rest
    )  # suction only grows as the gap closes: the demonstration's net pressure is down everywhere
    assert int(re.search(r"(\d+) N on the ground in \d places", out).group(1)) > 0
    assert "lower lip" in out
    assert "Linear solution within its range" in out
    assert "Newton steps" in out


def test_example_of_many_layouts_runs_as_written(tmp_path, monkeypatch, capsys):
    """What it saves is the first design that it prints, and the best of these."""
    pytest.importorskip("optuna")
    *_, example = blocks("python")
    assert len(example.splitlines()) <= 25
    monkeypatch.chdir(tmp_path)
    exec(compile(example, "README.md", "exec"), {})
    assert (tmp_path / "sweep.png").read_bytes().startswith(b"\x89PNG")
    assert sf.study.read(tmp_path / "sweep.jsonl").finished
    out = capsys.readouterr().out
    assert "found by derivatives" in out
    rows = re.findall(r"^\d+ +(-?\d+\.\d+) +(\d+\.\d+)$", out, flags=re.MULTILINE)
    sags = [float(sag) for _, sag in rows]
    assert sags == sorted(sags)
    assert len(sags) >= 3
    first = sf.demo().with_("mesh.size", "200 mm")
    moved = sf.load(tmp_path / "stiffer.toml").part("inner strut").foot[0] - first.part("inner strut").foot[0]
    assert 1e3 * moved == pytest.approx(float(rows[0][0]), abs=1e-3)


def test_studies_that_the_readme_names_exist():
    for name in re.findall(r"`sf\.study\.(\w+)", TEXT):
        assert name in sf.study.__all__
        assert callable(getattr(sf.study, name))


def test_extras_that_the_readme_names_exist():
    extras = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]["optional-dependencies"]
    (named,) = re.findall(r"`python -m pip install '\.\[([\w,]+)\]'`", TEXT)
    assert set(named.split(",")) <= set(extras)


@pytest.fixture(scope="module")
def club_racer(tmp_path_factory):
    (text,) = blocks("toml")
    place = tmp_path_factory.mktemp("readme") / "club_racer.toml"
    place.write_text(text, encoding="utf-8")
    return place


def test_design_file_is_read_without_findings(club_racer, capsys):
    assert cli.main(["check", str(club_racer)]) == 0
    out = capsys.readouterr().out
    assert "error" not in out
    assert "warning" not in out


def test_design_file_is_solved_and_in_equilibrium(club_racer):
    """Newton's first law: what the supports push up is downforce and weight, and the force of the push."""
    splitter = sf.load(club_racer)
    for case in splitter.cases:
        solution = sf.solve(splitter, case)
        pushes = -sum(force.force[2] for force in case.forces)
        wanted = solution.downforce + GRAVITY * solution.mass + pushes
        assert solution.supports["fz_N"].sum() == pytest.approx(wanted, rel=1e-6)


def test_downforce_of_the_design_file_is_that_of_a_uniform_coefficient(club_racer):
    """F = cp (rho V^2 / 2) A (Anderson, Fundamentals of Aerodynamics, 1.5); 120 mph = 53.6448 m/s exactly."""
    splitter = sf.load(club_racer)
    wanted = 0.6 * 0.5 * 1.225 * 53.6448**2 * splitter.panel.polygon(1e-6).area
    assert sf.solve(splitter, "120 mph").downforce == pytest.approx(wanted, rel=1e-4)


def test_units_that_the_readme_shows_are_read():
    from splitterfem.units import quantity

    assert quantity("5' 3\"", "length") == pytest.approx(63 * 0.0254)  # 1 in = 25.4 mm (ISO 80000-3)
    for words, dimension in (("1/2 in", "length"), ("140 lbf", "force"), ("120 mph", "speed")):
        assert f'"{words}"' in TEXT
        assert quantity(words, dimension) > 0.0


@pytest.mark.parametrize("command", ["demo", "check", "solve", "report", "study"])
def test_commands_and_their_options_exist(command, capsys):
    (row,) = [line for line in TEXT.splitlines() if line.startswith(f"| `splitterfem {command}")]
    assert cli.main([command, "--help"]) == 0
    shown = capsys.readouterr().out
    assert all(option in shown for option in re.findall(r"--[a-z]+", row))


def test_exit_codes_are_those_of_the_program():
    (line,) = [line for line in TEXT.splitlines() if line.startswith("Exit codes:")]
    said = [int(code) for code in re.findall(r"\b(\d+)\b", line.partition(". A panel")[0])]
    assert said == [cli.DONE, cli.FAULT, cli.USAGE, cli.UNSOLVED, cli.INTERRUPTED, cli.UNREAD]


def test_files_that_it_points_to_are_there():
    targets = re.findall(r"\]\(([^)]+)\)", TEXT)
    assert "DEVELOPERS.md" in targets
    for target in targets:
        assert (ROOT / target).is_file(), target


def test_pictures_are_small():
    pictures = list((ROOT / "notebooks" / "pictures").glob("*.png"))
    assert pictures
    assert all(picture.stat().st_size <= 250_000 for picture in pictures)
