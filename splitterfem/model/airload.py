"""Air on the panel: the pressure map of a load case, its load vector, and how far it can be trusted."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from splitterfem import aero
from splitterfem.aero import Band, GapMap, SourceField, dynamic_pressure
from splitterfem.aero.adjust import to_share, to_total
from splitterfem.aero.overlap import Area
from splitterfem.aero.transfer import ALLOWED, Elements, Spread, spread
from splitterfem.design import LoadCase, Splitter
from splitterfem.design.gap import GapLawMap
from splitterfem.design.pressure import Adjusted
from splitterfem.errors import DesignError
from splitterfem.fem.loads import PRESSURE_ORDER
from splitterfem.fem.panel import Panel
from splitterfem.fem.reference import N_NODES, quadrature, tabulate_p2b
from splitterfem.model.air import air_density, air_speed, case_q
from splitterfem.model.airsource import source_map
from splitterfem.model.feedback_ratio import MovedMap, gap_rule, moved_words
from splitterfem.model.gaplaw import gap_estimates, gap_field, gap_totals

Array = NDArray[np.float64]

EDGE = 1e-4
"""Distance in m between the panel's true edge and the chords along which pressure maps are integrated."""

WHOLE = 0.995
"""A pressure map that covers this share of the panel covers all of it, to the nearest percent."""

AREA_OFF = 2e-3
"""Share of the panel's area that a mesh may miss before the chords of its edge are named as the cause."""


@dataclass(frozen=True)
class AirLoad:
    """What the air does to the panel.

    Attributes
    ----------
    downforce : float
        Total of the net pressure over the panel in N, positive down.
    centre : tuple of float
        Centre of pressure (x, y) in m; nan when the downforce is zero.
    covered : float
        Share of the panel's area on which pressure was measured rather than extrapolated.
    dynamic_pressure : float
        In Pa.
    force_of_source : float
        The pressure map's own total over the true panel in N: integrated over the triangles between its taps, the
        rectangles of its grid or the cells of its mesh, cut along the panel's edge.
    centre_of_source : tuple of float
        Its centre (x, y) in m; nan when the force is zero.
    deviation : float
        Largest deviation of the load from these: of the force, as a share of it, and of the centre, as a share of the
        panel's length and width.
    notes : tuple of str
        One sentence for each thing that whoever reads the figures should know.
    band : tuple of float or None
        Low, typical and high estimate of the total in N, when it is an estimate or its uncertainty is given.
    """

    downforce: float
    centre: tuple[float, float]
    covered: float
    dynamic_pressure: float
    force_of_source: float
    centre_of_source: tuple[float, float]
    deviation: float
    notes: tuple[str, ...] = ()
    band: tuple[float, float, float] | None = None


def pressure_field(splitter: Splitter, case: LoadCase) -> SourceField:
    """Net pressure of a case in Pa, its load factor included.

    Raises
    ------
    DesignError
        If the case has no pressure map, or its map cannot be brought to the total or to the share of the sides that
        it asks for.
    FileError
        If the file of the map cannot be read.
    """
    return _field(splitter, case)[0]


def _field(splitter: Splitter, case: LoadCase) -> tuple[SourceField, Band[GapMap] | None]:
    """Net pressure of a case, and the estimates that it was chosen from when it is one."""
    pressure = case.pressure
    if pressure is None:
        raise DesignError(f"Load case '{case.name}' has no pressure map: give it one.")
    if isinstance(pressure, GapLawMap):
        estimates = gap_estimates(splitter, case, pressure)
        field: SourceField = aero.UniformMap(0.0) if estimates is None else gap_field(estimates, pressure)
        return field.scaled(float(case.factor)), estimates
    density, q = air_density(case), case_q(case)
    # Total and shares are found at a speed above zero, so that a case at rest can have them too.
    speed = pressure.total_speed or air_speed(case) or 1.0
    at_total = dynamic_pressure(float(speed), density=density) if pressure.by_speed else 1.0
    field = source_map(splitter, pressure, case, at_total)
    try:
        field = _adjusted(field, pressure, panel_area(splitter))
    except DesignError as problem:
        raise DesignError(f"Load case '{case.name}', pressure map: {problem}.") from None
    field = field.scaled(float(case.factor) * (q / at_total if pressure.by_speed else 1.0))
    rule = gap_rule(splitter, case, pressure)
    # A measured total belongs to the stand at which the map was measured, so that the gap comes last.
    return field if rule is None or not rule.moved else MovedMap(field, rule), None


def _band(
    splitter: Splitter, case: LoadCase, force: float, estimates: Band[GapMap] | None
) -> tuple[float, float, float] | None:
    """Low, typical and high total of a case's map in N, its load factor included."""
    pressure, factor = case.pressure, float(case.factor)
    if isinstance(pressure, GapLawMap):
        if estimates is None:
            return None
        low, typical, high = (
            factor * total for total in gap_totals(estimates, pressure, panel_area(splitter))
        )
        return (low, typical, high) if factor >= 0.0 else (high, typical, low)
    if isinstance(pressure, Adjusted) and pressure.uncertainty is not None:
        off = float(pressure.uncertainty) * abs(force)
        return force - off, force, force + off
    return None


def panel_area(splitter: Splitter) -> Area:
    """Plan view of the panel in m, its openings left out."""
    return splitter.panel.polygon(EDGE)


def _adjusted(field: SourceField, pressure: Adjusted, area: Area) -> SourceField:
    """Bring a map to its scale or its measured total, to the share of its sides, and to its allowance for yaw."""
    if pressure.total_force is not None:
        field = to_total(field, area, float(pressure.total_force))
    if pressure.left_right is not None:
        field = to_share(field, area, float(pressure.left_right))
    return field.scaled(float(pressure.scale) * float(pressure.yaw_factor))


def air_load(splitter: Splitter, panel: Panel, case: LoadCase) -> tuple[Array, AirLoad]:
    """Load vector (n_dofs,) of a case's pressure map, and what it comes to.

    Raises
    ------
    DesignError
        If the map covers none of the panel, or the mesh is too coarse for it.
    FileError
        If the file of the map cannot be read.
    """
    field, estimates = _field(splitter, case)
    area = panel_area(splitter)
    source = aero.resultant(field, area)
    covered = covered_share(case, source)
    space = panel.space
    corners = np.ascontiguousarray(space.points[:, space.triangles].transpose(2, 1, 0))
    found = spread(field, Elements(corners, _shapes, quadrature(PRESSURE_ORDER)), source, area)
    vectors = np.zeros((space.n_elements, N_NODES, 5))
    vectors[:, :, 2] = -found.loads
    vector = panel.scatter(np.arange(space.n_elements), vectors.reshape(space.n_elements, -1))
    deviation = found.deviation(source, area)
    return vector, AirLoad(
        downforce=found.force,
        centre=found.centre,
        covered=covered,
        dynamic_pressure=case_q(case),
        force_of_source=source.force,
        centre_of_source=(source.x, source.y),
        deviation=deviation,
        notes=(
            *_coverage(case, covered),
            *moved_words(splitter, case),
            *_judged(panel, case, found, source, deviation),
        ),
        band=_band(splitter, case, found.force, estimates),
    )


def _shapes(X: Array) -> Array:
    return tabulate_p2b(X)[0][:, :N_NODES]


def covered_share(case: LoadCase, source: aero.Resultant) -> float:
    """Share of the panel that a case's pressure map covers, from the map's own total.

    Raises
    ------
    DesignError
        If it covers none.
    """
    covered = 1.0 - source.extrapolated
    if covered <= 0.0:
        raise DesignError(
            f"The pressure map of load case '{case.name}' covers none of the panel: check the unit and the axes of "
            "its positions (x forward of the front axle, y to the left)."
        )
    return covered


def coverage_words(case: str, covered: float) -> str:
    """Say in a sentence how much of the panel the pressure map of a load case covers."""
    if covered >= WHOLE:
        return f"The pressure map of load case '{case}' covers the whole panel."
    share = f"{100.0 * covered:.0f}" if covered >= 0.01 else "less than 1"
    return f"The pressure map of load case '{case}' covers {share} % of the panel; the rest is taken from its edge."


def _coverage(case: LoadCase, covered: float) -> list[str]:
    return [] if covered >= WHOLE else [coverage_words(case.name, covered)]


def _judged(
    panel: Panel, case: LoadCase, found: Spread, source: aero.Resultant, deviation: float
) -> list[str]:
    """Refuse a load that does not keep the map's force and centre, unless the mesh's edge is to blame."""
    if deviation <= ALLOWED:
        return []
    sums = f"{source.force:.4g} N, its load to {found.force:.4g} N, {100.0 * deviation:.1f} % apart in force or centre"
    missed = 1.0 - float(panel.space.area.sum()) / source.area
    if abs(missed) > AREA_OFF:
        return [
            f"The pressure map of load case '{case.name}' adds up to {sums}, for the mesh cuts corners off the panel's "
            f"edge; make mesh.chord smaller."
        ]
    raise DesignError(
        f"The pressure map of load case '{case.name}' adds up to {sums}: it is too fine for the mesh; make mesh.size "
        f"smaller, or smooth the map."
    )


def combined(loads: list[tuple[float, AirLoad]]) -> AirLoad | None:
    """Sum of several cases' air, each times its factor; None when there is none.

    The band assumes that all estimates are low, or all high, at once; a negative factor turns one round.
    """
    if not loads:
        return None
    if len(loads) == 1 and loads[0][0] == 1.0:
        return loads[0][1]
    force, centre = _summed([(f, air.downforce, air.centre) for f, air in loads])
    source, middle = _summed([(f, air.force_of_source, air.centre_of_source) for f, air in loads])
    bands = [(f, air.band or (air.downforce,) * 3) for f, air in loads]
    low, typical, high = (sum(f * band[i if f >= 0.0 else 2 - i] for f, band in bands) for i in range(3))
    return AirLoad(
        downforce=force,
        centre=centre,
        covered=min(air.covered for _, air in loads),
        dynamic_pressure=max(air.dynamic_pressure for _, air in loads),
        force_of_source=source,
        centre_of_source=middle,
        deviation=max(air.deviation for _, air in loads),
        notes=tuple(dict.fromkeys(note for _, air in loads for note in air.notes)),
        band=(low, typical, high) if any(air.band for _, air in loads) else None,
    )


def _summed(parts: list[tuple[float, float, tuple[float, float]]]) -> tuple[float, tuple[float, float]]:
    """Total of forces times factors, and its centre; nan when they cancel."""
    total = sum(factor * force for factor, force, _ in parts)
    gross = sum(abs(factor * force) for factor, force, _ in parts)
    if abs(total) <= 1e-9 * gross:
        return total, (float("nan"), float("nan"))
    acting = [(factor * force, centre) for factor, force, centre in parts if force]
    x, y = (sum(f * centre[i] for f, centre in acting) / total for i in (0, 1))
    return total, (x, y)
