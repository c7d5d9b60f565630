"""Candidates as parts on the panel: strain rows of ribs, restraints of struts, and their law."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from splitterfem.analysis.fields import SUBDIVISION
from splitterfem.design import LoadCase, Splitter
from splitterfem.design.combine import parts_of
from splitterfem.fem.peak import Peak, peak_of
from splitterfem.fem.playlaw import PlayLaw, Sides
from splitterfem.fem.playset import PlaySets
from splitterfem.fem.recover import lattice
from splitterfem.fem.reference import N_NODES, tabulate_p2b
from splitterfem.fem.restraint import Restraint
from splitterfem.fem.ties import reference_stiffness
from splitterfem.layouts.candidates import Candidates, Version
from splitterfem.model import Model
from splitterfem.model.loads import acceleration_felt
from splitterfem.model.ribs import ModelRib, model_ribs
from splitterfem.model.supports import model_supports

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

SHORT, PER_METRE = 0.4, 1.2
"""Share of them that every rib has, and that which comes with each metre of its length: long ribs cross more others."""


def versions_of(candidates: Candidates, layouts: Iterable[Sequence[str]]) -> list[Version]:
    """Forms of all ribs: whole, and notched as layouts have them."""
    names = {rib.name for rib in candidates.ribs}
    found = {candidates.version(name, ()): None for name in sorted(names)}
    for layout in layouts:
        found |= {candidates.version(name, layout): None for name in layout if name in names}
    return list(found)


def shape_count(shapes: int | None, length: float) -> int:
    """Most shapes of a rib of a length in m; zero where all are kept."""
    return 0 if shapes is None else max(2, round(shapes * (SHORT + PER_METRE * length)))


def may_meet(candidates: Candidates, versions: list[Version]) -> Mask:
    """Which versions of ribs may be in one layout."""
    found = np.ones((len(versions), len(versions)), dtype=bool)
    for i, (one, cuts) in enumerate(versions):
        for k, (other, _) in enumerate(versions):
            whole = other in candidates.version(one, (other,))[1] and other not in cuts
            if one == other or frozenset((one, other)) in candidates.apart or whole:
                found[i, k] = found[k, i] = False
    return found


def rib_operators_of(model: Model, candidates: Candidates, version: Version) -> list[ModelRib]:
    """Put a candidate, both halves of a pair, on the panel by itself, cut for those that it is notched for."""
    name, cuts = version
    here = [rib for rib in candidates.ribs if rib.name == name or rib.name in cuts]
    (rib,) = (rib for rib in here if rib.name == name)
    if rib.crossing == "notched":
        here += model.design.ribs
    halves = {half.name for half in rib.sides()}
    alone = _alone(model, name, ribs=tuple(here))
    found = model_ribs(model.panel, model.locator, alone, model.sheet.base.thickness)
    return [piece for piece in found if piece.design.name in halves]


def _alone(model: Model, name: str, **parts: object) -> Splitter:
    """Panel of a model with nothing but some parts."""
    design = model.design
    return Splitter.model_validate({"name": name, "panel": design.panel, "car": design.car, **parts})


def rib_mass(pieces: list[ModelRib]) -> float:
    """Mass of a rib in kg."""
    parts = (part for piece in pieces for part in piece.operators.contributions)
    return float(sum(part.mass * part.samples.measure for part in parts))


def strut_restraints(
    model: Model, candidates: Candidates
) -> tuple[list[Restraint], dict[str, tuple[Mask, Mask]]]:
    """Restraints of all candidate struts, and for each those that come and those that go."""
    found, first = list[Restraint](), model.structure.base.rows.shape[0]
    spans = dict[str, tuple[int, int]]()
    for strut in candidates.struts:
        alone = _alone(model, strut.name, struts=(strut,))
        new = [part for one in model_supports(model.panel, model.locator, alone) for part in one.restraints]
        spans[strut.name] = (first + len(found), first + len(found) + len(new))
        found += new
    total = first + len(found)
    owners = [restraint.support for restraint in model.structure.restraints]
    masks = {}
    for name, (a, b) in spans.items():
        come, go = np.zeros(total, dtype=bool), np.zeros(total, dtype=bool)
        come[a:b] = True
        if name in candidates.instead:
            old = model.design.part(candidates.instead[name])
            halves = {half.name for half in old.sides()}  # type: ignore[union-attr]
            go[: len(owners)] = [owner in halves for owner in owners]
        masks[name] = (come, go)
    return found, masks


def restraint_rows(model: Model, added: list[Restraint]) -> sp.csr_array:
    """Rows (m, n_dofs) of all restraints, those of the splitter first."""
    own = model.structure.base.rows[:, : model.panel.space.n_dofs]
    return sp.csr_array(sp.vstack([own, *(part.row for part in added)]))


def rib_weights(model: Model, case: LoadCase, ribs: list[list[ModelRib]]) -> Array:
    """Load vectors (n_dofs, r) of the ribs' own mass."""
    felt = acceleration_felt(case)
    for part, factor in parts_of(case, model.design):
        felt = felt - factor * np.asarray(part.acceleration, dtype=float)
    weights = np.zeros((model.panel.space.n_dofs, len(ribs)))
    for number, pieces in enumerate(ribs):
        for piece in pieces:
            for contribution in piece.operators.contributions:
                weights[:, number] += contribution.inertia_load(model.panel, felt)
    return weights


def play_sets(
    model: Model, ties: Array, rows: sp.csr_array, flexibility: Array, side: Sides, added: list[Restraint]
) -> PlaySets:
    """Law of all restraints, with the sides that they have on the bare panel."""
    base, n = model.structure.base, model.panel.space.n_dofs
    more = PlayLaw(
        np.array([part.lower for part in added]),
        np.array([part.upper for part in added]),
        np.array([part.compliance for part in added]),
    )
    own = sp.csc_array(base.matrix[:n][:, :n])
    new = sp.csr_array(rows[base.rows.shape[0] :])
    return PlaySets(
        flexibility,
        np.concatenate([base.reference, reference_stiffness(own, new, more.compliance)]),
        np.concatenate([ties, np.zeros(len(added))]),
        base.play.law.joined(more),
        model.structure.rigid_stretch(_widened(rows, model.structure.n_extra)),
        np.concatenate([side, np.where(more.two_way, 1, 0)]),
    )


def _widened(rows: sp.csr_array, extra: int) -> sp.csr_array:
    return sp.csr_array(sp.hstack([rows, sp.csr_array((rows.shape[0], extra))]))


def sag_peak(model: Model) -> Peak:
    """Search for the worst sag at the places where a solution shows it."""
    elements, xy = lattice(model.panel, SUBDIVISION)
    space = model.panel.space
    count = len(elements) // space.n_elements
    local = space.to_local(elements[:count], xy[:, :count])
    return peak_of(space, tabulate_p2b(local)[0][:, :N_NODES])
