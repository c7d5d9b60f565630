"""A model of a design close by: its stiffness, supports and loads, of which nothing is factorised."""

from __future__ import annotations

from splitterfem.design import Splitter
from splitterfem.errors import DesignError
from splitterfem.model.assembly import Model
from splitterfem.model.reuse import check_same_mesh, panel_with, still_unbonded
from splitterfem.model.ribs import model_ribs
from splitterfem.model.sheets import sheet_field
from splitterfem.model.supports import model_supports


def close_by(model: Model, splitter: Splitter) -> Model:
    """Model of a design in which nothing but figures are a little different, for derivatives; it cannot be solved.

    Unknowns and restraints are as many as those of the model and mean the same.  Ribs that slip keep their cells, which
    stretch with them.

    Raises
    ------
    DesignError
        If its outline, an opening or its mesh settings are others, a part does not lie on the panel, or parts come, go
        or are cut into other pieces.
    """
    check_same_mesh(model.design, splitter)
    sheet = sheet_field(splitter, model.panel.space.centroids)
    panel = panel_with(model, sheet)
    same = panel is model.panel
    ribs = tuple(
        model_ribs(
            panel,
            model.locator,
            splitter,
            sheet.base.thickness,
            unbonded=still_unbonded(model, splitter),
            known=model.ribs if same else (),
            alike=model.ribs,
        )
    )
    supports = tuple(model_supports(panel, model.locator, splitter, known=model.supports if same else ()))
    restraints = tuple(restraint for support in supports for restraint in support.restraints)
    labels = [[(r.support, r.label) for r in them] for them in (model.structure.restraints, restraints)]
    count = sum(rib.operators.n_extra for rib in ribs)
    if labels[0] != labels[1] or count != model.structure.n_extra or len(ribs) != len(model.ribs):
        raise DesignError(
            f"A small change of '{model.design.name}' adds, removes or cuts parts, so that there is no derivative: "
            "change something else, or compare two solutions."
        )
    parts = tuple(part for rib in ribs for part in rib.operators.contributions)
    return Model(
        splitter,
        model.mesh,
        panel,
        model.locator,
        sheet,
        ribs,
        supports,
        model.structure.close_by(panel, restraints, parts),
        unbonded=model.unbonded,
        air=model.air,
    )
