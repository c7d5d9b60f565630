"""Notebooks as they are stored: run to the end, in order, with their pictures, and small."""

from __future__ import annotations

import base64
import json
from pathlib import Path

import pytest

FOLDER = Path(__file__).parents[1] / "notebooks"
NOTEBOOKS = sorted(FOLDER.glob("*.ipynb"))
PNG = b"\x89PNG\r\n\x1a\n"  # ISO 15948, 5.2


@pytest.fixture(params=NOTEBOOKS, ids=lambda path: path.stem)
def notebook(request):
    return json.loads(request.param.read_text("utf-8"))


def code_cells(notebook):
    return [cell for cell in notebook["cells"] if cell["cell_type"] == "code"]


def test_notebooks_are_numbered_without_a_gap():
    assert [path.name[:2] for path in NOTEBOOKS] == [f"{number:02d}" for number in range(1, 8)]


def test_states_its_purpose_first(notebook):
    first = notebook["cells"][0]
    text = "".join(first["source"])
    assert first["cell_type"] == "markdown"
    assert text.startswith("# ")
    assert "Purpose:" in text


def test_ends_with_what_was_learned(notebook):
    headings = [
        line
        for cell in notebook["cells"]
        if cell["cell_type"] == "markdown"
        for line in "".join(cell["source"]).splitlines()
        if line.startswith("## ")
    ]
    assert headings[-1] == "## What was learned"


def test_was_run_from_top_to_bottom(notebook):
    counts = [cell["execution_count"] for cell in code_cells(notebook)]
    assert counts == list(range(1, len(counts) + 1))


def test_nothing_went_wrong(notebook):
    outputs = [output for cell in code_cells(notebook) for output in cell["outputs"]]
    assert not [output for output in outputs if output["output_type"] == "error"]
    assert not [output for output in outputs if output.get("name") == "stderr"]


def test_pictures_are_stored(notebook):
    pictures = [
        base64.b64decode("".join(output["data"]["image/png"]))
        for cell in code_cells(notebook)
        for output in cell["outputs"]
        if "image/png" in output.get("data", {})
    ]
    assert len(pictures) >= 3
    assert all(picture.startswith(PNG) for picture in pictures)


def test_every_picture_that_is_asked_for_is_shown(notebook):
    for cell in code_cells(notebook):
        last = "".join(cell["source"]).rstrip().splitlines()[-1]
        if ".plot_" in last and not last.rstrip().endswith(";"):
            assert any("image/png" in output.get("data", {}) for output in cell["outputs"]), last


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_is_small(path):
    assert path.stat().st_size < 1_000_000


def test_the_live_page_is_stored_with_figures_and_picture():
    """Widgets need a kernel: what stays without one stands beside them."""
    notebook = json.loads(next(path for path in NOTEBOOKS if path.name.startswith("02")).read_text("utf-8"))
    cell = next(cell for cell in code_cells(notebook) if "sf.explore(" in "".join(cell["source"]))
    widgets, figures, picture = (output["data"] for output in cell["outputs"])
    assert "application/vnd.jupyter.widget-view+json" in widgets
    assert "worst sag" in "".join(figures["text/html"])
    assert base64.b64decode("".join(picture["image/png"])).startswith(PNG)
