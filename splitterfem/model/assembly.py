"""A design as operators on a mesh, factorised once."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

from splitterfem.design import LoadCase, Splitter
from splitterfem.design.lost import lost_joints
from splitterfem.fem.contribution import Contribution
from splitterfem.fem.largedeflection import LargeDeflection
from splitterfem.fem.locate import Locator
from splitterfem.fem.meshing import PlateMesh
from splitterfem.fem.panel import Panel
from splitterfem.fem.space import PanelSpace
from splitterfem.fem.structure import Structure
from splitterfem.model.ground import GroundPlaces, ground_places
from splitterfem.model.keptair import KeptAir
from splitterfem.model.meshsize import mesh_design
from splitterfem.model.reuse import check_same_mesh, structure_of, with_design, with_support_lost
from splitterfem.model.ribs import ModelRib, model_ribs
from splitterfem.model.sheets import SheetField, sheet_field
from splitterfem.model.supports import ModelSupport, model_supports
from splitterfem.threads import one_blas_thread

COARSER = 1.5
"""Size of the triangles over the usual one, of the mesh with which a solution is compared."""

KEPT = 4
"""Sets of lost joints whose factorised matrices a model keeps."""


@dataclass(frozen=True)
class Model:
    """A design as operators on a mesh: factorised once, solved for any load case.

    Attributes
    ----------
    design : Splitter
    mesh : PlateMesh
    panel : Panel
    locator : Locator
    sheet : SheetField
        Sheet and doublers.
    ribs : tuple of ModelRib
    supports : tuple of ModelSupport
    structure : Structure
    seconds : dict of str to float
        Time of each step of the building.
    unbonded : frozenset of str
        Ribs, mirrored pairs written out, whose joint is lost.
    base : Model or None
        The model of which this one is a load case's own, with more joints lost.
    air : KeptAir
        Air of load cases, shared by all models on the mesh.
    """

    design: Splitter
    mesh: PlateMesh
    panel: Panel
    locator: Locator
    sheet: SheetField
    ribs: tuple[ModelRib, ...]
    supports: tuple[ModelSupport, ...]
    structure: Structure
    seconds: dict[str, float] = field(default_factory=dict, compare=False)
    unbonded: frozenset[str] = frozenset()
    base: Model | None = field(default=None, compare=False)
    air: KeptAir = field(default_factory=KeptAir, compare=False, repr=False)
    _spares: dict[frozenset[str], tuple[tuple[ModelRib, ...], Structure]] = field(
        default_factory=dict, compare=False
    )

    def __repr__(self) -> str:
        """One line of sizes."""
        lost = f", without the joint of {' and '.join(sorted(self.unbonded))}" if self.unbonded else ""
        return (
            f"Model of '{self.design.name}': {self.panel.space.n_elements} triangles, {self.unknowns} unknowns, "
            f"{len(self.ribs)} ribs, {len(self.supports)} supports{lost}"
        )

    @property
    def unknowns(self) -> int:
        """Number of unknowns of the linear system."""
        return len(self.structure.free)

    @cached_property
    def ground(self) -> GroundPlaces:
        """Places that the ground may touch."""
        return ground_places(self)

    @cached_property
    def coarser(self) -> Model:
        """The design on a mesh `COARSER` times as coarse, to see what the mesh does to the answer."""
        return build(self.design, unbonded=self.unbonded, coarser=COARSER)

    @cached_property
    def finer(self) -> Model:
        """The design on a mesh `COARSER` times as fine."""
        return build(self.design, unbonded=self.unbonded, coarser=1.0 / COARSER)

    @cached_property
    def large(self) -> LargeDeflection:
        """Forces and tangent of the structure when slopes stretch it."""
        return LargeDeflection(self.structure, self.rib_parts)

    @property
    def rib_parts(self) -> tuple[Contribution, ...]:
        """What all ribs add to the panel."""
        return tuple(part for rib in self.ribs for part in rib.operators.contributions)

    def for_case(self, case: LoadCase) -> Model:
        """Return the model with the joints lost that a load case says are lost, besides those lost in every case.

        Mesh, panel and supports are shared.  The last few sets of lost joints stay factorised, so that load cases
        can be solved in any order.

        Raises
        ------
        DesignError
            If the case names a rib that there is not.
        """
        base = self if self.base is None else replace(self.base, design=self.design)
        lost = base.unbonded | lost_joints(case, self.design.ribs)
        if lost == self.unbonded:
            return self
        if lost == base.unbonded:
            return base
        spare = base._spares.pop(lost, None)
        if spare is None:
            fresh = base.with_joints_lost(lost)
            spare = (fresh.ribs, fresh.structure)
        base._spares[lost] = spare
        while len(base._spares) > KEPT:
            del base._spares[next(iter(base._spares))]
        ribs, structure = spare
        return replace(
            base, ribs=ribs, structure=structure, seconds=structure.seconds, unbonded=lost, base=base
        )

    def with_joints_lost(self, unbonded: frozenset[str]) -> Model:
        """Return a model on the same mesh and supports in which just these ribs, pairs written out, have no joint.

        Raises
        ------
        DesignError
            If there is no such rib.
        """
        thickness = self.sheet.base.thickness
        found = model_ribs(
            self.panel, self.locator, self.design, thickness, unbonded=unbonded, known=self.ribs
        )
        ribs = tuple(found)
        structure = structure_of(self.panel, ribs, self.supports, repeated=True)
        return replace(
            self,
            ribs=ribs,
            structure=structure,
            seconds=structure.seconds,
            unbonded=unbonded,
            base=None,
            _spares={},
        )

    @one_blas_thread()
    def for_design(self, splitter: Splitter) -> Model:
        """Return the model of a changed design on the same mesh, with all that is not changed taken over.

        Ribs, supports, doublers, sheet, load cases and car may be changed; the matrix is factorised part by part, and
        of the next model on this mesh only the parts in which something has changed.  The answer is to the last digits
        that of any other model on this mesh.  It differs from that of a mesh made for the
        changed design, which is finer along its ribs and at its pads: on the demonstration the worst sag came out 1 to
        4 % less with the cross tube 20 to 45 mm away, within 0.3 % with fore-aft angles, struts or pockets moved by 40
        to 60 mm.  Meshes of different fineness made for one design scatter by 2 to 5 % there themselves, so compare
        designs on one mesh; `build` makes it as fine for all of them when given ``also``.
        A doubler that has moved counts element by element.

        Parameters
        ----------
        splitter : Splitter

        Raises
        ------
        DesignError
            If its outline, an opening or its mesh settings are others, or a part does not lie on the panel.
        MechanismError
            If the supports cannot hold the panel.
        """
        if self.base is not None:
            return self.base.for_design(splitter)
        return with_design(self, splitter)

    def with_(self, path: str | None = None, value: object = None, /, **changes: object) -> Model:
        """Return the model with something of its design changed, on the same mesh; see `Splitter.with_`."""
        return self.for_design(self.design.with_(path, value, **changes))

    def with_part(self, name: str, /, **changes: object) -> Model:
        """Return the model with fields of one part changed, on the same mesh; see `Splitter.with_part`."""
        return self.for_design(self.design.with_part(name, **changes))

    def moved(self, name: str, /, *, dx: object = 0.0, dy: object = 0.0) -> Model:
        """Return the model with one part moved as a whole, on the same mesh; see `Splitter.moved`."""
        return self.for_design(self.design.moved(name, dx=dx, dy=dy))

    def without(self, name: str) -> Model:
        """Return the model without one part, on the same mesh; see `Splitter.without`."""
        return self.for_design(self.design.without(name))

    def without_support(self, name: str) -> Model:
        """Return the same model with one support lost, on the same factorised matrix.

        Raises
        ------
        DesignError
            If there is no such support.
        MechanismError
            If the supports that are left cannot hold the panel.
        """
        return with_support_lost(self, name)


@one_blas_thread()
def build(
    splitter: Splitter,
    *,
    unbonded: frozenset[str] = frozenset(),
    also: Sequence[Splitter] = (),
    coarser: float = 1.0,
) -> Model:
    """Turn a design into a model.

    Parameters
    ----------
    splitter : Splitter
    unbonded : frozenset of str
        Names of ribs whose joint is lost: they bend with the panel and do nothing else.
    also : sequence of Splitter
        Designs of the same panel whose models are to stand on this mesh: it is as fine along their ribs and at their
        pads, see :meth:`Model.for_design`.
    coarser : float
        What all sizes of triangles are multiplied by, for the estimate of the mesh's error.

    Returns
    -------
    Model

    Raises
    ------
    DesignError
        If a part does not lie on the panel, a material is impossible, or the panel of another design is another.
    MeshError
        If the mesh does not come out as the design has it.
    MechanismError
        If the supports cannot hold the panel.
    """
    seconds: dict[str, float] = {}
    for other in also:
        check_same_mesh(splitter, other)
    start = time.perf_counter()
    mesh = mesh_design(splitter, also=also, coarser=coarser)
    seconds["mesh"] = time.perf_counter() - start
    start = time.perf_counter()
    space = PanelSpace(mesh.points, mesh.triangles)
    sheet = sheet_field(splitter, space.centroids)
    panel = Panel(space, sheet.stiffness)
    seconds["panel"] = time.perf_counter() - start
    start = time.perf_counter()
    locator = Locator(panel.space)
    ribs = tuple(model_ribs(panel, locator, splitter, sheet.base.thickness, unbonded=unbonded))
    seconds["ribs"] = time.perf_counter() - start
    start = time.perf_counter()
    supports = tuple(model_supports(panel, locator, splitter))
    seconds["supports"] = time.perf_counter() - start
    structure = structure_of(panel, ribs, supports)
    seconds["assembly"] = structure.seconds["assembly"]
    seconds["factorisation"] = structure.seconds["factorisation"]
    seconds["supports"] += structure.seconds["supports"]
    return Model(splitter, mesh, panel, locator, sheet, ribs, supports, structure, seconds, unbonded)
