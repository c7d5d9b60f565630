"""The panel's sheet and the doublers on it as stiffness and mass of each element."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from splitterfem import curves
from splitterfem.design import Doubler, Sheet, Splitter
from splitterfem.errors import DesignError
from splitterfem.fem.panel import generalised_stiffness
from splitterfem.materials import PlateStiffness
from splitterfem.model.pads import written_out

Array = NDArray[np.float64]
Index = NDArray[np.int64]


@dataclass(frozen=True)
class SheetField:
    """Sheet of every element.

    Attributes
    ----------
    base : PlateStiffness
        The panel's own sheet.
    stiffness : ndarray, shape (8, 8) or (nt, 8, 8)
        Generalised stiffness about the panel's mid-surface.
    mass_per_area : ndarray, shape (nt,)
        In kg/m2.
    doubled : ndarray of int, shape (nt,)
        Number of the last doubler on each element, -1 where there is none.
    names : tuple of str
        Doublers, mirrored pairs written out.
    """

    base: PlateStiffness
    stiffness: Array
    mass_per_area: Array
    doubled: Index
    names: tuple[str, ...]


def sheet_stiffness(sheet: Sheet) -> PlateStiffness:
    """Stiffness of a sheet in the panel's axes about its own mid-surface."""
    return sheet.resolved.stiffness(float(sheet.thickness), float(sheet.grain_angle))


def sheet_field(splitter: Splitter, centroids: Array) -> SheetField:
    """Sheet and doublers at the elements with the given centroids (nt, 2).

    A doubler is bonded ideally: its stiffness adds to the panel's, moved to the panel's mid-surface by the parallel
    axis rule.  The transverse shear stiffnesses add up.

    Raises
    ------
    DesignError
        If a rib stands on a doubler, whose foot would float above the panel.
    """
    base = sheet_stiffness(splitter.panel.sheet)
    count = len(centroids)
    doublers = written_out(splitter.doublers)
    if not doublers:
        none = -np.ones(count, dtype=np.int64)
        return SheetField(base, generalised_stiffness(base), np.full(count, base.mass_per_area), none, ())
    mass = np.full(count, base.mass_per_area)
    stiffness = np.repeat(generalised_stiffness(base)[None], count, axis=0)
    doubled = -np.ones(count, dtype=np.int64)
    points = shapely.points(centroids)
    for number, doubler in enumerate(doublers):
        area = curves.polygon(doubler.outline.loop(), float(splitter.mesh.chord))
        _refuse_ribs_on(doubler, area, splitter)
        inside = shapely.contains(area, points)
        extra = sheet_stiffness(doubler.sheet)
        side = 1.0 if doubler.side == "above" else -1.0
        stiffness[inside] += _moved(extra, side * 0.5 * (base.thickness + extra.thickness))
        mass[inside] += extra.mass_per_area
        doubled[inside] = number
    return SheetField(base, stiffness, mass, doubled, tuple(doubler.name for doubler in doublers))


def _moved(sheet: PlateStiffness, z: float) -> Array:
    """Generalised stiffness (8, 8) of a sheet whose mid-surface lies ``z`` (m) above the reference surface."""
    C = np.zeros((8, 8))
    B = sheet.B + z * sheet.A
    C[:3, :3] = sheet.A
    C[:3, 3:6] = -B
    C[3:6, :3] = -B.T
    C[3:6, 3:6] = sheet.D + z * (sheet.B + sheet.B.T) + z * z * sheet.A
    C[6:, 6:] = sheet.S
    return C


def _refuse_ribs_on(doubler: Doubler, area: shapely.Polygon, splitter: Splitter) -> None:
    for rib in written_out(splitter.ribs):
        if rib.side != doubler.side:
            continue
        foot = shapely.LineString(rib.points).buffer(0.5 * rib.foot_width, cap_style="flat")
        shared = area.intersection(foot)
        if shared.area > 1e-8:
            x, y = shared.centroid.x, shared.centroid.y
            raise DesignError(
                f"Rib {rib.name} runs over doubler {doubler.name} on the same face at x {1e3 * x:.1f} mm, "
                f"y {1e3 * y:.1f} mm: put one of them on the other face, or end the doubler beside the rib."
            )
