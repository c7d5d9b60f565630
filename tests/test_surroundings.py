"""The same figures whatever the machine is like: locale, paths, line ends, byte order marks, no display, no fonts."""

from __future__ import annotations

import base64
import locale
import os
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from faults import POSIX
from tiny_panel import tiny_panel

import splitterfem as sf
from splitterfem.aero import read_surface
from splitterfem.aero._base64 import first_piece
from splitterfem.cli import main
from splitterfem.output import files

BASE = Path(__file__).parent / "bad_input" / "base"
"""Small files of every kind, all sound."""

HERE = Path(__file__).parent


# --- locale, display, fonts, home ---------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def german(tmp_path_factory):
    """Settings with which a process gets a locale with a decimal comma; one is made where the system has none."""
    for name in ("de_DE.UTF-8", "de_DE.utf8", "fr_FR.UTF-8", "nl_NL.UTF-8"):
        before = locale.setlocale(locale.LC_ALL)
        try:
            locale.setlocale(locale.LC_ALL, name)
        except locale.Error:
            continue
        finally:
            locale.setlocale(locale.LC_ALL, before)
        return {"LC_ALL": name}
    place = tmp_path_factory.mktemp("locales") / "de_DE.UTF-8"
    maker = shutil.which("localedef")
    if maker is None:
        pytest.skip("the system has no locale with a decimal comma, and no localedef to make one")
    subprocess.run([maker, "-i", "de_DE", "-f", "UTF-8", str(place)], capture_output=True, check=False)
    settings = {"LC_ALL": "de_DE.UTF-8", "LOCPATH": str(place.parent)}
    taken = 'import locale; locale.setlocale(locale.LC_ALL, "")'
    if subprocess.run(
        [sys.executable, "-c", taken], env=settings, capture_output=True, check=False
    ).returncode:
        pytest.skip("the system has no locale with a decimal comma, nor what one is made of")
    return settings


STRANGE = """
import json, locale, sys
locale.setlocale(locale.LC_ALL, "")
comma = locale.localeconv()["decimal_point"]
import splitterfem as sf
from splitterfem.output.bundle import write_bundle
from splitterfem.output.report import write_report
from pathlib import Path
splitter = sf.load(sys.argv[1])
out = Path(sys.argv[2])
model = sf.build(splitter)
solution = sf.solve(model, "lean")
write_bundle([solution], out, also=("xdmf", "design"))
write_report([solution], out / "report.pdf", losses=False, behaviour=False)
print(json.dumps([comma, solution.max_sag]))
"""


def run(folder: Path, environment: dict[str, str], *, home: dict[str, str]) -> tuple[str, dict[str, bytes]]:
    """Write files in a process of its own; returns its decimal point, and the files' contents."""
    folder.mkdir(parents=True)
    sf.save(tiny_panel(), folder / "design.toml")
    done = subprocess.run(
        [sys.executable, "-c", STRANGE, str(folder / "design.toml"), str(folder / "out")],
        env=environment | home | {"PYTHONPATH": str(HERE.parent), "SOURCE_DATE_EPOCH": "1700000000"},
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=200,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    import json

    point, sag = json.loads(done.stdout)
    assert 0.0 < sag < 0.1
    return point, {place.name: place.read_bytes() for place in (folder / "out").iterdir()}


@POSIX
def test_a_decimal_comma_no_display_no_fonts_no_home_and_a_strange_folder_change_nothing(tmp_path, german):
    """Files are the same to the last byte; fonts come with the packages, and no window is opened."""
    pytest.importorskip("typst")
    kept = {
        name: os.environ[name]
        for name in ("PATH", "LD_LIBRARY_PATH", "COVERAGE_PROCESS_START")
        if name in os.environ
    }
    usual = kept | {"LC_ALL": "C.UTF-8", "HOME": str(tmp_path)}
    empty = {"HOME": "/nonexistent", "FONTCONFIG_FILE": "/dev/null", "XDG_CONFIG_HOME": "/nonexistent"}
    point, plain = run(tmp_path / "plain", usual, home={"MPLBACKEND": "Agg"})
    assert point == "."
    point, other = run(tmp_path / "Größe 车 & co's\tfolder", kept, home=german | empty)
    assert point == ","
    assert sorted(other) == sorted(plain)
    assert [name for name in plain if plain[name] != other[name]] == []


# --- paths --------------------------------------------------------------------------------------------------------

NAMES = [
    "with space",
    "Größe",
    "分流板",
    "e\u0301clair",
    'it\'s "quoted"',
    "dots.and.toml",
    "-dash",
    "#hash%20",
]


@POSIX
@pytest.mark.parametrize("name", NAMES)
def test_any_name_of_a_folder_and_of_a_file(name, tmp_path, capsys):
    folder = tmp_path / name
    folder.mkdir()
    for source in BASE.iterdir():
        shutil.copy(source, folder)
    design = folder / f"{name}.toml"
    (folder / "club.toml").rename(design)
    plain = sf.load(BASE / "club.toml")
    assert sf.load(design) == plain
    assert main(["check", str(design), "--json"]) == 0
    capsys.readouterr()
    place = folder / f"{name}.csv"
    files.write_text(place, "x\n1\n")
    assert pd.read_csv(place)["x"].tolist() == [1]
    file = folder / f"{name}.jsonl"
    study = sf.study.sweep(tiny_panel(), {"panel.sheet.thickness": ["9 mm"]}, "lean", file=file)
    assert sf.study.read(file).table.equals(study.table)


@POSIX
def test_a_name_as_long_as_may_be_and_one_that_is_too_long(tmp_path, capsys):
    longest = tmp_path / ("n" * 251 + ".csv")  # NAME_MAX is 255 bytes on the usual file systems
    files.write_text(longest, "x\n")
    assert longest.read_text() == "x\n"
    wide = tmp_path / ("ü" * 125 + ".csv")  # 254 bytes
    files.write_text(wide, "x\n")
    long_design = tmp_path / ("d" * 250 + ".toml")
    sf.save(tiny_panel(), long_design)
    assert sf.load(long_design) == tiny_panel()
    for place in (tmp_path / ("n" * 300 + ".csv"), tmp_path / ("n" * 200 + "/") / ("m" * 5000)):
        with pytest.raises(sf.FileError) as problem:
            files.write_text(place, "x\n")
        assert "\n" not in str(problem.value)
    with pytest.raises(sf.FileError, match="cannot be written: file name too long; choose a shorter name"):
        files.write_text(tmp_path / ("n" * 300 + ".csv"), "x\n")
    with pytest.raises(sf.FileError, match="file name too long"):
        sf.study.sweep(tiny_panel(), {"panel.sheet.thickness": ["9 mm"]}, "lean", file=tmp_path / ("s" * 300))
    for reader in (sf.load, sf.study.read):
        with pytest.raises(sf.FileError):
            reader(tmp_path / ("n" * 300))
    assert main(["solve", "n" * 5000]) == 1
    assert len(capsys.readouterr().err.splitlines()) == 1


@POSIX
def test_a_deep_folder(tmp_path):
    deep = tmp_path.joinpath(*["folder of some length"] * 100)
    deep.mkdir(parents=True)
    assert len(str(deep)) > 2000
    sf.save(tiny_panel(), deep / "design.toml")
    assert sf.load(deep / "design.toml") == tiny_panel()


# --- text files ---------------------------------------------------------------------------------------------------

BOM = b"\xef\xbb\xbf"
ENDS = {"LF": b"\n", "CRLF": b"\r\n"}


def study_of(folder: Path) -> object:
    from splitterfem.layouts.studyfile import read_study_file

    return repr(read_study_file(folder / "study.toml", sf.load(folder / "club.toml")))


def flex_of(folder: Path) -> object:
    from splitterfem.layouts.flextest_file import read_flex_test

    return repr(read_flex_test(folder / "readings.csv"))


def air_of(folder: Path, design: str, case: str) -> object:
    from splitterfem.model.airload import pressure_field

    splitter = sf.load(folder / design)
    field = pressure_field(splitter, splitter.case(case))
    return repr(np.asarray(getattr(field, "values", 0.0)).tolist())


READERS = {
    "club.toml": lambda folder: sf.load(folder / "club.toml"),
    "taps.csv": lambda folder: air_of(folder, "club.toml", sf.load(folder / "club.toml").cases[0].name),
    "offsets.csv": lambda folder: repr(sf.read_offsets(folder / "offsets.csv", rear="0 mm")),
    "panel.dxf": lambda folder: repr(sf.read_dxf(folder / "panel.dxf").outline),
    "readings.csv": flex_of,
    "study.toml": study_of,
    "kept.study": lambda folder: repr(_kept(folder / "kept.study")),
    "surface.vtu": lambda folder: _surface(folder / "surface.vtu"),
    "surface.vtk": lambda folder: _surface(folder / "surface.vtk"),
    "surface.msh": lambda folder: _surface(folder / "surface.msh"),
}


def _marked(place: Path, mark: bytes) -> Path:
    place.write_bytes(mark + (BASE / place.name).read_bytes())
    return place


def _kept(place: Path) -> object:
    from splitterfem.layouts.journal import read_journal

    return read_journal(place)


def _surface(place: Path) -> object:
    found = read_surface(place, "p", kind="pressure", length_unit="mm")
    return found.triangles.tolist(), found.values.tolist()


@pytest.mark.parametrize("mark", [b"", BOM], ids=["no mark", "mark"])
@pytest.mark.parametrize("end", ["LF", "CRLF"])
@pytest.mark.parametrize("name", READERS)
def test_line_ends_of_other_systems_and_byte_order_marks(name, end, mark, tmp_path):
    """Editors on Windows write both; what is read is the same as from a plain file."""
    if mark and name in ("surface.vtk", "surface.msh"):
        with pytest.raises(sf.FileError, match="it may be damaged"):  # only programs write these
            _surface(_marked(tmp_path / name, mark))
        return
    plain = tmp_path / "plain"
    shutil.copytree(BASE, plain)
    other = tmp_path / "other"
    shutil.copytree(BASE, other)
    content = (BASE / name).read_bytes().replace(b"\r\n", b"\n")
    (other / name).write_bytes(mark + content.replace(b"\n", ENDS[end]))
    read = READERS[name]
    assert str(read(other)) == str(read(plain))


# --- what versions of Python do differently -----------------------------------------------------------------------


def test_pieces_of_base64_end_at_their_padding():
    """Examples of RFC 4648, section 10, one behind the other."""
    for plain, coded in ((b"f", "Zg=="), (b"fo", "Zm8="), (b"foo", "Zm9v"), (b"foobar", "Zm9vYmFy")):
        assert first_piece(coded) == plain
        if coded.endswith("="):
            assert first_piece(f"{coded}Zm9vYg==") == plain
            assert first_piece(f"{coded}Zm9vY".encode()) == plain


def test_arrays_whose_length_is_padded_apart(tmp_path):
    """As VTK writes arrays in line: the length in bytes as a piece of its own, then the numbers."""

    def coded(array: np.ndarray) -> str:
        raw = array.tobytes()
        return (base64.b64encode(np.uint32(len(raw)).tobytes()) + base64.b64encode(raw)).decode()

    def data(array: np.ndarray, kind: str, name: str, width: int = 1) -> str:
        head = f'<DataArray type="{kind}" Name="{name}" NumberOfComponents="{width}" format="binary">'
        return f"{head}{coded(array)}</DataArray>"

    points = np.array([[0.0, 0, 0], [1000, 0, 0], [0, 1000, 0]])
    (tmp_path / "a.vtu").write_text(
        '<VTKFile type="UnstructuredGrid" version="1.0" byte_order="LittleEndian" header_type="UInt32">'
        '<UnstructuredGrid><Piece NumberOfPoints="3" NumberOfCells="1">'
        f"<Points>{data(points, 'Float64', 'Points', 3)}</Points>"
        f"<PointData>{data(np.array([1.0, 2.0, 3.0]), 'Float64', 'p')}</PointData>"
        f"<Cells>{data(np.arange(3), 'Int64', 'connectivity')}{data(np.array([3]), 'Int64', 'offsets')}"
        f"{data(np.array([5], dtype=np.uint8), 'UInt8', 'types')}</Cells>"
        "</Piece></UnstructuredGrid></VTKFile>"
    )
    found = read_surface(tmp_path / "a.vtu", "p", kind="pressure", length_unit="mm")
    np.testing.assert_allclose(np.sort(found.values.ravel()), [1.0, 2.0, 3.0])
