"""A study in a process of its own, which tests interrupt, kill, and take up again."""

from __future__ import annotations

import contextlib
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

from splitterfem.layouts import solving

CHANGES = {("tube", "dx"): ("-40 mm", "40 mm", 4), "panel.sheet.thickness": ["9 mm", "12 mm"]}
LAYOUTS = 8

_RUN = """
import signal
import sys
sys.path[:0] = [{tests!r}]
from pathlib import Path
import splitterfem as sf
from splitterfem.layouts import solving
from study_runs import CHANGES, noting
from tiny_panel import tiny_panel
if __name__ == "__main__":
    # A test run in the background of a shell has Ctrl-C switched off, and hands that on.
    signal.signal(signal.SIGINT, signal.default_int_handler)
    noting(Path({marks!r}), {pause!r})
    study = sf.study.sweep(tiny_panel(), CHANGES, ["lean", "air"], file={file!r}, workers={workers!r})
    print(study.finished, len(study.table), flush=True)
"""


def noting(marks: Path, pause: float) -> None:
    """Let every layout that is solved in this process leave a mark, and take a little longer."""
    solved = solving.Bench.done

    def done(bench, task):
        found = solved(bench, task)
        time.sleep(pause)
        with marks.open("a") as stream:
            stream.write(f"{task.number}\n")
        return found

    solving.Bench.done = done


def begun(folder: Path, *, pause: float = 0.1, workers: int = 1) -> subprocess.Popen:
    """Begin a study in a process of its own."""
    tests = str(Path(__file__).parent)
    script = folder / "run.py"
    script.write_text(
        _RUN.format(
            tests=tests,
            marks=str(folder / "marks"),
            pause=pause,
            file=str(folder / "study.jsonl"),
            workers=workers,
        )
    )
    root = str(Path(__file__).parents[1])
    path = os.pathsep.join([root, tests])
    with (folder / "said").open(
        "w"
    ) as said:  # no pipe: processes that outlive their parent would hold it open
        return subprocess.Popen(
            [sys.executable, str(script)],
            env=os.environ | {"PYTHONPATH": path},
            stdout=said,
            stderr=subprocess.STDOUT,
            start_new_session=True,
        )


def cleared(process: subprocess.Popen) -> None:
    """End what a study in a session of its own left behind."""
    with contextlib.suppress(ProcessLookupError):
        os.killpg(process.pid, signal.SIGKILL)
    process.wait(30)


def ended_at(process: subprocess.Popen, folder: Path, layouts: int, sign: signal.Signals) -> None:
    """Send a process a signal as soon as so many layouts are in the file."""
    give_up = time.monotonic() + 60.0
    while len(journal_lines(folder)) < layouts:
        assert process.poll() is None, (folder / "said").read_text()
        assert time.monotonic() < give_up
        time.sleep(0.01)
    process.send_signal(sign)


def journal_lines(folder: Path) -> list[dict]:
    """Whole lines of layouts in the study's file."""
    place = folder / "study.jsonl"
    text = place.read_text() if place.exists() else ""
    whole = text[: text.rfind("\n") + 1].splitlines()[1:]
    return [json.loads(line) for line in whole]


def marks(folder: Path) -> list[int]:
    """Layouts that were solved, in order."""
    place = folder / "marks"
    return [int(line) for line in place.read_text().split()] if place.exists() else []
