"""Plates of the textbooks: few unknowns are enough, and no thickness locks.

The published values, their sources and the problems are those of `splitterfem.textbook.plates`, where every one of
them is a row of the tables that ``tests/test_textbook_tables.py`` holds to its tolerance.
"""

from __future__ import annotations

import numpy as np
import pytest

from splitterfem.fem.loads import pressure_load
from splitterfem.fem.locate import Locator
from splitterfem.fem.panel import Panel, generalised_stiffness
from splitterfem.fem.recover import displacements
from splitterfem.fem.space import COMPONENTS, PanelSpace
from splitterfem.fem.structure import Structure
from splitterfem.fem.structured import rectangle_mesh
from splitterfem.fem.textbook import Homogeneous
from splitterfem.textbook import plates

THIN_CLAMPED = 0.00126532
"""Deflection in q a^4 / D of the thin clamped square: T&WK table 35, series summed until the digits stand."""


def test_clamped_thin_square_is_good_on_a_coarse_mesh():
    """Within 0.2 % at no more than 600 unknowns, in-plane ones included."""
    panel = Panel(PanelSpace(*rectangle_mesh(1.0, 1.0, 4, 4)), generalised_stiffness(Homogeneous(1e-3)))
    structure = Structure(panel, fixed=panel.space.dofs_of(panel.space.boundary_nodes(), COMPONENTS))
    assert len(structure.free) <= 600
    x = structure.solve(-pressure_load(panel, lambda x, y: np.ones_like(x))).x
    element = Locator(panel.space).find(plates.CENTRE)
    w = displacements(panel, x, element, plates.CENTRE)[0, 2]
    assert w * plates.bending_stiffness(1e-3) == pytest.approx(THIN_CLAMPED, rel=2e-3)


@pytest.mark.parametrize("t", [1e-4, 1e-3, 1e-2])
def test_no_locking(t):
    """The coefficient of thin-plate theory does not depend on thickness, but for what shear adds."""
    thick = {thickness: value for edge, thickness, value, _ in plates.SQUARES if edge == "clamped"}
    assert plates.deflection(t, "clamped", cells=8) == pytest.approx(thick.get(t, THIN_CLAMPED), rel=4e-4)


def test_thin_limit_of_thick_squares_is_that_of_thin_plates():
    """T&WK tables 8 and 35: what the table has for a/t = 1000 is thin-plate theory with its shear."""
    thin = {"clamped": THIN_CLAMPED, "hard": 0.00406235}
    for edge, value in thin.items():
        listed = next(v for e, t, v, _ in plates.SQUARES if (e, t) == (edge, 1e-3))
        assert listed == pytest.approx(value, rel=3e-5)


def test_table_covers_all_shapes_and_edges():
    """No published problem may drop out of the one set that tests, notebooks and benchmarks share."""
    names = [case.name for case in plates.cases()]
    assert sum(name.startswith("square,") and "a/t" in name for name in names) == 12
    assert sum(name.startswith("rhombus") for name in names) == 4
    assert sum(name.startswith("disc") for name in names) == 7
    assert sum(name.startswith("plywood") for name in names) == 3
    assert sum("four corners" in name for name in names) == 3
    assert sum("two sides" in name for name in names) == 4
    assert sum("cantilever" in name for name in names) == 3
    assert sum("force in the middle" in name for name in names) == 2
    assert sum("moment" in name for name in names) == 6
