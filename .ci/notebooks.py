"""Execute every notebook of a folder from a clean kernel; fail on the first error.

With ``--store`` the outputs are written back into the notebooks, so that they show without a kernel.
"""

from __future__ import annotations

import argparse
import time
from pathlib import Path

import nbformat
from nbclient import NotebookClient

parser = argparse.ArgumentParser(description=__doc__)
parser.add_argument("folder", type=Path)
parser.add_argument("--store", action="store_true", help="write the outputs into the notebooks")
arguments = parser.parse_args()

for path in sorted(arguments.folder.glob("*.ipynb")):
    start = time.perf_counter()
    notebook = nbformat.read(path, as_version=4)
    NotebookClient(
        notebook, timeout=600, record_timing=False, resources={"metadata": {"path": str(path.parent)}}
    ).execute()
    if arguments.store:
        # The version of Python that ran it is nobody's business and would change from machine to machine.
        notebook.metadata.pop("language_info", None)
        nbformat.write(notebook, path)
    print(f"{path}: {len(notebook.cells)} cells in {time.perf_counter() - start:.1f} s")
