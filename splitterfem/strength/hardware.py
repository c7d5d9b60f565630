"""Threads, strength classes, washers and blind rivets of the tables in ``data``."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any, TypeVar

from splitterfem.errors import DesignError, nearest
from splitterfem.strength.row import Basis

T = TypeVar("T")

INCH = 0.0254


@dataclass(frozen=True)
class Thread:
    """A screw thread.

    Attributes
    ----------
    name : str
        Such as ``"M6"`` or ``"1/4-28 UNF"``.
    diameter : float
        Nominal, m.
    pitch : float
        m.
    stress_area : float
        Tensile stress area, m2.
    source, basis : str
        Where the figures come from and how well they are known.
    """

    name: str
    diameter: float
    pitch: float
    stress_area: float
    source: str
    basis: Basis


@dataclass(frozen=True)
class BoltClass:
    """A strength class of bolts.

    Attributes
    ----------
    name : str
        Such as ``"8.8"``.
    ultimate, yield_strength : float
        Nominal, Pa.
    alpha_v : float
        Shear over ultimate strength, thread in the shear plane.
    source, basis : str
        Where the figures come from and how well they are known.
    """

    name: str
    ultimate: float
    yield_strength: float
    alpha_v: float
    source: str
    basis: Basis


@dataclass(frozen=True)
class Washer:
    """A round washer; all lengths in m."""

    size: str
    series: str
    hole: float
    outer: float
    thickness: float
    source: str
    basis: Basis


@dataclass(frozen=True)
class BlindRivet:
    """A blind rivet: diameter in m, least shear and tension loads in N."""

    diameter: float
    shear: float
    tension: float
    source: str
    basis: Basis


def thread(name: str) -> Thread:
    """Find a thread by name.

    Raises
    ------
    DesignError
        If the table has none of that name.

    Examples
    --------
    >>> round(1e6 * thread("M6").stress_area, 1)
    20.1
    """
    return _find(name, threads(), "thread")


def bolt_class(name: str) -> BoltClass:
    """Find a strength class of bolts by name.

    Raises
    ------
    DesignError
        If the table has none of that name.
    """
    return _find(name, bolt_classes(), "strength class")


def washer(size: str, series: str = "normal") -> Washer:
    """Find a washer by the size of its bolt and its series: normal, large, extra large.

    Raises
    ------
    DesignError
        If the table has none of that size and series.
    """
    return _find(f"{size} {series}", washers(), "washer")


def blind_rivet(diameter: float) -> BlindRivet:
    """Find a blind rivet of aluminium with a steel mandrel by its diameter in m.

    Raises
    ------
    DesignError
        If the table has none of that diameter.
    """
    for rivet in blind_rivets():
        if abs(rivet.diameter - diameter) < 0.06e-3:
            return rivet
    known = ", ".join(f"{1e3 * rivet.diameter:g}" for rivet in blind_rivets())
    raise DesignError(
        f"There is no blind rivet of {1e3 * diameter:g} mm in the table; known: {known} mm, or give the maker's loads."
    )


@cache
def threads() -> dict[str, Thread]:
    """Return all threads by name."""
    found = {}
    for family in read_table("threads.toml")["family"]:
        inch = family["unit_diameter"] == "in"
        for name, diameter, third, area in family["rows"]:
            found[name] = Thread(
                name=name,
                diameter=diameter * INCH if inch else 1e-3 * diameter,
                pitch=INCH / third if inch else 1e-3 * third,
                stress_area=area * INCH**2 if inch else 1e-6 * area,
                source=family["source"],
                basis=family["basis"],
            )
    return found


@cache
def bolt_classes() -> dict[str, BoltClass]:
    """Return all strength classes by name."""
    return {
        row["name"]: BoltClass(
            name=row["name"],
            ultimate=1e6 * row["ultimate_MPa"],
            yield_strength=1e6 * row["yield_MPa"],
            alpha_v=row["alpha_v"],
            source=row["source"],
            basis=row["basis"],
        )
        for row in read_table("bolt_classes.toml")["class"]
    }


@cache
def washers() -> dict[str, Washer]:
    """Return all washers by size and series, such as ``"M6 large"``."""
    found = {}
    for series in read_table("washers.toml")["series"]:
        for size, hole, outer, thickness in series["rows"]:
            found[f"{size} {series['name']}"] = Washer(
                size=size,
                series=series["name"],
                hole=1e-3 * hole,
                outer=1e-3 * outer,
                thickness=1e-3 * thickness,
                source=series["source"],
                basis=series["basis"],
            )
    return found


@cache
def blind_rivets() -> tuple[BlindRivet, ...]:
    """Return all blind rivets, thinnest first."""
    rows = read_table("rivets.toml")["rivet"]
    return tuple(
        BlindRivet(
            1e-3 * r["diameter_mm"], float(r["shear_N"]), float(r["tension_N"]), r["source"], r["basis"]
        )
        for r in rows
    )


def read_table(name: str) -> dict[str, Any]:
    """Read one of the tables that come with this package."""
    path = files("splitterfem.strength") / "data" / name
    return tomllib.loads(path.read_text(encoding="utf-8"))


def _find(name: str, known: dict[str, T], what: str) -> T:
    wanted = " ".join(str(name).split()).casefold()
    for key, record in known.items():
        if key.casefold() == wanted:
            return record
    raise DesignError(f"There is no {what} '{name}' in the table; {nearest(wanted, known)}")
