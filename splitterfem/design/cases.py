"""What is asked of a splitter: the car, load cases and the forces of a push."""

from __future__ import annotations

from collections import Counter
from typing import Annotated, ClassVar, Literal, Self

from pydantic import Field, model_validator

from splitterfem.design._kinds import Note
from splitterfem.design._record import Flag, Name, Record, refuse
from splitterfem.design.gap import PressureMap
from splitterfem.design.outline import Circle, Rectangle
from splitterfem.design.pad import Pad
from splitterfem.design.weather import Weather
from splitterfem.units import (
    Acceleration,
    Angle,
    Density,
    Dimensionless,
    Force,
    Point,
    PositiveLength,
    Pressure,
    Quantity,
    Speed,
)


class Car(Record):
    """How the panel stands over the ground.

    The gap below the lower face at x is ``ride_height - x tan(rake)``.

    Parameters
    ----------
    ride_height : length
        From the ground to the lower face of the panel at x = 0.
    rake : angle
        Nose down positive.
    wheelbase : length, optional
        For the change of the axles' loads.
    track : length, optional
        Between the middles of the front wheels, for the share of the left ones.
    """

    ride_height: PositiveLength
    rake: Angle = 0.0
    wheelbase: PositiveLength | None = None
    track: PositiveLength | None = None


class PointForce(Record):
    """A force that acts over a pad.

    Parameters
    ----------
    at : point
        Centre of the pad.
    force : three forces
        Along x (forward), y (left) and z (up).
    pad : Pad
        Over which it spreads.
    """

    kind: Literal["point"] = "point"
    at: Point
    force: tuple[Force, Force, Force]
    pad: Pad = Pad(diameter=0.04)


_Wind = Annotated[float, Quantity("speed")]
_AREAS = ("rectangle", "circle")
_LOADS = ("pressure", "force")


class PatchForce(Record):
    """A load spread evenly over a rectangle or a circle.

    Parameters
    ----------
    rectangle : Rectangle, optional
        Where it acts; exactly one of `rectangle` and `circle`.
    circle : Circle, optional
        Where it acts.
    pressure : pressure, optional
        Positive down; exactly one of `pressure` and `force`.
    force : three forces, optional
        Total along x (forward), y (left) and z (up).
    """

    kind: Literal["patch"] = "patch"
    rectangle: Rectangle | None = None
    circle: Circle | None = None
    pressure: Pressure | None = None
    force: tuple[Force, Force, Force] | None = None

    dropped_by: ClassVar[dict[str, tuple[str, ...]]] = {
        "rectangle": ("circle",),
        "circle": ("rectangle",),
        "pressure": ("force",),
        "force": ("pressure",),
    }

    @model_validator(mode="after")
    def _one_of_each(self) -> Self:
        for names in (_AREAS, _LOADS):
            given = [name for name in names if getattr(self, name) is not None]
            if len(given) != 1:
                refuse(
                    f"has {' and '.join(given) or f'neither {names[0]} nor {names[1]}'}; "
                    f"write exactly one of {names[0]} and {names[1]}"
                )
        return self

    @property
    def area_shape(self) -> Rectangle | Circle:
        """Where it acts."""
        shape = self.rectangle or self.circle
        assert shape is not None
        return shape


AppliedForce = Annotated[PointForce | PatchForce, Field(discriminator="kind")]
"""A force of a load case, told apart by ``kind``."""


class CasePart(Record):
    """A load case as part of another.

    Parameters
    ----------
    case : str
        Its name.
    factor : number
        On its air, forces and acceleration.
    """

    case: Name
    factor: Dimensionless = 1.0


class LoadCase(Record):
    """One situation in which the splitter is looked at.

    Parameters
    ----------
    name : str
        Unique among the cases.
    note : str
        Where its figures come from, for example.
    speed : speed
        Of the car over the ground.
    head_wind : speed
        Added to it for the speed of the air; negative from behind.
    air_density : density
        1.225 kg/m³ is the standard atmosphere at sea level (ISO 2533).
    air : Weather, optional
        In place of `air_density`: measured pressure and temperature, or an altitude.
    pressure : pressure map, optional
        Air on the panel.
    forces : forces
        Pushes, weights.
    gravity : bool
        Whether the weight of the panel and its ribs acts.
    acceleration : three accelerations
        Of the car, along x (forward), y (left) and z (up); the panel feels the opposite.
    ride_height : length, optional
        In place of that of the car.
    rake : angle, optional
        In place of that of the car.
    factor : number
        On pressure and forces, those of combined cases included; not on weight and acceleration.
    duration : {"permanent", "long", "medium", "short", "instantaneous"}
        How long the load acts in all over the life of the panel: the load-duration classes of EN 1995-1-1
        2.3.1.2, by which the strength of wood is judged. Air loads are "short", a kerb strike is
        "instantaneous" (common practice, no source).
    unbonded : names of ribs
        Ribs whose joint to the panel is lost in this case, such as a bond that has let go: they stay where they are,
        carry their weight and bend with the panel, but no longer act with it as one section.  The name of a mirrored
        pair means both halves, that of a half means that one.  What becomes of each joint in turn is told by
        `splitterfem.lose_one`.
    combines : case parts
        Other cases whose air, forces and accelerations, each times its factor, act at the same time.  Weight acts
        once, by this case's own `gravity`.  The air of each is found at its own speed and ride height.  Ride height
        and rake that are not given are those of the case with the lowest; the speed that is not given is the highest,
        the duration the shortest of all (EN 1995-1-1 3.1.3 (2)).  A case with a factor of zero does not count.
    ground : bool
        Whether there is ground that the panel can touch, at the local ride height.
    large_deflection : bool
        Whether slopes stretch panel and ribs, as they do when the panel sags by about half its thickness or more
        (von Karman); without, everything is proportional to the load.
    sag_feedback : bool
        Whether the pressure follows the gap as the panel sags: by the gap law itself, or by the ``gap_exponent`` of
        a measured map.
    """

    name: Name
    note: Note = ""
    speed: Speed = 0.0
    head_wind: _Wind = 0.0
    air_density: Density = 1.225
    air: Weather | None = None
    pressure: PressureMap | None = None
    forces: Annotated[tuple[AppliedForce, ...], Field(max_length=500)] = ()
    gravity: Flag = True
    acceleration: tuple[Acceleration, Acceleration, Acceleration] = (0.0, 0.0, 0.0)
    ride_height: PositiveLength | None = None
    rake: Angle | None = None
    factor: Dimensionless = 1.0
    duration: Literal["permanent", "long", "medium", "short", "instantaneous"] = "short"
    unbonded: Annotated[tuple[Name, ...], Field(max_length=300)] = ()
    combines: Annotated[tuple[CasePart, ...], Field(max_length=20)] = ()
    ground: Flag = True
    large_deflection: Flag = False
    sag_feedback: Flag = False

    dropped_by: ClassVar[dict[str, tuple[str, ...]]] = {"air": ("air_density",), "air_density": ("air",)}

    @model_validator(mode="after")
    def _one_air(self) -> Self:
        if self.air is not None and "air_density" in self.model_fields_set:
            refuse("has air and air_density; write exactly one of the two")
        if self.speed + self.head_wind < 0.0:
            refuse("has a wind from behind that is faster than the car; write a slower one")
        return self

    @model_validator(mode="after")
    def _combines_once(self) -> Self:
        twice = [name for name, count in Counter(part.case for part in self.combines).items() if count > 1]
        if twice:
            refuse(f"combines '{twice[0]}' twice; name it once, with the sum of its factors")
        return self


class MeshSettings(Record):
    """How finely the panel is divided.

    Parameters
    ----------
    size : length
        Usual side of a triangle.
    pad_size : length, optional
        Side of the triangles at pads, when they are to be finer.
    chord : length
        Largest distance between a curved edge and its chords.
    """

    size: PositiveLength = 0.03
    pad_size: PositiveLength | None = None
    chord: PositiveLength = 0.5e-3
