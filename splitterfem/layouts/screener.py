"""What screens a layout once a library is built: arrays alone, so that it can go to other processes."""

from __future__ import annotations

import math
import pickle
import tempfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from splitterfem.errors import DesignError, nearest
from splitterfem.fem.forcelibrary import ForceLibrary
from splitterfem.layouts.candidates import Candidates, Version
from splitterfem.layouts.workers import IDLE, joblib_for
from splitterfem.replacing import not_written
from splitterfem.threads import one_blas_thread

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

FACTOR, FLOOR = 3.0, 2e-3
"""Times by which the change with the second half of the shapes is taken for the error, and the share of the sag that is
always counted as one."""

DOUBT = 5e-3
"""Share of the sag from which the error that is estimated with the usual shapes makes all of them worth their time."""

PARCELS = 4
"""Lists of layouts for each process, so that none waits long for the last."""


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
class Screener:
    """Candidates on one panel under one load case, without the panel.

    Attributes
    ----------
    candidates : Candidates
    numbers : dict
        Place of each version of a rib, notched or not, in the engine.
    engine : ForceLibrary
    masks : dict of str to ndarray of bool, shape (m,)
        Restraints of each candidate strut, and of those that give way to it.
    own : ndarray of bool, shape (m,)
        Restraints of the splitter itself, of all.
    nodes : ndarray, shape (2, nodes)
        Places of the panel's nodes in m.
    ground : bool
        Whether the load case has a ground.
    """

    candidates: Candidates
    numbers: dict[Version, int]
    engine: ForceLibrary
    masks: dict[str, tuple[Mask, Mask]]
    own: Mask
    nodes: Array
    ground: bool

    def screened(self, layouts: Iterable[Sequence[str]], *, workers: int = 1) -> list[Screened]:
        """Solve layouts, each given by the names of its candidates.

        Parameters
        ----------
        layouts : iterable of sequences of str
        workers : int
            Processes.  Each reads the arrays of the library from the disk, once, which takes seconds and as much memory
            again: worth it for tens of thousands of layouts.

        Raises
        ------
        DesignError
            If there is no such candidate.
        SolveError
            If no consistent set of touching supports is found for one.
        MissingExtraError
            If there are to be several processes and joblib is not installed.
        """
        chosen = list(layouts)
        if workers == 1:
            return self.each(chosen)
        joblib = joblib_for("Screening")
        size = -(-len(chosen) // (PARCELS * workers)) or 1
        lists = [chosen[first : first + size] for first in range(0, len(chosen), size)]
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder, "screener.pickle")
            self._pack(path)
            with joblib.parallel_config(backend="loky", inner_max_num_threads=1, idle_worker_timeout=IDLE):
                found = joblib.Parallel(n_jobs=workers)(
                    joblib.delayed(screened_there)(str(path), part) for part in lists
                )
        return [one for part in found for one in part]

    def _pack(self, path: Path) -> None:
        """Put itself into a file of this process's own, for processes that it starts."""
        try:
            with path.open("wb") as file:
                pickle.dump(self, file, protocol=pickle.HIGHEST_PROTOCOL)
        except OSError as problem:
            raise not_written(path, problem) from None

    def parts(self, layout: Sequence[str]) -> tuple[list[int], Mask]:
        """Ribs of a layout, and the restraints (m,) that it has."""
        ribs, come, go = list[int](), self.own, []
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

    @one_blas_thread()
    def each(self, layouts: Sequence[Sequence[str]]) -> list[Screened]:
        """Solve layouts in this process."""
        return [self._one(layout) for layout in layouts]

    def _one(self, layout: Sequence[str]) -> Screened:
        ribs, present = self.parts(layout)
        answer = self.engine.answer(ribs, present)
        spread = answer.spread
        if FACTOR * spread > DOUBT * abs(answer.sag):
            answer = self.engine.answer(ribs, present, rich=True)
            # what crossings still change falls off slowly, so the first change counts in the second's estimate
            spread = math.sqrt(spread * answer.spread)
        at = (float("nan"), float("nan"))
        if answer.node >= 0:
            at = (float(self.nodes[0, answer.node]), float(self.nodes[1, answer.node]))
        error = FACTOR * spread + FLOOR * abs(answer.sag) * bool(ribs)
        return Screened(answer.sag, error, at, self.ground and bool(answer.least_gap < 0.0))

    def _unknown(self, name: str, cuts: frozenset[str]) -> str:
        if name not in self.candidates.names:
            return f"There is no candidate '{name}'; {nearest(name, self.candidates.names)}"
        return (
            f"The library does not have rib '{name}' notched for {' and '.join(sorted(cuts))}: build it with the "
            "layouts that are to be screened."
        )


def screened_there(path: str, layouts: Sequence[Sequence[str]]) -> list[Screened]:
    """Screen layouts in another process, by a screener that this library has put into a file for it."""
    return _unpacked(path).each(layouts)


@lru_cache(maxsize=1)
def _unpacked(path: str) -> Screener:
    with Path(path).open("rb") as file:
        found = pickle.load(file)  # noqa: S301  (in a folder of this user that the calling process has just made)
    assert isinstance(found, Screener)
    return found
