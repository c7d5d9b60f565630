"""Accuracy and speed in one command: ``python benchmarks/run.py`` (or ``python -m benchmarks``).

Prints tables and saves them as ``results.json`` and ``RESULTS.md``; ``--help`` tells what can be chosen.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path


def main() -> None:
    """Begin with one thread for linear algebra in every library, before any of them is loaded."""
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    here = Path(__file__).resolve().parent
    if Path(sys.path[0]).resolve() == here:
        sys.path[0] = str(here.parent)  # so that nothing in this folder hides a library of the same name
    from benchmarks.command import main as command

    command()


if __name__ == "__main__":
    main()
