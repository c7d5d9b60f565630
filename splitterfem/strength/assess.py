"""Utilisation of everything that a solved load case can be judged by, one row for each part and mode.

What is not given in the design is not checked and has no row: hardware without a size, an adhesive without a
strength, an ideal bond. What is there but cannot be judged has a row whose ratio is nan and whose note says why.
"""

from __future__ import annotations

import pandas as pd

from splitterfem.analysis import Solution
from splitterfem.strength.assess_fixings import bolt_rows
from splitterfem.strength.assess_joints import joint_checks
from splitterfem.strength.assess_panel import panel_checks
from splitterfem.strength.assess_pins import pin_rows
from splitterfem.strength.assess_pockets import pocket_rows
from splitterfem.strength.assess_ribs import rib_checks
from splitterfem.strength.assess_stops import stop_rows
from splitterfem.strength.assess_supports import strut_rows
from splitterfem.strength.row import Check, utilisation_table
from splitterfem.threads import one_blas_thread


@one_blas_thread()
def assess(solution: Solution) -> list[Check]:
    """Judge panel, doublers, ribs, joints, struts, bolts, pins, rear pockets and stops of a solved load case.

    Strains of the panel are averaged over a disc of one panel thickness in radius: neither plate theory nor the
    strengths of a board resolve less (common practice, no source), and the averages do not change as the mesh
    gets finer. Wood is judged with k_mod of the design's service class and the duration of the case.

    Parameters
    ----------
    solution : Solution

    Returns
    -------
    list of Check
        Put them in order with `splitterfem.strength.utilisation_table`.
    """
    return [
        *panel_checks(solution),
        *rib_checks(solution),
        *joint_checks(solution),
        *strut_rows(solution),
        *bolt_rows(solution),
        *pin_rows(solution),
        *pocket_rows(solution),
        *stop_rows(solution),
    ]


def utilisation_of(solution: Solution) -> pd.DataFrame:
    """Utilisation table of a solution: the one that it has already where it comes from the library's face."""
    known = getattr(solution, "utilisation", None)
    return utilisation_table(assess(solution)) if known is None else known
