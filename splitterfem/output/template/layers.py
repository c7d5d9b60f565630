"""The layers of a template: what lies on each, and how its lines look."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Layer:
    """A layer of the template.

    Attributes
    ----------
    name : str
    colour : int
        Index in DXF: 7 is black or white, 8 grey, 5 blue, 1 red, 3 green.
    width : float
        Of its lines in m.
    dashed : bool
    what : str
        What it shows, for the legend.
    """

    name: str
    colour: int
    width: float
    dashed: bool
    what: str


LAYERS = {
    layer.name: layer
    for layer in (
        Layer("panel", 7, 0.35e-3, False, "edge of the panel: cut on the middle of the line"),
        Layer("openings", 7, 0.35e-3, False, "openings: cut out"),
        Layer("holes", 1, 0.25e-3, False, "holes through the panel, true diameter"),
        Layer("screws", 1, 0.18e-3, False, "screws: diameter over the thread, drill a pilot hole"),
        Layer("hole centres", 1, 0.13e-3, False, "centre marks"),
        Layer("slots", 1, 0.13e-3, True, "direction of a slot whose length is not in the design"),
        Layer("strut feet", 5, 0.25e-3, False, "feet of struts"),
        Layer("rib feet above", 5, 0.25e-3, False, "feet of ribs on the upper face"),
        Layer("rib feet below", 5, 0.25e-3, True, "feet of ribs on the lower face"),
        Layer("rib uprights", 5, 0.13e-3, True, "where the upright leg of a rib stands"),
        Layer("washers", 8, 0.18e-3, False, "washers of bolts and pins"),
        Layer("rear pockets", 8, 0.18e-3, True, "what sits in the rear pockets"),
        Layer("stops", 8, 0.18e-3, True, "what stops touch"),
        Layer("doublers above", 3, 0.25e-3, False, "doublers on the upper face"),
        Layer("doublers below", 3, 0.25e-3, True, "doublers on the lower face"),
        Layer("grain", 8, 0.25e-3, False, "face grain"),
        Layer("grain of doublers", 8, 0.18e-3, False, "face grain of the doubler it stands on"),
        Layer("travel", 7, 0.25e-3, False, "direction of travel"),
        Layer("half-symmetry line", 8, 0.18e-3, True, "half-symmetry line: left and right are alike"),
        Layer("check square", 1, 0.18e-3, False, "check square: measure it before you cut"),
        Layer("dimensions", 8, 0.13e-3, False, "dimensions"),
        Layer("text", 7, 0.13e-3, False, "texts"),
    )
}
"""All layers by name, in the order of the legend."""
