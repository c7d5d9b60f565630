"""What the air does to panel, tunnels and car, in words: bands, axle loads, tunnels, and how far it can be trusted."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from splitterfem.aero.axles import EDGE_DRAG
from splitterfem.aero.gap_law import GAP_CAUTIONS
from splitterfem.analysis import Solution
from splitterfem.design import LoadCase, Splitter
from splitterfem.design.gap import GapLawMap
from splitterfem.design.pressure import Adjusted
from splitterfem.model.gaplaw import gap_estimates
from splitterfem.model.loads import acting
from splitterfem.output.case_words import Said, density_words, together, wind_words
from splitterfem.output.wording import Words

KINDS = {
    "taps": "a map of taps",
    "grid": "a gridded map",
    "mesh": "a map on a mesh",
    "uniform": "a uniform pressure",
    "function": "a map from a Python function",
}
"""Pressure maps by their kind."""


@dataclass(frozen=True)
class TunnelForces:
    """What the air does to one tunnel in a load case, all that act together added up.

    Attributes
    ----------
    name : str
    force : float
        N, positive down.
    x, y : float
        Where it acts, m; nan without a force.
    on_panel : bool
        Whether it hangs on the rim of its opening; else the chassis carries it.
    measured : bool
        Whether it was given; else it is estimated from the shape of the ramp.
    degrees : float
        Angle of the ramp.
    steep : bool
        Whether flow may leave the ramp.
    """

    name: str
    force: float
    x: float
    y: float
    on_panel: bool
    measured: bool
    degrees: float
    steep: bool


def windy(solution: Solution) -> bool:
    """Whether air acts on panel or tunnels."""
    return solution.load.air is not None or bool(solution.load.tunnels)


def blowing(solution: Solution) -> list[LoadCase]:
    """Return the load cases whose air acts: the case itself, and those that it combines."""
    design = solution.model.design
    parts = [part for part, _ in acting(design, solution.case)]
    return [part for part in parts if part.pressure is not None or (part.speed and not part.combines)]


def by_gap_law(solutions: Sequence[Solution]) -> bool:
    """Whether some pressure is estimated from the gap."""
    return any(isinstance(part.pressure, GapLawMap) for s in solutions for part in blowing(s))


def tunnels_of(solution: Solution) -> list[TunnelForces]:
    """Add up what the air does to each tunnel of a solved load case."""
    given = _measured(solution.model.design)
    found = []
    for name in dict.fromkeys(load.name for load in solution.load.tunnels):
        loads = [load for load in solution.load.tunnels if load.name == name]
        total = math.fsum(load.force.force for load in loads)
        x, y = (
            math.fsum(load.force.force * at for load, at in zip(loads, places, strict=True)) / total
            if total
            else math.nan
            for places in ([load.force.x for load in loads], [load.force.y for load in loads])
        )
        ramp = loads[0].ramp
        degrees = math.degrees(ramp.angle)
        on_panel = loads[0].on_panel
        found.append(TunnelForces(name, total, x, y, on_panel, name in given, degrees, ramp.steep))
    return found


def _measured(design: Splitter) -> frozenset[str]:
    """Names of the tunnels whose force is given."""
    cutouts = [c for c in design.panel.cutouts if c.tunnel is not None and c.tunnel.force is not None]
    return frozenset(name for cutout in cutouts for name, _ in cutout.sides())


def gap_flags(design: Splitter, case: LoadCase) -> tuple[str, ...]:
    """Say where the estimate from the gap that loads the panel leaves the ground it stands on; none for other maps."""
    pressure = case.pressure
    if not isinstance(pressure, GapLawMap):
        return ()
    estimates = gap_estimates(design, case, pressure)
    flow = None if estimates is None else estimates.of(pressure.band).flow
    return () if flow is None else flow.flags.sentences()


def air_sentences(solutions: Sequence[Solution], words: Words) -> list[Said]:
    """Everything there is to say of the air of load cases, with the numbers of the cases that it is said of.

    Parameters
    ----------
    solutions : sequence of Solution
        Of one splitter.
    words : Words
        Units.
    """
    said = [(n, text) for n, s in enumerate(solutions, start=1) if windy(s) for text in _of_case(s, words)]
    found = together(said)
    if any(windy(solution) for solution in solutions):
        found += [((), text) for text in _of_all(solutions)]
    return found


def _of_case(solution: Solution, words: Words) -> Iterator[str]:
    """Sentences on the air of one load case; those that name it begin with it."""
    design = solution.model.design
    parts = blowing(solution)
    for part in parts:
        yield density_words(part, words)
        wind = wind_words(part, words)
        if wind:
            yield wind
    yield from band_sentences(solution)
    yield from _tunnel_sentences(solution, words)
    for part in parts:
        for flag in gap_flags(design, part):
            yield f"Gap law: {flag}"


def notes_of(solutions: Sequence[Solution]) -> list[str]:
    """Sentences on how the pressure maps fit the panel; they name their load cases."""
    airs = [solution.load.air for solution in solutions]
    return list(dict.fromkeys(note for air in airs if air is not None for note in air.notes))


def band_sentences(solution: Solution) -> list[str]:
    """Say what the low and the high downforce of a load case are, or why there are none."""
    if solution.load.air is None:
        return []
    parts = [part for part in blowing(solution) if part.pressure is not None]
    said = list(dict.fromkeys(_band_words(part) for part in parts))
    if solution.case.combines and solution.car.band is not None and len(said) > 1:
        said.append("The bands of the combined cases are added; a map without one counts as known.")
    return said


def _band_words(case: LoadCase) -> str:
    pressure = case.pressure
    if isinstance(pressure, GapLawMap):
        scale = f", times {pressure.scale:g}" if pressure.scale != 1.0 else ""
        return f"Low, typical and high are estimates of the gap law{scale}; the {pressure.band} one loads the panel."
    assert pressure is not None
    off = pressure.uncertainty if isinstance(pressure, Adjusted) else None
    if off is None:
        return f"No band: {KINDS[pressure.kind]} without an uncertainty; it can still be wrong by half."
    return f"Low and high are the user's uncertainty of {100.0 * float(off):.3g} % on {KINDS[pressure.kind]}."


def _tunnel_sentences(solution: Solution, words: Words) -> Iterator[str]:
    """Say what forces the tunnels have, who carries them, and which ramps are too steep."""
    tunnels = tunnels_of(solution)
    for on_panel in (True, False):
        for measured in (True, False):
            some = [t for t in tunnels if (t.on_panel, t.measured) == (on_panel, measured)]
            if some:
                forces = " and ".join(f"{t.name} {words.with_unit(t.force, words.force, 0)}" for t in some)
                basis = "from the measured force" if measured else "estimated from the shape of the ramp"
                where = (
                    "by the panel, on the rim of its opening"
                    if on_panel
                    else "by the chassis, not by the panel"
                )
                yield f"Part of the downforce: {forces}, {basis}; carried {where}."
    steep = [t for t in tunnels if t.steep and not t.measured]
    if steep:
        names = " and ".join(f"{t.name} ({t.degrees:.0f}°)" for t in steep)
        yield f"Steep ramps: {names}. Flow may leave them; the suction that is computed is then too much."
    if tunnels and solution.load.air is not None and solution.car.band is not None:
        yield "The band is that of the panel; the tunnels are added to it as they are."


def _of_all(solutions: Sequence[Solution]) -> Iterator[str]:
    """Sentences that hold for all load cases: how the figures are to be read."""
    car = solutions[0].model.design.car
    yield "Downforce is that of panel and tunnels, axle loads are what it adds to them, positive down."
    yield (
        f"The drag is that of the blunt front edge alone, an estimate: {EDGE_DRAG:g} times the dynamic pressure on "
        "thickness times width (coefficient from memory)."
    )
    if car.wheelbase is None:
        yield "The change of the axle loads is not known: the car has no wheelbase."
    elif car.track is None:
        yield "The share of the left wheels is not known: the car has no track."
    if by_gap_law(solutions):
        yield from GAP_CAUTIONS


def band_cell(solution: Solution, words: Words) -> str:
    """Low, typical and high downforce without unit; - without a band."""
    band = solution.car.band
    return "-" if band is None else ", ".join(words.number(force, words.force, 0) for force in band)


def air_cells(solution: Solution, words: Words) -> list[str]:
    """Downforce, its band, its centre, loads of front and rear axle, share of the left wheels, drag; - if not known."""
    car = solution.car

    def known(value: float, text: str) -> str:
        return text if math.isfinite(value) else "-"

    def force(value: float) -> str:
        return known(value, words.number(value, words.force, 0) if math.isfinite(value) else "")

    return [
        force(car.downforce),
        band_cell(solution, words),
        known(car.centre[0], words.place(car.centre) if math.isfinite(car.centre[0]) else ""),
        force(car.front),
        force(car.rear),
        known(car.left, f"{100.0 * car.left:.0f}"),
        force(car.drag),
    ]
