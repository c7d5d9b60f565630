"""What a changed design can take over from the model of another one on the same mesh."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from splitterfem.design import Splitter
from splitterfem.errors import DesignError
from splitterfem.fem.panel import Panel
from splitterfem.fem.structure import Structure
from splitterfem.model.pads import written_out
from splitterfem.model.ribs import ModelRib, model_ribs
from splitterfem.model.sheets import SheetField, sheet_field
from splitterfem.model.supports import ModelSupport, model_supports

if TYPE_CHECKING:
    from splitterfem.model.assembly import Model


def check_same_mesh(old: Splitter, new: Splitter) -> None:
    """Refuse a design whose panel is meshed otherwise than that of another.

    Raises
    ------
    DesignError
        If its outline, an opening or the fineness of its mesh is another.
    """
    if old.panel.outline.loop() != new.panel.outline.loop():
        what = "has another outline"
    elif old.panel.holes() != new.panel.holes():
        before, after = dict(old.panel.holes()), dict(new.panel.holes())
        names = sorted({*before, *after}) if before != after else list(after)
        changed = [name for name in names if before.get(name) != after.get(name)] or names
        what = f"has another opening '{changed[0]}'"
    elif old.mesh != new.mesh:
        what = "asks for another mesh"
    else:
        return
    raise DesignError(
        f"The changed design {what}, so that it cannot stand on the mesh of '{old.name}': build a model of its own "
        "for it."
    )


def panel_with(model: Model, sheet: SheetField) -> Panel:
    """Panel of a model with another sheet; its own when nothing about it is changed."""
    old = model.sheet
    same = old.base.thickness == sheet.base.thickness and np.array_equal(old.stiffness, sheet.stiffness)
    return model.panel if same else Panel(model.panel.space, sheet.stiffness)


def still_unbonded(model: Model, splitter: Splitter) -> frozenset[str]:
    """Ribs without a joint in a model, those of them that a design has."""
    return model.unbonded & {rib.name for rib in written_out(splitter.ribs)}


def structure_of(
    panel: Panel, ribs: Sequence[ModelRib], supports: Sequence[ModelSupport], *, repeated: bool = False
) -> Structure:
    """Put panel, ribs and supports together and factorise the matrix; what the last one left is used where repeated."""
    return Structure(
        panel,
        tuple(restraint for support in supports for restraint in support.restraints),
        contributions=tuple(part for rib in ribs for part in rib.operators.contributions),
        n_extra=sum(rib.operators.n_extra for rib in ribs),
        repeated=repeated,
    )


def with_design(model: Model, splitter: Splitter) -> Model:
    """Return the model of a changed design on the mesh of another; see `Model.for_design`.

    Raises
    ------
    DesignError
        If it cannot stand on this mesh, or a part does not lie on the panel.
    MechanismError
        If the supports cannot hold the panel.
    """
    check_same_mesh(model.design, splitter)
    sheet = sheet_field(splitter, model.panel.space.centroids)
    panel = panel_with(model, sheet)
    same = panel is model.panel
    unbonded = still_unbonded(model, splitter)
    known, held = (model.ribs, model.supports) if same else ((), ())
    thickness = sheet.base.thickness
    ribs = tuple(model_ribs(panel, model.locator, splitter, thickness, unbonded=unbonded, known=known))
    supports = tuple(model_supports(panel, model.locator, splitter, known=held))
    structure = structure_of(panel, ribs, supports, repeated=True)
    return replace(
        model,
        design=splitter,
        panel=panel,
        sheet=sheet,
        ribs=ribs,
        supports=supports,
        structure=structure,
        seconds=structure.seconds,
        unbonded=unbonded,
        base=None,
        _spares={},
    )


def with_support_lost(model: Model, name: str) -> Model:
    """Return the same model with one support lost, on the same factorised matrix; see `Model.without_support`.

    Raises
    ------
    DesignError
        If there is no such support.
    MechanismError
        If the supports that are left cannot hold the panel.
    """
    structure = model.structure.without(name)
    supports = tuple(support for support in model.supports if support.name != name)
    design = model.design
    if design.handling:
        # what a handling case names may be what is lost: its load stays where it is
        design = design.with_(cases=design.all_cases, handling=())
    return replace(
        model, design=design.without(name), supports=supports, structure=structure, base=None, _spares={}
    )
