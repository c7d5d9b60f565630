"""A design as operators on a mesh, factorised once."""

from __future__ import annotations

import time
from dataclasses import dataclass, field

from splitterfem.design import Splitter
from splitterfem.fem.locate import Locator
from splitterfem.fem.meshing import PlateMesh
from splitterfem.fem.panel import Panel
from splitterfem.fem.space import PanelSpace
from splitterfem.fem.structure import Structure
from splitterfem.model.meshsize import mesh_design
from splitterfem.model.ribs import ModelRib, model_ribs
from splitterfem.model.sheets import SheetField, sheet_field
from splitterfem.model.supports import ModelSupport, model_supports
from splitterfem.threads import one_blas_thread


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

    def __repr__(self) -> str:
        """One line of sizes."""
        return (
            f"Model of '{self.design.name}': {self.panel.space.n_elements} triangles, {self.unknowns} unknowns, "
            f"{len(self.ribs)} ribs, {len(self.supports)} supports"
        )

    @property
    def unknowns(self) -> int:
        """Number of unknowns of the linear system."""
        return len(self.structure.free)


@one_blas_thread()
def build(splitter: Splitter, *, unbonded: frozenset[str] = frozenset()) -> Model:
    """Turn a design into a model.

    Parameters
    ----------
    splitter : Splitter
    unbonded : frozenset of str
        Names of ribs whose joint is lost: they bend with the panel and do nothing else.

    Returns
    -------
    Model

    Raises
    ------
    DesignError
        If a part does not lie on the panel or a material is impossible.
    MeshError
        If the mesh does not come out as the design has it.
    MechanismError
        If the supports cannot hold the panel.
    """
    seconds: dict[str, float] = {}
    start = time.perf_counter()
    mesh = mesh_design(splitter)
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
    restraints = tuple(r for support in supports for r in support.restraints)
    structure = Structure(
        panel,
        restraints,
        contributions=tuple(part for rib in ribs for part in rib.operators.contributions),
        n_extra=sum(rib.operators.n_extra for rib in ribs),
    )
    seconds["assembly"] = structure.seconds["assembly"]
    seconds["factorisation"] = structure.seconds["factorisation"]
    seconds["supports"] += structure.seconds["supports"]
    return Model(splitter, mesh, panel, locator, sheet, ribs, supports, structure, seconds)
