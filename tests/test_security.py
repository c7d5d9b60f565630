"""Files from strangers: nothing in them runs, nothing outside their folder is read, and no text becomes markup.

Formulas: the texts that the Open Worldwide Application Security Project names on injection through comma-separated
values.  Entities: "billion laughs", W3C's XML 1.0 with internal entities that name each other.
"""

from __future__ import annotations

import ast
import json
import os
import pickle
import shutil
import subprocess
import sys
import zlib
from pathlib import Path
from xml.etree import ElementTree as ET

import pandas as pd
import pytest
from all_outputs import CASE, small_design, write_all
from faults import POSIX
from report_tools import Page, Pdf, squeezed
from tiny_panel import tiny_panel

import splitterfem as sf
from splitterfem.cli import main
from splitterfem.output.csv_text import safe_cell, without_mark

PACKAGE = Path(sf.__file__).parent
HERE = Path(__file__).parent

# --- nothing runs -------------------------------------------------------------------------------------------------

RUNS = {"eval", "exec", "compile", "__import__", "execfile"}
LOADS = {"yaml", "shelve", "marshal", "dill", "cloudpickle", "jsonpickle", "subprocess", "ctypes", "socket"}
OWN_PROCESSES = {"layouts/cluster.py", "layouts/workers.py", "layouts/screener.py"}
"""Where pickles travel between processes that a study starts itself, and are never read from a file of a user."""


def trees():
    for place in sorted(PACKAGE.rglob("*.py")):
        yield place.relative_to(PACKAGE).as_posix(), ast.parse(place.read_text(encoding="utf-8"))


def test_no_module_runs_or_unpacks_what_it_reads():
    """As a look into the syntax of every module: calls, imports, and options of numpy and pandas."""
    found = []
    for name, tree in trees():
        for node in ast.walk(tree):
            if isinstance(node, ast.Call):
                called = node.func
                if isinstance(called, ast.Name) and called.id in RUNS:
                    found.append(f"{name}:{node.lineno} {called.id}")
                if isinstance(called, ast.Attribute) and called.attr in {"read_pickle", "system", "popen"}:
                    found.append(f"{name}:{node.lineno} {called.attr}")
                options = {option.arg for option in node.keywords} & {"allow_pickle", "shell"}
                found += [f"{name}:{node.lineno} {option}" for option in sorted(map(str, options))]
            imported = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            imported += [str(node.module)] if isinstance(node, ast.ImportFrom) else []
            for module in imported:
                top = module.partition(".")[0]
                if top in LOADS or (top == "pickle" and name not in OWN_PROCESSES):
                    found.append(f"{name}:{node.lineno} import {module}")
    assert found == []


READ = """
import sys
from pathlib import Path
import splitterfem as sf
sound, hostile = map(Path, sys.argv[1:])
sf.study.read(sound).table  # so that everything is loaded
seen = []
def hook(event, arguments):
    if event in ("os.system", "os.exec", "os.posix_spawn", "subprocess.Popen", "pickle.find_class", "exec", "compile",
                 "socket.connect", "socket.getaddrinfo", "ctypes.dlopen", "import"):
        seen.append((event, str(arguments)[:80]))
sys.addaudithook(hook)
try:
    study = sf.study.read(hostile)
    study.table
    study.design(1)
except sf.SplitterError as problem:
    print("refused:", problem)
seen = [one for one in seen if one[0] != "import"]
print("seen:", seen)
"""


class Boom:
    def __reduce__(self):
        return os.system, ("touch boom",)


def kept(folder: Path) -> Path:
    file = folder / "sound.jsonl"
    sf.study.sweep(tiny_panel(), {("tube", "dx"): ["0 mm", "10 mm"]}, "lean", file=file)
    return file


PICKLED = "\x80" + pickle.dumps(Boom(), protocol=0).decode("latin-1")

PYTHON = {"name": "x", "paths": ["__class__.__init__"], "kind": "__import__('os').system('touch boom')"}


def _naming_a_function(header: dict) -> dict:
    function = 'kind = "function"\nfunction = "os.system"'
    assert 'kind = "uniform"' in header["design"]
    return header | {"design": header["design"].replace('kind = "uniform"', function)}


SPOILT = {
    "a pickle": lambda lines: pickle.dumps(Boom()),
    "a pickle as a value": lambda lines: _with(lines, lambda header: header | {"kind": PICKLED}),
    "a class by its name": lambda lines: _with(
        lines, lambda header: header | {"more": {"py/object": "os.system", "py/reduce": ["os.system", ["touch boom"]]}}
    ),
    "a design that names a function": lambda lines: _with(lines, _naming_a_function),
    "a change that is Python": lambda lines: _with(lines, lambda header: header | {"parameters": [PYTHON]}),
    "an expression as a figure": lambda lines: b"\n".join(
        [lines[0], b'{"layout": "__import__(\'os\')", "values": {}, "measures": {}, "refused": "", "seconds": 0}', b""]
    ),
    "nested deeper than Python bears": lambda lines: lines[0][:-1] + b', "more2": ' + b"[" * 100_000 + b"\n",
}  # fmt: skip


def _with(lines: list[bytes], change) -> bytes:
    return b"\n".join([json.dumps(change(json.loads(lines[0]))).encode(), *lines[1:]])


@pytest.mark.parametrize("how", SPOILT)
def test_a_study_from_a_stranger_runs_nothing(how, tmp_path):
    """The interpreter itself tells (PEP 578) whether anything is compiled, run, loaded or connected to."""
    sound = kept(tmp_path)
    lines = sound.read_bytes().split(b"\n")
    hostile = tmp_path / "hostile.jsonl"
    hostile.write_bytes(SPOILT[how](lines))
    done = subprocess.run(
        [sys.executable, "-c", READ, str(sound), str(hostile)],
        cwd=tmp_path,
        env=os.environ | {"PYTHONPATH": str(HERE.parent)},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines()[-1] == "seen: []"
    assert not (tmp_path / "boom").exists()


def test_optuna_keeps_nothing_in_a_file(monkeypatch):
    """A search asks it with its storage in memory: no database, no pickled distributions from a file."""
    optuna = pytest.importorskip("optuna")
    asked = []
    real = optuna.create_study
    monkeypatch.setattr(optuna, "create_study", lambda **options: asked.append(options) or real(**options))
    span = {"panel.sheet.thickness": ("8 mm", "10 mm")}
    sf.study.search(tiny_panel(), span, "lean", objectives=["mass"], layouts=2)
    assert asked
    assert all("storage" not in options for options in asked)


# --- nothing outside is read --------------------------------------------------------------------------------------


@POSIX
def test_a_design_reads_nothing_outside_its_folder(tmp_path):
    folder, secret = tmp_path / "design", tmp_path / "secret.csv"
    small_design(folder)
    text = (folder / "design.toml").read_text()
    shutil.copy(folder / "taps.csv", secret)
    for path in ("../secret.csv", str(secret), "sub/../../secret.csv", "~/secret.csv", "file:///etc/passwd"):
        (folder / "design.toml").write_text(text.replace("taps.csv", path))
        with pytest.raises(sf.SplitterError):
            sf.solve(sf.load(folder / "design.toml"), CASE)
    (folder / "design.toml").write_text(text)
    (folder / "taps.csv").unlink()
    (folder / "taps.csv").symlink_to(secret)
    with pytest.raises(sf.DesignError, match=r"'taps\.csv' leads out of the folder of the design file; copy"):
        sf.solve(sf.load(folder / "design.toml"), CASE)


@POSIX
def test_another_folder_is_allowed_by_whoever_reads_the_design(tmp_path, capsys):
    """A shop keeps its maps in one place; the design still names nothing outside of what was allowed."""
    home, maps = tmp_path / "designs", tmp_path / "maps"
    plain = small_design(home)
    maps.mkdir()
    (home / "taps.csv").rename(maps / "taps.csv")
    splitter = sf.load(home / "design.toml", files_in=maps)
    assert splitter == plain
    assert splitter.folder == maps
    assert sf.solve(splitter, CASE).max_sag > 0.0
    argv = ["solve", str(home / "design.toml"), "--case", CASE, "--json"]
    assert main([*argv, "--files-in", str(maps)]) == 0
    capsys.readouterr()
    assert main(argv) == 1
    assert "taps.csv" in capsys.readouterr().err
    (maps / "taps.csv").rename(tmp_path / "taps.csv")
    (maps / "taps.csv").symlink_to(tmp_path / "taps.csv")
    assert main([*argv, "--files-in", str(maps)]) == 1
    assert "leads out of the folder" in capsys.readouterr().err
    with pytest.raises(sf.FileError, match="there is no folder nowhere for the files that design"):
        sf.load(home / "design.toml", files_in="nowhere")


def test_a_study_has_no_other_files_of_the_machine_read(tmp_path):
    """The folder that a study's file names is used only if the files there are those that the study began with."""
    home, away = tmp_path / "home", tmp_path / "away"
    splitter = small_design(home)
    file = home / "study.jsonl"
    sf.study.sweep(splitter, {"panel.sheet.thickness": ["9 mm"]}, CASE, file=file)
    header = json.loads(file.read_bytes().split(b"\n")[0])
    assert header["folder"] == "."
    shutil.copytree(home, away)
    assert sf.study.read(away / "study.jsonl").design(1).folder == away
    secret = tmp_path / "secret"
    secret.mkdir()
    (secret / "taps.csv").write_text("x_mm,y_mm,cp\nmy password is,swordfish,1\n")
    lines = file.read_bytes().split(b"\n")
    hostile = tmp_path / "mail" / "study.jsonl"
    hostile.parent.mkdir()
    for folder in (str(secret), "../secret"):
        hostile.write_bytes(_with(lines, lambda header, folder=folder: header | {"folder": folder}))
        design = sf.study.read(hostile).design(1)
        assert design.folder == hostile.parent
        with pytest.raises(sf.FileError) as problem:
            sf.solve(design, CASE)
        assert "swordfish" not in str(problem.value)


def test_entities_that_multiply_are_refused(tmp_path):
    entities = "".join(f'<!ENTITY a{i} "{f"&a{i - 1};" * 10}">' for i in range(1, 12))
    place = tmp_path / "a.vtu"
    place.write_text(
        f'<!DOCTYPE x [<!ENTITY a0 "{"lol" * 10}">{entities}<!ENTITY f SYSTEM "file:///etc/passwd">]>'
        '<VTKFile type="UnstructuredGrid" version="1.0"><UnstructuredGrid><Piece NumberOfPoints="&a11;" '
        'NumberOfCells="1"><Points>&f;</Points></Piece></UnstructuredGrid></VTKFile>'
    )
    from splitterfem.aero import read_surface

    with pytest.raises(sf.FileError) as problem:
        read_surface(place, "p", kind="pressure", length_unit="mm")
    assert "root:" not in str(problem.value)


# --- no text becomes markup ---------------------------------------------------------------------------------------

SCRIPT = "<script>alert(1)</script>"
NASTY = f"=cmd|'!A0{SCRIPT}#sys.inputs $x$%%c-->"
"""As long as a name may be."""
ENTITY = f"@SUM(1)<img src=x onerror=alert(2)>&#x3c;b&gt;]]>{SCRIPT}"
"""A longer text."""


@pytest.fixture(scope="module")
def nasty(tmp_path_factory):
    """Every kind of output of a design whose texts are all hostile."""
    for package in ("typst", "ezdxf", "plotly", "pyarrow", "pypdf"):
        pytest.importorskip(package)
    home = tmp_path_factory.mktemp("nasty")
    plain = tiny_panel()
    sheet = {"material": {"name": _named("M"), "kind": "isotropic", "E1": "9 GPa", "nu12": 0.3,
                          "density": "600 kg/m^3", "source": ENTITY}, "thickness": "9 mm"}  # fmt: skip
    splitter = small_design(
        home,
        name=NASTY,
        note=ENTITY,
        ribs=[plain.ribs[0].with_(name=_named("R"))],
        bolts=[bolt.with_(name=_named(f"B{i}")) for i, bolt in enumerate(plain.bolts)],
        panel=plain.panel.with_(sheet=sheet),
        cases=[plain.cases[0].with_(name=_named("L")), plain.cases[1].with_(name=_named("A"))],
    )
    splitter = splitter.with_(cases=[case for case in splitter.cases if case.name != CASE] + [
        splitter.case(CASE).with_(name=NASTY)])  # fmt: skip
    write_all(splitter, NASTY, home / "out")
    return home / "out"


def _named(mark: str) -> str:
    return NASTY.replace("=cmd", f"={mark}")


def test_pages_hold_texts_as_texts(nasty):
    """No tag, attribute or address in the report that the house does not write; its texts are there to be read."""
    page = Page((nasty / "report.html").read_text(encoding="utf-8"))
    assert {"script", "iframe", "object", "embed", "link", "form", "a"} & set(page.tags) == set()
    assert [name for _, name, _ in page.attributes if name.startswith("on")] == []
    assert all(source.startswith("data:image/") for source in page.values("img", "src"))
    assert squeezed(NASTY) in page.text
    assert squeezed(ENTITY) in page.text


def test_the_page_that_turns_carries_its_data_escaped(nasty):
    text = (nasty / "shape.html").read_text(encoding="utf-8")
    assert SCRIPT not in text
    assert "<img src=x" not in text
    assert "default-src 'none'" in text.partition("</head>")[0].replace("&#x27;", "'")
    loaded = [tag for tag in text.split("<script")[1:] if "src=" in tag.partition(">")[0]]
    assert loaded == []


def test_the_printed_report_shows_them_as_they_are(nasty):
    assert squeezed("=cmd|'!A0") in Pdf(nasty / "report.pdf").text
    assert "#sys.inputs" in Pdf(nasty / "report.pdf").text
    for name in ("report.pdf", "template.pdf", "sag.pdf"):
        content = (nasty / name).read_bytes()
        for part in content.split(b"stream\n")[1:]:
            try:
                content += zlib.decompress(part)
            except zlib.error:
                continue
        assert b"/JavaScript" not in content
        assert b"/Launch" not in content


def test_no_cell_is_a_formula(nasty):
    for place in nasty.glob("*.csv"):
        table = pd.read_csv(place, dtype=str, keep_default_na=False)
        cells = [*table.columns, *(cell for column in table for cell in table[column])]
        starts = {cell[0] for cell in cells if cell and cell[0] in "=@\t\r"}
        assert starts == set(), place.name
        for cell in cells:
            if cell[:1] in ("+", "-") and len(cell) > 1:
                float(cell.split()[0])


@pytest.mark.parametrize(
    "text", ["=1+1", "@SUM(1)", "+1+1", "-2+3+cmd|' /C calc'!A0", "\t=1", "\r=1", "'=1", "''=x"]
)
def test_formulas_are_marked_and_come_back(text):
    assert safe_cell(text) == f"'{text}"
    assert without_mark(str(safe_cell(text))) == text


@pytest.mark.parametrize(
    "text", ["-30 mm", "+1.5e-3", "-", "12 mm", "", "it's", "'quoted'", "strut left", "-1/2 in"]
)
def test_other_texts_stay_as_they_are(text):
    assert safe_cell(text) in (text, f"'{text}")
    assert without_mark(str(safe_cell(text))) == text


def test_a_study_with_hostile_values_comes_back(tmp_path):
    splitter = tiny_panel()
    flat = {"shape": "flat", "width": "40 mm", "height": "6 mm"}
    changes = {"ribs.tube.section": {NASTY: flat, "=1+1": flat}}
    study = sf.study.sweep(splitter, changes, "lean", measures=["mass"])
    place = study.to_csv(tmp_path / "s.csv")
    assert "\n1,=" not in place.read_text()
    again = sf.study.read(place)
    pd.testing.assert_frame_equal(again.table, study.table)


def test_other_formats_are_whole(nasty):
    """Readers of XML and of DXF take the files, and find the texts where texts belong."""
    import ezdxf

    for name in ("solution.vtu", "solution.xdmf", "sag.svg", "shape.svg"):
        root = ET.parse(nasty / name).getroot()
        assert not [node for node in root.iter() if str(node.tag).endswith("script")]
    for name in ("contours.dxf", "template.dxf"):
        document = ezdxf.readfile(nasty / name)
        assert not document.audit().has_errors
        texts = [text.dxf.text for text in document.modelspace().query("TEXT")]
        assert any("cmd" in text for text in texts)
        assert not any("%%" in text or "\\U+" in text for text in texts)
    json.loads((nasty / "study.study.json").read_text())
    again = sf.load(nasty / "design.toml")
    assert again.name == NASTY
