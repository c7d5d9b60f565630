"""A study before it is run: base design, parameters, load cases and measures, and how it is written down."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from splitterfem.design import LoadCase, Splitter, dumps
from splitterfem.errors import DesignError, FileError
from splitterfem.layouts.cells import Cell
from splitterfem.layouts.choices import Layout
from splitterfem.layouts.measures import Asked, asked, columns
from splitterfem.layouts.parameters import Parameter, parameters
from splitterfem.layouts.whereabouts import digest, folder_of
from splitterfem.version import __version__

FORMAT = 1
"""Version of what a study writes down."""


@dataclass(frozen=True, eq=False)
class Plan:
    """What is done with each layout of a study.

    Attributes
    ----------
    kind : str
        "sweep", "search" or another word for what makes the layouts.
    base : Splitter
    parameters : tuple of Parameter
    cases : tuple of str
        Names of the load cases that are solved.
    measures : tuple of Asked
    fresh_mesh : bool
        Whether each layout is meshed anew, as `splitterfem.build` does; otherwise layouts with the outline and the
        cut-outs of the base stand on its mesh.
    more : mapping
        What else decides which layouts are made, as plain data.
    """

    kind: str
    base: Splitter
    parameters: tuple[Parameter, ...]
    cases: tuple[str, ...]
    measures: tuple[Asked, ...]
    fresh_mesh: bool = True
    more: Mapping[str, Any] = field(default_factory=dict)

    def layout(self, cells: Sequence[Cell]) -> Layout:
        """Return the layout of a value for each parameter."""
        return Layout(self.base, self.parameters, tuple(cells))

    @property
    def columns(self) -> list[str]:
        """Columns of the table: parameters, measures, and why a layout was refused."""
        return [
            *(one.column for one in self.parameters),
            *columns(self.measures, self.cases),
            "refused",
        ]

    def measure(self, name: str) -> Asked:
        """Find a measure by its name or its column.

        Raises
        ------
        DesignError
            If it was not asked.
        """
        from splitterfem.errors import nearest

        for one in self.measures:
            if name in (one.name, one.column):
                return one
        raise DesignError(
            f"the study has no measure '{name}'; {nearest(name, (m.name for m in self.measures))}"
        )

    @cached_property
    def header(self) -> dict[str, Any]:
        """Everything as plain data, the design as the text of its file.

        Raises
        ------
        DesignError
            If the design or a parameter holds a Python function.
        """
        return {
            "splitterfem study": FORMAT,
            "version": __version__,
            "kind": self.kind,
            "parameters": [one.spec() for one in self.parameters],
            "cases": list(self.cases),
            "measures": [one.spec() for one in self.measures],
            "fresh mesh": self.fresh_mesh,
            "more": dict(self.more),
            "design": dumps(self.base),
            "folder": None if self.base.folder is None else str(self.base.folder.resolve()),
            "files": {name: digest(content) for name, content in named_files(self.base).items()},
        }

    @cached_property
    def fingerprint(self) -> str:
        """What tells two studies apart: all of the header but the folder."""
        told = {key: value for key, value in self.header.items() if key != "folder"}
        return digest(json.dumps(told, sort_keys=True, ensure_ascii=True).encode())


def plan_of(
    kind: str,
    base: Splitter,
    changes: Any,
    cases: Any,
    measures: Iterable[Any] | None = None,
    *,
    fresh_mesh: bool = True,
    more: Mapping[str, Any] | None = None,
) -> Plan:
    """Read a plan from what people give.

    Parameters
    ----------
    kind : str
    base : Splitter
    changes : mapping, or parameters
        See :func:`splitterfem.layouts.parameters.parameters`.
    cases : str, LoadCase or list of them
        Load cases of the design by name, or of one's own, which then become load cases of the design.
    measures : list, optional
        See :func:`splitterfem.layouts.measures.asked`.
    fresh_mesh : bool
    more : mapping, optional
        What else decides which layouts are made.

    Raises
    ------
    DesignError, UnitError
        If something is unknown or cannot be read.
    """
    base, names = _with_cases(base, cases)
    chosen = parameters(base, changes)
    return Plan(kind, base, chosen, names, asked(base, measures), fresh_mesh, more or {})


def _with_cases(base: Splitter, cases: Any) -> tuple[Splitter, tuple[str, ...]]:
    wanted = [cases] if isinstance(cases, (str, LoadCase)) else list(cases)
    if not wanted:
        raise DesignError("A study needs at least one load case; name one of the design.")
    own = [case for case in wanted if isinstance(case, LoadCase) and case not in base.all_cases]
    if own:
        base = base.with_(cases=(*base.cases, *own))
    names = tuple(dict.fromkeys(case.name if isinstance(case, LoadCase) else case for case in wanted))
    for name in names:
        base.case(name)
    return base, names


def plan_from(
    header: Mapping[str, Any],
    *,
    base: Splitter | None = None,
    place: Path | None = None,
    what: str = "the study",
) -> Plan:
    """Read a plan from plain data as `Plan.header` writes it.

    Parameters
    ----------
    header : mapping
    base : Splitter, optional
        In place of the design written there.
    place : Path, optional
        Of the file that it was read from.
    what : str
        Where it was read, for the sentence of an error.

    Raises
    ------
    FileError
        If it is damaged or of another version.
    """
    if header.get("splitterfem study") != FORMAT:
        raise FileError(f"{what} is not a study that this version reads; run the study again")
    try:
        design = _design_of(header, place) if base is None else base
        chosen = tuple(Parameter.from_spec(spec) for spec in header["parameters"])
        wanted = asked(design, header["measures"])
        cases = tuple(str(name) for name in header["cases"])
        return Plan(
            str(header["kind"]), design, chosen, cases, wanted, bool(header["fresh mesh"]), header["more"]
        )
    except (KeyError, TypeError, ValueError) as problem:
        raise FileError(f"{what} is damaged ({problem!s:.120}); run the study again") from None


def _design_of(header: Mapping[str, Any], place: Path | None) -> Splitter:
    data = tomllib.loads(header["design"])
    data.pop("version")
    folder = folder_of(header, data, place)
    try:
        made = Splitter.model_validate(data, context={"file": True, "folder": folder})
    except ValidationError as problem:
        raise DesignError(f"its design cannot be built: {problem.errors()[0]['msg']}") from None
    return made.in_folder(folder)


def named_files(base: Splitter) -> dict[str, bytes]:
    """Contents of the files that a design names, of pressures and of the panel's drawing, as far as they are there."""
    names = [name for case in base.cases if case.pressure is not None for name in case.pressure.files]
    if base.panel.drawing is not None:
        names.append(base.panel.drawing.file)
    return {name: place.read_bytes() for name in dict.fromkeys(names) if (place := base.path(name)).is_file()}


def difference(old: Mapping[str, Any], new: Mapping[str, Any]) -> str:
    """Say in a word or two in what two studies differ."""
    words = {
        "parameters": "set of parameters",
        "cases": "set of load cases",
        "measures": "set of measures",
        "version": "version of splitterfem",
        "kind": "kind of study",
        "design": "base design",
        "files": "set of pressure maps or drawing",
        "fresh mesh": "mesh",
        "more": "set of settings",
    }
    for key in (
        "kind",
        "design",
        "files",
        "parameters",
        "cases",
        "measures",
        "fresh mesh",
        "more",
        "version",
    ):
        if old.get(key) != new.get(key):
            return words.get(key, key)
    return "contents"
