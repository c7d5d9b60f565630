"""Random, truncated and mutated files: only the library's own errors, within ten seconds and a gigabyte."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from bad_input_tools import no_warnings
from bombs import BOMBS
from fuzz_targets import FOUND, SEEDS, TARGETS, feed, prepared
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

pytest.importorskip("ezdxf")

SECONDS = 10

GIGABYTE = 1 << 30

QUIET = settings(deadline=None, suppress_health_check=list(HealthCheck))

TOKENS = [
    b"nan", b"inf", b"-0.0", b"1e308", b"-1e308", b"1e-320", b"99999999999999999999", b"-1", b"\xff\xfe", b"\0", b"[",
    b"]]", b"{", b"}", b'"', b"'", b",", b";", b"\t", b"\n", b"\r\n", b"=", b".", b"#", b"../", b"mm", b"in", b"0",
    b"SECTION", b"EOF", b"INSERT", b"$Nodes", b"\xc3\xa4", b"\xe2\x80\xae", b"a" * 300, b"[" * 50,
]  # fmt: skip
"""What is put into valid files."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return prepared(tmp_path_factory.mktemp("hostile"))


@pytest.fixture(autouse=True)
def silence(capfd: pytest.CaptureFixture[str]) -> Iterator[None]:
    """Nothing is printed, by the packages underneath neither."""
    with no_warnings():
        yield
    assert capfd.readouterr() == ("", "")


@st.composite
def mutated(draw: st.DrawFn, target: str) -> bytes:
    """A valid file with pieces taken out, doubled, cut off, and tokens and bytes put in."""
    content = bytearray(draw(st.sampled_from(SEEDS[target])))
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(content)))
        much = draw(st.integers(0, 40))
        what = draw(st.sampled_from(["token", "bytes", "drop", "double", "cut", "swap"]))
        if what == "token":
            content[at : at + draw(st.integers(0, 6))] = draw(st.sampled_from(TOKENS))
        elif what == "bytes":
            content[at:at] = draw(st.binary(max_size=8))
        elif what == "drop":
            del content[at : at + much]
        elif what == "double":
            content[at:at] = content[at : at + much] * draw(st.integers(1, 5))
        elif what == "cut":
            del content[at:]
        else:
            other = draw(st.integers(0, len(content)))
            content[at : at + much], content[other : other + much] = (
                content[other : other + much],
                content[at : at + much],
            )
    return bytes(content)


@pytest.mark.parametrize("target", TARGETS)
@given(data=st.data())
@settings(QUIET, max_examples=100)
def test_mutated_files(target: str, folder: Path, data: st.DataObject) -> None:
    feed(target, data.draw(mutated(target)), folder)


@pytest.mark.slow
@pytest.mark.parametrize("target", TARGETS)
@given(data=st.data())
@settings(QUIET, max_examples=1500)
def test_many_mutated_files(target: str, folder: Path, data: st.DataObject) -> None:
    feed(target, data.draw(mutated(target)), folder)


@pytest.mark.parametrize("target", TARGETS)
@given(content=st.binary(max_size=400))
@settings(QUIET, max_examples=40)
def test_random_bytes(target: str, folder: Path, content: bytes) -> None:
    feed(target, content, folder)


@pytest.mark.parametrize("target", TARGETS)
def test_truncated_files(target: str, folder: Path) -> None:
    for seed in SEEDS[target]:
        for end in range(0, len(seed), max(1, len(seed) // 40)):
            feed(target, seed[:end], folder)


@pytest.mark.parametrize("place", sorted(FOUND.iterdir()), ids=lambda place: place.name)
def test_what_was_found_once(place: Path, folder: Path) -> None:
    """Inputs that once came through with another error, or took too long."""
    feed(place.name.partition("-")[0], place.read_bytes(), folder)


@pytest.mark.skipif(
    sys.platform != "linux", reason="other systems count memory in other units, or not at all"
)
def test_bombs_take_neither_time_nor_memory(tmp_path: Path) -> None:
    """In a process of its own; seconds are those of the processor, bytes those of the system's books."""
    tests = Path(__file__).parent
    done = subprocess.run(
        [sys.executable, str(tests / "bombs.py"), str(tmp_path / "bombs")],
        capture_output=True,
        text=True,
        check=False,
        env=os.environ | {"OMP_NUM_THREADS": "1", "PYTHONPATH": f"{tests.parent}{os.pathsep}{tests}"},
        timeout=300,
    )
    assert (done.returncode, done.stderr) == (0, "")
    rows = [line.split("\t") for line in done.stdout.splitlines()]
    assert [row[0] for row in rows] == [
        f"{target}: {name}" for target, some in BOMBS.items() for name in some
    ]
    assert not [row for row in rows if float(row[1]) > SECONDS or int(row[2]) > GIGABYTE]
