"""What it helps to move a strut, a bolt, a pin or a stop by a little."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from splitterfem.analysis.sensitivity import Sensitivity
from splitterfem.design import Bolt, Pin, Splitter, Stop, Strut
from splitterfem.errors import DesignError, nearest
from splitterfem.fem.restraint import Restraint
from splitterfem.model import Model, written_out
from splitterfem.model.supports import model_supports

Array = NDArray[np.float64]
Movable = Strut | Bolt | Pin | Stop

STEP = 1e-4
"""Distance in m by which a part is moved to and fro: its pad is cut exactly at the edges of elements, so that its mean
motion is smooth, and rounding stays far below."""


@dataclass(frozen=True)
class Move:
    """How much better a measure gets as one part is moved.

    Attributes
    ----------
    name, kind : str
    at : tuple of float
        Where it is (x, y) in m; of a strut its foot, which moves alone.
    forward, left : float
        Gain per metre of way: m/m of sag or clearance, Hz/m of a frequency; positive is better.
    """

    name: str
    kind: str
    at: tuple[float, float]
    forward: float
    left: float

    @property
    def steepest(self) -> float:
        """Gain per metre in the best direction."""
        return float(np.hypot(self.forward, self.left))

    @property
    def direction(self) -> float:
        """Best direction in rad, from x towards y."""
        return float(np.arctan2(self.left, self.forward))


def move_gains(of: Sensitivity, names: Sequence[str] | None = None, *, pairs: bool = False) -> list[Move]:
    """Find what moving each strut, bolt, pin and stop is worth, the most first.

    With the motion ``r . x`` that a restraint measures, its force f, its bound b and its compliance c, and the force q
    of the adjoint z on it, what is to fall falls by ``f z . dr + q x . dr - q (db + f dc)``.  The changes are central
    differences of the part itself on the same mesh; no solve is needed for them.

    Parameters
    ----------
    of : Sensitivity
    names : sequence of str, optional
        Of parts, halves of mirrored pairs apart unless they move at once; all when left out.
    pairs : bool
        Whether both halves of a mirrored pair move at once, as in a mirror; place and way are those of the half as it
        is given.

    Raises
    ------
    DesignError
        If there is no such part, or a pad would leave the panel.
    """
    model = of.solution.model
    kinds = {support.name: support.kind for support in model.supports}
    given = [part for parts in _movable(model.design) for part in (parts if pairs else written_out(parts))]
    parts = {part.name: part for part in given if all(half.name in kinds for half in part.sides())}
    for name in names or ():
        if name not in parts:
            raise DesignError(
                f"There is no strut, bolt, pin or stop '{name}' to move; {nearest(name, parts)}"
            )
    chosen = parts.values() if names is None else [parts[name] for name in names]
    found = [_move(of, part, kinds[part.sides()[0].name]) for part in chosen]
    return sorted(found, key=lambda move: -move.steepest)


def _movable(design: Splitter) -> tuple[tuple[Movable, ...], ...]:
    return (design.struts, design.bolts, design.pins, design.stops)


def _move(of: Sensitivity, part: Movable, kind: str) -> Move:
    at = part.foot if isinstance(part, Strut) else part.at
    forward = left = 0.0
    halves: tuple[Movable, ...] = part.sides()
    for half, turn in zip(halves, (1.0, -1.0), strict=False):
        forward += _gain(of, half, (STEP, 0.0))
        left += _gain(of, half, (0.0, turn * STEP))
    return Move(part.name, kind, (float(at[0]), float(at[1])), forward, left)


def _gain(of: Sensitivity, part: Movable, way: tuple[float, float]) -> float:
    """Gain per metre when a part moves along a short way (m)."""
    restraints = of.solution.model.structure.restraints
    places = [i for i, restraint in enumerate(restraints) if restraint.support == part.name]
    ahead, behind = (
        restraints_of(of.solution.model, _moved(part, (sign * way[0], sign * way[1]))) for sign in (1.0, -1.0)
    )
    total = 0.0
    for place, plus, minus in zip(places, ahead, behind, strict=True):
        if (side := int(of.solution.response.side[place])) == 0:
            continue
        force, back = of.forces[place], of.adjoint_forces[place]
        row = sp.csr_array(plus.row - minus.row)
        total += float(force * (row @ of.adjoint)[0] + back * (row @ of.state)[0])
        # A vibration is about the bound, wherever that is.
        shift = 0.0 if of.square else _bound(plus, side) - _bound(minus, side)
        total -= float(back * (shift + force * (plus.compliance - minus.compliance)))
    return total / (2.0 * float(np.hypot(*way)))


def _moved(part: Movable, way: tuple[float, float]) -> Movable:
    if isinstance(part, Strut):
        return part.with_(foot=(part.foot[0] + way[0], part.foot[1] + way[1]))
    return part.with_(at=(part.at[0] + way[0], part.at[1] + way[1]))


def restraints_of(model: Model, part: Movable) -> tuple[Restraint, ...]:
    """Restraints of a part by itself on the panel of a model.

    Raises
    ------
    DesignError
        If its pad is not wholly on the panel.
    """
    field = {Strut: "struts", Bolt: "bolts", Pin: "pins", Stop: "stops"}[type(part)]
    alone = Splitter.model_validate(
        {"name": part.name, "panel": model.design.panel, "car": model.design.car, field: (part,)}
    )
    (support,) = model_supports(model.panel, model.locator, alone)
    return support.restraints


def _bound(restraint: Restraint, side: int) -> float:
    return restraint.upper if side > 0 else restraint.lower
