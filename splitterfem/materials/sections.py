"""Sections of ribs as plain validated data: tubes, angle, flat bar, channel, hat, T and any polygon.

Each stands on the panel's face with a *foot*, whose middle is the rib line. An unsymmetric one is drawn here
with its web to the left of the rib line, seen in the direction of the rib; ``flip`` of the rib turns it round.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from splitterfem.materials.sections_closed import FlatSection, RoundTubeSection, TubeSection
from splitterfem.materials.sections_drawn import PolygonSection
from splitterfem.materials.sections_open import AngleSection, ChannelSection, HatSection, TeeSection

__all__ = [
    "AngleSection",
    "ChannelSection",
    "FlatSection",
    "HatSection",
    "PolygonSection",
    "RoundTubeSection",
    "Section",
    "TeeSection",
    "TubeSection",
]

Section = Annotated[
    TubeSection
    | RoundTubeSection
    | AngleSection
    | TeeSection
    | ChannelSection
    | HatSection
    | FlatSection
    | PolygonSection,
    Field(discriminator="shape"),
]
"""One of the shapes, told apart by its field ``shape``."""
