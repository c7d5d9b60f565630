"""Quantities in words ("12 mm", "1/2 in", "140 lbf", "240 km/h") to SI floats, and back for people to read.

Inside the library every quantity is a float in SI units (m, N, Pa, kg, s, rad). Words are turned into SI
once, where they enter, by `quantity` or by one of the annotated types below, which serve as the types of
pydantic fields. Conversion factors are exact and come from pint, whose registry is made on first use.

Notes
-----
The definitions behind the factors are those of the SI Brochure (BIPM, 9th ed.) and NIST SP 811 (2008),
appendix B: 1 in = 25.4 mm and 1 lb = 0.45359237 kg exactly, g = 9.80665 m/s² for pounds-force and "g".
"""

from __future__ import annotations

from splitterfem.units._fields import (
    Acceleration,
    Angle,
    ArealDensity,
    AreaQ,
    Density,
    Dimensionless,
    Force,
    Frequency,
    Length,
    Mass,
    Modulus,
    Moment,
    NonNegativeLength,
    Point,
    Point3,
    PositiveArea,
    PositiveLength,
    PositivePressure,
    Pressure,
    Quantity,
    SecondMoment,
    Speed,
    SpringRate,
)
from splitterfem.units._people import convert, say, say_as
from splitterfem.units._values import Written, quantity, unit_name, words

__all__ = [
    "Acceleration",
    "Angle",
    "AreaQ",
    "ArealDensity",
    "Density",
    "Dimensionless",
    "Force",
    "Frequency",
    "Length",
    "Mass",
    "Modulus",
    "Moment",
    "NonNegativeLength",
    "Point",
    "Point3",
    "PositiveArea",
    "PositiveLength",
    "PositivePressure",
    "Pressure",
    "Quantity",
    "SecondMoment",
    "Speed",
    "SpringRate",
    "Written",
    "convert",
    "quantity",
    "say",
    "say_as",
    "unit_name",
    "words",
]
