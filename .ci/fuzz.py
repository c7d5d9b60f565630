"""Feed the readers of design files, tables and drawings with mutated files for a bounded time.

Usage: ``python .ci/fuzz.py [seconds for each] [target ...]``.  Needs the extra ``fuzz``; where there is no wheel of it
for this version of Python, says so and leaves well.  An input that makes a reader fail, take more than ten seconds or
a gigabyte is left in ``build/fuzz`` under its target's name, and goes into ``tests/bad_input/found`` when it is mended.
"""

from __future__ import annotations

import contextlib
import importlib.util
import io
import os
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parent.parent
TARGETS = {
    "toml": ["tomllib", "splitterfem.design.toml_file", "splitterfem.design._record", "splitterfem.design._sentences",
             "splitterfem.design._inches", "splitterfem.design.check", "splitterfem.units"],
    "csv": ["splitterfem.design.text_table", "splitterfem.design.drawing_table", "splitterfem.design.drawing_offsets",
            "splitterfem.aero._tap_rows", "splitterfem.aero._tap_table", "splitterfem.aero.grid",
            "splitterfem.aero.taps", "splitterfem.layouts.flextest_file"],
    "dxf": ["splitterfem.design.drawing_file", "splitterfem.design.drawing_walk",
            "splitterfem.design.drawing_entities", "splitterfem.design.drawing_place",
            "splitterfem.design.drawing_chain", "splitterfem.design.drawing_loops", "ezdxf.lldxf.tagger",
            "ezdxf.lldxf.loader", "ezdxf.recover"],
}  # fmt: skip
"""What is fuzzed, and the modules in which the fuzzer watches which branches are taken."""

SECONDS = 15
LONGEST = 10
"""Seconds that a reader may take over one file."""

LARGEST_MB = 1024
"""Memory that the whole process may take."""


def main(words: list[str]) -> int:
    """Fuzz each target in a process of its own, for the fuzzer leaves the process at its end."""
    if importlib.util.find_spec("atheris") is None:
        version = ".".join(map(str, sys.version_info[:2]))
        print(
            f"fuzz: the package atheris is not installed (it has no wheel for every Python; this is {version})"
        )
        return 0
    if words[:1] == ["--inside"]:
        _inside(words[1], words[2:])
    seconds = int(words.pop(0)) if words and words[0].isdecimal() else SECONDS
    return max(_outside(target, seconds) for target in words or list(TARGETS))


def _outside(target: str, seconds: int) -> int:
    """Start the fuzzer on one target, from its valid files."""
    sys.path.insert(0, str(ROOT / "tests"))
    from fuzz_targets import SEEDS

    out = ROOT / "build" / "fuzz"
    out.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as corpus:
        for number, seed in enumerate(SEEDS[target]):
            (Path(corpus) / f"seed{number}").write_bytes(seed)
        done = subprocess.run(
            [
                sys.executable, __file__, "--inside", target, corpus,
                f"-max_total_time={seconds}", f"-timeout={LONGEST}", f"-rss_limit_mb={LARGEST_MB}",
                f"-artifact_prefix={out}/{target}-", "-max_len=20000", "-verbosity=0", "-print_final_stats=1",
                *([] if "SPLITTERFEM_NEW_EXAMPLES" in os.environ else ["-seed=1"]),
            ],
            cwd=ROOT,
            check=False,
        )  # fmt: skip
    print(
        f"fuzz: {target}: {'nothing found' if done.returncode == 0 else f'see build/fuzz/{target}-*'}",
        flush=True,
    )
    return int(done.returncode != 0)


def _inside(target: str, options: list[str]) -> None:
    """Fuzz one target; does not come back."""
    import atheris

    sys.path[:0] = [str(ROOT), str(ROOT / "tests")]
    with contextlib.redirect_stderr(io.StringIO()), atheris.instrument_imports(include=TARGETS[target]):
        import fuzz_targets
    folder = fuzz_targets.prepared(Path(tempfile.mkdtemp(prefix="fuzz")))
    atheris.Setup([sys.argv[0], *options], lambda content: fuzz_targets.feed(target, content, folder))
    atheris.Fuzz()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
