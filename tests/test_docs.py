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

ROOT = Path(__file__).parents[1]
DOCS = ROOT / "splitterfem" / "docs"
PAGES = sorted(DOCS.glob("*.md"))


def text_of(name):
    return (DOCS / f"{name}.md").read_text("utf-8")


def run_python(name):
    """Run the Python blocks of a page one after the other, as a reader would."""
    space = {}
    for number, block in enumerate(blocks_of(text_of(name), "python")):
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
