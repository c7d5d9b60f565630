"""Sections of ribs that are open: angle, T, channel and hat."""

from __future__ import annotations

from typing import Literal

from pydantic import model_validator

from splitterfem.materials._record import Record, refuse
from splitterfem.materials.section_properties import SectionProperties
from splitterfem.materials.section_shapes import (
    angle_properties,
    channel_properties,
    hat_properties,
    tee_properties,
)
from splitterfem.materials.sections_closed import mm
from splitterfem.units import PositiveLength


class AngleSection(Record):
    """Angle that lies on the panel with one leg, centred on the rib line; the other stands at its left edge.

    Either leg of an unequal angle can lie down: ``foot`` is the one that does, so exchange the two lengths to
    stand it on the other leg.

    Parameters
    ----------
    foot : length
        Leg on the panel, corner included.
    upright : length
        Leg away from the panel, corner included.
    wall : length
        Less than either leg.
    """

    shape: Literal["angle"] = "angle"
    foot: PositiveLength
    upright: PositiveLength
    wall: PositiveLength

    @model_validator(mode="after")
    def _wall_fits(self) -> AngleSection:
        leg = min(self.foot, self.upright)
        if self.wall >= leg:
            refuse(
                f"The angle {mm(self.foot)} x {mm(self.upright)} mm has a wall of {mm(self.wall)} mm, as "
                f"thick as a leg is long; give a wall under {mm(leg)} mm, or a section of shape 'flat'."
            )
        return self

    @property
    def sizes(self) -> tuple[float, ...]:
        """Foot, upright leg and wall, m."""
        return self.foot, self.upright, self.wall

    @property
    def foot_width(self) -> float:
        """Of what lies on the panel, m."""
        return self.foot

    def properties(self) -> SectionProperties:
        """Section properties and the split for the panel model."""
        return angle_properties(self.foot, self.upright, self.wall)


class TeeSection(Record):
    """T whose flange lies on the panel.

    Parameters
    ----------
    foot : length
        Width of the flange.
    upright : length
        Height over all, flange included.
    wall : length
        Of flange and web.
    """

    shape: Literal["tee"] = "tee"
    foot: PositiveLength
    upright: PositiveLength
    wall: PositiveLength

    @model_validator(mode="after")
    def _wall_fits(self) -> TeeSection:
        least = min(self.foot, self.upright)
        if self.wall >= least:
            refuse(
                f"The T {mm(self.foot)} x {mm(self.upright)} mm has a wall of {mm(self.wall)} mm, which leaves no "
                f"flange or no web; give a wall under {mm(least)} mm, or a section of shape 'flat'."
            )
        return self

    @property
    def sizes(self) -> tuple[float, ...]:
        """Flange, height and wall, m."""
        return self.foot, self.upright, self.wall

    @property
    def foot_width(self) -> float:
        """Of what lies on the panel, m."""
        return self.foot

    def properties(self) -> SectionProperties:
        """Section properties and the split for the panel model."""
        return tee_properties(self.foot, self.upright, self.wall)


class ChannelSection(Record):
    """Channel on the panel with its web, flanges up, or with one flange.

    With a flange on the panel, centred on the rib line, the web stands at its left edge and the far flange
    points the same way as the near one.

    Parameters
    ----------
    web : length
        Outside, over both flanges.
    flange : length
        Outside, corner included.
    wall : length
        Of web and flanges; less than a flange and than half of the web.
    foot : {"web", "flange"}
        What lies on the panel.
    """

    shape: Literal["channel"] = "channel"
    web: PositiveLength
    flange: PositiveLength
    wall: PositiveLength
    foot: Literal["web", "flange"]

    @model_validator(mode="after")
    def _wall_fits(self) -> ChannelSection:
        most = min(self.web / 2, self.flange)
        if self.wall >= most:
            refuse(
                f"The channel {mm(self.web)} x {mm(self.flange)} mm has a wall of {mm(self.wall)} mm, which "
                f"closes it; give a wall under {mm(most)} mm, or a section of shape 'flat'."
            )
        return self

    @property
    def sizes(self) -> tuple[float, ...]:
        """Web, flange and wall, m."""
        return self.web, self.flange, self.wall

    @property
    def foot_width(self) -> float:
        """Of what lies on the panel, m."""
        return self.web if self.foot == "web" else self.flange

    def properties(self) -> SectionProperties:
        """Section properties and the split for the panel model."""
        return channel_properties(self.web, self.flange, self.wall, foot=self.foot)


class HatSection(Record):
    """Hat with upright webs and two flanges on the panel, which closes it below.

    Its torsion constant is that of an open section: it is closed by the panel alone, and the panel model
    lets a shear flow run round webs, crown and the panel between the feet. Slanting webs need a polygon.

    Parameters
    ----------
    width : length
        Of the crown, over the outer faces of the webs.
    height : length
        Over all.
    flange : length
        From the outer face of a web to the edge of its flange.
    wall : length
        Less than half of the crown and of the height.
    """

    shape: Literal["hat"] = "hat"
    width: PositiveLength
    height: PositiveLength
    flange: PositiveLength
    wall: PositiveLength

    @model_validator(mode="after")
    def _wall_fits(self) -> HatSection:
        most = min(self.width, self.height) / 2
        if self.wall >= most:
            refuse(
                f"The hat {mm(self.width)} x {mm(self.height)} mm has a wall of {mm(self.wall)} mm, which "
                f"leaves no hollow; give a wall under {mm(most)} mm, or a section of shape 'flat'."
            )
        return self

    @property
    def sizes(self) -> tuple[float, ...]:
        """Crown, height, flange and wall, m."""
        return self.width, self.height, self.flange, self.wall

    @property
    def foot_width(self) -> float:
        """Of what lies on the panel, both strips together, m."""
        return 2 * (self.flange + self.wall)

    def properties(self) -> SectionProperties:
        """Section properties and the split for the panel model."""
        return hat_properties(self.width, self.height, self.flange, self.wall)
