"""The envelope: limits that a rulebook sets to the panel, as numbers of the user's own.

No limit is built in. How each one is measured is told by the field that holds it and by
`splitterfem.analysis.envelope`; rulebooks define the same words in different ways.
"""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from splitterfem.design._record import Name, Record, refuse
from splitterfem.design.bodywork import Bodywork
from splitterfem.units import Length, NonNegativeLength, Point, PositiveLength

_MOST = 100


class ForwardLimit(Record):
    """How far the panel's front edge may reach ahead of the bodywork, seen from above.

    Parameters
    ----------
    limit : length
        Largest distance.
    measured : {"straight ahead", "along the normal"}
        Between points of the same y, or at right angles to the line of the bodywork.
    """

    limit: NonNegativeLength
    measured: Literal["straight ahead", "along the normal"]


class WidthLimit(Record):
    """How far the panel may reach to the side, on the left and on the right.

    Parameters
    ----------
    against : {"tyre", "widest bodywork", "bodywork at the same x"}
        What the panel's half width is compared with: half the width over the outer walls of the tyres at the
        height of the wheel centre, wheels straight; the widest place of the bodywork; or the bodywork's line
        at every x between two stations.
    half_width : length, optional
        From the centre plane. Given for the tyre; for the widest bodywork it is that of the line when left out.
    allowance : length
        By which the panel may be wider.
    stations : two lengths, optional
        Rear-most and foremost x between which the panel is compared with the bodywork at the same x.
    """

    against: Literal["tyre", "widest bodywork", "bodywork at the same x"]
    half_width: PositiveLength | None = None
    allowance: NonNegativeLength = 0.0
    stations: tuple[Length, Length] | None = None

    @model_validator(mode="after")
    def _fits_what_it_is_against(self) -> Self:
        alongside = self.against == "bodywork at the same x"
        if self.against == "tyre" and self.half_width is None:
            refuse("is against the tyre but has no half_width; write that of the tyres' outer walls")
        if alongside and self.half_width is not None:
            refuse("follows the line of the bodywork, so that half_width has no use; leave it out")
        if alongside and self.stations is None:
            refuse("has no stations; write the rear-most and the foremost x between which it is measured")
        if not alongside and self.stations is not None:
            refuse(f'stations have no use against "{self.against}"; leave them out')
        if self.stations is not None and not self.stations[0] < self.stations[1]:
            refuse(
                f"the stations run from x = {1e3 * self.stations[0]:.1f} mm to "
                f"x = {1e3 * self.stations[1]:.1f} mm; write the smaller first and the larger second"
            )
        return self

    @property
    def needs_line(self) -> bool:
        """Whether it takes its measure from the line of the bodywork."""
        return self.against != "tyre" and self.half_width is None


class CaseClearance(Record):
    """Smallest gap to the ground in one load case.

    Parameters
    ----------
    case : str
        Name of the load case.
    least : length
        Smallest gap.
    """

    case: Name
    least: NonNegativeLength


class ClearanceLimits(Record):
    """Smallest gaps between the ground and the lowest part of the panel, ribs and doublers below it included.

    Parameters
    ----------
    static : length, optional
        As the car stands.
    loaded : length, optional
        In every load case that has no limit of its own.
    cases : limits of load cases
        With names that are load cases of the splitter.
    """

    static: NonNegativeLength | None = None
    loaded: NonNegativeLength | None = None
    cases: Annotated[tuple[CaseClearance, ...], Field(max_length=_MOST)] = ()

    @model_validator(mode="after")
    def _says_something(self) -> Self:
        if self.static is None and self.loaded is None and not self.cases:
            refuse("has no limit; write static, loaded or cases")
        names = [limit.case for limit in self.cases]
        twice = [name for name in names if names.count(name) > 1]
        if twice:
            refuse(f"has two limits for the load case '{twice[0]}'; leave one out")
        return self


class CornerRadius(Record):
    """Smallest radius of an outward corner of the outline, seen from above.

    Parameters
    ----------
    least : length
        Smallest radius.
    ahead_of : length, optional
        Only corners further forward than this x count; all when left out.
    tolerance : length, optional
        In place of that of the envelope.
    """

    least: NonNegativeLength
    ahead_of: Length | None = None
    tolerance: NonNegativeLength | None = None


class EdgeRadius(Record):
    """Smallest radius of the edge of the sheet, seen in section.

    Parameters
    ----------
    least : length
        Smallest radius.
    built : length, optional
        As it is built; the model does not know it.
    tolerance : length, optional
        In place of that of the envelope.
    """

    least: NonNegativeLength
    built: NonNegativeLength | None = None
    tolerance: NonNegativeLength | None = None


class DeflectionLimit(Record):
    """How far a point may move up or down when the forces of a load case are put on.

    What the weight and the air of the case do by themselves is taken off, as a dial gauge does that is set to
    zero before the forces are put on.

    Parameters
    ----------
    case : str
        Name of the load case with the forces of the test.
    most : length
        Largest movement, up or down.
    at : point, optional
        Where it is measured; at the point force of the case when left out.
    tolerance : length, optional
        In place of that of the envelope.
    """

    case: Name
    most: NonNegativeLength
    at: Point | None = None
    tolerance: NonNegativeLength | None = None


class Envelope(Record):
    """Limits of a rulebook to the panel; each may be left out, and every number is the user's own.

    Parameters
    ----------
    bodywork : Bodywork, optional
        The bodywork's edge seen from above.
    forward : ForwardLimit, optional
        How far the front edge may reach ahead of the bodywork.
    widths : width limits
        How far the panel may reach to the side.
    rear : length, optional
        No part of the panel lies further aft than this x (forward positive, front axle line at zero).
    clearance : ClearanceLimits, optional
        Smallest gaps to the ground.
    symmetry : length, optional
        Largest distance between the panel, openings included, and its mirror image about y = 0.
    corner_radius : CornerRadius, optional
        Of the outline, seen from above.
    edge_radius : EdgeRadius, optional
        Of the sheet's edge.
    deflections : deflection limits
        Movement under a test force.
    tolerance : length
        Of building and measuring: what lies no further than this from a limit, on either side, is to be measured
        on the car. 4 mm is common practice and has no source.
    """

    bodywork: Bodywork | None = None
    forward: ForwardLimit | None = None
    widths: Annotated[tuple[WidthLimit, ...], Field(max_length=_MOST)] = ()
    rear: Length | None = None
    clearance: ClearanceLimits | None = None
    symmetry: NonNegativeLength | None = None
    corner_radius: CornerRadius | None = None
    edge_radius: EdgeRadius | None = None
    deflections: Annotated[tuple[DeflectionLimit, ...], Field(max_length=_MOST)] = ()
    tolerance: NonNegativeLength = 4e-3

    @model_validator(mode="after")
    def _can_be_measured(self) -> Self:
        limits = {name: getattr(self, name) for name in type(self).model_fields}
        if all(limits[name] in (None, ()) for name in limits if name not in ("bodywork", "tolerance")):
            refuse("has no limit; write at least one, such as rear or forward")
        if self.bodywork is None and self.forward is not None:
            refuse("has a forward limit but no bodywork to measure from; write the bodywork's line")
        for width in self.widths:
            if self.bodywork is None and width.needs_line:
                refuse(
                    f'has a width limit against "{width.against}" but no bodywork to measure from; write the '
                    "bodywork's line"
                )
        return self
