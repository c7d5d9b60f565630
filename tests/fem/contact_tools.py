"""Random panels in pockets, struts, fixings and stops over ground, and checks of their answers by statics alone.

Nothing here asks the solver whether it is right.  Forces are wrenches of statics at the places of the supports, laws
are looked at one by one, and whether a load can be held at all is a question of linear programming: one-sided supports
hold a load if, and only if, no rigid motion is free on which it does work (Farkas' lemma; Schrijver, Theory of Linear
and Integer Programming, 1986, section 7.3).
"""

from __future__ import annotations

import math
from functools import cache, wraps
from types import SimpleNamespace

import numpy as np
import scipy.sparse as sp
import shapely
from hypothesis import strategies as st
from scipy.optimize import linprog

from splitterfem.fem.equilibrium import Balance
from splitterfem.fem.loads import patch_load, pressure_load
from splitterfem.fem.locate import Locator
from splitterfem.fem.panel import Panel, generalised_stiffness
from splitterfem.fem.places import Obstacle, Places, panel_places
from splitterfem.fem.restraint import Restraint, held_directions, mean_rows, pad_samples, pocket, strut
from splitterfem.fem.space import PanelSpace
from splitterfem.fem.structure import Structure
from splitterfem.fem.structured import distorted, rectangle_mesh
from splitterfem.fem.textbook import Homogeneous

LX, LY = 0.6, 1.2
SIZE = math.hypot(LX, LY)
HALF = 0.02
FIXINGS = (("xy", "y"), ("xy", "xyz"), ("xy", "xz"), ("x", "y", "xy"), ("xyz", "xyz"), ("xy", "xy", "z"))
UNIT = {"x": (1.0, 0.0, 0.0), "y": (0.0, 1.0, 0.0), "z": (0.0, 0.0, 1.0)}
ALONG = (0.05, 0.15, 0.3, 0.45, 0.55)
ACROSS = (0.1, 0.25, 0.45, 0.6)  # and what mirrors them


def solve_on_ground(structure, load, obstacle=None, *, start=()):
    """Equilibrium with the ground below, and how many of its places were watched."""
    balance = Balance(
        structure, load, obstacle=obstacle, watched=np.unique(np.asarray(start, dtype=np.int64))
    )
    found = balance.solve()
    return SimpleNamespace(
        x=found.x,
        force=found.force,
        ground=found.ground,
        residual=found.play_residual,
        watched=len(balance.watched),
    )


@cache
def panel(kind):
    """Plywood on a regular mesh, thin aluminium on a distorted one, plywood on one that is its own mirror image."""
    mesh = rectangle_mesh(LX, LY, 3, 6, pattern="cross" if kind == 2 else "diagonal")
    sheet = Homogeneous(0.006, E1=70e9, nu12=0.3) if kind == 1 else Homogeneous(0.012, E1=9e9, nu12=0.3)
    if kind == 1:
        mesh = distorted(*mesh, 0.2, 5)
    return Panel(PanelSpace(*mesh), generalised_stiffness(sheet))


@cache
def locator(kind):
    return Locator(panel(kind).space)


@cache
def pad(kind, x, y):
    return pad_samples(locator(kind), shapely.box(x - HALF, y - HALF, x + HALF, y + HALF), name="pad")


@cache
def pad_rows(kind, x, y):
    return mean_rows(panel(kind), pad(kind, x, y))


@cache
def slot(kind, y, width, overlap):
    """Lips of a pocket without clearance."""
    return tuple(
        pocket(
            panel(kind), locator(kind), support="pocket", mouth=(overlap, y), width=width, overlap=overlap,
            clearance_up=0.0, clearance_down=0.0, stations=4,
        )
    )  # fmt: skip


@cache
def places(kind):
    return panel_places(panel(kind), panel(kind).space.n_dofs)


def told(method):
    """Write a call into the story of a problem."""

    @wraps(method)
    def call(self, *args, **options):
        words = [*map(str, args), *(f"{name}={value}" for name, value in options.items())]
        self.story.append(f"{method.__name__}({', '.join(words)})")
        return method(self, *args, **options)

    return call


class Problem:
    """Supports, their wrenches (m, 6) for a unit force along the measured motion, and loads."""

    def __init__(self, kind):
        self.kind = kind
        self.restraints, self.wrenches, self.places, self.story = [], [], [], []
        self.load, self.pull, self.size = np.zeros(panel(kind).space.n_dofs), np.zeros(6), 0.0
        self.ground = None

    def __repr__(self):
        """What was built, call by call."""
        return f"Problem({self.kind}): " + "; ".join(self.story)

    def support(self, restraint, place, direction):
        self.restraints.append(restraint)
        self.wrenches.append(wrench(place, direction))
        self.places.append(place)

    @told
    def hold(self, x, y, holds):
        """Bolt or pin, which holds its directions both ways."""
        rows = pad_rows(self.kind, x, y)
        for r in held_directions(rows, {h: UNIT[h] for h in holds}, support=f"pin {x} {y}"):
            self.support(r, (x, y, 0.0), UNIT[r.label])

    @told
    def strut(self, x, y, *, lean, height, **options):
        direction = np.array([*lean, 1.0]) / math.hypot(*lean, 1.0)
        rows = pad_rows(self.kind, x, y)
        made = strut(rows, direction, support=f"strut {x} {y}", bracket_height=height, **options)
        self.support(made, (x, y, height), -direction)

    @told
    def stop(self, x, y, *, gap, compliance, above):
        row = pad_rows(self.kind, x, y)[[2]]
        limits = {"lower": -np.inf, "upper": gap} if above else {"lower": -gap, "upper": np.inf}
        self.support(Restraint("stop", "z", row, compliance=compliance, **limits), (x, y, 0.0), UNIT["z"])

    @told
    def pocket(self, y, *, width, overlap, up, down):
        for lip in slot(self.kind, y, width, overlap):
            made = Restraint("pocket", lip.label, lip.row, -down, up, place=lip.place)
            self.support(made, (*lip.place, 0.0), UNIT["z"])

    @told
    def push(self, x, y, force):
        force = np.asarray(force, dtype=float)
        self.load = self.load + patch_load(panel(self.kind), pad(self.kind, x, y), force)
        self.pull = self.pull + wrench((x, y, 0.0), force)
        self.size += float(np.abs(force).sum())

    @told
    def press(self, mean, across, along):
        """Pressure down, mean + across Y + along X with X, Y from -1 to 1 over the panel, in Pa."""
        self.load = self.load + pressure_load(
            panel(self.kind),
            lambda x, y: mean + along * (2 * x / LX - 1) + across * (2 * y / LY - 1),
        )
        area = LX * LY
        self.pull = self.pull + wrench((LX / 2, LY / 2, 0.0), (0.0, 0.0, -mean * area))
        # the integral of X^2 over the panel is a third of its area
        self.pull[3] -= across * area / 3 * LY / 2 / SIZE
        self.pull[4] += along * area / 3 * LX / 2 / SIZE
        self.size += area * (abs(mean) + abs(across) + abs(along))

    @told
    def over_ground(self, height, roll, pitch):
        middle = panel(self.kind).space.centroids
        lowest = -height + roll * (middle[:, 1] - LY / 2) + pitch * (middle[:, 0] - LX / 2)
        self.ground = Obstacle(places(self.kind), lowest)

    def structure(self):
        return Structure(panel(self.kind), tuple(self.restraints))

    def balance(self):
        """Wrenches (m, 6) and the least and the largest force of the panel on each support and ground place."""
        wrenches = np.array(self.wrenches).reshape(-1, 6)
        low = np.array([-np.inf if np.isfinite(r.lower) else 0.0 for r in self.restraints])
        high = np.array([np.inf if np.isfinite(r.upper) else 0.0 for r in self.restraints])
        if self.ground is None:
            return wrenches, low, high
        wrenches = np.vstack([wrenches, self.ground_wrenches()])
        count = len(self.ground.lowest)
        return wrenches, np.append(low, np.full(count, -np.inf)), np.append(high, np.zeros(count))

    def ground_wrenches(self):
        middle = panel(self.kind).space.centroids
        return np.array([wrench((x, y, 0.0), UNIT["z"]) for x, y in middle])


def wrench(place, force):
    """Force and moment about the origin, the moment over the panel's diagonal, shape (6,)."""
    return np.concatenate([force, np.cross(place, force) / SIZE])


def work_of_free_motion(problem, extra=0.0):
    """Most work of the load, over its size, on a rigid motion of at most 1 that no support resists.

    Zero for a load that the supports can hold.  Elastic supports give way but never let go, so that bounds alone count.
    ``extra`` (6,) is a wrench beside the load, over the load's size.
    """
    wrenches, low, high = problem.balance()
    rows = []
    for direction, least, most in zip(wrenches, low, high, strict=True):
        if most > 0:
            rows.append(direction)
        if least < 0:
            rows.append(-direction)
    pull = problem.pull / max(problem.size, 1e-300) + extra
    found = linprog(-pull, A_ub=np.array(rows), b_ub=np.zeros(len(rows)), bounds=(-1.0, 1.0), method="highs")
    assert found.status == 0, found.message
    return -found.fun


def firmly_held(problem, margin=1e-3):
    """Whether the supports can hold the load and any small change of it."""
    changes = margin * np.vstack([np.zeros(6), np.eye(6), -np.eye(6)])
    return all(work_of_free_motion(problem, change) < 1e-9 for change in changes)


def floats(problem, structure):
    """Whether supports that hold fewer than six motions balance the load, so that the panel's place is anyone's guess.

    The solver's own forces are the witness, but only statics and the laws say whether they are right.
    """
    base = structure.base
    if problem.ground is not None:
        every = np.arange(len(problem.ground.lowest))
        base = Places(structure, problem.ground).watching(base, every)
    x, state = base.solve(problem.load)
    count = len(problem.restraints)
    errors = check(problem, structure, x, state.force[:count], -state.force[count:])
    wrenches, _, _ = problem.balance()
    firm = np.abs(state.force) > 1e-6 * np.abs(state.force).max()
    firm[:count] |= [r.lower == r.upper for r in problem.restraints]
    return max(errors.values()) <= 1e-8 and np.linalg.matrix_rank(wrenches[firm], tol=1e-6) < 6


def contradicts(problem):
    """Whether no motion of the panel, however bent, fulfils the bounds that do not give way."""
    rigid = [r for r in problem.restraints if r.compliance == 0.0]
    rows = sp.vstack(
        [*(r.row for r in rigid), problem.ground.rows] if problem.ground else [r.row for r in rigid]
    )
    low = np.array([r.lower for r in rigid])
    high = np.array([r.upper for r in rigid])
    if problem.ground is not None:
        low = np.append(low, problem.ground.lowest)
        high = np.append(high, np.full(len(problem.ground.lowest), np.inf))
    there = np.isfinite(high), np.isfinite(low)
    limits = sp.vstack([rows[there[0]], -rows[there[1]]])
    # in tenths of a millimetre, with one slack for all: how far must the bounds give way?
    bounds = 1e4 * np.concatenate([high[there[0]], -low[there[1]]])
    slack = sp.csr_array(-np.ones((limits.shape[0], 1)))
    cost = np.append(np.zeros(limits.shape[1]), 1.0)
    free = [(None, None)] * limits.shape[1] + [(0.0, None)]
    found = linprog(cost, A_ub=sp.hstack([limits, slack]), b_ub=bounds, bounds=free, method="highs")
    assert found.status == 0, found.message
    return found.fun > 1e-6


def held_whatever(problem):
    """Whether all supports together, taken as acting both ways, hold the panel."""
    return np.linalg.matrix_rank(np.array(problem.wrenches).reshape(-1, 6), tol=1e-6) == 6


def check(problem, structure, x, force, ground):
    """Largest violation of equilibrium and laws, each relative to the loads or to the largest motion."""
    rows = structure.rows
    motion = rows @ x
    loads = max(problem.size, float(np.abs(force).max(initial=0.0)), 1e-300)
    out = problem.load - structure.matrix @ x - rows.T @ force
    sums = problem.pull - np.array(problem.wrenches).T @ force
    # a panel that rests where it was made moves no further than its sheet gives: force over E t, at least 5e-9 m/N
    travel = max(float(np.abs(motion).max()), float(np.abs(x.reshape(-1, 5)[:, :3]).max()), 5e-9 * loads)
    laws = [(r.lower, r.upper, r.compliance) for r in problem.restraints]
    if problem.ground is not None:
        loads = max(loads, float(np.abs(ground).max(initial=0.0)))
        out = out + problem.ground.rows.T @ ground
        sums = sums + problem.ground_wrenches().T @ ground
        motion = np.append(motion, problem.ground.rows @ x)
        force = np.append(force, -ground)
        laws += [(least, np.inf, 0.0) for least in problem.ground.lowest]
    law = [off_law(*one, travel=travel, loads=loads) for one in zip(motion, force, laws, strict=True)]
    absolute = abs(structure.matrix) @ np.abs(x) + np.abs(problem.load)
    return {
        "law": max(law),
        "nodes": float(np.linalg.norm(out) / np.linalg.norm(absolute)),
        "sums": float(np.abs(sums).max() / loads),
    }


def off_law(motion, force, law, *, travel, loads):
    """Distance of a support's motion and force from its law (lower, upper, compliance), dimensionless.

    The law has three branches: free within the play, at the upper bound with a force along the motion, and at the
    lower one with a force against it.
    """
    lower, upper, compliance = law
    free = abs(motion - min(max(motion, lower), upper)), abs(force)
    ups = abs(motion - upper - compliance * max(force, 0.0)), max(-force, 0.0)
    downs = abs(motion - lower - compliance * min(force, 0.0)), max(force, 0.0)
    return min(max(apart / travel, misfit / loads) for apart, misfit in (free, ups, downs))


@st.composite
def problems(draw):
    """Supports and loads at random places, some mirrored, some doubled, with and without ground."""
    problem = Problem(draw(st.integers(0, 1)))
    for holds in draw(st.sampled_from(FIXINGS)):
        problem.hold(draw(st.sampled_from(ALONG)), draw(anywhere()), holds)
    for add in (_pockets, _struts, _struts, _stops):
        add(draw, problem)
    if draw(st.booleans()):
        steep = st.sampled_from((0.0, 0.0, 0.01, -0.02))
        height = draw(tenths(-20, 200))
        problem.over_ground(height, draw(steep), draw(steep))
    _loads(draw, problem)
    return problem


def anywhere():
    return st.sampled_from([*ACROSS, *(LY - y for y in ACROSS)])


def both_sides(draw):
    """One place across the panel, or a mirrored pair."""
    y = draw(anywhere())
    return (y, LY - y) if draw(st.booleans()) and y != LY / 2 else (y,)


def tenths(least, most):
    """Whole tenths of a millimetre, in m."""
    return st.integers(least, most).map(lambda n: 1e-4 * n)


def clearance():
    return st.sampled_from((0.0, 0.0, 1e-9, 1e-3)) | tenths(0, 20)


def _pockets(draw, problem):
    for _ in range(draw(st.integers(0, 2))):
        width, overlap = draw(st.sampled_from((0.06, 0.1, 0.15))), draw(st.sampled_from((0.015, 0.03, 0.045)))
        up, down = draw(clearance()), draw(clearance())
        for y in both_sides(draw):
            problem.pocket(y, width=width, overlap=overlap, up=up, down=down)


def _struts(draw, problem):
    for _ in range(draw(st.integers(0, 1))):
        x, one_way = draw(st.sampled_from(ALONG)), draw(st.booleans())
        lean = draw(st.sampled_from((0.0, 0.3, -0.5))), draw(st.sampled_from((0.0, 0.2)))
        options = {
            "height": draw(st.sampled_from((0.0, 0.03))),
            "stiffness": draw(st.sampled_from((1e5, 1e6, 1e7))),
            "tension_only": one_way,
            "slack": draw(clearance()) if one_way else 0.0,
            "preload": draw(st.sampled_from((0.0, 0.0, 20.0, 300.0))),
        }
        for y in both_sides(draw) * draw(st.sampled_from((1, 1, 1, 2))):
            out = 1.0 if y > LY / 2 else -1.0
            problem.strut(x, y, lean=(lean[0], out * lean[1]), **options)


def _stops(draw, problem):
    for _ in range(draw(st.integers(0, 1))):
        x, gap, above = draw(st.sampled_from(ALONG)), draw(clearance()), draw(st.booleans())
        compliance = draw(st.sampled_from((0.0, 0.0, 1e-6)))
        for y in both_sides(draw):
            problem.stop(x, y, gap=gap, compliance=compliance, above=above)


def _loads(draw, problem):
    if draw(st.booleans()):
        problem.press(*(draw(st.integers(-20, 20).map(lambda n: 100.0 * n)) for _ in range(3)))
    for _ in range(draw(st.integers(0, 2))):
        size = st.just(0.0) | st.integers(-50, 50).map(lambda n: 10.0 * n)
        problem.push(draw(st.sampled_from(ALONG)), draw(anywhere()), [draw(size) for _ in range(3)])
    if not problem.size:
        problem.press(draw(st.sampled_from((1000.0, -1000.0))), 0.0, 0.0)
