"""Load of the tunnels on the panel: a line load along the rims of the openings behind which they hang."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

from splitterfem import curves
from splitterfem.aero.tunnel import Ramp, TunnelForce, tunnel_force
from splitterfem.design import LoadCase, Splitter
from splitterfem.design.tunnel import EDGES, Tunnel
from splitterfem.errors import DesignError, MeshError
from splitterfem.fem.locate import Locator
from splitterfem.fem.panel import Panel
from splitterfem.model.air import air_speed, case_q
from splitterfem.model.clearance import clearance_datum

if TYPE_CHECKING:
    from splitterfem.model.assembly import Model

Array = NDArray[np.float64]

CHORD = 1e-4
"""Largest distance of the polygon over which a ramp's pressure is summed from the true opening, m."""

STRAIGHT = 1e-9
"""A rim whose second moment across itself is less than this share of that along itself is one straight line."""

MOST_PEAK = 20.0
"""Largest line load over its mean that a force in the middle of the opening may need; judgement.  Beyond it the rim is
so nearly straight that the ends of its rounded corners would carry the moment."""

BESIDE = 0.2
"""How far beside its middle, over its length, an edge of the rim is asked whether the opening lies there."""

MISSED = 0.1
"""Share of a rim that the chords of a mesh may miss before the rim counts as not found."""


@dataclass(frozen=True)
class TunnelLoad:
    """What a tunnel does to panel and car in one load case.

    Attributes
    ----------
    name : str
        Of the opening.
    force : TunnelForce
        Of the air on the ramp.
    on_panel : bool
        Whether it comes back through the rim; else the chassis carries it.
    ramp : Ramp
    """

    name: str
    force: TunnelForce
    on_panel: bool
    ramp: Ramp

    def scaled(self, factor: float) -> TunnelLoad:
        """Return the same with its force times a factor."""
        force = TunnelForce(factor * self.force.force, self.force.x, self.force.y)
        return replace(self, force=force)


def tunnel_loads(splitter: Splitter, case: LoadCase) -> list[TunnelLoad]:
    """Find the forces of the air on all tunnels of a design, the load factor of the case included.

    A tunnel acts whenever the case has a speed; its suction depends on the gap that the case's ride height leaves, and
    grows as that closes.

    Raises
    ------
    DesignError
        If a tunnel stands in the ground.
    """
    q = case_q(case)
    if q == 0.0:
        return []
    gap = clearance_datum(splitter, case)
    found = []
    for cutout in splitter.panel.cutouts:
        if cutout.tunnel is None:
            continue
        for name, loop in cutout.sides():
            opening = curves.polygon(loop, CHORD)
            ramp = ramp_of(cutout.tunnel, opening)
            force = tunnel_force(ramp, opening, gap, float(case.factor) * q)
            found.append(
                TunnelLoad(name, _measured(cutout.tunnel, case, force), _on_panel(cutout.tunnel), ramp)
            )
    return found


def ramp_of(tunnel: Tunnel, opening: shapely.Polygon) -> Ramp:
    """Ramp of a tunnel behind an opening (m); as long as the opening when nothing else is said."""
    back, _, front, _ = opening.bounds
    return Ramp(
        rise=float(tunnel.rise),
        length=front - back if tunnel.length is None else float(tunnel.length),
        exit_cp=float(tunnel.exit_cp),
        recovery=float(tunnel.recovery),
        above_cp=float(tunnel.above_cp),
    )


def _on_panel(tunnel: Tunnel) -> bool:
    return tunnel.carried_by == "rim"


def _measured(tunnel: Tunnel, case: LoadCase, estimate: TunnelForce) -> TunnelForce:
    """Put a measured force in the place of the estimate, at the estimate's centre."""
    if tunnel.force is None or tunnel.force_speed is None:
        return estimate
    scale = float(case.factor) * (air_speed(case) / float(tunnel.force_speed)) ** 2
    return TunnelForce(scale * float(tunnel.force), estimate.x, estimate.y)


def rim_vectors(model: Model, loads: list[TunnelLoad]) -> dict[str, Array]:
    """Load vectors of the tunnels that hang on the panel, by name."""
    design = model.design
    rims = {
        name: (loop, cutout.tunnel)
        for cutout in design.panel.cutouts
        if cutout.tunnel is not None
        for name, loop in cutout.sides()
    }
    found = {}
    for load in loads:
        loop, tunnel = rims[load.name]
        if load.on_panel:
            found[f"tunnel {load.name}"] = rim_load(
                model.panel,
                model.locator,
                loop,
                load.force,
                chord=float(design.mesh.chord),
                fastened=tunnel.fastened,
                name=load.name,
            )
    return found


def rim_load(
    panel: Panel,
    locator: Locator,
    loop: curves.Loop,
    force: TunnelForce,
    *,
    chord: float,
    fastened: tuple[str, ...] = EDGES,
    name: str = "tunnel",
) -> Array:
    """Load vector (n_dofs,) of a force that hangs on the rim of an opening.

    The line load is ``a + b x + c y`` along the rim, as fasteners share a force that is off their centre (the linear
    rule of bolt groups): it has the force and both moments of the ramp.

    Parameters
    ----------
    panel : Panel
    locator : Locator
    loop : curves.Loop
        Edge of the opening, m.
    force : TunnelForce
    chord : float
        Largest distance of the mesh from the edge, m.
    fastened : tuple of str
        Parts of the rim that carry: those whose outward side looks to the front, the rear, left or right.
    name : str
        For messages.

    Raises
    ------
    DesignError
        If what is fastened lies on one straight line, or so nearly that it cannot carry the moment.
    MeshError
        If the mesh does not follow the rim.
    """
    opening = curves.polygon(loop, CHORD)
    ends = _rim(panel, loop, chord, name)
    ends = ends[_looks(ends, opening, fastened)]
    xy, weights = _along(ends)
    line = _LineLoad.on(xy, weights)
    if line is None or line.peak(opening.centroid.x, opening.centroid.y) > MOST_PEAK:
        exactly = "one" if line is None else "all but one"
        raise DesignError(
            f"The rim of '{name}' is fastened along {' and '.join(fastened)} only, {exactly} straight line, which "
            "cannot carry the moment of the ramp: fasten another edge too."
        )
    elements = locator.find(xy, reach=1e-6)
    rows = panel.displacement_rows(elements, xy)[:, 2]
    loads = -force.force * line.of_unit(force.x, force.y) * weights
    return panel.scatter(elements, loads[:, None] * rows)


@dataclass(frozen=True)
class _LineLoad:
    """Linear line loads on a rim that is not straight: its points (2, n), their lengths and their middle."""

    away: Array
    weights: Array
    middle: Array

    @classmethod
    def on(cls, xy: Array, weights: Array) -> _LineLoad | None:
        """Return what carries loads on points (2, n) of these lengths; None when they are one straight line."""
        if not len(weights):
            return None
        middle = np.average(xy, axis=1, weights=weights)
        away = xy - middle[:, None]
        least, most = np.linalg.eigvalsh((away * weights) @ away.T)
        return cls(away, weights, middle) if least > STRAIGHT * most else None

    def of_unit(self, x: float, y: float) -> Array:
        """Line load (n,) in 1/m with the resultant 1 at x, y in m."""
        base = np.vstack([np.ones_like(self.weights), self.away])
        wanted = np.array([1.0, x - self.middle[0], y - self.middle[1]])
        return np.asarray(np.linalg.solve((base * self.weights) @ base.T, wanted) @ base)

    def peak(self, x: float, y: float) -> float:
        """Largest line load over its mean for a force at x, y in m."""
        return float(np.abs(self.of_unit(x, y)).max() * self.weights.sum())


def _rim(panel: Panel, loop: curves.Loop, chord: float, name: str) -> Array:
    """Find the mesh edges along an opening, (n, 2, 2): edge, end, coordinate."""
    space = panel.space
    edges = space.facets[:, space.boundary_facets]
    ends = space.points[:, edges].transpose(2, 1, 0)
    ring = curves.polygon(loop, 0.1 * chord).exterior
    near = shapely.dwithin(shapely.points(ends.reshape(-1, 2)), ring, 0.2 * chord).reshape(-1, 2)
    found = np.asarray(ends[near.all(axis=1)])
    length = float(np.hypot(*(found[:, 1] - found[:, 0]).T).sum())
    if abs(length / ring.length - 1.0) > MISSED:
        raise MeshError(
            f"The mesh has {1e3 * length:.1f} mm of the {1e3 * ring.length:.1f} mm of the rim of '{name}': make "
            "mesh.size or mesh.chord smaller."
        )
    return found


def _looks(ends: Array, opening: shapely.Polygon, fastened: tuple[str, ...]) -> NDArray[np.bool_]:
    """Tell which edges look to one of the wanted sides, seen from inside the opening."""
    along = ends[:, 1] - ends[:, 0]
    normal = np.column_stack([along[:, 1], -along[:, 0]])
    shapely.prepare(opening)
    beside = ends.mean(axis=1) + BESIDE * normal
    normal[shapely.contains_xy(opening, beside)] *= -1.0
    fore_aft = np.abs(normal[:, 0]) >= np.abs(normal[:, 1])
    side = np.where(
        fore_aft, np.where(normal[:, 0] > 0, "front", "rear"), np.where(normal[:, 1] > 0, "left", "right")
    )
    return np.isin(side, fastened)


def _along(ends: Array) -> tuple[Array, Array]:
    """Gauss points (2, 3 n) along edges and their lengths: exact for the quadratic panel times a linear load."""
    g, w = np.polynomial.legendre.leggauss(3)
    start, step = ends[:, 0], ends[:, 1] - ends[:, 0]
    xy = start[:, None] + 0.5 * (1.0 + g)[None, :, None] * step[:, None]
    length = np.hypot(*step.T)
    return xy.reshape(-1, 2).T, (0.5 * length[:, None] * w).ravel()
