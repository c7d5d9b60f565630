"""What a report says beside its figures: what was assumed, and what to beware of."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from splitterfem.analysis import Solution
from splitterfem.analysis.envelope import CAUTION
from splitterfem.design import Gravel, KerbStrike, Lifting, PushTest, Shaking, Splitter, Standing
from splitterfem.design.joints import Bond
from splitterfem.materials import BarMaterial, Layup, SheetMaterial
from splitterfem.output.air_words import windy
from splitterfem.output.envelope_words import NO_ENVELOPE
from splitterfem.output.sources import cases_behind, file_sentences, pressure_sentences
from splitterfem.output.wording import Words

_BASIS = {
    "published": "compared with that source",
    "memory": "recalled from that source and not compared with it since",
    "indicative": "a usual value within a wide range",
    "user": "given by the user and not checked",
}


def assumptions(solutions: Sequence[Solution], words: Words) -> list[str]:
    """Sentences on what the figures rest on: model, signs, air, materials, mass."""
    model = solutions[0].model
    design = model.design
    return [
        "Computed by static finite elements: a plate with membrane action and transverse shear "
        f"({model.panel.space.n_elements} triangles, {model.unknowns} unknowns), {_joined(design)}"
        "struts, bolts and pins that hold as drawn, and rear pockets that carry only where the panel "
        f"touches a lip{_stops(design)}. {_linear(solutions)} {_air(solutions)} "
        f"{_ground(solutions)}",
        "Ride height is from the ground to the panel's lower face at the front axle line; rake is nose down. "
        f"The car stands at {words.with_unit(float(design.car.ride_height), words.size)} with a rake of "
        f"{words.with_unit(float(design.car.rake), 'deg')} unless the load case says otherwise.",
        "Signs: x forward of the front axle, y to the left, z up. Sag is positive down, forces are those on "
        "the panel, tension is positive.",
        *pressure_sentences(solutions, words),
        *_materials(design, words),
        "The mass is that of panel and ribs, without struts, brackets, fixings and paint.",
        *file_sentences(design, cases_behind(solutions)),
    ]


def _numbers(solutions: Sequence[Solution], chosen: Callable[[Solution], bool]) -> str:
    """Name load cases by their numbers: ``load case 2``, ``load cases 1 and 3``, ``all load cases``; empty for none."""
    numbers = [str(n) for n, solution in enumerate(solutions, start=1) if chosen(solution)]
    if len(numbers) == len(solutions):
        return "all load cases"
    if len(numbers) < 2:
        return f"load case {numbers[0]}" if numbers else ""
    return f"load cases {', '.join(numbers[:-1])} and {numbers[-1]}"


def _linear(solutions: Sequence[Solution]) -> str:
    large = _numbers(solutions, lambda s: s.response.large)
    if not large:
        return "Deflections are small ones: slopes do not stretch the panel."
    rest = "" if large.startswith("all") else ", in the others they do not"
    return f"In {large} slopes stretch panel and ribs (large deflection, von Karman){rest}."


def _follows(solution: Solution) -> bool:
    return solution.follower is not None


def _air(solutions: Sequence[Solution]) -> str:
    follows = _numbers(solutions, _follows)
    if not follows:
        return "The air's pressure does not follow the gap as the panel sags."
    rest = "" if follows.startswith("all") else ", in the others it does not"
    return f"In {follows} the air's pressure follows the gap as the panel sags{rest}."


def _ground(solutions: Sequence[Solution]) -> str:
    without = _numbers(solutions, lambda s: not s.case.ground)
    held = "The ground is flat, hard and smooth, and holds up what comes down to it"
    if not without:
        return f"{held}."
    return f"{held}; {without} leave{'s' if without.startswith('load case ') else ''} it out."


def _stops(design: Splitter) -> str:
    return ", and stops that carry only once it touches them" if design.stops else ""


def _joined(design: Splitter) -> str:
    """How ribs and doublers sit on the panel, each with a comma behind it."""
    slips = [not isinstance(rib.joint, Bond) for rib in design.ribs]
    doublers = "doublers glued to it without slip, " if design.doublers else ""
    if not slips:
        return doublers
    if all(slips):
        return f"ribs on joints that slip, {doublers}"
    some = " or, where the design describes their joints, on joints that slip" if any(slips) else ""
    return f"ribs bonded to it without slip{some}, {doublers}"


def _materials(design: Splitter, words: Words) -> list[str]:
    sheet = design.panel.sheet.resolved
    bars: dict[str, BarMaterial] = {rib.resolved.name: rib.resolved for rib in design.ribs}
    said = [f"Sheet, {_sourced(sheet)}{_stiffness(sheet, words)}."]
    if isinstance(sheet, SheetMaterial) and sheet.modulus_advice is not None:
        said.append(
            f"The moduli of the sheet are used as they stand; without a flex test {sheet.modulus_advice:g} "
            "times these is the usual advice for sag, which then grows accordingly."
        )
    said += [f"Ribs, {_sourced(bar)}: E {_modulus(float(bar.E), words)}." for bar in bars.values()]
    return said


def _sourced(material: SheetMaterial | Layup | BarMaterial) -> str:
    return f"{material.name} ({material.source}; {_BASIS[material.basis]})"


def _stiffness(sheet: SheetMaterial | Layup, words: Words) -> str:
    if isinstance(sheet, Layup):
        return f", {len(sheet.plies)} plies"
    along, across = sheet.bending_pair
    if sheet.kind == "isotropic":
        return f": E {_modulus(along, words)}"
    return (
        f": E in bending {_modulus(along, words)} along and {_modulus(across, words)} across the face grain"
    )


def _modulus(value: float, words: Words) -> str:
    return words.with_unit(
        value, "GPa" if words.system == "metric" else "ksi", 1 if words.system == "metric" else 0
    )


def cautions(solutions: Sequence[Solution], *, losses: bool) -> list[str]:
    """Sentences on what the report does not say and what to look after; common practice, no source.

    Parameters
    ----------
    solutions : sequence of Solution
    losses : bool
        Whether the report tells what the loss of one part does.
    """
    design = solutions[0].model.design
    rules = NO_ENVELOPE if design.envelope is None else CAUTION
    missing = _not_in_the_figures(solutions, losses)
    said = [f"{_NO_CERTIFICATE} {rules}", _AIR, missing, _selected(solutions), *_CAUTIONS]
    if "plywood" in design.panel.sheet.resolved.name.lower():
        said.insert(4, _PLYWOOD)
    if design.invented:
        said.insert(0, _INVENTED)
    return said


def short_caution(design: Splitter) -> str:
    """Say on the first page what the whole report is worth."""
    invented = f"{_INVENTED} " if design.invented else ""
    return f"{invented}{_NO_CERTIFICATE} The cautions at the end belong to every figure of this report."


def _not_in_the_figures(solutions: Sequence[Solution], losses: bool) -> str:
    blown = [solution for solution in solutions if windy(solution)]
    follows = _numbers(solutions, _follows)
    suction = f"suction that rises as the panel sags{f' (but for {follows})' if follows else ''}, "
    if blown and all(_follows(solution) for solution in blown):
        suction = ""
    lost = "the jolt when a part breaks" if losses else "the loss of a strut or a pin"
    return (
        f"Not in the figures: {suction}stalled flow, yaw, traffic, heat, vibration, "
        f"fatigue, {lost}, and every load that is not in the list. Kerbs, debris, people and jacks break "
        "splitters; nothing is claimed about a crash or about people who are hit."
    )


def _selected(solutions: Sequence[Solution]) -> str:
    """Say which usual handling is not among the load cases, and that lifting the car never is."""
    design, solved = solutions[0].model.design, {solution.case.name for solution in solutions}
    chosen = {
        type(handling)
        for handling in design.handling
        if {case.name for case in handling.load_cases(design)} & solved
    }
    missing = [kind.usual_name for kind in _HANDLING if kind not in chosen]
    without = f" Of the usual handling these were not selected: {', '.join(missing)}." if missing else ""
    return (
        "Load cases that were not selected were not checked."
        f"{without} Lifting the car by the panel, with a jack or on a ramp, is not offered as a load case: never do it."
    )


_HANDLING = (KerbStrike, Standing, Lifting, Shaking, Gravel, PushTest)


_PLYWOOD = (
    "The plywood's figures are for dry boards without faults; other boards differ by a factor of two and wet "
    "ones lose up to half of their strength. Seal edges and holes, look for loose plies, and check the "
    "stiffness by a flex test of your own board."
)
_INVENTED = "The data of this splitter are invented for demonstration: build nothing from them."
_NO_CERTIFICATE = (
    "This is an estimate and not a certificate. The rules of the event and of the place come first, and so do its "
    "scrutineers; where they or the law ask for it a licensed engineer has to judge the part."
)
_AIR = (
    "Loads from air are estimates that can be wrong by half: measure them (pressure taps, strain in the "
    "struts), or load the finished panel on stands to 1.5 times the computed force before it is driven."
)
_CAUTIONS = (
    "A utilisation below 1 says that the part bears the loads of this list at the strength given, in sound work; "
    "above 1 it does not. Brackets, welds, the chassis and what is listed as not judged are not in it. The glue of "
    "ribs is the least certain part of all, so back it up with screws or rivets and test a sample joint; next come "
    "screws and rivets in thin walls, pull-through, and the ends of ribs, where figures depend on the mesh.",
    "Struts buckle when a kerb pushes the panel up, and struts that lean forward pull the panel out of its "
    "rear pockets. Lock every fastener, fit the washers as drawn, and tether the panel to the car.",
    "Look the panel over after every contact and before every run. Edges near the ground cut; nobody "
    "lies under a car that is lifted on its splitter.",
)
