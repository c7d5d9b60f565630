"""Same input, same bytes: every kind of output from two processes that differ in seeds, threads, locale and clock.

Names of variables: SOURCE_DATE_EPOCH is that of reproducible-builds.org; PYTHONHASHSEED is Python's own.
"""

from __future__ import annotations

import datetime
import json
import os
import re
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import pandas as pd
import pytest
from csv_tools import MADE_BY

import splitterfem as sf
from splitterfem.output.origin import today
from splitterfem.output.report_front import Front

pytest.importorskip("typst")
pytest.importorskip("ezdxf")
pytest.importorskip("plotly")
pytest.importorskip("pyarrow")
pypdf = pytest.importorskip("pypdf")

HERE = Path(__file__).parent
EPOCH = "1700000000"
"""2023-11-14 22:13:20 UTC."""


def made_in(folder: Path, **environment: str) -> Path:
    """Write every kind of output in a process of its own."""
    path = os.pathsep.join([str(HERE.parent), str(HERE)])
    plain = {name: value for name, value in os.environ.items() if "_NUM_THREADS" not in name}
    made = subprocess.run(
        [sys.executable, str(HERE / "all_outputs.py"), str(folder / "home"), str(folder / "out")],
        env=plain | {"PYTHONPATH": path, "SOURCE_DATE_EPOCH": EPOCH} | environment,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert made.returncode == 0, made.stderr
    return folder / "out"


@pytest.fixture(scope="module")
def outputs(tmp_path_factory):
    """Two folders with the same outputs, of one thread and of as many as there are."""
    one, two = tmp_path_factory.mktemp("one"), tmp_path_factory.mktemp("two")
    for folder in (one, two):
        (folder / "home").mkdir()
    return (
        made_in(one, PYTHONHASHSEED="1", OMP_NUM_THREADS="1", TZ="Pacific/Auckland"),
        made_in(two, PYTHONHASHSEED="271828", TZ="America/Los_Angeles"),
    )


KINDS = {
    ".csv", ".dxf", ".html", ".json", ".parquet", ".pdf", ".png", ".svg", ".toml", ".vtu", ".xdmf",
}  # fmt: skip


def test_same_input_same_bytes(outputs):
    one, two = outputs
    names = sorted(path.name for path in one.iterdir())
    assert {Path(name).suffix for name in names} == KINDS
    assert names == sorted(path.name for path in two.iterdir())
    assert [name for name in names if _content(one / name) != _content(two / name)] == []


def _content(place: Path) -> bytes:
    """What a file has in it, but for the times that solving took."""
    return re.sub(rb'"(build|solve)_seconds": [0-9.e-]+', b"", place.read_bytes())


@pytest.fixture(scope="module")
def digits(outputs):
    """Fingerprint of the input, as the command line says it."""
    found = json.loads((outputs[0] / "solve.json").read_text())
    assert found["version"] == sf.__version__
    assert set(found["versions"]) > {"splitterfem", "numpy", "scipy"}
    assert found["versions"]["numpy"] == np.__version__
    return found["input"]


def test_every_output_says_what_it_was_made_of(outputs, digits):
    """As other programs read it: pandas, an XML reader, a PDF reader, the letters of the file."""
    folder = outputs[0]
    assert re.fullmatch("[0-9a-f]{12}", digits)
    told = f"splitterfem {sf.__version__}, input {digits}"
    whole = f"input {sf_input(folder)}"  # of the design with all its load cases
    elsewhere = {"design.toml", "taps.csv", "solve.json", "study.csv", "study.study.json", "study.parquet"}
    for place in folder.iterdir():
        if place.name in elsewhere:
            continue
        said = _SAID[place.suffix](place)
        of_case = told in said or f"input {digits}" in said
        assert of_case or whole in said, (place.name, said[:200])


def sf_input(folder: Path) -> str:
    """Fingerprint of the design with all its load cases, as the template has it."""
    found = re.search("input ([0-9a-f]{12})", _pdf(folder / "template.pdf"))
    assert found
    return found[1]


def _vtu(place: Path) -> str:
    array = ET.parse(place).getroot().find(".//FieldData/DataArray[@Name='made_by']")
    assert array is not None
    assert array.text is not None
    return bytes(int(code) for code in array.text.split()).decode()


def _pdf(place: Path) -> str:
    notes = pypdf.PdfReader(place).metadata
    return " ".join(str(value) for value in notes.values())


def _csv(place: Path) -> str:
    said = pd.read_csv(place)["made_by"].iloc[0]
    assert MADE_BY.fullmatch(said)
    return str(said)


def _text(place: Path) -> str:
    return place.read_bytes().decode("latin-1")


_SAID = {".vtu": _vtu, ".pdf": _pdf, ".csv": _csv} | dict.fromkeys(
    [".png", ".svg", ".xdmf", ".dxf", ".html", ".json"], _text
)


@pytest.mark.parametrize("kind", ["csv", "parquet"])
def test_a_study_says_what_it_was_made_of(outputs, kind):
    folder = outputs[0]
    if kind == "csv":
        about = json.loads((folder / "study.study.json").read_text())
    else:
        from pyarrow import parquet

        about = json.loads(parquet.read_schema(folder / "study.parquet").metadata[b"splitterfem study"])
    assert about["input"] == sf_input(folder)
    assert about["versions"]["splitterfem"] == sf.__version__


def test_another_input_has_another_fingerprint(outputs):
    """A digit of the sheet, or of the file that the design names, changes it."""
    home = outputs[0].parent / "home"
    from splitterfem.output.origin import input_of

    splitter = sf.load(home / "design.toml")
    before = input_of(splitter)
    assert input_of(splitter.with_("panel.sheet.thickness", "9.1 mm")) != before
    taps = home / "taps.csv"
    content = taps.read_bytes()
    taps.write_bytes(content + b"# measured again\n")
    try:
        assert input_of(sf.load(home / "design.toml")) != before
    finally:
        taps.write_bytes(content)
    assert input_of(sf.load(home / "design.toml")) == before


def test_the_day_is_that_of_the_variable(monkeypatch, outputs):
    monkeypatch.setenv("SOURCE_DATE_EPOCH", EPOCH)
    assert today() == Front().date == datetime.date(2023, 11, 14)
    assert "2023-11-14" in (outputs[0] / "report.html").read_text(encoding="utf-8")
    monkeypatch.delenv("SOURCE_DATE_EPOCH")
    assert today() == datetime.date.today()
    for wrong in ("tomorrow", "1e400", "9" * 30):
        monkeypatch.setenv("SOURCE_DATE_EPOCH", wrong)
        with pytest.raises(sf.DesignError, match=r"SOURCE_DATE_EPOCH is '.*'; give whole seconds"):
            today()


def test_no_output_names_the_machine(outputs):
    """Neither the folder nor the user's home stands in what goes to the customer."""
    for place in outputs[0].iterdir():
        if place.suffix in {".html", ".pdf", ".dxf", ".vtu", ".xdmf", ".png", ".svg"}:
            assert str(outputs[0].parent).encode() not in place.read_bytes(), place.name
