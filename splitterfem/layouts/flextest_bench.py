"""A flex test as pushes and gauges on a mesh: what is computed for every reading, for any parameters."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from splitterfem.analysis.fields import CHORD_REACH
from splitterfem.design import LoadCase, Pad
from splitterfem.design.combine import settled
from splitterfem.errors import DesignError, MechanismError, SolveError, UnitError
from splitterfem.fem.loads import deflection_matrix, patch_load
from splitterfem.fem.response import Response
from splitterfem.fem.restraint import pad_samples
from splitterfem.layouts.flextest_parameters import Parameter, with_factors
from splitterfem.layouts.flextest_readings import FlexReadings
from splitterfem.layouts.flextest_slopes import gauge_slopes
from splitterfem.model import Model, case_load, pad_polygon
from splitterfem.threads import one_blas_thread

Array = NDArray[np.float64]
Index = NDArray[np.int64]

AT_REST = LoadCase(name="own weight", ground=False)
"""What acts on the panel besides the pushes when nothing else is said."""


@dataclass(frozen=True, eq=False)
class Bench:
    """Pushes and gauges of a flex test on the mesh of a model.

    Attributes
    ----------
    model : Model
        With the parameters as the design has them.
    rest : ndarray, shape (n_dofs,)
        Load that acts all the time.
    pushes : ndarray, shape (k, n_dofs)
        Load of every different push.
    gauges : csr_array, shape (g, n_dofs)
        Sag at every different gauge.
    push, gauge : ndarray of int, shape (n,)
        Push and gauge of each reading.
    """

    model: Model
    rest: Array
    pushes: Array
    gauges: sp.csr_array
    push: Index
    gauge: Index

    def responses(self, model: Model) -> list[Response]:
        """Solve a model on the same mesh at rest and under every push."""
        return [model.structure.solve(load) for load in (self.rest, *(self.rest + self.pushes))]

    def computed(self, responses: Sequence[Response]) -> Array:
        """Return what every push adds to the sag at every gauge, in m, read by read: shape (n,)."""
        sag = self.gauges @ np.column_stack([response.x for response in responses])
        return np.asarray((sag[:, 1:] - sag[:, :1])[self.gauge, self.push])

    def slopes(self, model: Model, parameters: Sequence[Parameter], responses: Sequence[Response]) -> Array:
        """Return derivatives (n, p) of the same by the logarithms of parameters."""
        found = gauge_slopes(model, parameters, self.gauges, responses)
        return np.asarray((found[1:] - found[:1])[self.push, self.gauge])


def bench_of(model: Model, readings: FlexReadings, case: str | LoadCase | None) -> Bench:
    """Put pushes and gauges on the mesh of a model.

    Raises
    ------
    DesignError
        If a push or a gauge is off the panel, or the case is unknown.
    """
    chosen = AT_REST if case is None else settled(_named(model, case), model.design)
    pushes, push = np.unique(
        np.column_stack([readings.push, readings.pad, readings.force]), axis=0, return_inverse=True
    )
    gauges, gauge = np.unique(readings.read, axis=0, return_inverse=True)
    first = [int(np.flatnonzero(push.ravel() == k)[0]) for k in range(len(pushes))]
    loads = [
        push_load(model, (x, y), pad, force, name=f"the push on line {readings.line[i]} of {readings.name}")
        for (x, y, pad, force), i in zip(pushes.tolist(), first, strict=True)
    ]
    rows = gauge_rows(model, gauges)
    off = np.flatnonzero(np.diff(rows.indptr) == 0)
    if len(off):
        i = int(np.flatnonzero(gauge.ravel() == off[0])[0])
        x, y = 1e3 * readings.read[i]
        raise DesignError(
            f"The gauge on line {readings.line[i]} of {readings.name} stands at x {x:.0f}, y {y:.0f} mm, off the panel "
            "or over an opening; correct its place."
        )
    rest = case_load(model, chosen).vector
    return Bench(
        model, rest, np.array(loads), rows, push.ravel().astype(np.int64), gauge.ravel().astype(np.int64)
    )


def _named(model: Model, case: str | LoadCase) -> LoadCase:
    return model.design.case(case) if isinstance(case, str) else case


def push_load(model: Model, at: tuple[float, float], pad: float, force: float, *, name: str) -> Array:
    """Load vector (n_dofs,) of a push in N, down, over a round pad.

    Raises
    ------
    DesignError
        If part of the pad is off the panel; the message begins with the name.
    """
    samples = pad_samples(model.locator, pad_polygon(Pad(diameter=pad), at), name=name)
    return patch_load(model.panel, samples, np.array([0.0, 0.0, -force]))


def gauge_rows(model: Model, places: Array) -> sp.csr_array:
    """Rows (g, n_dofs) of the sag at places (g, 2) in m; empty ones off the panel."""
    elements = model.locator.find(places.T, reach=CHORD_REACH)
    rows = -deflection_matrix(model.panel, np.maximum(elements, 0), places.T)
    kept = sp.csr_array(sp.diags_array((elements >= 0).astype(float)) @ rows)
    kept.eliminate_zeros()
    return kept


@dataclass(eq=False)
class Trial:
    """What is computed for given logarithms of parameters; the last models are kept.

    Attributes
    ----------
    bench : Bench
    parameters : tuple of Parameter
    weights : ndarray, shape (n,)
        One over the uncertainty of each reading, 1/m; ones when none are known.
    """

    bench: Bench
    parameters: tuple[Parameter, ...]
    weights: Array
    _known: dict[bytes, tuple[Model, list[Response]]] = field(default_factory=dict)

    def model(self, logs: Array) -> tuple[Model, list[Response]]:
        """Model of the design with these parameters, and its responses."""
        key = np.asarray(logs, dtype=float).tobytes()
        if key not in self._known:
            design = with_factors(self.bench.model.design, self.parameters, logs, source="trial of a fit")
            model = self.bench.model.for_design(design)
            while len(self._known) > 1:
                del self._known[next(iter(self._known))]
            self._known[key] = model, self.bench.responses(model)
        return self._known[key]

    @one_blas_thread()
    def computed(self, logs: Array) -> Array:
        """Return readings (n,) over their uncertainties; nan where the design cannot be built or solved so."""
        try:
            _, responses = self.model(logs)
        except (DesignError, UnitError, MechanismError, SolveError):
            if not np.any(logs):
                raise
            return np.full(len(self.weights), np.nan)
        return self.weights * self.bench.computed(responses)

    def slopes(self, logs: Array) -> Array:
        """Return derivatives (n, p) of the same by the logarithms."""
        model, responses = self.model(logs)
        return np.asarray(self.weights[:, None] * self.bench.slopes(model, self.parameters, responses))
