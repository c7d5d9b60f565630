"""Air of load cases that is kept while ribs and supports are changed on one mesh: nothing of it depends on them."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import TYPE_CHECKING, TypeVar

import numpy as np
from numpy.typing import NDArray

from splitterfem.design import LoadCase, Splitter
from splitterfem.model.airload import AirLoad, air_load
from splitterfem.model.tunnels import TunnelLoad, tunnel_loads

if TYPE_CHECKING:
    from splitterfem.model.assembly import Model

Array = NDArray[np.float64]
T = TypeVar("T")

KEPT = 32
"""Loads that are kept at most."""


class KeptAir:
    """Air loads on one mesh, by panel, car, load case and state of the files."""

    def __init__(self) -> None:
        self._found: dict[Hashable, object] = {}

    def panel(self, model: Model, case: LoadCase) -> tuple[Array, AirLoad]:
        """Load vector of a case's pressure map and what it comes to; see :func:`air_load`."""
        return self._of("panel", model.design, case, lambda: air_load(model.design, model.panel, case))

    def tunnels(self, design: Splitter, case: LoadCase) -> list[TunnelLoad]:
        """Find forces of the air on all tunnels; see :func:`tunnel_loads`."""
        return list(self._of("tunnels", design, case, lambda: tunnel_loads(design, case)))

    def _of(self, what: str, design: Splitter, case: LoadCase, find: Callable[[], T]) -> T:
        key = (what, design.panel, design.car, design.mesh, design.folder, case, _files(design, case))
        try:
            known = self._found.get(key)
        except TypeError:  # a pressure map of the user's own that has no hash
            return find()
        if known is None:
            known = find()
            while len(self._found) >= KEPT:
                del self._found[next(iter(self._found))]
            self._found[key] = known
        return known  # type: ignore[return-value]


def _files(design: Splitter, case: LoadCase) -> tuple[tuple[str, int, int], ...]:
    """Names, times and sizes of the files of a case's pressure map, as far as they are there."""
    names = [getattr(case.pressure, field, None) for field in ("file", "lower_file")]
    paths = [design.path(name) for name in names if name is not None]
    states = [(str(path), path.stat()) for path in paths if path.is_file()]
    return tuple((name, state.st_mtime_ns, state.st_size) for name, state in states)
