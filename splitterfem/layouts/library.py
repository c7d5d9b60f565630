"""Candidate ribs and struts on the panel of one splitter, ready to be put together in thousands of layouts."""

from __future__ import annotations

import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from splitterfem.analysis.mass import mass_properties
from splitterfem.design import LoadCase
from splitterfem.errors import DesignError, nearest
from splitterfem.fem.forcelibrary import ForceLibrary, force_library
from splitterfem.fem.forcemethod import Influence, Met, shapes_of
from splitterfem.fem.stiffener import stiffener
from splitterfem.layouts.candidate_parts import (
    may_meet,
    play_sets,
    restraint_rows,
    rib_mass,
    rib_operators_of,
    rib_weights,
    sag_peak,
    shape_count,
    strut_restraints,
    versions_of,
)
from splitterfem.layouts.candidates import Candidates, Version, linear_case
from splitterfem.model import Model, case_load
from splitterfem.model.clearance import clearance_datum
from splitterfem.threads import one_blas_thread

Array = NDArray[np.float64]
Layout = tuple[str, ...]
Mask = NDArray[np.bool_]

SHAPES = 32
"""Shapes of strain that a rib half a metre long has in a layout; of a mirrored pair as many for each half."""

FACTOR, FLOOR = 3.0, 5e-4
"""Times by which the change with the second half of the shapes is taken for the error, and the share of the sag that is
always counted as one."""

MOST_SHAPES = 10000
"""Shapes of all candidates together: their flexibility then takes 0.8 GB."""


@dataclass(frozen=True)
class Screened:
    """What a library says of one layout.

    Attributes
    ----------
    sag : float
        Worst sag in m; nan where nothing holds the panel.
    error : float
        Estimate of how far that is from a full solve on the same mesh, in m.
    at : tuple of float
        Place of the worst sag (x, y) in m: that of the nearest node.
    grounded : bool
        Whether the panel would reach the ground, which a screening knows nothing of.
    """

    sag: float
    error: float
    at: tuple[float, float]
    grounded: bool


@dataclass(frozen=True, eq=False)
class CandidateLibrary:
    """Candidates on one panel under one load case.

    Attributes
    ----------
    model : Model
        Of the splitter without the candidates.
    case : LoadCase
        Settled.
    candidates : Candidates
    numbers : dict
        Place of each version of a rib, notched or not, in the engine.
    masses : ndarray, shape (versions,)
        In kg, both halves of a pair.
    mass : float
        Of the splitter without candidates, in kg.
    engine : ForceLibrary
    masks : dict of str to ndarray of bool, shape (m,)
        Restraints of each candidate strut, and of those that give way to it.
    seconds : dict of str to float
        Time of each step of the building.
    """

    model: Model
    case: LoadCase
    candidates: Candidates
    numbers: dict[Version, int]
    masses: Array
    mass: float
    engine: ForceLibrary
    masks: dict[str, tuple[Mask, Mask]]
    seconds: dict[str, float] = field(default_factory=dict, compare=False)

    def __repr__(self) -> str:
        """One line of sizes."""
        shapes, count = len(self.engine.flexibility), len(self.candidates.ribs)
        return (
            f"Library of '{self.model.design.name}' in '{self.case.name}': {count} ribs with "
            f"{shapes} shapes and {len(self.candidates.struts)} struts on {self.model.unknowns} unknowns"
        )

    @one_blas_thread()
    def screened(self, layouts: Iterable[Sequence[str]]) -> list[Screened]:
        """Solve layouts, each given by the names of its candidates.

        Raises
        ------
        DesignError
            If there is no such candidate.
        SolveError
            If no consistent set of touching supports is found for one.
        """
        points = self.model.panel.space.node_points
        found = []
        for layout in layouts:
            ribs, present = self._parts(layout)
            answer = self.engine.answer(ribs, present)
            at = (float("nan"), float("nan"))
            if answer.node >= 0:
                at = (float(points[0, answer.node]), float(points[1, answer.node]))
            error = FACTOR * answer.spread + FLOOR * abs(answer.sag) * bool(ribs)
            grounded = self.case.ground and bool(answer.least_gap < 0.0)
            found.append(Screened(answer.sag, error, at, grounded))
        return found

    def sag(self, layouts: Iterable[Sequence[str]]) -> Array:
        """Worst sag of layouts in m, each given by the names of its candidates; nan where nothing holds the panel."""
        return np.array([one.sag for one in self.screened(layouts)])

    def mass_of(self, layout: Sequence[str]) -> float:
        """Mass of panel and ribs of a layout in kg, without struts and fixings."""
        return self.mass + float(self.masses[self._parts(layout)[0]].sum())

    @cached_property
    def _own(self) -> Mask:
        """Restraints of the splitter itself, of all."""
        own = np.zeros(self.engine.motions.shape[0], dtype=bool)
        own[self.model.structure.acting_rows] = True
        return own

    def _parts(self, layout: Sequence[str]) -> tuple[list[int], Mask]:
        """Ribs of a layout, and the restraints (m,) that it has."""
        ribs, come, go = list[int](), self._own, []
        for name in layout:
            if name in self.masks:
                come = come | self.masks[name][0]
                go.append(self.masks[name][1])
                continue
            version = self.candidates.version(name, layout)
            if version not in self.numbers:
                raise DesignError(self._unknown(*version))
            ribs.append(self.numbers[version])
        for mask in go:
            come = come & ~mask
        return ribs, come

    def _unknown(self, name: str, cuts: frozenset[str]) -> str:
        if name not in self.candidates.names:
            return f"There is no candidate '{name}'; {nearest(name, self.candidates.names)}"
        return (
            f"The library does not have rib '{name}' notched for {' and '.join(sorted(cuts))}: build it with the "
            "layouts that are to be screened."
        )


@one_blas_thread()
def candidate_library(
    model: Model,
    case: str | LoadCase,
    candidates: Candidates,
    *,
    layouts: Iterable[Sequence[str]] = (),
    shapes: int | None = SHAPES,
) -> CandidateLibrary:
    """Solve for the influence of all candidates.

    Parameters
    ----------
    model : Model
        Of the splitter without the candidates.
    case : str or LoadCase
    candidates : Candidates
    layouts : iterable of sequences of str
        That are to be screened: it gets the notched ribs as they are in these.
    shapes : int or None
        Of strain for each rib; None for all there are, which makes layouts exact and slow.

    Raises
    ------
    DesignError
        If a candidate does not lie on the panel, the case is not linear, or there are too many candidates.
    MechanismError
        If the supports do not hold the bare panel.
    """
    chosen = linear_case(model.design, case)
    model = model.for_case(chosen)
    start = time.perf_counter()
    versions = versions_of(candidates, layouts)
    ribs = [rib_operators_of(model, candidates, version) for version in versions]
    stiff = [stiffener(model.panel, [piece.operators.contributions for piece in rib]) for rib in ribs]
    seconds = {"ribs": time.perf_counter() - start}
    counts = [sum(shape_count(shapes, piece.length) for piece in rib) for rib in ribs]
    if sum(counts) > MOST_SHAPES:
        raise DesignError(
            f"{len(ribs)} candidate ribs, notched ones in each of their forms, have {sum(counts)} shapes of strain, "
            f"more than {MOST_SHAPES}, whose influence would not fit into the memory: give fewer candidates or shapes."
        )
    start = time.perf_counter()
    load = case_load(model, chosen).vector
    rest = model.structure.solve(load)
    side = np.zeros(model.structure.base.rows.shape[0], dtype=np.int64)
    side[model.structure.acting_rows] = rest.side
    influence = Influence(model.structure, side != 0)
    added, masks = strut_restraints(model, candidates)
    rows = restraint_rows(model, added)
    weights = rib_weights(model, chosen, ribs)
    met = Met(
        load=influence.under(load[:, None])[:, 0],
        pushes=influence.under(rows.T.toarray()),
        weights=influence.under(weights),
        size=float(np.sqrt(np.mean(rest.force**2))),
    )
    forms = (
        [rib.all_shapes() for rib in stiff]
        if shapes is None
        else shapes_of(influence, stiff, met, count=counts, together=may_meet(candidates, versions))
    )
    seconds["shapes"] = time.perf_counter() - start
    start = time.perf_counter()
    sets = play_sets(model, influence.ties, rows, rows @ met.pushes, side, added)
    engine = force_library(
        influence,
        stiff,
        forms,
        met,
        rows=rows,
        sets=sets,
        peak=sag_peak(model),
        gap=clearance_datum(model.design, chosen)(model.panel.space.points[0]),
    )
    seconds["influence"] = time.perf_counter() - start
    return CandidateLibrary(
        model=model,
        case=chosen,
        candidates=candidates,
        numbers={version: number for number, version in enumerate(versions)},
        masses=np.array([rib_mass(pieces) for pieces in ribs]),
        mass=mass_properties(model).mass,
        engine=engine,
        masks=masks,
        seconds=seconds,
    )
