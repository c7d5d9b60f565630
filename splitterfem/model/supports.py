"""Supports of a design as restraints of the panel."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from splitterfem.design import Bolt, Pin, RearPocket, Splitter, Stop, Strut
from splitterfem.fem.locate import Locator
from splitterfem.fem.panel import Panel
from splitterfem.fem.restraint import FREE, Restraint, held_directions, mean_rows, pad_samples, pocket, strut
from splitterfem.model.pads import pad_polygon, written_out

Array = NDArray[np.float64]
Kind = Literal["strut", "bolt", "pin", "rear pocket", "stop"]
Holder = Strut | Bolt | Pin | RearPocket | Stop
"""A part of a design that holds the panel."""


@dataclass(frozen=True)
class ModelSupport:
    """A support of the panel and its restraints.

    Attributes
    ----------
    name : str
    kind : str
    part : Strut, Bolt, Pin, RearPocket or Stop
        As designed, of a mirrored pair one half.
    at : ndarray, shape (3,)
        Where its force acts on the panel, in m; for a rear pocket the middle of the overlap.
    restraints : tuple of Restraint
    directions : ndarray, shape (m, 3)
        Direction of each restraint's measured motion of the panel.
    places : ndarray, shape (m, 3)
        Where each restraint acts, in m.
    """

    name: str
    kind: Kind
    part: Holder
    at: Array
    restraints: tuple[Restraint, ...]
    directions: Array
    places: Array


def model_supports(
    panel: Panel, locator: Locator, design: Splitter, *, known: Sequence[ModelSupport] = ()
) -> list[ModelSupport]:
    """Supports of a design, mirrored pairs written out.

    Parameters
    ----------
    panel : Panel
    locator : Locator
    design : Splitter
    known : sequence of ModelSupport
        Supports on the same panel, taken as they are where the design has the same part.
    """
    there = {support.name: support for support in known}
    parts: list[Holder] = [
        *written_out(design.struts),
        *written_out(design.bolts),
        *written_out(design.pins),
        *written_out(design.pockets),
        *written_out(design.stops),
    ]
    kept = (there.get(part.name) for part in parts)
    return [
        support if support is not None and support.part == part else _support(panel, locator, part)
        for part, support in zip(parts, kept, strict=True)
    ]


def _support(panel: Panel, locator: Locator, part: Holder) -> ModelSupport:
    if isinstance(part, Strut):
        return _strut(panel, locator, part)
    if isinstance(part, RearPocket):
        return _pocket(panel, locator, part)
    if isinstance(part, Stop):
        return _stop(panel, locator, part)
    return _fixing(panel, locator, part)


def _strut(panel: Panel, locator: Locator, part: Strut) -> ModelSupport:
    samples = pad_samples(locator, pad_polygon(part.pad, part.foot), name=f"strut {part.name}")
    eye = np.array([*part.foot, part.bracket_height], dtype=float)
    reach = np.asarray(part.head, dtype=float) - eye
    direction = reach / np.linalg.norm(reach)
    restraint = strut(
        mean_rows(panel, samples),
        direction,
        support=part.name,
        bracket_height=float(part.bracket_height),
        stiffness=strut_stiffness(part),
        preload=float(part.preload),
        slack=float(part.slack),
        tension_only=part.tension_only,
    )
    return ModelSupport(part.name, "strut", part, eye, (restraint,), -direction[None], eye[None])


def _fixing(panel: Panel, locator: Locator, part: Bolt | Pin) -> ModelSupport:
    kind: Kind = "bolt" if isinstance(part, Bolt) else "pin"
    rows = mean_rows(panel, pad_samples(locator, pad_polygon(part.pad, part.at), name=f"{kind} {part.name}"))
    directions = held_by(part)
    restraints = held_directions(rows, directions, support=part.name)
    at = np.array([*part.at, 0.0], dtype=float)
    unit = np.array(list(directions.values()), dtype=float)
    return ModelSupport(part.name, kind, part, at, tuple(restraints), unit, np.tile(at, (len(unit), 1)))


def strut_stiffness(part: Strut) -> float:
    """Stiffness of a strut along itself in N/m: E A / L or as given, in series with its end fittings."""
    bar = part.stiffness
    if bar is None:
        bar = float(part.modulus) * float(part.section_area or 0.0) / part.length
    return (
        float(bar)
        if part.end_stiffness is None
        else 1.0 / (1.0 / float(bar) + 1.0 / float(part.end_stiffness))
    )


def held_by(part: Bolt | Pin) -> dict[str, tuple[float, float, float]]:
    """Return the unit directions that a bolt or pin holds; a slot leaves only the direction across it in the plane."""
    unit = {"x": (1.0, 0.0, 0.0), "y": (0.0, 1.0, 0.0), "z": (0.0, 0.0, 1.0)}
    slot = getattr(part, "slot", None)
    if slot is None:
        return {letter: unit[letter] for letter in part.holds}
    across = {"across slot": (-float(np.sin(slot)), float(np.cos(slot)), 0.0)}
    return across | ({"z": unit["z"]} if "z" in part.holds else {})


def _pocket(panel: Panel, locator: Locator, part: RearPocket) -> ModelSupport:
    mouth = (float(part.mouth[0]), float(part.mouth[1]))
    lips = pocket(
        panel,
        locator,
        support=part.name,
        mouth=mouth,
        width=float(part.width),
        overlap=float(part.overlap),
        clearance_up=float(part.clearance_up),
        clearance_down=float(part.clearance_down),
    )
    middle = np.array([mouth[0] - 0.5 * float(part.overlap), mouth[1], 0.0])
    places = np.array([[*lip.place, 0.0] for lip in lips])
    return ModelSupport(
        part.name, "rear pocket", part, middle, tuple(lips), np.tile([0.0, 0.0, 1.0], (len(lips), 1)), places
    )


def _stop(panel: Panel, locator: Locator, part: Stop) -> ModelSupport:
    """Mean deflection over a pad: free within the gaps, pushed back beyond; nothing pushes on a side without a gap."""
    rows = mean_rows(panel, pad_samples(locator, pad_polygon(part.pad, part.at), name=f"stop {part.name}"))
    x, y = float(part.at[0]), float(part.at[1])
    restraint = Restraint(
        part.name,
        "pad",
        sp.csr_array(rows[[2]]),
        lower=-FREE if part.gap_down is None else -float(part.gap_down),
        upper=FREE if part.gap_up is None else float(part.gap_up),
        compliance=0.0 if part.stiffness is None else 1.0 / float(part.stiffness),
        place=(x, y),
    )
    at = np.array([x, y, 0.0])
    return ModelSupport(part.name, "stop", part, at, (restraint,), np.array([[0.0, 0.0, 1.0]]), at[None])
