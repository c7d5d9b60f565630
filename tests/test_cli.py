"""The command line: what it prints, what it writes, and with what code it leaves."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import time

import pandas as pd
import pytest
from weak_panel import weak_panel

import splitterfem as sf
from splitterfem import api, cli
from splitterfem.cli import main
from splitterfem.cli_tools import announced


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
    said = capsys.readouterr().err
    assert said.startswith("splitterfem: ")
    assert said.count("\n") == 1
    assert "--help" in said


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


def test_solve_prints_what_is_used_most(coarse_file, capsys):
    assert main(["solve", str(coarse_file)]) == 0
    out = capsys.readouterr().out
    splitter = sf.load(coarse_file)
    rows = pd.concat(
        sf.solve(splitter, case).utilisation.assign(case=case.name) for case in splitter.all_cases
    )
    rows = rows.sort_values("ratio", ascending=False).drop_duplicates(["part", "kind", "mode"])
    worst = weakest_of(rows)
    assert f"Weakest link: {worst.part}, {worst['mode']}, used to {worst.ratio:.2f} of what is" in out
    shown = out.partition("how it would fail")[2].splitlines()[2:7]
    for line, (_, row) in zip(shown, rows.head(5).iterrows(), strict=True):
        assert line.startswith(row.part)
        assert row["mode"] in line
        assert f"{row.ratio:.2f}" in line.split()
        assert line.endswith(row.case)
    assert "pin left, pin right: the design gives neither sizes nor a rating to judge it by." in out
    assert "One part lost" not in out


@pytest.fixture
def weak_file(tmp_path):
    place = tmp_path / "weak.toml"
    sf.save(weak_panel(), place)
    return place


def test_solve_json_has_the_tables_of_the_library(weak_file, tmp_path, capsys):
    argv = ["solve", str(weak_file), "--losses", "--json", "--out", str(tmp_path / "out")]
    assert main(argv) == 0
    content = json.loads(capsys.readouterr().out, parse_constant=lambda name: pytest.fail(name))
    splitter = sf.load(weak_file)
    solutions = [sf.solve(splitter, case) for case in splitter.cases]
    for figures, solution in zip(content["cases"], solutions, strict=True):
        same(pd.DataFrame(figures["utilisation"]), solution.utilisation)
        worst = weakest_of(solution.utilisation)
        assert figures["worst_ratio"] == pytest.approx(worst.ratio)
        assert (figures["weakest_part"], figures["weakest_mode"]) == (worst.part, worst["mode"])
    unknown = [row for row in content["cases"][0]["utilisation"] if row["part"] == "unknown"]
    assert {row["ratio"] for row in unknown} == {None}
    governing = max(solutions, key=judge).case.name
    wanted = sf.lose_one(splitter, governing, judge=judge)
    assert content["losses"]["case"] == governing
    same(pd.DataFrame(content["losses"]["rows"]), wanted)
    fallen = [row for row in content["losses"]["rows"] if row["outcome"].startswith("not held")]
    assert fallen
    assert all(row["max_sag_mm"] is None and row["touches_ground"] is None for row in fallen)
    assert {"utilisation.csv", "bill.csv", "losses.csv"} <= {
        path.name for path in (tmp_path / "out").iterdir()
    }


def weakest_of(rows):
    """First row of a table, worst first; a distance that has to be kept counts where it is too short only."""
    return rows[(rows.unit != "mm") | (rows.ratio > 1.0)].iloc[0]


def judge(solution):
    return float(weakest_of(solution.utilisation).ratio)


def same(found, wanted):
    """Compare tables by their values; JSON has neither nan nor pandas' NA."""
    assert list(found.columns) == list(wanted.columns)
    for name in wanted:
        for a, b in zip(found[name], wanted[name], strict=True):
            if pd.isna(b):
                assert a is None or pd.isna(a)
            else:
                assert a == (pytest.approx(b) if isinstance(b, float) else b)


def test_losses_are_solved_when_asked_for_only(weak_file, tmp_path, capsys):
    assert main(["solve", str(weak_file), "--json", "--out", str(tmp_path / "out")]) == 0
    assert "losses" not in json.loads(capsys.readouterr().out)
    assert not (tmp_path / "out" / "losses.csv").exists()


def test_solve_prints_the_losses(weak_file, capsys):
    assert main(["solve", str(weak_file), "--losses", "--units", "us"]) == 0
    out = capsys.readouterr().out
    splitter = sf.load(weak_file)
    governing = max((sf.solve(splitter, case) for case in splitter.cases), key=judge).case.name
    table = out.partition(f"One part lost at a time, in load case '{governing}' (the largest utilisation):")[
        2
    ]
    wide = ["largest", "force", "on", "(lbf)"]
    heading, _, first, *rows = table.strip().splitlines()
    assert heading.split() == ["lost", "kind", "sag", "(in)", "gap", "(in)", *wide, "ratio", "outcome"]
    assert first.startswith("nothing")
    lost = sf.lose_one(splitter, governing, judge=judge)
    for line, (_, row) in zip(rows, lost.iterrows(), strict=False):
        assert line.startswith(row.lost)
        assert line.endswith(row.outcome)
        if row.outcome == "held":
            assert f"{row.max_sag_mm / 25.4:.3f}" in line.split()
    assert "end not held or on the ground" in table


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


def test_check_has_mass_and_bill(weak_file, capsys):
    assert main(["check", str(weak_file), "--json"]) == 0
    content = json.loads(capsys.readouterr().out)
    bill = sf.bill_of_materials(sf.load(weak_file))
    parts = bill[bill.kind != "total"]
    same(pd.DataFrame(content["bill"]), parts)
    assert content["mass_kg"] == pytest.approx(parts.mass_kg.sum())
    assert content["costs"] == [
        {"cost": pytest.approx(38.0), "currency": "USD", "cost_basis": bill.cost_basis.iloc[-1]}
    ]  # 0.36 m2 at 50, and 20 for the tube
    assert content["bill_leaves_out"] == list(bill.attrs["left_out"])
    assert main(["check", str(weak_file)]) == 0
    out = capsys.readouterr().out
    assert f"mass: {parts.mass_kg.sum():.2f} kg (panel " in out
    assert f"cost: 38.00 USD, indicative, for 2 of {len(parts)} rows of the bill" in out


def test_check_in_us_units(weak_file, capsys):
    assert main(["check", str(weak_file), "--units", "us"]) == 0
    mass = sf.bill_of_materials(sf.load(weak_file)).mass_kg.iloc[-1]
    assert f"mass: {mass / 0.45359237:.2f} lb (panel " in capsys.readouterr().out  # NIST SP 811


def test_check_reads_the_taps(coarse_file, capsys):
    (coarse_file.parent / "demo_taps.csv").write_text("nonsense\n")
    assert main(["check", str(coarse_file)]) == 1
    assert "demo_taps.csv" in capsys.readouterr().err


@pytest.mark.parametrize("losses", [True, False])
def test_report(weak_file, tmp_path, capsys, monkeypatch, losses):
    pytest.importorskip("typst")
    from splitterfem.output import report

    given, write = [], report.write_report
    monkeypatch.setattr(
        report,
        "write_report",
        lambda *args, **options: given.append(options["losses"]) or write(*args, **options),
    )
    place = tmp_path / "customer.pdf"
    argv = ["report", str(weak_file), "--out", str(place), "--paper", "letter", "--units", "us"]
    assert main(argv if losses else [*argv, "--no-losses"]) == 0
    if losses:
        assert "bolt 1" in list(given[0].table.lost)
    else:
        assert given == [False]
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
    assert main(["solve", text_with(coarse_file, cases=(), handling=(), buckling=())]) == 1
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
    assert "THE GROUND" not in capsys.readouterr().out
    lower = tuple(case.with_(ride_height="1 mm", rake="0 deg") for case in design.cases)
    assert main(["solve", text_with(coarse_file, cases=lower), "--case", "push on the lip"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    near = r"with \d+ N (in \d+ places, most of it )?near x, y \d{3,4}, -?\d+ mm"
    assert re.search(rf"LIES ON THE GROUND in load case 'push on the lip' {near}", said)


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
