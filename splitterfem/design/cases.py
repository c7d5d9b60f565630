"""What is asked of a splitter: the car, load cases and the forces of a push."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal, Self

from pydantic import Field, model_validator

from splitterfem.design._record import Flag, Name, Record, refuse
from splitterfem.design.outline import Circle, Rectangle
from splitterfem.design.pad import Pad
from splitterfem.design.pressure import PressureMap
from splitterfem.units import (
    Acceleration,
    Angle,
    Density,
    Dimensionless,
    Force,
    Point,
    PositiveLength,
    Pressure,
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
        For the share of the axles in the downforce.
    """

    ride_height: PositiveLength
    rake: Angle = 0.0
    wheelbase: PositiveLength | None = None


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


class LoadCase(Record):
    """One situation in which the splitter is looked at.

    Parameters
    ----------
    name : str
        Unique among the cases.
    speed : speed
        Of the air.
    air_density : density
        1.225 kg/m³ is the standard atmosphere at sea level (ISO 2533).
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
        On pressure and forces, not on weight.
    duration : {"permanent", "long", "medium", "short", "instantaneous"}
        How long the load acts in all over the life of the panel: the load-duration classes of EN 1995-1-1
        2.3.1.2, by which the strength of wood is judged. Air loads are "short", a kerb strike is
        "instantaneous" (common practice, no source).
    """

    name: Name
    speed: Speed = 0.0
    air_density: Density = 1.225
    pressure: PressureMap | None = None
    forces: Annotated[tuple[AppliedForce, ...], Field(max_length=500)] = ()
    gravity: Flag = True
    acceleration: tuple[Acceleration, Acceleration, Acceleration] = (0.0, 0.0, 0.0)
    ride_height: PositiveLength | None = None
    rake: Angle | None = None
    factor: Dimensionless = 1.0
    duration: Literal["permanent", "long", "medium", "short", "instantaneous"] = "short"


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
