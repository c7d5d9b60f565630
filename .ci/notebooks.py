"""Execute every notebook of a folder from a clean kernel; fail on the first error."""

from __future__ import annotations

import sys
import time
from pathlib import Path

import nbformat
from nbclient import NotebookClient

for path in sorted(Path(sys.argv[1]).glob("*.ipynb")):
    start = time.perf_counter()
    notebook = nbformat.read(path, as_version=4)
    NotebookClient(notebook, timeout=600, resources={"metadata": {"path": str(path.parent)}}).execute()
    print(f"{path}: {len(notebook.cells)} cells in {time.perf_counter() - start:.1f} s")
