"""A study that is killed, interrupted, taken up again, and spread over processes."""

from __future__ import annotations

import json
import os
import signal
import sys

import psutil  # comes with distributed
import pytest
from study_runs import CHANGES, LAYOUTS, begun, cleared, ended_at, journal_lines, marks
from tiny_panel import CASES, same, tiny_panel

import splitterfem as sf
from splitterfem.layouts import solving
from splitterfem.layouts.workers import count_of

posix = pytest.mark.skipif(sys.platform == "win32", reason="signals as POSIX has them")


@pytest.fixture(scope="module")
def tiny():
    return tiny_panel()


@pytest.fixture(scope="module")
def whole(tiny):
    """The study without a file, in one process."""
    return sf.study.sweep(tiny, CHANGES, CASES)


def resumed(tiny, folder, **options):
    return sf.study.sweep(tiny, CHANGES, CASES, file=folder / "study.jsonl", **options)


@pytest.fixture
def counted(monkeypatch):
    """Numbers of the layouts that this process solves."""
    numbers: list[int] = []
    solved = solving.Bench.done

    def done(bench, task):
        numbers.append(task.number)
        return solved(bench, task)

    monkeypatch.setattr(solving.Bench, "done", done)
    return numbers


@posix
def test_a_killed_study_goes_on_where_it_was(tiny, whole, counted, tmp_path):
    process = begun(tmp_path)
    ended_at(process, tmp_path, 3, signal.SIGKILL)
    process.wait(30)
    assert process.returncode == -signal.SIGKILL
    before = [line["layout"] for line in journal_lines(tmp_path)]
    assert 3 <= len(before) < LAYOUTS
    study = resumed(tiny, tmp_path)
    assert sorted([*before, *counted]) == list(range(1, LAYOUTS + 1))  # each layout once
    assert study.finished
    same(study.table, whole.table)
    # what the first process solved: the layouts in the file, and at most the one that it was killed in
    assert set(before) <= set(marks(tmp_path))
    assert len(marks(tmp_path)) <= len(before) + 1


@posix
def test_control_c_keeps_what_is_done(tiny, whole, counted, tmp_path):
    process = begun(
        tmp_path, pause=2.0
    )  # so that it is not done before the signal comes, on a busy machine either
    ended_at(process, tmp_path, 2, signal.SIGINT)
    process.wait(30)
    out = (tmp_path / "said").read_text()
    assert process.returncode == 0, out
    before = [line["layout"] for line in journal_lines(tmp_path)]
    finished, rows = out.split()
    assert finished == "False"
    assert int(rows) - len(before) in (0, 1)  # one more when it was interrupted while writing
    assert 2 <= len(before) < LAYOUTS
    part = sf.study.read(tmp_path / "study.jsonl")
    assert not part.finished
    assert f"{len(before)} of {LAYOUTS} layouts, unfinished" in repr(part)
    same(part.table, whole.table.loc[before])
    study = resumed(tiny, tmp_path)
    assert counted == [number for number in range(1, LAYOUTS + 1) if number not in before]
    same(study.table, whole.table)


@posix
def test_processes_give_what_one_gives_and_survive_the_loss_of_one_of_them(tiny, whole, counted, tmp_path):
    """A study that one process began is ended by two, one of which is killed."""

    def stop(done, total, left):
        if done == 2:
            raise KeyboardInterrupt

    assert not resumed(tiny, tmp_path, progress=stop).finished
    before = [line["layout"] for line in journal_lines(tmp_path)]
    counted.clear()
    killed = []

    def kill_one(done, total, left):
        if done == len(before) + 1 and not killed:
            ours = psutil.Process().children()
            workers = [one.pid for one in ours if any("popen_loky" in word for word in one.cmdline())]
            killed.append(workers[0])
            os.kill(killed[0], signal.SIGKILL)

    study = resumed(tiny, tmp_path, workers=2, progress=kill_one)
    assert killed
    assert study.finished
    same(study.table, whole.table)
    lines = [line["layout"] for line in journal_lines(tmp_path)]
    assert sorted(lines) == list(range(1, LAYOUTS + 1))
    assert counted == []  # nothing was solved in this process


@posix
@pytest.mark.slow
def test_a_study_that_is_killed_while_processes_work_for_it_goes_on(tiny, whole, counted, tmp_path):
    process = begun(tmp_path, workers=2)
    ended_at(process, tmp_path, 2, signal.SIGKILL)
    cleared(process)
    before = [line["layout"] for line in journal_lines(tmp_path)]
    assert 2 <= len(before) < LAYOUTS
    study = resumed(tiny, tmp_path)
    assert sorted([*before, *counted]) == list(range(1, LAYOUTS + 1))
    same(study.table, whole.table)


def test_a_finished_study_is_read_and_not_solved(tiny, whole, counted, tmp_path):
    resumed(tiny, tmp_path)
    assert len(counted) == LAYOUTS
    told = []
    study = resumed(tiny, tmp_path, progress=lambda *now: told.append(now))
    assert len(counted) == LAYOUTS
    assert told[-1] == (LAYOUTS, LAYOUTS, None)
    same(study.table, whole.table)


def test_a_last_line_that_was_cut_off_is_solved_again(tiny, whole, counted, tmp_path):
    resumed(tiny, tmp_path)
    place = tmp_path / "study.jsonl"
    text = place.read_bytes()
    counted.clear()
    for cut in (1, 25):
        place.write_bytes(text[:-cut])
        same(resumed(tiny, tmp_path).table, whole.table)
        assert place.read_bytes().count(b"\n") == LAYOUTS + 1
    assert counted == [LAYOUTS, LAYOUTS]


def test_a_first_line_that_was_cut_off_is_written_again(tiny, whole, tmp_path):
    resumed(tiny, tmp_path)
    place = tmp_path / "study.jsonl"
    header = place.read_bytes().split(b"\n")[0]
    for beginning in (b"", header[:9], header[:-1]):
        place.write_bytes(beginning)
        same(resumed(tiny, tmp_path).table, whole.table)
        assert place.read_bytes().split(b"\n")[0] == header


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda tiny: (tiny.with_("panel.sheet.thickness", "10 mm"), CHANGES, CASES, {}), "base design"),
        (lambda tiny: (tiny, {("tube", "dx"): ["0 mm"]}, CASES, {}), "set of parameters"),
        (lambda tiny: (tiny, CHANGES, ["air"], {}), "set of load cases"),
        (lambda tiny: (tiny, CHANGES, CASES, {"measures": ["mass"]}), "set of measures"),
        (lambda tiny: (tiny, CHANGES, CASES, {"fresh_mesh": False}), "mesh"),
    ],
)
def test_the_file_of_another_study_is_refused_and_left_alone(tiny, tmp_path, change, said):
    file = tmp_path / "study.jsonl"
    sf.study.sweep(tiny, CHANGES, CASES, file=file, measures=None)
    before = file.read_bytes()
    design, changes, cases, options = change(tiny)
    with pytest.raises(sf.FileError, match=f"of another {said}"):
        sf.study.sweep(design, changes, cases, file=file, **options)
    assert file.read_bytes() == before


def test_a_file_that_is_no_study_is_refused_and_left_alone(tiny, tmp_path):
    file = tmp_path / "design.toml"
    sf.save(tiny, file)
    before = file.read_bytes()
    with pytest.raises(sf.FileError, match="is not the file of a study"):
        sf.study.sweep(tiny, CHANGES, CASES, file=file)
    assert file.read_bytes() == before
    with pytest.raises(sf.FileError, match="is a folder"):
        sf.study.sweep(tiny, CHANGES, CASES, file=tmp_path)
    with pytest.raises(sf.FileError, match="There is no folder"):
        sf.study.sweep(tiny, CHANGES, CASES, file=tmp_path / "none" / "study.jsonl")


def test_a_damaged_line_is_named(tiny, tmp_path):
    file = tmp_path / "study.jsonl"
    resumed(tiny, tmp_path)
    lines = file.read_text().splitlines()
    lines[2] = lines[2][:-20]
    file.write_text("\n".join(lines) + "\n")
    with pytest.raises(sf.FileError, match="line 3 is damaged"):
        resumed(tiny, tmp_path)
    lines[2] = json.dumps({"layout": 2})
    file.write_text("\n".join(lines) + "\n")
    with pytest.raises(sf.FileError, match="line 3 is no layout"):
        sf.study.read(file)


def test_two_studies_do_not_write_to_one_file(tiny, tmp_path):
    other = []

    def second(done, total, left):
        if done == 1:
            with pytest.raises(sf.FileError, match="is being written by another study"):
                resumed(tiny, tmp_path)
            other.append(sf.study.read(tmp_path / "study.jsonl"))  # reading it is well

    assert resumed(tiny, tmp_path, progress=second).finished
    assert len(other[0].table) == 1
    assert not other[0].finished


def test_pressure_maps_that_change_make_another_study(tmp_path):
    (tmp_path / "taps.csv").write_text("x_mm,y_mm,cp\n" + "\n".join(
        f"{x},{y},{0.5 + 0.001 * x}" for x in (0, 200, 400) for y in (-300, 0, 300)
    ))  # fmt: skip
    taps = {"kind": "taps", "file": "taps.csv", "quantity": "cp", "length_unit": "mm"}
    case = {"name": "air", "speed": "150 km/h", "pressure": taps}
    tiny = tiny_panel(cases=[case]).in_folder(tmp_path)
    file = tmp_path / "study.jsonl"
    changes = {("tube", "dx"): ["0 mm"]}
    assert sf.study.sweep(tiny, changes, "air", file=file).table.refused[1] == ""
    assert sf.study.read(file).design(1) == tiny
    with (tmp_path / "taps.csv").open("a") as stream:
        stream.write("\n100,100,0.9\n")
    with pytest.raises(sf.FileError, match="of another set of pressure maps or drawing"):
        sf.study.sweep(tiny, changes, "air", file=file)


@pytest.mark.parametrize("workers", [0, -1, 1.5, True, "both", 10_000])
def test_a_number_of_workers_that_is_none(tiny, workers):
    with pytest.raises(sf.DesignError, match="workers is"):
        sf.study.sweep(tiny, CHANGES, CASES, workers=workers)


def test_all_workers_is_one_for_each_core():
    assert 1 <= count_of("all") <= (os.cpu_count() or 1)
    assert count_of(None) == 1
