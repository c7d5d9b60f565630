"""What can scatter: any quantity of a design by its path, and words for figures that go together."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from splitterfem.design import Fasteners, Splitter
from splitterfem.design.draft import Draft, value_at
from splitterfem.errors import DesignError, nearest
from splitterfem.layouts.cells import unit_of
from splitterfem.layouts.flextest_parameters import Place, start_of
from splitterfem.layouts.parameters import Parameter
from splitterfem.layouts.scatter_spread import Spread, spread_of
from splitterfem.layouts.ways import AtPaths, Move, way_of
from splitterfem.materials import SheetMaterial
from splitterfem.units import quantity

WORDS: Mapping[str, str] = {
    "moduli": "all moduli of the panel's sheet, by one factor",
    "strength": "all strengths of the panel's sheet, by one factor",
    "density": "density of the panel's sheet, by a factor",
    "thickness": "thickness of the panel, by a factor or a length",
    "joints": "stiffness of the joints of all ribs that slip, by one factor",
    "strut ends": "stiffness of the ends of all struts, by one factor",
    "load": "pressure and forces of the load cases, by one factor",
}
"""Words for what scatters by a factor about what the design says; thickness, which has a unit of its own, as it is."""

_THICKNESS = "panel.sheet.thickness"

_MODULI = ("E1", "E2", "G12", "G13", "G23", "E1_bending", "E2_bending")
_SHEET = "panel.sheet.material"


@dataclass(frozen=True)
class Times(AtPaths):
    """One factor on the values at several paths.

    Attributes
    ----------
    starts : tuple of float
        What the factor is on, SI.
    label : str
    """

    starts: tuple[float, ...] = ()
    label: str = ""

    @property
    def name(self) -> str:
        """What it is called when it gets no name."""
        return self.label

    def dimension(self, base: Splitter) -> str | None:
        """Kind of quantity of the values: a factor."""
        for path in self.paths:
            value_at(base, path)
        return "number"

    def apply(self, draft: Draft, given: Any, absent: frozenset[str]) -> None:
        """Put the start times the factor in, everywhere."""
        factor = float(given)
        for path, start in zip(self.paths, self.starts, strict=True):
            draft.set(path, factor * start)

    def spec(self) -> dict[str, object]:
        """Write as plain data."""
        return {"times": list(self.paths), "starts": list(self.starts), "label": self.label}

    @staticmethod
    def from_spec(spec: Mapping[str, Any]) -> Times:
        """Read from plain data as `spec` writes it."""
        return Times(tuple(spec["times"]), tuple(spec["starts"]), str(spec["label"]))


def inputs_of(
    base: Splitter, given: Mapping[Any, Any], cases: Sequence[str]
) -> tuple[Splitter, list[tuple[Parameter, Spread]]]:
    """Read what scatters and how.

    Parameters
    ----------
    base : Splitter
    given : mapping
        Distributions, see `spread_of`, by words of `WORDS`, or by what `way_of` reads: paths and moves.
    cases : sequence of str
        Load cases that "load" speaks of.

    Returns
    -------
    Splitter
        The same design with what it takes from catalogues and tables written out, so that it can be changed.
    list of (Parameter, Spread)

    Raises
    ------
    DesignError, UnitError
        If something is not there, or cannot be read.
    """
    if not given:
        raise DesignError("Nothing scatters; give at least one input, such as {'moduli': '10 %'}.")
    base = _written_out(base, given)
    found = [_input(base, key, spread, cases) for key, spread in given.items()]
    names = [parameter.name for parameter, _ in found]
    paths = [
        path for parameter, _ in found if isinstance(parameter.way, AtPaths) for path in parameter.way.paths
    ]
    for what in (names, paths):
        twice = [one for one in what if what.count(one) > 1]
        if twice:
            raise DesignError(f"'{twice[0]}' scatters twice; name it once.")
    return base, found


def _input(base: Splitter, key: Any, spread: Any, cases: Sequence[str]) -> tuple[Parameter, Spread]:
    key = _THICKNESS if key == "thickness" else key
    if isinstance(key, str) and key in WORDS:
        way: Any = _word(base, key, cases)
        now, dimension, unit = 1.0, "number", ""
    else:
        way = way_of(key)
        if not isinstance(way, (AtPaths, Move)):
            raise DesignError(f"'{way.name}' is no quantity that scatters; give a path or a move.")
        if isinstance(way, AtPaths) and "." not in way.paths[0]:
            raise DesignError(f"Nothing called '{way.paths[0]}' scatters; {nearest(way.paths[0], WORDS)}")
        dimension = way.dimension(base) or ""
        if not dimension:
            raise DesignError(f"'{way.name}' is no quantity, so it cannot scatter; name one of its figures.")
        value = 0.0 if isinstance(way, Move) else value_at(base, way.paths[0])[0]
        if value is None:
            raise DesignError(
                f"'{way.name}' has no value in the design about which it could scatter; give it one."
            )
        now = float(value)
        unit = unit_of([getattr(value, "words", value)], dimension)
    per_unit = float(quantity(f"1 {unit}", dimension)) if unit else 1.0
    found = spread_of(spread, now=now, dimension=dimension, per_unit=per_unit, name=way.name)
    return Parameter(way.name, way, unit, span=found.ends), found


def _word(base: Splitter, word: str, cases: Sequence[str]) -> Times:
    paths = _paths(base, word, cases)
    kept = [(path, value) for path in paths if (value := value_at(base, path)[0])]
    if not kept:
        raise DesignError(f"'{word}' ({WORDS[word]}): the design has nothing of the kind; leave it out.")
    return Times(tuple(path for path, _ in kept), tuple(float(value) for _, value in kept), word)


def _paths(base: Splitter, word: str, cases: Sequence[str]) -> list[str]:
    if word in ("moduli", "strength", "density"):
        material = base.panel.sheet.resolved
        if not isinstance(material, SheetMaterial):
            raise DesignError(
                f"'{word}' of a layup such as '{material.name}' is that of its plies: name them by paths."
            )
        if word == "moduli":
            return [f"{_SHEET}.{field}" for field in _MODULI]
        if word == "density":
            return [f"{_SHEET}.density", f"{_SHEET}.density_characteristic"]
        fields = () if material.strength is None else type(material.strength).model_fields
        return [f"{_SHEET}.strength.{field}" for field in fields if field != "level"]
    if word == "joints":
        fields_of = {
            "screws": "slip_modulus",
            "rivets": "slip_modulus",
            "bolts": "slip_modulus",
            "adhesive": "shear_modulus",
        }
        joined = [(rib.name, fields_of.get(rib.joint.kind)) for rib in base.ribs]
        return [f"ribs.{name}.joint.{field}" for name, field in joined if field]
    if word == "strut ends":
        return [f"struts.{strut.name}.end_stiffness" for strut in base.struts]
    own = {case.name for case in base.cases}
    missing = [name for name in cases if name not in own]
    if missing:
        raise DesignError(
            f"'load' scatters load cases written in the design, and '{missing[0]}' is a usual handling case."
        )
    return [f"cases.{name}.factor" for name in cases]


def _written_out(base: Splitter, given: Mapping[Any, Any]) -> Splitter:
    """Put records in the place of names, and figures in that of tables, where something in them scatters."""
    keys = [
        one for key in given for one in (key if isinstance(key, tuple) else (key,)) if isinstance(one, str)
    ]
    of_sheet = any(key in ("moduli", "strength", "density") or key.startswith(_SHEET) for key in keys)
    if of_sheet and isinstance(base.panel.sheet.material, str):
        base = base.with_(_SHEET, base.panel.sheet.resolved)
    for rib in base.ribs:
        path = f"ribs.{rib.name}.joint.slip_modulus"
        lacks = isinstance(rib.joint, Fasteners) and rib.joint.slip_modulus is None
        if lacks and ("joints" in keys or path in keys):
            base = base.with_(path, start_of(base, Place("ribs", rib.name, "joint.slip_modulus")))
    return base
