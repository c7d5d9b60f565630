"""Gain of a rib at a point, in every direction: products of the strains of a state and of its adjoint.

A piece of rib of length ds adds the stiffness ``ds B' C B``, so that what is to fall falls by ``ds (B z) . C (B x)``
with the state x and the adjoint z.  The strains B that a rib feels in a direction theta follow from the panel's by
turning its axes; their products are polynomials of fourth degree in the sine and cosine of theta, so that five
directions give them all.

Here a rib is thin: all its parts are taken at its line, as when it is narrow against the bends of the panel.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from splitterfem.fem.panel import Panel
from splitterfem.fem.recover import slopes
from splitterfem.fem.ribs import RibParts
from splitterfem.fem.stretch import added_strains

Array = NDArray[np.float64]
Index = NDArray[np.int64]

DIRECTIONS = 5
"""Directions over half a turn that determine a polynomial of fourth degree in sine and cosine of even order."""

SEARCHED, STEPS = 36, 4
"""Directions with which the search for the best one begins, and Newton steps from each."""

CHUNK = 4096
"""Points whose strain rows are held at once, to bound the memory."""


@dataclass(frozen=True)
class Bent:
    """How the panel is bent and moved at ``n`` points.

    Attributes
    ----------
    stretch : ndarray, shape (n, 3)
        Strains of the mid-surface eps_x, eps_y, gamma_xy.
    turning : ndarray, shape (n, 4)
        phi_x,x; phi_x,y; phi_y,x; phi_y,y.
    shear : ndarray, shape (n, 2)
        gamma_xz, gamma_yz.
    motion : ndarray, shape (n, 5)
        u, v, w, phi_x, phi_y.
    """

    stretch: Array
    turning: Array
    shear: Array
    motion: Array

    def along(self, angle: float, z: float) -> Array:
        """Strain (n,) along a direction at height z in m above the mid-surface."""
        c, s = np.cos(angle), np.sin(angle)
        flat = self._at(z)
        return np.asarray(c * c * flat[0] + s * s * flat[1] + c * s * flat[2])

    def across(self, angle: float, z: float) -> Array:
        """Shear strain (n,) between a direction and its left normal at height z in m."""
        c, s = np.cos(angle), np.sin(angle)
        flat = self._at(z)
        return np.asarray(2.0 * c * s * (flat[1] - flat[0]) + (c * c - s * s) * flat[2])

    def bending(self, angle: float) -> Array:
        """Curvature (n,) along a direction."""
        c, s = np.cos(angle), np.sin(angle)
        xx, xy, yx, yy = self.turning.T
        return np.asarray(c * c * xx + s * s * yy + c * s * (xy + yx))

    def twist(self, angle: float) -> Array:
        """Rate (n,) along a direction of the rotation about it."""
        c, s = np.cos(angle), np.sin(angle)
        xx, xy, yx, yy = self.turning.T
        return np.asarray(-s * (c * xx + s * xy) + c * (c * yx + s * yy))

    def upright(self, angle: float) -> Array:
        """Vertical shear strain (n,) along a direction."""
        return np.asarray(np.cos(angle) * self.shear[:, 0] + np.sin(angle) * self.shear[:, 1])

    def moved(self, z: float) -> Array:
        """Displacement (n, 3) at height z in m."""
        u = self.motion
        return np.column_stack([u[:, 0] - z * u[:, 3], u[:, 1] - z * u[:, 4], u[:, 2]])

    def _at(self, z: float) -> tuple[Array, Array, Array]:
        xx, xy, yx, yy = self.turning.T
        return (
            self.stretch[:, 0] - z * xx,
            self.stretch[:, 1] - z * yy,
            self.stretch[:, 2] - z * (xy + yx),
        )


def bent(
    panel: Panel, state: Array, adjoint: Array, elements: Index, xy: Array, *, large: bool
) -> tuple[Bent, Bent]:
    """How a state and its adjoint bend the panel at points (2, n) in the listed elements.

    Parameters
    ----------
    panel : Panel
    state, adjoint : ndarray, shape (n_dofs,)
    elements : ndarray of int, shape (n,)
    xy : ndarray, shape (2, n)
        In m.
    large : bool
        Whether slopes stretch the state; the adjoint is then a change of it.
    """
    parts = [
        _bent(panel, (state, adjoint), elements[i : i + CHUNK], xy[:, i : i + CHUNK])
        for i in range(0, max(len(elements), 1), CHUNK)
    ]
    here, there = (np.concatenate([part[which] for part in parts]) for which in (0, 1))
    if large:
        own, change = (slopes(panel, x, elements, xy) for x in (state, adjoint))
        here[:, :3] += added_strains(own)
        there[:, :3] += changed_strains(own, change)
    return _split(here), _split(there)


def changed_strains(slope: Array, change: Array) -> Array:
    """Change (n, 3) of the strains that slopes (n, 2) add, with a change (n, 2) of the slopes."""
    return np.column_stack(
        [
            slope[:, 0] * change[:, 0],
            slope[:, 1] * change[:, 1],
            slope[:, 0] * change[:, 1] + slope[:, 1] * change[:, 0],
        ]
    )


def _bent(panel: Panel, fields: tuple[Array, Array], elements: Index, xy: Array) -> list[Array]:
    strains = panel.strain_rows(elements, xy)
    rows = np.concatenate(
        [
            strains[:, :3],
            panel.gradient_rows(elements, xy)[:, 6:10],
            strains[:, 6:8],
            panel.displacement_rows(elements, xy),
        ],
        axis=1,
    )
    return [panel.gather(elements, rows, x) for x in fields]


def _split(values: Array) -> Bent:
    return Bent(values[:, :3], values[:, 3:7], values[:, 7:9], values[:, 9:])


def stiffening(rib: RibParts, here: Bent, there: Bent, angle: float) -> Array:
    """Products (n,) of the strains of two fields with the stiffness of a thin rib in a direction, per metre of it.

    Parameters
    ----------
    rib : RibParts
        Its line and offsets do not matter.
    here, there : Bent
    angle : float
        From x towards y, in rad.
    """
    total = np.zeros(len(here.stretch))
    for line in rib.lines:
        measures = (
            (line.EA, here.along(angle, line.z), there.along(angle, line.z)),
            (line.EI, here.bending(angle), there.bending(angle)),
            (line.GJ, here.twist(angle), there.twist(angle)),
            (line.GAs, here.upright(angle), there.upright(angle)),
        )
        total += sum(stiffness * one * other for stiffness, one, other in measures)
    for layer in rib.layers:
        section, z = layer.width * layer.thickness, layer.z
        total += layer.E * section * here.along(angle, z) * there.along(angle, z)
        total += layer.G * section * here.across(angle, z) * there.across(angle, z)
    for cell in rib.cells:
        turn = 2.0 * cell.area / cell.foot
        one, other = (at.across(angle, cell.z) - turn * at.twist(angle) for at in (here, there))
        total += cell.stiffness * cell.foot**2 * one * other
    return total


@dataclass(frozen=True)
class Directional:
    """A figure at ``n`` points in every direction: ``a0 + a2 cos 2t + b2 sin 2t + a4 cos 4t + b4 sin 4t``.

    Attributes
    ----------
    terms : ndarray, shape (n, 5)
        a0, a2, b2, a4, b4.
    """

    terms: Array

    def at(self, angle: Array | float) -> Array:
        """Figure (n,) in a direction for all points, or one for each (n,), in rad."""
        t = 2.0 * np.asarray(angle, dtype=float)
        a0, a2, b2, a4, b4 = np.moveaxis(self.terms, -1, 0)
        even = a2 * np.cos(t) + b2 * np.sin(t) + a4 * np.cos(2.0 * t) + b4 * np.sin(2.0 * t)
        return np.asarray(a0 + even)

    def mirrored(self) -> Directional:
        """Return the same seen in the mirror, where a direction t is the direction -t."""
        return Directional(self.terms * np.array([1.0, 1.0, -1.0, 1.0, -1.0]))

    def best(self) -> tuple[Array, Array]:
        """Largest figure (n,) and its direction (n,) in rad, from -90 to 90 degrees.

        Newton steps from many directions at once: there may be two that are nearly as good.
        """
        _, a2, b2, a4, b4 = self.terms.T[:, :, None]
        t = np.broadcast_to(2.0 * np.pi * np.arange(SEARCHED) / SEARCHED, (len(self.terms), SEARCHED))
        for _ in range(STEPS):
            c, s, c2, s2 = np.cos(t), np.sin(t), np.cos(2.0 * t), np.sin(2.0 * t)
            slope = -a2 * s + b2 * c + 2.0 * (b4 * c2 - a4 * s2)
            bend = -a2 * c - b2 * s - 4.0 * (a4 * c2 + b4 * s2)
            step = np.where(bend < 0.0, -slope / np.where(bend < 0.0, bend, -1.0), 0.0)
            t = t + np.clip(step, -2.0 * np.pi / SEARCHED, 2.0 * np.pi / SEARCHED)
        which = np.argmax(Directional(self.terms[:, None]).at(0.5 * t), axis=1)
        found = 0.5 * t[np.arange(len(t)), which]
        found = (found + 0.5 * np.pi) % np.pi - 0.5 * np.pi
        return self.at(found), found


def directional(rib: RibParts, here: Bent, there: Bent) -> Directional:
    """Products of strains and stiffness in every direction, per metre; see :func:`stiffening`."""
    angles = np.pi * np.arange(DIRECTIONS) / DIRECTIONS
    waves = (
        np.fft.rfft(np.column_stack([stiffening(rib, here, there, angle) for angle in angles])) / DIRECTIONS
    )
    first, second = 2.0 * waves[:, 1], 2.0 * waves[:, 2]
    return Directional(
        np.column_stack([waves[:, 0].real, first.real, -first.imag, second.real, -second.imag])
    )


def weighing(rib: RibParts, felt: Array, square: float, here: Bent, there: Bent) -> Array:
    """How much the mass of a thin rib takes away (n,), per metre of it: its weight at rest, its swing in a vibration.

    Parameters
    ----------
    rib : RibParts
    felt : ndarray, shape (3,)
        Field of acceleration in m/s2.
    square : float
        Of the angular frequency in 1/s2.
    here, there : Bent
    """
    total = np.zeros(len(here.stretch))
    parts = [(line.mass, line.z) for line in rib.lines]
    parts += [(layer.mass * layer.width, layer.z) for layer in rib.layers]
    for mass, z in parts:
        moved = there.moved(z)
        total += mass * (moved @ felt + square * np.sum(here.moved(z) * moved, axis=1))
    return total
