"""Drawing a splitter at random: materials, joints and loads scatter, and every draw is solved on one mesh."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np
from scipy.stats import qmc

from splitterfem.design import Splitter
from splitterfem.errors import DesignError
from splitterfem.layouts.cells import Cell
from splitterfem.layouts.measures import Asked
from splitterfem.layouts.parameters import Parameter
from splitterfem.layouts.plan import plan_of
from splitterfem.layouts.running import Progress
from splitterfem.layouts.scatter_inputs import inputs_of
from splitterfem.layouts.scatter_results import Scatter, Scheme
from splitterfem.layouts.scatter_spread import Spread
from splitterfem.layouts.sweeping import solve_all

__all__ = ["DRAWS", "Scatter", "Scheme", "draws_of", "scatter"]

USUAL = ("worst sag", "least clearance", "worst utilisation")
"""Measures when none are named."""

DRAWS = 128
"""Draws when nothing is said."""

MOST = 2**15


def draws_of(
    chosen: list[tuple[Parameter, Spread]], draws: int, scheme: Scheme, seed: int
) -> list[tuple[Cell, ...]]:
    """Values of all draws, row by row.

    Scrambled Sobol points (Sobol 1967, scrambled after Owen 1995, as in scipy); with the scheme "sobol" two samples of
    as many columns, then the first with one column at a time of the second (Saltelli et al. 2010).

    Raises
    ------
    DesignError
        If the number of draws is no power of two, or too large.
    """
    power = int(draws).bit_length() - 1
    if isinstance(draws, bool) or draws != 2**power or not 8 <= draws <= MOST:
        raise DesignError(f"{draws} draws were asked for; give a power of two from 8 to {MOST}.")
    d = len(chosen)
    rng = np.random.default_rng(seed)
    shares = qmc.Sobol(2 * d if scheme == "sobol" else d, scramble=True, seed=rng).random_base2(power)
    blocks = [shares[:, :d]]
    if scheme == "sobol":
        blocks.append(shares[:, d:])
        for i in range(d):
            mixed = blocks[0].copy()
            mixed[:, i] = blocks[1][:, i]
            blocks.append(mixed)
    whole = np.vstack(blocks)
    columns = [spread.at(whole[:, i]) for i, (_, spread) in enumerate(chosen)]
    return [tuple(float(value) for value in row) for row in zip(*columns, strict=True)]


def scatter(
    splitter: Splitter,
    spreads: Mapping[Any, Any],
    cases: Any,
    *,
    draws: int = DRAWS,
    scheme: Scheme = "ranks",
    seed: int = 1,
    measures: Iterable[str | Asked] | None = None,
    file: str | os.PathLike[str] | None = None,
    workers: Any = None,
    cluster: Any = None,
    progress: Progress | None = None,
) -> Scatter:
    """Solve draws of a splitter on one mesh.

    Parameters
    ----------
    splitter : Splitter
    spreads : mapping
        See :func:`splitterfem.layouts.scatter_inputs.inputs_of`.
    cases : str, LoadCase or list of them
    draws : int
        A power of two.
    scheme : {"ranks", "sobol"}
        How influence is told: from the draws themselves, or by Sobol indices, which takes ``draws`` times the number of
        inputs and two more solves.
    seed : int
        Of the scrambling: the same one gives the same draws.
    measures : list, optional
        `USUAL` when left out.
    file, workers, cluster, progress
        See :func:`splitterfem.layouts.running.running`.

    Raises
    ------
    DesignError, UnitError
        If something is unknown or cannot be read.
    """
    if scheme not in ("ranks", "sobol"):
        raise DesignError(f"There is no scheme '{scheme}'; known: ranks, sobol")
    named = [cases] if not isinstance(cases, (list, tuple)) else list(cases)
    names = [case if isinstance(case, str) else case.name for case in named]
    own = [case for case in named if not isinstance(case, str) and case not in splitter.all_cases]
    base = splitter.with_(cases=(*splitter.cases, *own)) if own else splitter
    base, chosen = inputs_of(base, spreads, names)
    more = {
        "draws": draws,
        "scheme": scheme,
        "seed": seed,
        "spreads": [[s.kind, list(s.figures)] for _, s in chosen],
    }
    parameters = [parameter for parameter, _ in chosen]
    wanted = USUAL if measures is None else measures
    plan = plan_of("scatter", base, parameters, names, wanted, fresh_mesh=False, more=more)
    cells = draws_of(chosen, draws, scheme, seed)
    found = solve_all(plan, cells, file=file, workers=workers, cluster=cluster, progress=progress)
    laws = tuple(spread for _, spread in chosen)
    return Scatter(plan, found.layouts, found.total, found.finished, found.file, laws, draws, scheme, seed)
