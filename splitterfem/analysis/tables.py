"""Tables of supports, contacts and ribs with units in their column names."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from splitterfem.analysis.fields import displacements_at
from splitterfem.analysis.groundcontact import ground_contact
from splitterfem.analysis.ribforces import rib_forces
from splitterfem.fem.response import Response
from splitterfem.fem.restraint import Restraint
from splitterfem.model import Model, ModelSupport

Array = NDArray[np.float64]


LIPS = {1: "upper lip", -1: "lower lip", 0: "nothing"}
"""What a pocket's strip pushes against, by the sign of its upward push."""

TOUCHES = {
    "rear pocket": LIPS,
    "stop": {1: "above", -1: "below", 0: "nothing"},
    "strut": {1: "taut", -1: "slack", 0: "slack"},
}
"""What one-sided supports touch, by kind and by the sign of the panel's force on them."""

PLACES = {"stop": "pad", "strut": "foot"}
"""What of a support touches; a rear pocket names its stretches itself."""

CONTACT_COLUMNS = ("support", "kind", "place", "x_mm", "y_mm", "lift_mm", "fz_N", "touches", "gap_mm")

Row = dict[str, object]


def support_table(model: Model, response: Response) -> pd.DataFrame:
    """Force of every support on the panel.

    Columns: support, kind, x_mm, y_mm, fx_N, fy_N, fz_N (force on the panel, axes x forward, y left, z up),
    axial_N (struts: tension positive, else nan), state: "acts" or "slack"; of a rear pocket "touches" with what it
    touches; of a stop "touches above", "touches below" or "open".
    """
    rows = []
    for support, force, side in per_support(model, response):
        total = 0.0 - force @ support.directions
        rows.append(
            {
                "support": support.name,
                "kind": support.kind,
                "x_mm": 1e3 * support.at[0],
                "y_mm": 1e3 * support.at[1],
                "fx_N": total[0],
                "fy_N": total[1],
                "fz_N": total[2],
                "axial_N": force[0] if support.kind == "strut" else np.nan,
                "state": _state(support, force, side),
            }
        )
    columns = ["support", "kind", "x_mm", "y_mm", "fx_N", "fy_N", "fz_N", "axial_N", "state"]
    return pd.DataFrame(rows, columns=columns)


def contact_table(model: Model, response: Response) -> pd.DataFrame:
    """Everything that carries on one side only, or after some play: what it touches, and how far it is from that.

    A row for every stretch of a rear pocket's lips, for every stop, for every strut that only pulls, and for every
    connected place where panel or rib lies on the ground. Nothing rubs: friction is left out.

    Columns: support ("ground" for the ground), kind, place (which stretch of a pocket, pad or foot, "under panel" or
    "under" with a rib's name), x_mm, y_mm, lift_mm (of the panel there, up positive; nan off the panel), fz_N (force
    on the panel, up positive), touches (pockets: "upper lip", "lower lip" or "nothing"; stops: "above", "below" or
    "nothing"; struts: "taut" or "slack"; "ground"), gap_mm (how far it still is from touching, on the side that is
    nearer; of a strut the slack that is left; 0 where it touches).
    """
    rows = [*_support_contacts(model, response), *_ground_contacts(model, response)]
    return pd.DataFrame(rows, columns=list(CONTACT_COLUMNS))


def _support_contacts(model: Model, response: Response) -> Iterator[Row]:
    for start, support in _starts(model):
        if not _one_sided(support):
            continue
        for k, restraint in enumerate(support.restraints):
            force, motion = float(response.force[start + k]), float(response.motion[start + k])
            place = support.places[k]
            yield {
                "support": support.name,
                "kind": support.kind,
                "place": PLACES.get(support.kind, restraint.label),
                "x_mm": 1e3 * place[0],
                "y_mm": 1e3 * place[1],
                # a strut measures how much longer it gets, everything else how far the panel rises
                "lift_mm": 1e3 * (_lift(model, response, place) if support.kind == "strut" else motion),
                "fz_N": 0.0 - force * support.directions[k, 2],
                "touches": TOUCHES[support.kind][int(np.sign(force))],
                "gap_mm": 0.0 if force else 1e3 * _gap(restraint, motion),
            }


def _ground_contacts(model: Model, response: Response) -> Iterator[Row]:
    for patch in ground_contact(model, response).patches:
        yield {
            "support": "ground",
            "kind": "ground",
            "place": f"under {patch.under}",
            "x_mm": 1e3 * patch.at[0],
            "y_mm": 1e3 * patch.at[1],
            "lift_mm": 1e3 * _lift(model, response, np.array(patch.at)),
            "fz_N": patch.force,
            "touches": "ground",
            "gap_mm": 0.0,
        }


def _one_sided(support: ModelSupport) -> bool:
    """Tell whether contact decides on a support; a pocket or a stop without any play counts."""
    if support.kind in ("rear pocket", "stop"):
        return True
    return any(restraint.lower < restraint.upper for restraint in support.restraints)


def _gap(restraint: Restraint, motion: float) -> float:
    """How far a motion in m is from the nearer end of the play."""
    return max(0.0, min(restraint.upper - motion, motion - restraint.lower))


def _lift(model: Model, response: Response, place: Array) -> float:
    return float(displacements_at(model, response.x, place[:2, None])[0, 2])


def rib_table(model: Model, response: Response) -> pd.DataFrame:
    """Length, mass and largest forces of every rib.

    Columns: rib, section, side, length_mm, mass_kg, axial_N (tension positive), moment_Nm (positive stretches
    the upper fibres), shear_N, stress_MPa (largest fibre stress by size, sign kept), x_mm and y_mm (its place).
    """
    rows = []
    for rib in model.ribs:
        forces = rib_forces(model, rib, response.x, extra=response.extra, large=response.large)
        worst = int(np.argmax(np.abs(forces.stress)))
        rows.append(
            {
                "rib": rib.name,
                "section": rib.design.section.shape,
                "side": rib.design.side,
                "length_mm": 1e3 * rib.length,
                "mass_kg": rib.mass,
                "axial_N": _largest(forces.axial),
                "moment_Nm": _largest(forces.moment),
                "shear_N": _largest(forces.shear),
                "stress_MPa": 1e-6 * forces.stress[worst],
                "x_mm": 1e3 * forces.xy[0, worst],
                "y_mm": 1e3 * forces.xy[1, worst],
            }
        )
    columns = ["rib", "section", "side", "length_mm", "mass_kg", "axial_N", "moment_Nm", "shear_N"]
    return pd.DataFrame(rows, columns=[*columns, "stress_MPa", "x_mm", "y_mm"])


def per_support(model: Model, response: Response) -> list[tuple[ModelSupport, Array, NDArray[np.int64]]]:
    """Each support with the forces of the panel on its restraints and the bounds that they are at."""
    found = []
    for start, support in _starts(model):
        part = slice(start, start + len(support.restraints))
        found.append((support, response.force[part], response.side[part]))
    return found


def _starts(model: Model) -> list[tuple[int, ModelSupport]]:
    counts = np.cumsum([0] + [len(support.restraints) for support in model.supports])
    return [(int(start), support) for start, support in zip(counts[:-1], model.supports, strict=True)]


def _largest(values: Array) -> float:
    return float(values[np.argmax(np.abs(values))])


def _state(support: ModelSupport, force: Array, side: NDArray[np.int64]) -> str:
    if support.kind == "stop":
        sign = int(np.sign(force[0]))
        return f"touches {TOUCHES['stop'][sign]}" if sign else "open"
    if support.kind != "rear pocket":
        return "acts" if np.any(side != 0) else "slack"
    touched = [LIPS[sign] for sign in (1, -1) if np.any(np.sign(force) == sign)]
    return "touches " + (" and ".join(touched) if touched else "nothing")
