"""Thousands of layouts of candidate ribs and struts, the best of them solved in full."""

from __future__ import annotations

import time
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from splitterfem.analysis.solution import solve
from splitterfem.design import LoadCase, MeshSettings, Rib, Splitter, Strut
from splitterfem.errors import DesignError
from splitterfem.layouts.candidates import candidates_of, linear_case
from splitterfem.layouts.library import SHAPES, CandidateLibrary, candidate_library
from splitterfem.layouts.subsets import Layout, listed, random_layouts, read_layouts
from splitterfem.model import Model, build

REACHES = "reaches the ground"
LOOSE = "nothing holds the panel"


@dataclass(frozen=True, eq=False)
class Screening:
    """Layouts by their worst sag.

    Attributes
    ----------
    library : CandidateLibrary
        Candidates, ready for more layouts.
    layouts : tuple of tuple of str
        Names of the candidates of each.
    table : DataFrame
        A row for each layout, in their order: ribs, struts, worst_sag_mm, error_mm (estimate of how far that is from a
        full solve on the same mesh), x_mm and y_mm of the worst sag, mass_kg (panel and ribs), note.
    best : DataFrame
        A row for each of the best layouts, least sag first by the full solve: layout (row of the table), ribs, struts,
        screened_mm, error_mm, solved_mm (the full solve on the same mesh), difference_mm (screened less solved), where
        asked for fresh_mesh_mm (solved on a mesh of its own, finer along its ribs), mass_kg.
    mesh : MeshSettings
        Of the splitter, which designs of layouts get back.
    seconds : dict of str to float
        Time of the library's steps, of all layouts, and of the full solves.
    """

    library: CandidateLibrary
    layouts: tuple[Layout, ...]
    table: pd.DataFrame
    best: pd.DataFrame
    mesh: MeshSettings
    seconds: dict[str, float] = field(default_factory=dict, compare=False)

    def design(self, row: int) -> Splitter:
        """Return the splitter of a row of the table.

        Raises
        ------
        DesignError
            If there is no such row.
        """
        if not 0 <= row < len(self.layouts):
            raise DesignError(
                f"There is no layout {row}: rows are numbered from 0 to {len(self.layouts) - 1}."
            )
        return self.library.candidates.design(self.layouts[row]).with_(mesh=self.mesh)

    @property
    def per_second(self) -> float:
        """Layouts that were screened in a second, without the library."""
        return len(self.layouts) / self.seconds["layouts"]

    @property
    def notes(self) -> tuple[str, ...]:
        """What the figures cover and what they do not, in sentences."""
        said = [
            "Screened figures are estimates for ranking: the error is that against a full solve on the same mesh, "
            "and is a judgement, not a bound; build by solved ones alone.",
            "The mesh is that of the splitter without the candidates, coarser along ribs than one made for a layout; "
            "strength, fixings and other load cases are not looked at.",
        ]
        grounded = int((self.table["note"] == REACHES).sum())
        if grounded:
            many = f"{grounded} layout{'s' * (grounded > 1)}"
            said.append(
                f"{many} would reach the ground, of which a screening knows nothing: their sag is what it would be "
                "without it."
            )
        return tuple(said)

    def __repr__(self) -> str:
        """Write what was screened and the best on one line."""
        first = self.best.iloc[0] if len(self.best) else None
        best = (
            "none that holds the panel"
            if first is None
            else f"best layout {first['layout']} sags {first['solved_mm']:.2f} mm "
            f"(screened {first['screened_mm']:.2f} mm)"
        )
        name, case = self.library.model.design.name, self.library.case.name
        return f"Screening of '{name}' in '{case}': {len(self.layouts)} layouts, {best}"


def screen(
    splitter: Splitter | Model,
    case: str | LoadCase,
    *,
    ribs: Sequence[Rib | Mapping[str, Any] | str] = (),
    struts: Sequence[Strut | Mapping[str, Any]] = (),
    instead: Mapping[str, str] | None = None,
    layouts: Iterable[Iterable[str | int]] | pd.DataFrame | None = None,
    count: int | None = None,
    sizes: tuple[int, int] = (2, 5),
    seed: int = 0,
    best: int = 10,
    fresh: int = 0,
    size: float | None = None,
    shapes: int = SHAPES,
    workers: int = 1,
) -> Screening:
    """Screen layouts, and solve the best of them in full.

    Parameters
    ----------
    splitter : Splitter or Model
        Layouts of a model stand on its mesh.
    case : str or LoadCase
    ribs, struts : sequences
        Candidates, see :func:`splitterfem.layouts.candidates.candidates_of`.
    instead : mapping of str to str, optional
        From candidate struts to those of the splitter that give way to them.
    layouts : iterable or DataFrame, optional
        See :func:`splitterfem.layouts.subsets.read_layouts`.
    count, sizes, seed
        Of random layouts in their place, see :func:`splitterfem.layouts.subsets.random_layouts`.
    best : int
        Layouts with the least sag that are solved in full.
    fresh : int
        How many of them are solved on a mesh of their own besides.
    size : float, optional
        Size in m of the elements of the library's mesh; that of the splitter when left out.
    shapes : int
        Of strain for each rib.
    workers : int
        Processes that screen.

    Raises
    ------
    DesignError
        If candidates, layouts or the case do not fit.
    MechanismError
        If the supports do not hold the splitter without candidates.
    SolveError
        If a layout cannot be solved.
    """
    if (layouts is None) == (count is None):
        raise DesignError("Layouts to screen are either given or drawn: give just one of layouts and count.")
    if shapes < 2 or best < 0 or fresh < 0:
        raise DesignError(
            f"There are {shapes} shapes, {best} best and {fresh} fresh: give 2 shapes at least, none below 0."
        )
    given = splitter.design if isinstance(splitter, Model) else splitter
    mesh = given.mesh
    if size is not None:
        if isinstance(splitter, Model):
            raise DesignError("A model has its mesh: give a splitter with size, or leave size out.")
        given = given.with_("mesh.size", size)
    candidates = candidates_of(given, ribs, struts, instead)
    linear_case(candidates.bare, case)
    chosen = (
        read_layouts(candidates, layouts)
        if layouts is not None
        else random_layouts(candidates, count or 0, sizes=sizes, seed=seed)
    )
    model = splitter.for_design(candidates.bare) if isinstance(splitter, Model) else build(candidates.bare)
    library = candidate_library(model, case, candidates, layouts=chosen, shapes=shapes)
    start = time.perf_counter()
    table = _table(library, chosen, workers)
    seconds = {**library.seconds, "layouts": time.perf_counter() - start}
    start = time.perf_counter()
    winners = _best(library, chosen, table, best, fresh, mesh)
    seconds["full solves"] = time.perf_counter() - start
    return Screening(library, tuple(chosen), table, winners, mesh, seconds)


def _table(library: CandidateLibrary, layouts: Sequence[Layout], workers: int) -> pd.DataFrame:
    found = library.screened(layouts, workers=workers)
    ribs = {rib.name for rib in library.candidates.ribs}
    return pd.DataFrame(
        {
            "ribs": [listed([name for name in layout if name in ribs]) for layout in layouts],
            "struts": [listed([name for name in layout if name not in ribs]) for layout in layouts],
            "worst_sag_mm": [1e3 * one.sag for one in found],
            "error_mm": [1e3 * one.error for one in found],
            "x_mm": [1e3 * one.at[0] for one in found],
            "y_mm": [1e3 * one.at[1] for one in found],
            "mass_kg": [library.mass_of(layout) for layout in layouts],
            "note": [LOOSE if np.isnan(one.sag) else REACHES if one.grounded else "" for one in found],
        }
    )


def _best(
    library: CandidateLibrary,
    layouts: Sequence[Layout],
    table: pd.DataFrame,
    count: int,
    fresh: int,
    mesh: MeshSettings,
) -> pd.DataFrame:
    """Solve the best layouts in full, and put them in order."""
    rows = []
    held = table.dropna(subset="worst_sag_mm")
    for rank, (number, row) in enumerate(held.nsmallest(count, "worst_sag_mm").iterrows()):
        design = library.candidates.design(layouts[int(str(number))])
        solved = 1e3 * solve(library.model.for_design(design), library.case).max_sag
        found = {
            "layout": number,
            "ribs": row["ribs"],
            "struts": row["struts"],
            "screened_mm": row["worst_sag_mm"],
            "error_mm": row["error_mm"],
            "solved_mm": solved,
            "difference_mm": row["worst_sag_mm"] - solved,
        }
        if fresh:
            own = build(design.with_(mesh=mesh)) if rank < fresh else None
            found["fresh_mesh_mm"] = float("nan") if own is None else 1e3 * solve(own, library.case).max_sag
        rows.append({**found, "mass_kg": row["mass_kg"]})
    columns = ["layout", "ribs", "struts", "screened_mm", "error_mm", "solved_mm", "difference_mm", "mass_kg"]
    table = pd.DataFrame(rows) if rows else pd.DataFrame(columns=columns)
    return table.sort_values("solved_mm", ignore_index=True)
