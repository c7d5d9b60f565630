"""Figures of a design by which something is differentiated: where parts are, and how large they are."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from splitterfem.design import Rib, Splitter, Strut
from splitterfem.errors import DesignError, nearest

Array = NDArray[np.float64]

STEP = 2e-6
"""Step in m by which a place is varied: what a line adds bends sharply with every element that it enters or leaves."""

SHARE = 1e-3
"""Step of a size over the size: the torsion of a section is found with a mesh of its own, which leaves some noise."""

WAYS = {"dx": (1.0, 0.0), "dy": (0.0, 1.0)}
MOVABLE = ("ribs", "struts", "bolts", "pins", "pockets", "stops")


@dataclass(frozen=True)
class Parameter:
    """One figure of a design.

    Attributes
    ----------
    name : str
        As it is asked for: ``"cross tube dx"``, ``"panel.sheet.thickness"``.
    value : float
        In SI units; nan for the way of a whole part.
    unit : str
        "m" of lengths, else "SI".
    part : str
        Whose whole place it is; empty for a path.
    way : tuple of float
        Direction in which a part goes.
    """

    name: str
    value: float
    unit: str
    part: str = ""
    way: tuple[float, float] = (0.0, 0.0)

    @property
    def of_place(self) -> bool:
        """Whether it is where something is, not how large."""
        steps = self.name.split(".")
        return bool(self.part) or steps[-1] in ("x", "y", "z")

    @property
    def step(self) -> float:
        """Step by which it is varied."""
        return STEP if self.of_place else SHARE * abs(self.value)

    def changed(self, design: Splitter, by: float) -> Splitter:
        """Return a design in which it is larger by a little, in SI units.

        Raises
        ------
        DesignError
            If the design cannot be so.
        """
        if self.part:
            return design.moved(self.part, dx=by * self.way[0], dy=by * self.way[1])
        return design.with_(self.name, self.value + by)

    def derivative(self, of: Callable[[float], Array]) -> Array:
        """Differentiate an array that depends on how much larger it is, by differences of second order.

        What a line adds can jump as it passes an edge of the mesh, and many ribs lie on one: so places are varied to
        either side without the middle, which both sides have their own value at.

        Raises
        ------
        DesignError
            If the design can be changed neither both ways nor one way.
        """
        h = self.step
        if not self.of_place:
            return self._central(of, h)
        try:
            return np.asarray((of(2.0 * h) - of(h) + of(-h) - of(-2.0 * h)) / (2.0 * h))
        except DesignError:
            return self._one_sided(of, h)

    def _central(self, of: Callable[[float], Array], h: float) -> Array:
        try:
            return np.asarray((of(h) - of(-h)) / (2.0 * h))
        except DesignError:
            return self._one_sided(of, h)

    def _one_sided(self, of: Callable[[float], Array], h: float) -> Array:
        """Differences to the side on which the design can be built."""
        for side in (h, -h):
            try:
                a, b, c = (of(k * side) for k in (1.0, 2.0, 3.0))
            except DesignError as problem:
                refusal = problem
            else:
                return np.asarray((-2.5 * a + 4.0 * b - 1.5 * c) / side)
        raise refusal


def parameters(design: Splitter, by: Sequence[str] | None) -> list[Parameter]:
    """Find the figures that are asked for; all places of parts and the sheet's thickness when nothing is.

    Parameters
    ----------
    design : Splitter
    by : sequence of str, optional
        Names of parts for all their places; a name with "dx" or "dy" behind it for the way of the whole part,
        half of a pair or the pair as in a mirror; paths as for `Splitter.with_`.

    Raises
    ------
    DesignError
        If there is no such part or path, or no figure above or below zero at its end.
    """
    if by is None:
        by = [part.name for field in MOVABLE for part in getattr(design, field)] + ["panel.sheet.thickness"]
    return [one for name in by for one in _asked(design, name)]


def _asked(design: Splitter, name: str) -> list[Parameter]:
    halves = [half.name for field in MOVABLE for part in getattr(design, field) for half in part.sides()]
    known = {part.name for field in MOVABLE for part in getattr(design, field)} | set(halves)
    if name in known:
        return [*(_way(name, way) for way in WAYS), *(_path(design, path) for path in _ends(design, name))]
    part, _, way = name.rpartition(" ")
    if way in WAYS and part in known:
        return [_way(part, way)]
    if "." not in name:
        meant = nearest(part if way in WAYS else name, known)
        raise DesignError(f"There is no part '{name}' with a place; {meant}")
    return [_path(design, name)]


def _way(part: str, way: str) -> Parameter:
    return Parameter(f"{part} {way}", float("nan"), "m", part, WAYS[way])


def _ends(design: Splitter, name: str) -> list[str]:
    """Paths to the ends of a rib, and to foot and head of a strut; none for a half of a pair, which has no path."""
    part = design.part(name)
    if isinstance(part, Rib) and part in design.ribs:
        return [f"ribs.{name}.points.#{end}.{axis}" for end in (1, len(part.points)) for axis in "xy"]
    if isinstance(part, Strut) and part in design.struts:
        return [
            f"struts.{name}.{end}.{axis}" for end, axes in (("foot", "xy"), ("head", "xyz")) for axis in axes
        ]
    return []


def _path(design: Splitter, path: str) -> Parameter:
    value = design.at(path)
    if not isinstance(value, (int, float)) or isinstance(value, bool) or not np.isfinite(value):
        raise DesignError(
            f"'{path}' is not a figure, so that there is no derivative by it: name a figure below it."
        )
    made = Parameter(path, float(value), "SI")
    if not made.of_place and value == 0.0:
        raise DesignError(f"'{path}' is zero, which says nothing about its size: give it a value first.")
    try:
        design.with_(path, f"{float(value)!r} m")
    except DesignError:
        return made
    return Parameter(path, float(value), "m")
