"""Tables of supports and ribs with units in their column names."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from splitterfem.analysis.ribforces import rib_forces
from splitterfem.fem.structure import Response
from splitterfem.model import Model, ModelSupport

Array = NDArray[np.float64]


LIPS = {1: "upper lip", -1: "lower lip", 0: "nothing"}
"""What a pocket's strip pushes against, by the sign of its upward push."""


def support_table(model: Model, response: Response) -> pd.DataFrame:
    """Force of every support on the panel.

    Columns: support, kind, x_mm, y_mm, fx_N, fy_N, fz_N (force on the panel, axes x forward, y left, z up),
    axial_N (struts: tension positive, else nan), state.
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
    """Every stretch of a rear pocket's lips: place, lift of the panel, force and what it touches.

    Columns: support, place, x_mm, y_mm, lift_mm (up positive), fz_N (force on the panel, up positive), touches.
    """
    rows = []
    for start, support in _starts(model):
        if support.kind != "rear pocket":
            continue
        for k, restraint in enumerate(support.restraints):
            force = float(response.force[start + k])
            rows.append(
                {
                    "support": support.name,
                    "place": restraint.label,
                    "x_mm": 1e3 * support.places[k, 0],
                    "y_mm": 1e3 * support.places[k, 1],
                    "lift_mm": 1e3 * response.motion[start + k],
                    "fz_N": 0.0 - force,
                    "touches": LIPS[int(np.sign(force))],
                }
            )
    columns = ["support", "place", "x_mm", "y_mm", "lift_mm", "fz_N", "touches"]
    return pd.DataFrame(rows, columns=columns)


def rib_table(model: Model, response: Response) -> pd.DataFrame:
    """Length, mass and largest forces of every rib.

    Columns: rib, section, side, length_mm, mass_kg, axial_N (tension positive), moment_Nm (positive stretches
    the upper fibres), shear_N, stress_MPa (largest fibre stress by size, sign kept), x_mm and y_mm (its place).
    """
    rows = []
    for rib in model.ribs:
        forces = rib_forces(model, rib, response.x, extra=response.extra)
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
    if support.kind != "rear pocket":
        return "acts" if np.any(side != 0) else "slack"
    touched = [LIPS[sign] for sign in (1, -1) if np.any(np.sign(force) == sign)]
    return "touches " + (" and ".join(touched) if touched else "nothing")
