"""``python -m benchmarks``: the same as ``python benchmarks/run.py``."""

from __future__ import annotations

from benchmarks.run import main

if __name__ == "__main__":
    main()
