"""What acts in a load case, in words: speed and density of the air, forces, combined cases, lost joints."""

from __future__ import annotations

from collections.abc import Sequence

from splitterfem.analysis import Solution
from splitterfem.design import LoadCase, PointForce, Splitter
from splitterfem.model.air import air_density, air_speed
from splitterfem.output.wording import Words
from splitterfem.units import say

Said = tuple[tuple[int, ...], str]
"""A sentence and the numbers, from 1, of the load cases that it is about; none where it names them itself."""


def handling_names(design: Splitter) -> frozenset[str]:
    """Names of the load cases that the handling cases of a design stand for."""
    return frozenset(case.name for handling in design.handling for case in handling.load_cases(design))


def handling_words(case: LoadCase) -> str:
    """Say of a handling case where its magnitudes come from."""
    return f"handling: {case.note.rstrip('.') or 'nothing is said of where its magnitudes come from'}"


def only_combines(case: LoadCase) -> bool:
    """Tell whether a case has no air of its own, only that of the cases that it combines."""
    return bool(case.combines) and case.pressure is None


def combined_words(case: LoadCase, *, times: str = "x") -> str:
    """Write out which cases a case combines: ``1.35 x straight + 1 x braking``; empty when it combines none.

    Parameters
    ----------
    case : LoadCase
    times : str
        The sign between a factor and its case.
    """
    text = ""
    for part in case.combines:
        factor = float(part.factor)
        sign = " - " if factor < 0.0 else " + "
        text += f"{sign if text else sign.strip(' +')}{abs(factor):g} {times} {part.case}"
    return text


def lost_words(case: LoadCase) -> str:
    """Say which joints are lost; empty when none is."""
    return f"lost joint of {', '.join(case.unbonded)}" if case.unbonded else ""


def how_words(case: LoadCase) -> str:
    """Say what a case asks of its solution beyond the usual; empty when nothing."""
    said = [
        *(["large deflection"] if case.large_deflection else []),
        *(["sag feedback"] if case.sag_feedback else []),
        *([] if case.ground else ["no ground"]),
    ]
    return "; ".join(said)


def speed_words(case: LoadCase, words: Words) -> str:
    """Speed of the air with its unit, and what of it is wind, each on a line."""
    if only_combines(case):
        return "as combined"
    speed, wind = words.with_unit(air_speed(case), words.speed, 0), float(case.head_wind)
    if not wind:
        return speed
    return f"{speed}\n{words.number(abs(wind), words.speed, 0)} {'head' if wind > 0.0 else 'tail'} wind"


def wind_words(case: LoadCase, words: Words) -> str:
    """Say in a sentence what the wind does to the speed of the air; empty without one."""
    wind = float(case.head_wind)
    if not wind or only_combines(case):
        return ""
    air, ground, own = (words.with_unit(v, words.speed, 0) for v in (air_speed(case), case.speed, abs(wind)))
    return f"Air at {air}: the car's {ground} {'with' if wind > 0.0 else 'less'} a wind of {own} " + (
        "from ahead." if wind > 0.0 else "from behind."
    )


def density_how(case: LoadCase, words: Words) -> str:
    """Say how the density of a case's air came about: standard, measured, or as given."""
    weather = case.air
    if weather is None:
        if "air_density" in case.model_fields_set:
            return "as given"
        return "the standard atmosphere at sea level (ISO 2533), for nothing is given"
    if weather.altitude is not None:
        height = say(float(weather.altitude), "m" if words.system == "metric" else "ft", 0)
        off = float(weather.warmer)
        than = f", {abs(off):g} K {'warmer' if off > 0.0 else 'colder'} than that" if off else ""
        return f"the standard atmosphere (ISO 2533) at {height}{than}"
    pressure = say(float(weather.pressure or 0.0), "hPa", 1)
    return f"from the measured {pressure} and {float(weather.celsius or 0.0):g} °C, dry"


def density_words(case: LoadCase, words: Words) -> str:
    """Say in a sentence how dense the air of a case is and how that came about."""
    return f"Air density {words.with_unit(air_density(case), words.density, 3)}: {density_how(case, words)}."


def acts_words(case: LoadCase, words: Words, *, times: str = "x") -> str:
    """Write in a few words what a load case has besides air."""
    said = ["weight"] if case.gravity else []
    if case.combines:
        said.append(combined_words(case, times=times))
    for force in case.forces:
        if isinstance(force, PointForce):
            x, y, z = (words.number(component, words.force, 0) for component in force.force)
            said.append(f"force {x}, {y}, {z} {words.force} at x, y {words.place(force.at)}")
        else:
            said.append("load on a patch")
    if any(case.acceleration):
        said.append(
            "acceleration "
            + ", ".join(words.number(a, "g", 2, dimension="acceleration") for a in case.acceleration)
            + " g"
        )
    if case.ride_height is not None:
        said.append(f"ride height {words.with_unit(float(case.ride_height), words.size)}")
    if case.rake is not None:
        said.append(f"rake {words.with_unit(float(case.rake), 'deg')}")
    said += [text for text in (lost_words(case), how_words(case)) if text]
    if case.factor != 1.0:
        said.append(f"factor {case.factor:g}")
    return "; ".join(said) or "nothing"


def case_notes(solutions: Sequence[Solution], *, times: str = "x") -> list[Said]:
    """Sentences on the cases themselves: notes, where handling comes from, what is combined, what is lost."""
    handling = handling_names(solutions[0].model.design)
    said: list[tuple[int, str]] = []
    for number, solution in enumerate(solutions, start=1):
        case = solution.case
        if case.combines:
            said.append((number, f"{combined_words(case, times=times)}."))
        if case.unbonded:
            said.append((number, f"{lost_words(case)}."))
        if case.name in handling:
            said.append((number, f"{handling_words(case)}."))
        elif case.note:
            said.append((number, case.note if case.note.endswith((".", "!", "?")) else f"{case.note}."))
    return together(said)


def together(said: Sequence[tuple[int, str]]) -> list[Said]:
    """Put the numbers of the cases of which the same is said into one sentence, in the order of the first."""
    found: dict[str, list[int]] = {}
    for number, text in said:
        numbers = found.setdefault(text, [])
        if number and number not in numbers:
            numbers.append(number)
    return [(tuple(numbers), text) for text, numbers in found.items()]


def with_names(said: Sequence[Said], names: Sequence[str]) -> list[str]:
    """Write sentences with the names of their load cases before them."""
    before = [", ".join(f"'{names[n - 1]}'" for n in numbers) for numbers, _ in said]
    return [f"{who}: {text}" if who else text for who, (_, text) in zip(before, said, strict=True)]


def with_numbers(said: Sequence[Said]) -> list[str]:
    """Write sentences with the numbers of their load cases before them."""
    return [
        f"Load case{'s' if len(numbers) > 1 else ''} {', '.join(map(str, numbers))}: {text}"
        if numbers
        else text
        for numbers, text in said
    ]
