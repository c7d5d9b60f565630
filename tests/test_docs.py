"""The pages under splitterfem/docs keep their word: their examples run, their links and names are there."""

from __future__ import annotations

import re
import shlex
import tomllib
from pathlib import Path

import pytest
from markdown_blocks import blocks_of

import splitterfem as sf
from splitterfem import cli
from splitterfem.design import dumps
from splitterfem.output.report_places import places_table
from splitterfem.output.report_tables import support_tables
from splitterfem.output.wording import words_for

ROOT = Path(__file__).parents[1]
DOCS = ROOT / "splitterfem" / "docs"
PAGES = sorted(DOCS.glob("*.md"))


def text_of(name):
    return (DOCS / f"{name}.md").read_text("utf-8")


def run_python(name, *, until=None):
    """Run the Python blocks of a page one after the other, as a reader would, perhaps only those before a heading."""
    space = {}
    text = text_of(name) if until is None else text_of(name).partition(until)[0]
    for number, block in enumerate(blocks_of(text, "python")):
        exec(compile(block, f"{name}.md, block {number}", "exec"), space)
    return space


@pytest.fixture
def tutorial(tmp_path, monkeypatch):
    """The tutorial's text, in a folder that holds the design file which it prints."""
    for package in ("typst", "ezdxf"):
        pytest.importorskip(package)
    monkeypatch.chdir(tmp_path)
    text = text_of("tutorial")
    (design,) = blocks_of(text, "toml")
    Path("hillclimb.toml").write_text(design, "utf-8")
    return text


def test_tutorial_runs_from_its_file_to_report_and_template(tutorial, capsys):
    check = blocks_of(tutorial, "sh")[0]
    run_commands(check.splitlines())
    assert "warning" not in capsys.readouterr().out
    space = run_python("tutorial")
    out = capsys.readouterr().out
    assert re.search(r"largest sag \d+\.\d mm, smallest gap \d+\.\d mm", out)
    sags = [float(sag) for sag in re.findall(r": sag (\d+\.\d) mm, panel and ribs", out)]
    assert len(sags) == 3
    # A glued tube adds to the strain energy at any motion, so that less is left to sag (minimum of potential energy).
    assert sags[2] < sags[0]
    assert Path("report.pdf").read_bytes().startswith(b"%PDF")
    assert Path("template.dxf").stat().st_size > 0
    assert Path("compared.png").read_bytes().startswith(b"\x89PNG")
    assert sf.load("final.toml").part("cross tube") == space["tube"]


@pytest.mark.slow
def test_commands_of_the_tutorial_run_as_written(tutorial):
    """In the order of the page; Python stands between the first look and the hand-over."""
    early, late = [], []
    for block in blocks_of(tutorial, "sh"):
        (late if "final.toml" in block else early).extend(block.splitlines())
    run_commands(early)
    assert Path("first/sag.png").read_bytes().startswith(b"\x89PNG")
    run_python("tutorial")
    run_commands(late)
    assert Path("template.pdf").read_bytes().startswith(b"%PDF")
    assert "<html" in Path("report.html").read_text("utf-8")


def run_commands(lines):
    for line in lines:
        program, *arguments = shlex.split(line)
        assert program == "splitterfem"
        assert cli.main(arguments) == cli.DONE, line


@pytest.mark.slow
def test_choosing_runs_as_written(capsys):
    run_python("choosing")
    out = capsys.readouterr().out
    assert out.count("grain at") == 2
    rests = {rest for _, rest in re.findall(r"sag (\S+) mm, (\S+) mm at rest", out)}
    assert len(rests) == 1  # the linear solution knows nothing of the exponent
    sags = [float(sag) for sag in re.findall(r"exponent \S+: sag (\S+) mm", out)]
    assert sags == sorted(sags)  # suction only grows as the gap closes, the faster the larger the exponent
    assert len(sags) == 3


def test_debugging_shows_the_errors_that_it_speaks_of(capsys):
    run_python("debugging")
    out = capsys.readouterr().out
    assert "past the edge of the panel" in out
    assert "Nothing stops the panel" in out
    assert "does not follow the gap" in out
    found = re.search(r"carried (\d+) N, pushed (\d+) N, .* (\d+) N", out)
    carried, pushed, weight = map(float, found.groups())
    assert carried == pytest.approx(pushed + weight, abs=1.0)  # Newton's first law; printed to 1 N each


def test_units_axes_and_signs_hold():
    run_python("units_axes_signs")


def test_one_of_each_is_a_splitter_that_can_be_solved(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    splitter = run_python("one_of_each", until="## The answers")["splitter"]
    fields = {name for name in sf.Splitter.model_fields if name not in ("note", "currency", "buckling")}
    assert fields <= splitter.model_fields_set  # the page leaves no kind of part out
    assert sf.solve(splitter, "straight").max_sag > 0.0


@pytest.mark.slow
def test_one_of_each_runs_as_written(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert "fitted" in run_python("one_of_each")
    assert "Gradients has a table of" in capsys.readouterr().out


def test_errors_and_extras_of_the_debugging_page_are_all_there_are():
    text = text_of("debugging")
    kinds = set(re.findall(r"^\| `(\w+Error)` \|", text, flags=re.MULTILINE))
    assert kinds == {name for name in sf.__all__ if name.endswith("Error")} - {"SplitterError"}
    extras = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]["optional-dependencies"]
    table = text.partition("## A missing extra")[2].partition("##")[0]
    rows = [cell for row in table.splitlines() if row.startswith("| `") for cell in row.split("|")[1:2]]
    named = set(re.findall(r"`(\w+)`", " ".join(rows)))
    for_developers = {"test", "dev", "browser", "verify", "fuzz"}
    assert named == set(extras) - for_developers


def test_modules_that_the_page_for_developers_names_exist():
    text = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    named = set(re.findall(r"`((?:\.ci/)?\w[\w./*-]*\.(?:py|toml|typ))`", text))
    assert len(named) > 60
    places = ("", "splitterfem/**/", "tests/**/", "benchmarks/")
    assert not [name for name in sorted(named) if not any(any(ROOT.glob(at + name)) for at in places)]
    layers = next(line for line in text.splitlines() if line.startswith("Inside `fem`"))
    modules = set(re.findall(r"`(\w+)`", layers)) - {"fem"}
    assert modules <= {path.stem for path in (ROOT / "splitterfem" / "fem").glob("*.py")}


def test_a_number_takes_the_path_that_the_page_for_developers_tells(tmp_path):
    """Of the foot of a strut, from the text of a file to the tables of the report."""
    text = (ROOT / "splitterfem" / "data" / "demo.toml").read_text("utf-8")
    moved, count = re.subn(r'foot = \["905 mm"', 'foot = ["35 in"', text)
    assert count == 1
    (tmp_path / "moved.toml").write_text(moved.replace('size = "60 mm"', 'size = "120 mm"'), "utf-8")
    splitter = sf.load(tmp_path / "moved.toml")
    x = 35 * 0.0254  # the inch is 25.4 mm (ISO 80000-3, BS 350)
    assert float(splitter.part("inner strut").foot[0]) == pytest.approx(x, rel=1e-15)
    assert 'foot = ["35 in"' in dumps(splitter)
    model = sf.build(splitter)
    support = next(one for one in model.supports if one.name == "inner strut left")
    assert support.at[0] == pytest.approx(x, rel=1e-15)
    (restraint,) = support.restraints
    space = model.panel.space
    weights = restraint.row.toarray()[0, 2 : space.n_dofs : 5]
    assert space.node_points @ weights / weights.sum() == pytest.approx([x, 0.33], abs=2e-3)
    solution = sf.solve(model, "push on the lip")
    table = solution.supports.set_index("support")
    assert table.loc["inner strut left", "x_mm"] == pytest.approx(1e3 * x, rel=1e-12)
    (forces,) = support_tables([solution], words_for("us"))
    assert [row[2] for row in forces["rows"] if row[0] == "inner strut left"] == ["35.0, 13.0"]
    places = {row[0]: row for row in places_table(splitter, words_for("us"))["rows"]}
    assert places["inner strut"][2].startswith("35")


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.stem)
def test_links_lead_somewhere(page):
    for target in re.findall(r"\]\(([^)#]+)\)", page.read_text("utf-8")):
        assert (DOCS / target).is_file(), target


def test_public_names_that_pages_use_exist():
    for page in PAGES:
        text = page.read_text("utf-8")
        for name in re.findall(r"\bsf\.([A-Za-z_]\w*)", text):
            assert name in sf.__all__, f"{page.name}: sf.{name}"
        for name in re.findall(r"\bsf\.study\.(\w+)", text):
            assert name in sf.study.__all__, f"{page.name}: sf.study.{name}"


def test_reference_lists_every_public_name():
    plain, _, studies = text_of("api").partition("currentmodule:: splitterfem.study")
    listed = re.findall(r"^   (\w+)$", plain, flags=re.MULTILINE)
    assert sorted(listed) == sorted(set(sf.__all__) - {"study"})
    assert sorted(re.findall(r"^   (\w+)$", studies, flags=re.MULTILINE)) == sorted(sf.study.__all__)
