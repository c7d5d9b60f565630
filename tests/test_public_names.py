"""Every public name says what it takes, what it returns, how it fails, and is used in an example that runs."""

from __future__ import annotations

import inspect
import re
from pathlib import Path
from typing import Any

import pytest

import splitterfem as sf
from splitterfem import study

ROOT = Path(__file__).parents[1]
RUN = (
    "README.md",
    *(f"splitterfem/docs/{page}.md" for page in ("tutorial", "choosing", "debugging", "one_of_each")),
)
"""Pages whose Python blocks other tests run."""

NAMES: dict[str, Any] = {name: getattr(sf, name) for name in sf.__all__ if name != "study"} | {
    f"study.{name}": getattr(study, name) for name in study.__all__
}
FUNCTIONS = sorted(name for name, what in NAMES.items() if inspect.isfunction(what))
RECORDS = sorted(name for name, what in NAMES.items() if hasattr(what, "model_fields"))
OTHERS = sorted(set(NAMES) - set(FUNCTIONS) - set(RECORDS) - {"study.Fit"})
"""Classes of answers and errors; a fit is a word for types, and no class."""

NEVER_FAIL = {"bill_of_materials", "usual_handling"}
"""Functions that give an answer for every splitter there is."""


def sections(what: Any) -> dict[str, str]:
    """Sections of a docstring by heading; of a class those of the classes that it derives from too."""
    found: dict[str, str] = {}
    for one in reversed(what.__mro__ if inspect.isclass(what) else (what,)):
        if one.__module__.startswith("splitterfem"):
            text = inspect.cleandoc(one.__doc__ or "")
            parts = re.split(r"^(\w+)\n-{3,}\n", text, flags=re.MULTILINE)
            for heading, body in zip(parts[1::2], parts[2::2], strict=True):
                found[heading] = found.get(heading, "") + body + "\n"
    return found


@pytest.mark.parametrize("name", FUNCTIONS)
def test_functions_say_what_goes_in_and_out_and_how_they_fail(name: str) -> None:
    found, signature = sections(NAMES[name]), inspect.signature(NAMES[name])
    text = found.get("Parameters", "")
    rows = re.findall(r"^(\*?\S.*?)(?: :|$)", text, flags=re.MULTILINE)
    assert set(signature.parameters) <= {word.strip("* ") for row in rows for word in row.split(",")}
    if signature.return_annotation not in ("None", None):
        assert found.get("Returns"), name
    if signature.parameters and name not in NEVER_FAIL:
        assert "Raises" in found, name


@pytest.mark.parametrize("name", RECORDS)
def test_records_name_every_field(name: str) -> None:
    text = sections(NAMES[name]).get("Parameters", "")
    assert not [
        field
        for field in NAMES[name].model_fields
        if field != "kind" and not re.search(rf"^(?:.*, )?{field}\b", text, flags=re.MULTILINE)
    ]


@pytest.mark.parametrize("name", OTHERS)
def test_answers_and_errors_say_what_is_in_them(name: str) -> None:
    assert NAMES[name].__doc__
    if not issubclass(NAMES[name], Exception):
        assert {"Attributes", "Parameters"} & set(sections(NAMES[name])), name


@pytest.mark.parametrize("name", sorted(NAMES))
def test_every_name_is_used_in_an_example_that_runs(name: str) -> None:
    """On a page, in a notebook, or in its own docstring; errors are shown by what raises them."""
    texts = [(ROOT / page).read_text("utf-8") for page in RUN]
    texts += [path.read_text("utf-8") for path in sorted((ROOT / "notebooks").glob("*.ipynb"))]
    own = [line for line in (NAMES[name].__doc__ or "").splitlines() if ">>>" in line and "+SKIP" not in line]
    used = any(re.search(rf"\bsf\.{re.escape(name)}\b", text) for text in texts)
    if name.endswith("Error"):
        used = used or any(f"`{name}`" in text for text in texts)
    assert used or own, name
