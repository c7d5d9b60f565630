"""Names of what studies change and ask, as people read them on the axes of a picture."""

from __future__ import annotations

from splitterfem.design.splitter import PART_LISTS
from splitterfem.layouts.measures import Asked
from splitterfem.layouts.parameters import Parameter
from splitterfem.layouts.ways import Move, Presence
from splitterfem.output.studyunits import StudyUnits

SILENT = {*PART_LISTS, "panel", "cutouts", "car", "cases", "handling", "envelope", "strength"}
"""Steps of a path that everybody knows."""

PLACES = {"x": "forward (x)", "y": "to the left (y)", "z": "up (z)"}
WAYS = {"dx": "moved forward", "dy": "moved to the left"}
AS_TABLES = StudyUnits()
LONGEST = 34
"""Letters of a name on an axis; in the middle of longer ones some are left out."""


def readable(name: str) -> str:
    """Write a path of a design in words; names that are none stay.

    Examples
    --------
    >>> readable("struts.inner strut.foot.x"), readable("panel.sheet.thickness"), readable("car.ride_height")
    ('inner strut: foot forward (x)', 'sheet thickness', 'ride height')
    """
    return ", ".join(_of_path(path) for path in name.split(", "))


def _of_path(path: str) -> str:
    steps = path.split(".")
    if len(steps) == 1 or any(not step for step in steps):
        return path
    while len(steps) > 1 and steps[0] in SILENT:
        steps = steps[1:]
        if path.split(".")[0] not in ("panel",):
            break  # what follows is the name of a part or a field, whatever it is called
    words = [PLACES.get(step, step.replace("_", " ")) for step in steps]
    if path.split(".")[0] in PART_LISTS and len(steps) > 1:
        return f"{steps[0]}: {' '.join(words[1:])}"
    return " ".join(words)


def parameter_name(one: Parameter) -> str:
    """Name of a parameter in words, without its unit."""
    if one.name == one.way.name:
        if isinstance(one.way, Move):
            return f"{one.way.part} {WAYS[one.way.axis]}"
        if isinstance(one.way, Presence):
            return f"with {one.way.part}"
    return shortened(readable(one.name))


def parameter_label(one: Parameter, units: StudyUnits = AS_TABLES) -> str:
    """Name of a parameter with its unit, for an axis."""
    return f"{parameter_name(one)}, {units.unit(one.unit)}" if one.unit else parameter_name(one)


def measure_name(one: Asked, units: StudyUnits = AS_TABLES) -> str:
    """Name of a measure; the place of a sag in the units of the picture."""
    if one.at is None or units.unit("mm") == "mm":
        return one.name
    x, y = (units.shown(1e3 * place, "mm") for place in one.at)
    return f"sag at ({x:.4g}, {y:.4g})"


def measure_label(one: Asked, units: StudyUnits = AS_TABLES) -> str:
    """Name of a measure with its unit, for an axis; of a utilisation what it is measured by."""
    if one.unit:
        return f"{measure_name(one, units)}, {units.unit(one.unit)}"
    return f"{one.name} (1 is the limit)" if "utilisation" in one.name else one.name


def shortened(text: str) -> str:
    """Leave out letters in the middle of a text that is too long for an axis."""
    if len(text) <= LONGEST:
        return text
    half = (LONGEST - 3) // 2
    return f"{text[:half]} … {text[-half:]}"
