"""The command line: what it prints, what it writes, and with what code it leaves."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time

import pytest

import splitterfem as sf
from splitterfem import api, cli
from splitterfem.cli import announced, main


def text_with(place, **changes):
    """Write the demonstration with changes as a design file."""
    design = sf.load(place).with_(**changes)
    sf.save(design, place)
    return str(place)


def test_help_loads_nothing_heavy():
    code = (
        "import sys; from splitterfem.cli import main; main(['--help']); "
        "heavy = {'numpy', 'scipy', 'matplotlib', 'pydantic', 'pandas', 'typst'} & set(sys.modules); "
        "sys.exit(str(heavy) if heavy else 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert all(command in done.stdout for command in ("demo", "solve", "check", "report"))


def test_version(capsys):
    assert main(["--version"]) == 0
    assert capsys.readouterr().out == f"splitterfem {sf.__version__}\n"


def test_module_runs_as_a_program():
    done = subprocess.run(
        [sys.executable, "-m", "splitterfem", "--version"], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stdout) == (0, f"splitterfem {sf.__version__}\n")


@pytest.mark.parametrize("argv", [[], ["frobnicate"], ["solve"], ["report", "a.toml", "--paper", "a3"]])
def test_wrong_command_line(argv, capsys):
    assert main(argv) == 2
    assert "usage:" in capsys.readouterr().err


def test_demo_prints_its_table(capsys, demo_solutions):
    assert main(["demo"]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    for solution in demo_solutions:
        assert solution.case.name in out
        assert f"{1e3 * solution.max_sag:.1f}" in out
    assert "--out" in out


def test_demo_writes_its_files(tmp_path, capsys):
    pytest.importorskip("typst")
    assert main(["demo", "--out", str(tmp_path / "out")]) == 0
    written = {path.name for path in (tmp_path / "out").iterdir()}
    assert {"sag.png", "report.pdf", "solution.vtu", "contours.csv", "sag-2.png"} <= written
    assert (tmp_path / "out" / "sag.png").read_bytes().startswith(b"\x89PNG")
    assert (tmp_path / "out" / "report.pdf").read_bytes().startswith(b"%PDF")
    said = capsys.readouterr().out
    assert all(name in said for name in written)
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_solve_json(coarse_file, capsys):
    assert main(["solve", str(coarse_file), "--case", "push on the lip", "--json"]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    content = json.loads(out)
    (figures,) = content["cases"]
    assert figures["case"] == "push on the lip"
    solution = sf.solve(sf.load(coarse_file), "push on the lip")
    assert figures["max_sag_mm"] == pytest.approx(1e3 * solution.max_sag)
    assert content["written"] == []


def test_solve_writes_into_the_folder_only(coarse_file, tmp_path, capsys):
    before = {path.name for path in tmp_path.iterdir()}
    argv = ["solve", str(coarse_file), "--case", "push on the lip", "--out", str(tmp_path / "new"), "--json"]
    assert main(argv) == 0
    written = json.loads(capsys.readouterr().out)["written"]
    assert sorted(written) == sorted(str(path) for path in (tmp_path / "new").iterdir())
    assert {path.name for path in tmp_path.iterdir()} == before | {"new"}
    assert {"supports.csv", "ribs.csv"} <= {path.name for path in (tmp_path / "new").iterdir()}


def test_solve_in_us_units(coarse_file, capsys):
    assert main(["solve", str(coarse_file), "--case", "push on the lip", "--units", "us"]) == 0
    out = capsys.readouterr().out
    assert "sag (in)" in out
    assert "downforce (lbf)" in out


def test_check_solves_nothing(coarse_file, capsys, monkeypatch):
    def forbidden(*args, **kwargs):
        raise AssertionError("solved")

    monkeypatch.setattr(api, "build_model", forbidden)
    assert main(["check", str(coarse_file)]) == 0
    out = capsys.readouterr().out
    assert "triangles" in out
    assert "Hill-climb saloon" in out


def test_check_json(coarse_file, capsys):
    assert main(["check", str(coarse_file), "--json"]) == 0
    content = json.loads(capsys.readouterr().out)
    assert content["mesh"]["triangles"] > 100
    assert content["mesh"]["area_m2"] == pytest.approx(
        sf.load(coarse_file).panel.polygon(1e-5).area, rel=1e-3
    )
    assert all({"severity", "path", "sentence"} <= set(finding) for finding in content["findings"])


def test_check_reads_the_taps(coarse_file, capsys):
    (coarse_file.parent / "demo_taps.csv").write_text("nonsense\n")
    assert main(["check", str(coarse_file)]) == 1
    assert "demo_taps.csv" in capsys.readouterr().err


def test_report(coarse_file, tmp_path, capsys):
    pytest.importorskip("typst")
    place = tmp_path / "customer.pdf"
    assert (
        main(["report", str(coarse_file), "--out", str(place), "--paper", "us-letter", "--units", "us"]) == 0
    )
    assert place.read_bytes().startswith(b"%PDF")
    assert str(place) in capsys.readouterr().out


def test_report_without_folder_fails_before_solving(coarse_file, tmp_path, capsys, monkeypatch):
    pytest.importorskip("typst")
    monkeypatch.setattr(api, "build", None)
    assert main(["report", str(coarse_file), "--out", str(tmp_path / "no" / "r.pdf")]) == 1
    assert "There is no folder" in capsys.readouterr().err


def test_report_without_typst(coarse_file, tmp_path, capsys, monkeypatch):
    monkeypatch.setitem(sys.modules, "typst", None)
    assert main(["report", str(coarse_file), "--out", str(tmp_path / "r.pdf")]) == 1
    assert "pip install" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ("version = 1\nname = ", "the end of the file"),
        ("version = 7\n", "version is 7"),
        ("version = 1\nname = 'x'\nspeling = 2\n", "no such field"),
    ],
)
def test_fault_in_the_file_is_one_sentence(content, said, tmp_path, capsys):
    place = tmp_path / "bad.toml"
    place.write_text(content)
    assert main(["solve", str(place)]) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("splitterfem: bad.toml: ")
    assert said in err
    assert "Traceback" not in err


def test_missing_file(tmp_path, capsys):
    assert main(["check", str(tmp_path / "none.toml")]) == 1
    assert "there is no file" in capsys.readouterr().err


def test_unknown_case_is_answered_with_the_nearest(coarse_file, capsys):
    assert main(["solve", str(coarse_file), "--case", "push on lip"]) == 1
    assert "did you mean 'push on the lip'?" in capsys.readouterr().err


def test_no_case_at_all(coarse_file, capsys):
    assert main(["solve", text_with(coarse_file, cases=())]) == 1
    assert "has no load case" in capsys.readouterr().err


def test_panel_that_nothing_holds(coarse_file, capsys):
    place = text_with(coarse_file, struts=(), pins=(), pockets=())
    assert main(["solve", place]) == 3
    err = capsys.readouterr().err
    assert err.startswith("splitterfem: ")
    assert "Traceback" not in err


def test_check_says_when_nothing_holds(coarse_file, capsys):
    assert main(["check", text_with(coarse_file, struts=(), pins=(), pockets=())]) == 0
    assert "nothing holds it" in capsys.readouterr().out


def test_every_fault_is_a_line_of_its_own(tmp_path, capsys):
    (tmp_path / "bare.toml").write_text("version = 1\n")
    assert main(["check", str(tmp_path / "bare.toml")]) == 1
    lines = capsys.readouterr().err.splitlines()
    assert len(lines) == 3
    assert all(line.startswith("splitterfem: bare.toml: ") for line in lines)


def test_a_panel_in_the_ground_is_said_aloud(coarse_file, capsys):
    design = sf.load(coarse_file)
    lower = tuple(case.with_(ride_height="8 mm", rake="0 deg") for case in design.cases)
    assert main(["solve", text_with(coarse_file, cases=lower), "--case", "push on the lip"]) == 0
    assert "TOUCHES THE GROUND" not in capsys.readouterr().out
    lower = tuple(case.with_(ride_height="1 mm", rake="0 deg") for case in design.cases)
    assert main(["solve", text_with(coarse_file, cases=lower), "--case", "push on the lip"]) == 0
    assert "TOUCHES THE GROUND in load case 'push on the lip' under the panel" in capsys.readouterr().out


def test_interrupt(coarse_file, capsys, monkeypatch):
    def interrupted(*args, **kwargs):
        raise KeyboardInterrupt

    monkeypatch.setattr(api, "build", interrupted)
    assert main(["solve", str(coarse_file)]) == 130
    assert capsys.readouterr().err == "splitterfem: interrupted\n"


def test_trouble_of_the_system_is_one_sentence(coarse_file, capsys, monkeypatch):
    def full(*args, **kwargs):
        raise OSError(28, "No space left on device", "scratch")

    monkeypatch.setattr(api, "build", full)
    assert main(["solve", str(coarse_file)]) == 1
    assert capsys.readouterr().err == "splitterfem: scratch: no space left on device\n"


def test_reader_that_goes_away(coarse_file):
    code = (
        "import sys, time; time.sleep(0.5); from splitterfem.cli import main; "
        f"sys.exit(main(['check', {str(coarse_file)!r}]))"
    )
    with subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as run:
        run.stdout.close()
        err = run.stderr.read()
    assert run.returncode == cli.UNREAD
    assert err == b""


def test_names_that_the_terminal_cannot_show(coarse_file):
    text_with(coarse_file, name="Spoiler \N{GREEK SMALL LETTER ALPHA}")
    done = subprocess.run(
        [sys.executable, "-m", "splitterfem", "check", str(coarse_file)],
        capture_output=True,
        check=False,
        env=os.environ | {"PYTHONIOENCODING": "ascii"},
    )
    assert done.returncode == 0, done.stderr
    assert b"\\u03b1" in done.stdout


def test_long_steps_are_announced(capsys):
    with announced("thinking", wanted=True, patience=0.01):
        time.sleep(0.1)
    err = capsys.readouterr().err.splitlines()
    assert err[0] == "thinking ..."
    assert err[1].startswith("thinking: 0.")


def test_short_or_unwanted_steps_are_not_announced(capsys):
    with announced("thinking", wanted=True, patience=30.0):
        pass
    with announced("thinking", wanted=False, patience=0.0):
        time.sleep(0.02)
    assert capsys.readouterr().err == ""
