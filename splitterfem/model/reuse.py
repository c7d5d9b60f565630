"""What a changed design can take over from the model of another one on the same mesh."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from splitterfem.design import Splitter
from splitterfem.errors import DesignError
from splitterfem.fem.panel import Panel
from splitterfem.model.pads import written_out
from splitterfem.model.sheets import SheetField

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
