"""Which further reading would tell parameters apart that a flex test leaves mixed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from splitterfem.errors import MechanismError, SolveError
from splitterfem.layouts.flextest_bench import Trial, gauge_rows, push_load
from splitterfem.layouts.flextest_slopes import gauge_slopes
from splitterfem.layouts.flextest_statistics import ALIKE, Estimate
from splitterfem.model import Model

Array = NDArray[np.float64]

PLACES = 32
"""Places at which pushes and gauges are tried."""


@dataclass(frozen=True)
class Advice:
    """A further reading that tells two parameters apart best.

    Attributes
    ----------
    push, read : tuple of float
        Places (x, y) in m.
    before, after : float
        Correlation of the two without it and with it.
    """

    push: tuple[float, float]
    read: tuple[float, float]
    before: float
    after: float

    @property
    def helps(self) -> bool:
        """Whether they can be told apart with it."""
        return abs(self.after) < ALIKE

    def sentence(self, force: float) -> str:
        """Say what to measure, with the force in N of the pushes so far."""
        (x, y), (u, v) = ((1e3 * a, 1e3 * b) for a, b in (self.push, self.read))
        there = "under the push itself" if self.push == self.read else f"at x {u:.0f}, y {v:.0f} mm"
        what = f"a push of {force:.0f} N at x {x:.0f}, y {y:.0f} mm, read {there},"
        if self.helps:
            change = f"from {self.before:.3f} to {self.after:.3f}"
            return f"{what[0].upper()}{what[1:]} would bring their correlation {change}."
        return (
            f"No single further reading on this panel does; the best of those tried, {what} would leave a correlation "
            f"of {self.after:.3f}: measure one of them by itself, on a strip of the same sheet or on the part alone."
        )


def advised(
    trial: Trial, estimate: Estimate, groups: Sequence[tuple[int, ...]], force: float, pad: float
) -> list[Advice]:
    """Find for each group of mixed parameters the reading that mixes its first two least.

    Pushes of the same force and pad are tried at places all over the panel, each read at all of them, with the
    uncertainty of the readings so far.

    Parameters
    ----------
    trial : Trial
    estimate : Estimate
    groups : sequence of tuple of int
        Numbers of parameters.
    force, pad : float
        Of the pushes, in N and m.
    """
    model, _ = trial.model(estimate.logs)
    places = _places(model, pad)
    responses, pushed = [model.structure.solve(trial.bench.rest)], []
    for x, y in places.tolist():
        load = push_load(model, (x, y), pad, force, name="a push that is tried")
        try:
            responses.append(model.structure.solve(trial.bench.rest + load))
        except (MechanismError, SolveError):
            continue
        pushed.append((x, y))
    found = gauge_slopes(model, trial.parameters, gauge_rows(model, places), responses)
    noise = float(np.median(1.0 / trial.weights)) * float(np.sqrt(estimate.variance))
    candidates = (found[1:] - found[:1]) / noise
    J = estimate.jacobian / np.sqrt(estimate.variance)
    return [_best(J, candidates, group, pushed, places) for group in groups]


def _best(
    J: Array, candidates: Array, group: tuple[int, ...], pushed: list[tuple[float, float]], places: Array
) -> Advice:
    i, j = group[0], group[1]
    felt = np.flatnonzero(np.linalg.norm(J, axis=0) > 0.0)
    a, b = (int(np.flatnonzero(felt == k)[0]) for k in (i, j))
    size = np.linalg.norm(J[:, felt], axis=0)
    scaled, more = J[:, felt] / size, candidates[..., felt] / size
    # a touch of the identity keeps parameters apart that nothing tells apart yet
    base = scaled.T @ scaled + 1e-12 * np.eye(len(felt))
    inverse = np.linalg.inv(base + more[..., :, None] * more[..., None, :])
    r = inverse[..., a, b] / np.sqrt(inverse[..., a, a] * inverse[..., b, b])
    now = np.linalg.inv(base)
    push, read = np.unravel_index(int(np.argmin(np.abs(r))), r.shape)
    return Advice(
        push=pushed[push],
        read=(float(places[read, 0]), float(places[read, 1])),
        before=float(now[a, b] / np.sqrt(now[a, a] * now[b, b])),
        after=float(r[push, read]),
    )


def _places(model: Model, pad: float) -> Array:
    """Places (k, 2) all over the panel on which a pad lies wholly, each as far from the others as can be."""
    corners = model.mesh.points.T
    sheet = shapely.union_all(shapely.polygons(corners[model.mesh.triangles.T]))
    room = shapely.distance(sheet.boundary, shapely.points(corners))
    inside = corners[room > 0.51 * pad]
    if not len(inside):
        return np.zeros((0, 2))
    chosen = [int(np.argmax(inside[:, 0]))]
    apart = np.full(len(inside), np.inf)
    while len(chosen) < min(PLACES, len(inside)):
        apart = np.minimum(apart, np.hypot(*(inside - inside[chosen[-1]]).T))
        chosen.append(int(np.argmax(apart)))
    return np.asarray(inside[chosen])
