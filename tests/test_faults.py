"""Machines that fail: full disks, folders that may only be read, processes that are killed, two that write one file.

What is asserted everywhere: the old file or the new one, never half of one; nothing left behind but hidden ``.part``
files of killed processes; one sentence that names the file and the mend.
"""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from faults import POSIX, fill, largest_file, mounted
from study_runs import CHANGES, LAYOUTS, begun, cleared, ended_at
from tiny_panel import same, tiny_panel

import splitterfem as sf
from splitterfem.cli import main
from splitterfem.layouts.journal import read_journal
from splitterfem.output import files
from splitterfem.output.plots import save_picture
from splitterfem.output.report import write_report

CASES = ["lean", "air"]


@pytest.fixture(scope="module")
def solution():
    return sf.solve(tiny_panel(), "air")


def _report(solution, place):
    pytest.importorskip("typst")
    write_report([solution], place, losses=False, behaviour=False)


def _dxf(write):
    def written(solution, place):
        pytest.importorskip("ezdxf")
        write(solution, place)

    return written


def _shape(solution, place):
    pytest.importorskip("plotly")
    solution.to_shape_html(place)


WRITERS = {
    "report.pdf": _report,
    "report.html": _report,
    "grid.vtu": lambda solution, place: solution.to_vtu(place),
    "grid.xdmf": lambda solution, place: solution.to_xdmf(place),
    "sag.csv": lambda solution, place: solution.to_csv(place),
    "contours.csv": lambda solution, place: solution.to_csv(place, "contours"),
    "contours.dxf": _dxf(lambda solution, place: solution.to_dxf(place)),
    "design.toml": lambda solution, place: solution.to_toml(place),
    "sag.png": lambda solution, place: save_picture(solution.plot_sag(), place),
    "sag.svg": lambda solution, place: save_picture(solution.plot_sag(), place),
    "template.pdf": lambda solution, place: sf.template(solution.model.design, place),
    "template.dxf": _dxf(lambda solution, place: sf.template(solution.model.design, place)),
    "shape.html": _shape,
}
"""Every kind of file."""


def one_sentence(problem: BaseException, name: str) -> None:
    text = str(problem)
    assert "\n" not in text
    assert name in text
    assert re.search(r"; [a-z].*\.?$", text), text  # the mend stands behind a semicolon


# --- full ---------------------------------------------------------------------------------------------------------


@POSIX
@pytest.mark.parametrize("name", WRITERS)
def test_a_file_that_may_not_grow_leaves_the_old_one(name, solution, tmp_path):
    place = tmp_path / name
    place.write_text("precious")
    with largest_file(1000), pytest.raises(sf.FileError) as problem:
        WRITERS[name](solution, place)
    told = str(problem.value)
    assert "\n" not in told
    assert "file too large" in told
    assert place.read_text() == "precious"
    assert sorted(path.name for path in tmp_path.iterdir()) == [name]


@pytest.fixture
def small_disk(tmp_path):
    yield from mounted(tmp_path / "disk", "size=64k")


@pytest.mark.parametrize("name", ["grid.vtu", "report.pdf", "sag.png", "design.toml", "shape.html"])
def test_a_full_disk_leaves_the_old_file(name, solution, small_disk):
    place = small_disk / name
    place.write_text("precious")
    fill(small_disk, 0)
    with pytest.raises(sf.FileError, match="no space left on device") as problem:
        WRITERS[name](solution, place)
    one_sentence(problem.value, name)
    assert place.read_text() == "precious"
    assert sorted(path.name for path in small_disk.iterdir()) == sorted([name, "filler"])


def test_a_report_is_refused_in_a_sentence_where_there_is_no_room_to_set_it(
    solution, small_disk, tmp_path, monkeypatch
):
    pytest.importorskip("typst")
    monkeypatch.setattr("tempfile.tempdir", str(small_disk))
    monkeypatch.setenv("TMPDIR", str(small_disk))
    with pytest.raises(sf.FileError, match="no space left on device; make room there, or set TMPDIR"):
        write_report([solution], tmp_path / "report.pdf", losses=False, behaviour=False)
    assert not (tmp_path / "report.pdf").exists()
    assert list(small_disk.iterdir()) == []


def test_a_study_on_a_full_disk_goes_on_when_there_is_room(small_disk):
    """What was finished before is kept, the line that did not fit is taken back, nothing is counted twice."""
    file, counted = small_disk / "study.jsonl", []
    tiny = tiny_panel()
    whole = sf.study.sweep(tiny, CHANGES, CASES)

    def fills(done, total, left):
        counted.append(done)
        if done == 3:
            fill(small_disk, 0)

    with pytest.raises(sf.FileError, match=r"no space left on device; make room and run the study again"):
        sf.study.sweep(tiny, CHANGES, CASES, file=file, progress=fills)
    content = file.read_bytes()
    assert content.endswith(b"\n")
    _, done, _ = read_journal(file)
    assert 3 <= len(done) < LAYOUTS
    (small_disk / "filler").unlink()
    again = sf.study.sweep(tiny, CHANGES, CASES, file=file)
    assert file.read_bytes().startswith(content)
    same(again.table, whole.table)


def test_a_command_on_a_full_disk_says_so(small_disk, tmp_path, capsys):
    design = tmp_path / "tiny.toml"
    sf.save(tiny_panel(), design)
    assert main(["solve", str(design), "--case", "air", "--out", str(small_disk / "out")]) == 1
    told = capsys.readouterr().err
    assert re.fullmatch(
        r"splitterfem: .*cannot be written: no space left on device; make room on the disk .*\n", told
    )
    assert [path for path in (small_disk / "out").iterdir() if path.suffix == ".part"] == []


# --- read only ----------------------------------------------------------------------------------------------------


@pytest.fixture
def read_only(tmp_path):
    """A folder that may not be written to, for root too."""
    if sys.platform != "win32" and os.geteuid() != 0:
        folder = tmp_path / "closed"
        folder.mkdir(mode=0o555)
        yield folder
        folder.chmod(0o755)
    else:
        yield from mounted(tmp_path / "closed", "size=64k,ro")


@pytest.mark.parametrize("name", WRITERS)
def test_a_folder_that_may_only_be_read_is_told(name, solution, read_only):
    with pytest.raises(sf.FileError, match=r"read-only file system|permission denied") as problem:
        WRITERS[name](solution, read_only / name)
    one_sentence(problem.value, name)


def test_a_long_run_finds_out_at_once_that_it_cannot_write(read_only, tmp_path, capsys, monkeypatch):
    """Before anything is solved: for the study's file, and for the report of the command line."""

    def solved(*args, **kwargs):
        raise AssertionError("solved before it was known whether the answer can be written")

    monkeypatch.setattr("splitterfem.layouts.solving.Bench.done", solved)
    with pytest.raises(sf.FileError, match=r"study\.jsonl cannot be written: .*; check its folder and perm"):
        sf.study.sweep(tiny_panel(), CHANGES, CASES, file=read_only / "study.jsonl")
    pytest.importorskip("typst")
    design = tmp_path / "tiny.toml"
    sf.save(tiny_panel(), design)
    monkeypatch.setattr("splitterfem.api.build", solved)
    assert main(["report", str(design), "--out", str(read_only / "report.pdf")]) == 1
    assert "report.pdf cannot be written: " in capsys.readouterr().err


@POSIX
def test_devices_and_pipes_are_no_targets(tmp_path):
    """A device would be replaced by a file, which only root may do and nobody wants."""
    with pytest.raises(sf.FileError, match="/dev/null is a device or a pipe and not a file; give the name"):
        files.write_text("/dev/null", "x")
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(sf.FileError, match="is a device or a pipe"):
        files.write_text(tmp_path / "pipe", "x")


# --- killed -------------------------------------------------------------------------------------------------------


def in_a_child(work) -> int:
    """Run something in a copy of this process; returns the signal that ended it."""
    child = os.fork()
    if child == 0:
        try:
            work()
        finally:
            os._exit(0)
    return os.waitpid(child, 0)[1] & 0x7F


def _dies_at(target: object, name: str, *, before: bool) -> None:
    """Let this process be killed when a function is called, before or after it does its work."""
    real = getattr(target, name)

    def deadly(*args, **kwargs):
        if not before:
            real(*args, **kwargs)
        os.kill(os.getpid(), signal.SIGKILL)

    setattr(target, name, deadly)


STAGES = {
    "made": (os, "open", False),
    "half written": (Path, "write_bytes", False),
    "not on the disk": (os, "fsync", True),
    "on the disk": (os, "fsync", False),
    "about to replace": (os, "replace", True),
    "replaced": (os, "replace", False),
}


@POSIX
@pytest.mark.filterwarnings("ignore:.*multi-threaded, use of fork:DeprecationWarning")
@pytest.mark.parametrize("stage", STAGES)
@pytest.mark.parametrize("name", ["sag.csv", "grid.vtu", "grid.xdmf", "design.toml"])
def test_killed_at_any_stage_of_writing(stage, name, solution, tmp_path):
    place = tmp_path / name
    WRITERS[name](solution, place)
    new = place.read_bytes()
    place.write_bytes(b"old")

    def work():
        _dies_at(STAGES[stage][0], STAGES[stage][1], before=STAGES[stage][2])
        WRITERS[name](solution, place)

    ended = in_a_child(work)
    assert ended in (signal.SIGKILL, 0)
    assert place.read_bytes() in (b"old", new)
    if stage == "replaced":
        assert place.read_bytes() == new
    for left in tmp_path.iterdir():
        assert left == place or (left.name.startswith(".") and left.suffix == ".part"), left
    WRITERS[name](solution, place)  # what was left behind is in nobody's way
    assert place.read_bytes() == new


@POSIX
@pytest.mark.filterwarnings("ignore:.*multi-threaded, use of fork:DeprecationWarning")
def test_killed_at_any_moment(solution, tmp_path):
    place, wholes = tmp_path / "grid.vtu", []
    for thick in ("9 mm", "10 mm"):
        other = sf.solve(tiny_panel().with_("panel.sheet.thickness", thick), "air")
        other.to_vtu(place)
        wholes.append((other, place.read_bytes()))
    seen = set()
    for attempt in range(12):
        child = os.fork()
        if child == 0:
            try:
                while True:
                    for other, _ in wholes:
                        other.to_vtu(place)
            finally:
                os._exit(0)
        time.sleep(0.02 + 0.013 * attempt)
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        content = place.read_bytes()
        seen.add(content)
        assert content in [whole for _, whole in wholes]
    assert seen


@POSIX
@pytest.mark.filterwarnings("ignore:.*multi-threaded, use of fork:DeprecationWarning")
def test_processes_that_write_one_file_at_a_time_leave_one_of_theirs(tmp_path):
    place, contents = tmp_path / "table.csv", [bytes([65 + i]) * 300_000 for i in range(4)]
    children = []
    for content in contents:
        child = os.fork()
        if child == 0:
            try:
                for _ in range(20):
                    files.write_bytes(place, content)
            finally:
                os._exit(0)
        children.append(child)
    for child in children:
        assert os.waitpid(child, 0)[1] == 0
    assert place.read_bytes() in contents
    assert [path.name for path in tmp_path.iterdir()] == ["table.csv"]


# --- two at once --------------------------------------------------------------------------------------------------


@POSIX
def test_a_second_process_is_refused_and_nothing_is_lost_or_counted_twice(tmp_path):
    process = begun(tmp_path, pause=0.3)
    file = tmp_path / "study.jsonl"
    try:
        ended_at(process, tmp_path, 1, signal.SIGCONT)  # it works; that signal changes nothing
        with pytest.raises(sf.FileError, match="is being written by another study; wait until it ends"):
            sf.study.sweep(tiny_panel(), CHANGES, CASES, file=file)
        assert process.wait(120) == 0
    finally:
        cleared(process)
    _, done, _ = read_journal(file)
    assert sorted(done) == list(range(1, LAYOUTS + 1))
    assert len(file.read_bytes().splitlines()) == 1 + LAYOUTS
    solved = (tmp_path / "marks").read_text().split()
    assert sorted(map(int, solved)) == list(range(1, LAYOUTS + 1))


# --- what is too much -----------------------------------------------------------------------------------------------


def test_a_study_that_outgrows_its_file_stops_and_keeps_what_it_has(tmp_path, monkeypatch):
    """More than is read again is not written either."""
    from splitterfem.layouts import journal

    file = tmp_path / "study.jsonl"
    monkeypatch.setattr(journal, "MOST_LINES", 4)
    with pytest.raises(
        sf.FileError, match=r"study.jsonl is full, as nothing beyond 4 lines .* give the rest"
    ):
        sf.study.sweep(tiny_panel(), CHANGES, CASES, file=file)
    assert len(read_journal(file)[1]) == 3
    monkeypatch.setattr(journal, "MOST_LINES", 3)
    with pytest.raises(sf.FileError, match=r"has more than 3 lines; it is no study of this library"):
        read_journal(file)
    monkeypatch.setattr(journal, "MOST_BYTES", 200)
    with pytest.raises(sf.FileError, match=r"is larger than 0 MB; it is no study of this library"):
        read_journal(file)
    monkeypatch.undo()
    study = sf.study.sweep(tiny_panel(), CHANGES, CASES, file=file)
    assert len(study.table) == LAYOUTS


# --- clocks -------------------------------------------------------------------------------------------------------


def test_a_clock_that_goes_back_changes_nothing(tmp_path, monkeypatch):
    """No figure depends on the time of day: not what is kept of a study, not what is told of its progress."""
    hours, told = iter(range(10**6, 0, -1)), []
    monkeypatch.setattr(time, "time", lambda: 3600.0 * next(hours))
    file = tmp_path / "study.jsonl"
    tiny = tiny_panel()
    first = sf.study.sweep(tiny, CHANGES, CASES, file=file, progress=lambda *state: told.append(state))
    os.utime(file, (4e9, 4e9))  # the year 2096
    again = sf.study.sweep(tiny, CHANGES, CASES, file=file)
    same(first.table, again.table)
    assert [done for done, _, _ in told] == sorted(done for done, _, _ in told)
    assert all(left is None or left >= 0.0 for _, _, left in told)
    _, done, _ = read_journal(file)
    assert all(one.seconds >= 0.0 for one in done.values())


# --- extras -------------------------------------------------------------------------------------------------------

EXTRAS = {
    "report": ("typst", lambda s, place: sf.report(s.model.design, place / "r.pdf")),
    "dxf": ("ezdxf", lambda s, place: s.to_dxf(place / "c.dxf")),
    "view3d": ("plotly.graph_objects", lambda s, place: s.to_shape_html(place / "s.html")),
    "parquet": ("pyarrow", lambda s, place: _study().to_parquet(place / "s.parquet")),
    "parallel": ("joblib", lambda s, place: _study(workers=2)),
    "cluster": ("distributed", lambda s, place: _study(cluster="tcp://127.0.0.1:1")),
    "search": ("optuna", lambda s, place: _search()),
    "notebook": ("ipywidgets", lambda s, place: sf.explore(s.model.design, "air")),
}


def _study(**options):
    return sf.study.sweep(tiny_panel(), {"panel.sheet.thickness": ["9 mm"]}, "air", **options)


def _search():
    span = {"panel.sheet.thickness": ("8 mm", "10 mm")}
    return sf.study.search(tiny_panel(), span, "air", objectives=["mass"], layouts=2)


@pytest.mark.parametrize("extra", EXTRAS)
def test_a_missing_extra_names_its_command(extra, solution, tmp_path, monkeypatch):
    package, use = EXTRAS[extra]
    monkeypatch.setitem(sys.modules, package, None)
    with pytest.raises(sf.MissingExtraError, match=rf"pip install 'splitterfem\[{extra}\]'") as problem:
        use(solution, tmp_path)
    assert "\n" not in str(problem.value)
    assert list(tmp_path.iterdir()) == []


BARE = """
import sys
from importlib.machinery import PathFinder
class Without:
    find_distributions = PathFinder.find_distributions
    @staticmethod
    def find_spec(name, path=None, target=None):
        return None if name.partition(".")[0] in {missing!r} else PathFinder.find_spec(name, path, target)
sys.meta_path[sys.meta_path.index(PathFinder)] = Without
from splitterfem.cli import main
sys.exit(main({arguments!r}))
"""


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (["solve", "tiny.toml", "--case", "air", "--out", "out", "--also", "xdmf"], 0, ""),
        (["report", "tiny.toml"], 1, "pip install 'splitterfem[report]'"),
        (["solve", "tiny.toml", "--out", "out", "--also", "dxf"], 1, "pip install 'splitterfem[dxf]'"),
    ],
)
def test_without_any_extra_the_command_works_or_names_what_is_missing(arguments, code, said, tmp_path):
    sf.save(tiny_panel(), tmp_path / "tiny.toml")
    missing = {"typst", "ezdxf", "plotly", "pyarrow", "joblib", "tqdm", "distributed", "dask", "optuna",
               "ipywidgets", "IPython", "jupyterlab", "pypardiso", "h5py", "vtk", "pyvista"}  # fmt: skip
    done = subprocess.run(
        [sys.executable, "-c", BARE.format(missing=missing, arguments=arguments)],
        cwd=tmp_path,
        env=os.environ | {"PYTHONPATH": str(Path(__file__).parents[1])},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == code, done.stderr
    assert said in done.stderr
    assert len(done.stderr.splitlines()) == (1 if code else 0)
    if code == 0:
        assert (tmp_path / "out" / "solution.xdmf").stat().st_size > 10_000
