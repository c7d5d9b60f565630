"""The rules of the house that no linter keeps: short modules and functions, and no circles of imports."""

from __future__ import annotations

import ast
import graphlib
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
TREES = {path: ast.parse(path.read_text("utf-8")) for path in sorted((ROOT / "splitterfem").rglob("*.py"))}
MODULES = {
    ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"): path for path in TREES
}

LONGEST_MODULE, LONGEST_BODY = 300, 50
REASON = "The module is long because"
"""What stands in the docstring of a module that may be longer."""


def functions(tree: ast.Module) -> Iterator[tuple[str, int]]:
    """Names of all functions, and the lines of each without its docstring."""
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            body = node.body[1:] if ast.get_docstring(node) is not None else node.body
            if body:
                yield node.name, (body[-1].end_lineno or 0) - body[0].lineno + 1


def imported(tree: ast.Module) -> set[str]:
    """Modules of the library that a module needs before it is there itself: not those of types, nor late ones."""
    found = set()
    for node in tree.body:
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("splitterfem"):
            names = {f"{node.module}.{one.name}" for one in node.names}
            found |= {name if name in MODULES else str(node.module) for name in names}
        elif isinstance(node, ast.Import):
            found |= {one.name for one in node.names} & set(MODULES)
    return found


def test_modules_are_short_or_say_why_not() -> None:
    long = [
        f"{path.relative_to(ROOT)}: {lines}"
        for path, tree in TREES.items()
        if (lines := len(path.read_text("utf-8").splitlines())) > LONGEST_MODULE
        and REASON not in " ".join((ast.get_docstring(tree) or "").split())
    ]
    assert not long


def test_functions_are_short() -> None:
    assert not [
        f"{path.relative_to(ROOT)}, {name}: {lines}"
        for path, tree in TREES.items()
        for name, lines in functions(tree)
        if lines > LONGEST_BODY
    ]


def test_imports_run_in_no_circle() -> None:
    needs = {name: imported(TREES[path]) - {name} for name, path in MODULES.items()}
    assert sum(map(len, needs.values())) > 1000
    order = tuple(graphlib.TopologicalSorter(needs).static_order())  # CycleError names a circle
    assert set(order) == set(MODULES)


def test_what_looks_for_circles_finds_one() -> None:
    with pytest.raises(graphlib.CycleError):
        graphlib.TopologicalSorter({"a": {"b"}, "b": {"a"}}).prepare()
    tree = ast.parse("from splitterfem import errors\nif TYPE_CHECKING:\n    from splitterfem import api\n")
    assert imported(tree) == {"splitterfem.errors"}
