"""What a flex test can find: moduli of the sheet, and what joints and supports give, each as a factor on its start."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from splitterfem.design import Fasteners, Part, Rib, Splitter
from splitterfem.errors import DesignError, nearest
from splitterfem.layouts.flextest_sheet import SHEET, changed_sheet, sheet_modulus
from splitterfem.model.pads import written_out
from splitterfem.model.ribs import joint_stiffness

FIELDS: Mapping[str, tuple[str, ...]] = {
    "struts": ("end_stiffness", "stiffness"),
    "stops": ("stiffness", "gap_up", "gap_down"),
    "pockets": ("clearance_up", "clearance_down"),
    "ribs": ("joint.slip_modulus", "joint.shear_modulus"),
}
"""Fields of parts that can be fitted, by list of parts."""

UNITS = {"modulus": ("GPa", 1e9), "spring rate": ("N/mm", 1e3), "length": ("mm", 1e-3), "factor": ("-", 1.0)}
"""Unit in which people read each kind of value, and that unit in SI."""

Fit = str | Mapping[str, Sequence[str]]
"""What is fitted: a name or a path; or names of one's own, each with the paths that share a factor."""


class Place(NamedTuple):
    """A field of a part: which list, which part, which field."""

    parts: str
    name: str
    field: str

    @property
    def path(self) -> str:
        """As `Splitter.with_` takes it."""
        return f"{self.parts}.{self.name}.{self.field}"


@dataclass(frozen=True)
class Parameter:
    """A positive figure of a design, found as a factor on what the design says.

    Attributes
    ----------
    name : str
        As it is asked for.
    kind : {"modulus", "spring rate", "length", "factor"}
        Of its value.
    start : float
        In SI units; one for a factor that several figures share.
    places : tuple of Place
        Fields of parts; none for the sheet.
    """

    name: str
    kind: str
    start: float
    places: tuple[Place, ...] = ()

    @property
    def of_sheet(self) -> bool:
        """Whether it belongs to the panel's sheet."""
        return not self.places

    @property
    def unit(self) -> str:
        """Unit in which people read it."""
        return UNITS[self.kind][0]

    @property
    def per_unit(self) -> float:
        """Its unit in SI."""
        return UNITS[self.kind][1]

    @cached_property
    def words(self) -> str:
        """What it is, for people."""
        if self.of_sheet:
            return SHEET[self.name]
        if len(self.places) > 1 or self.places[0].path != self.name:
            return f"{self.name} (factor on {len(self.places)} figures)"
        place = self.places[0]
        return f"{place.field.removeprefix('joint.').replace('_', ' ')} of {place.name}"


def parameters_of(splitter: Splitter, fit: Fit | Sequence[Fit]) -> tuple[Parameter, ...]:
    """Look up what is to be fitted.

    Parameters
    ----------
    splitter : Splitter
    fit : str, mapping, or sequence of these
        See :func:`splitterfem.layouts.flextest.fit_flex_test`.

    Raises
    ------
    DesignError
        If there is no such figure, it has no value to begin with, or one is fitted twice.
    """
    asked: list[tuple[str, tuple[str, ...]]] = []
    for one in [fit] if isinstance(fit, (str, Mapping)) else fit:
        pairs = one.items() if isinstance(one, Mapping) else [(one, (one,))]
        asked += [(name, (paths,) if isinstance(paths, str) else tuple(paths)) for name, paths in pairs]
    if not asked:
        raise DesignError("Nothing is to be fitted; name at least one figure, such as 'sheet'.")
    found = tuple(_parameter(splitter, name, paths) for name, paths in asked)
    _refuse_twice(found)
    return found


def _parameter(splitter: Splitter, name: str, paths: tuple[str, ...]) -> Parameter:
    if paths == (name,) and name in SHEET:
        return Parameter(name, "modulus", sheet_modulus(splitter.panel.sheet, name))
    places = tuple(_place(splitter, path) for path in paths)
    if not places:
        raise DesignError(f"'{name}' names nothing that could be fitted; give it at least one path.")
    starts = [start_of(splitter, place) for place in places]
    kinds = {_kind(place) for place in places}
    alike = len(kinds) == 1 and np.allclose(starts, starts[0], rtol=1e-12)
    return (
        Parameter(name, kinds.pop(), starts[0], places) if alike else Parameter(name, "factor", 1.0, places)
    )


def _refuse_twice(found: Sequence[Parameter]) -> None:
    names = [parameter.name for parameter in found]
    paths = [place.path for parameter in found for place in parameter.places]
    for what in (names, paths):
        twice = [one for one in what if what.count(one) > 1]
        if twice:
            raise DesignError(f"'{twice[0]}' is fitted twice; name it once.")
    if "sheet" in names and len([name for name in names if name in SHEET]) > 1:
        raise DesignError(
            "'sheet' is one factor on all moduli of the sheet; leave it out, or leave out the single moduli."
        )


def _place(splitter: Splitter, path: str) -> Place:
    """Cut a path such as "struts.inner strut.end_stiffness" into its steps."""
    parts, _, rest = path.partition(".")
    if parts not in FIELDS:
        raise DesignError(f"There is nothing to fit at '{path}'; {nearest(path, [*SHEET, *FIELDS])}")
    field = next((field for field in FIELDS[parts] if rest.endswith(f".{field}")), None)
    if field is None:
        raise DesignError(f"'{path}' cannot be fitted; of {parts} these can: {', '.join(FIELDS[parts])}.")
    place = Place(parts, rest.removesuffix(f".{field}"), field)
    known = [part.name for part in getattr(splitter, parts)]
    if place.name not in known:
        hint = nearest(place.name, known) if known else "there are none"
        raise DesignError(f"There is no '{place.name}' among the {parts}; {hint}")
    return place


def start_of(splitter: Splitter, place: Place) -> float:
    """Value that a field has in a design, in SI units.

    Raises
    ------
    DesignError
        If it has none, or zero, on which no factor has an effect.
    """
    part: Part = next(part for part in getattr(splitter, place.parts) if part.name == place.name)
    value: object = part
    for step in place.field.split("."):
        value = getattr(value, step, None)
    if (
        place.field == "joint.slip_modulus"
        and value is None
        and isinstance(part, Rib)
        and isinstance(part.joint, Fasteners)
    ):
        flow = joint_stiffness(part, splitter.panel.sheet)
        value = (flow or 0.0) * float(part.joint.pitch) / part.joint.rows
    if not isinstance(value, (int, float)) or not value > 0.0:
        found = (
            "has no value"
            if value is None
            else f"is {value:g}"
            if isinstance(value, float)
            else "is not there"
        )
        raise DesignError(
            f"'{place.path}' {found} in the design, and the fit scales what is there: give it a first guess above zero."
        )
    return float(value)


def _kind(place: Place) -> str:
    if place.field == "joint.shear_modulus":
        return "modulus"
    return "length" if place.parts == "pockets" or place.field.startswith("gap") else "spring rate"


def with_factors(
    splitter: Splitter, parameters: Sequence[Parameter], logs: NDArray[np.float64], *, source: str
) -> Splitter:
    """Return a design with every parameter times its factor.

    Parameters
    ----------
    splitter : Splitter
        With the starts.
    parameters : sequence of Parameter
    logs : ndarray, shape (p,)
        Natural logarithms of the factors.
    source : str
        Where they come from, for the sheet.

    Raises
    ------
    DesignError
        If the design cannot be built so.
    """
    made, of_sheet = splitter, dict[str, float]()
    for parameter, log in zip(parameters, logs, strict=True):
        factor = float(np.exp(log))
        if parameter.of_sheet:
            of_sheet[parameter.name] = factor
        for place in parameter.places:
            made = made.with_(place.path, factor * start_of(splitter, place))
    if not of_sheet:
        return made
    sheet = splitter.panel.sheet
    return made.with_("panel.sheet.material", changed_sheet(sheet, of_sheet, source=source))


def halves(splitter: Splitter, place: Place) -> list[Part]:
    """Parts of a design that a place stands for, mirrored pairs written out."""
    part: Part = next(part for part in getattr(splitter, place.parts) if part.name == place.name)
    return list(written_out((part,)))
