"""Candidate ribs and struts on the panel of one splitter, ready to be put together in thousands of layouts."""

from __future__ import annotations

import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from splitterfem.analysis.mass import mass_properties
from splitterfem.design import LoadCase
from splitterfem.errors import DesignError
from splitterfem.fem.forcelibrary import force_library
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
from splitterfem.layouts.candidates import Candidates, linear_case
from splitterfem.layouts.screener import Screened, Screener
from splitterfem.model import Model, case_load
from splitterfem.model.clearance import clearance_datum
from splitterfem.threads import one_blas_thread

Array = NDArray[np.float64]
Layout = tuple[str, ...]

SHAPES = 32
"""Shapes of strain that a rib half a metre long has in a layout; of a mirrored pair as many for each half."""

RICH = 2
"""Times as many shapes with which a layout is screened again when the usual ones leave its sag in doubt."""

MOST_SHAPES = 10000
"""Shapes of all candidates together: their flexibility then takes 0.8 GB."""


@dataclass(frozen=True, eq=False)
class CandidateLibrary:
    """Candidates on one panel under one load case.

    Attributes
    ----------
    model : Model
        Of the splitter without the candidates.
    case : LoadCase
        Settled.
    screener : Screener
        Candidates and their influence.
    masses : ndarray, shape (versions,)
        In kg, both halves of a pair.
    mass : float
        Of the splitter without candidates, in kg.
    seconds : dict of str to float
        Time of each step of the building.
    """

    model: Model
    case: LoadCase
    screener: Screener
    masses: Array
    mass: float
    seconds: dict[str, float] = field(default_factory=dict, compare=False)

    def __repr__(self) -> str:
        """One line of sizes."""
        shapes, count = len(self.screener.engine.flexibility), len(self.candidates.ribs)
        return (
            f"Library of '{self.model.design.name}' in '{self.case.name}': {count} ribs with "
            f"{shapes} shapes and {len(self.candidates.struts)} struts on {self.model.unknowns} unknowns"
        )

    @property
    def candidates(self) -> Candidates:
        """Ribs and struts that layouts choose from."""
        return self.screener.candidates

    def screened(self, layouts: Iterable[Sequence[str]], *, workers: int = 1) -> list[Screened]:
        """Solve layouts, see :meth:`splitterfem.layouts.screener.Screener.screened`."""
        return self.screener.screened(layouts, workers=workers)

    def sag(self, layouts: Iterable[Sequence[str]], *, workers: int = 1) -> Array:
        """Worst sag of layouts in m, each given by the names of its candidates; nan where nothing holds the panel."""
        return np.array([one.sag for one in self.screened(layouts, workers=workers)])

    def mass_of(self, layout: Sequence[str]) -> float:
        """Mass of panel and ribs of a layout in kg, without struts and fixings."""
        return self.mass + float(self.masses[self.screener.parts(layout)[0]].sum())


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
    usual = [sum(shape_count(shapes, piece.length) for piece in rib) for rib in ribs]
    counts = _rich_counts(usual)
    start = time.perf_counter()
    load = case_load(model, chosen).vector
    rest, acting = model.structure.solve(load), model.structure.acting_rows
    side = np.zeros(model.structure.base.rows.shape[0], dtype=np.int64)
    side[acting] = rest.side
    influence = Influence(model.structure, side != 0)
    added, masks = strut_restraints(model, candidates)
    rows = restraint_rows(model, added)
    met = _met(influence, load, rows.T.toarray(), rib_weights(model, chosen, ribs), rest.force)
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
        usual=None if shapes is None else usual,
    )
    seconds["influence"] = time.perf_counter() - start
    numbers = {version: number for number, version in enumerate(versions)}
    own = np.isin(np.arange(rows.shape[0]), acting)
    nodes = model.panel.space.node_points
    screener = Screener(candidates, numbers, engine, masks, own=own, nodes=nodes, ground=chosen.ground)
    masses = np.array([rib_mass(pieces) for pieces in ribs])
    return CandidateLibrary(model, chosen, screener, masses, mass_properties(model).mass, seconds)


def _rich_counts(usual: Sequence[int]) -> list[int]:
    """Numbers of shapes of strain of ribs with which layouts in doubt are screened again.

    Raises
    ------
    DesignError
        If they are more than the memory has room for.
    """
    counts = [RICH * count for count in usual]
    if sum(counts) > MOST_SHAPES:
        raise DesignError(
            f"{len(counts)} candidate ribs, notched ones in each of their forms, have {sum(counts)} shapes of strain, "
            f"more than {MOST_SHAPES}, whose influence would not fit into the memory: give fewer candidates or shapes."
        )
    return counts


def _met(influence: Influence, load: Array, pushes: Array, weights: Array, force: Array) -> Met:
    """Let load (n,), pushes of restraints (n, m) and weights of ribs (n, k) act on the bare panel."""
    return Met(
        load=influence.under(load[:, None])[:, 0],
        pushes=influence.under(pushes),
        weights=influence.under(weights),
        size=float(np.sqrt(np.mean(force**2))),
    )
