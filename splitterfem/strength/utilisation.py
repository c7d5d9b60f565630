"""Utilisations of a panel at many points, and the factors that they are made with."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from splitterfem.errors import DesignError
from splitterfem.materials.stiffness import shear_rotation, strain_rotation
from splitterfem.strength._inputs import positive
from splitterfem.strength.row import Basis, Check
from splitterfem.strength.timber import TimberFactors

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class DesignFactors:
    """What turns strengths into design values, and resultants into demands.

    Attributes
    ----------
    timber : TimberFactors
        On characteristic strengths along and across a grain: times k_mod over gamma_M.
    metal : float
        Every other strength (yield, minimum, typical) is divided by it.
    load : float
        Multiplies the stress resultants.
    """

    timber: TimberFactors
    metal: float
    load: float

    def __post_init__(self) -> None:
        positive("Factors on the panel", metal_factor=self.metal, load_factor=self.load)


@dataclass(frozen=True, eq=False)
class PanelMode:
    """Utilisation of a panel in one mode at ``n`` points.

    Attributes
    ----------
    mode : str
        How it would fail.
    ratio : ndarray, shape (n,)
        1 is the limit.
    demand : ndarray, shape (n,)
        Load factor included, in ``unit``; equals the ratio where several stresses act together.
    allowable : float
        Design value in ``unit``.
    unit : str
        Pa, or - for a sum of ratios.
    source, basis, note : str
        As in a `Check`.
    """

    mode: str
    ratio: FloatArray
    demand: FloatArray
    allowable: float
    unit: str
    source: str
    basis: Basis
    note: str = ""

    @property
    def worst(self) -> int:
        """Index of the point where the ratio is largest."""
        return int(np.argmax(self.ratio))

    def check(self, *, part: str, x: ArrayLike, y: ArrayLike) -> Check:
        """Check at the worst point, whose place is taken from the points' x and y (n,) in m."""
        i = self.worst
        return Check(
            part=part,
            kind="panel",
            x=float(np.asarray(x, dtype=np.float64)[i]),
            y=float(np.asarray(y, dtype=np.float64)[i]),
            mode=self.mode,
            demand=float(self.demand[i]),
            demand_unit=self.unit,
            allowable=self.allowable,
            ratio=float(self.ratio[i]),
            basis=self.basis,
            source=self.source,
            note=self.note,
        )


@dataclass(frozen=True, eq=False)
class PanelUtilisation:
    """All modes of a panel at the same points.

    Attributes
    ----------
    modes : tuple of PanelMode
    unjudged : tuple of str
        Modes with a stress and no strength to hold against it.
    """

    modes: tuple[PanelMode, ...]
    unjudged: tuple[str, ...] = ()

    @property
    def envelope(self) -> FloatArray:
        """Largest ratio of all modes at each point, (n,).

        Raises
        ------
        DesignError
            If no mode could be judged.
        """
        if not self.modes:
            raise DesignError(
                "No stress of the panel can be judged: its material has no strength; give some."
            )
        return np.asarray(np.max([mode.ratio for mode in self.modes], axis=0), dtype=np.float64)

    def checks(self, *, part: str, x: ArrayLike, y: ArrayLike) -> list[Check]:
        """Worst point of every mode, and a row without ratio for every mode that cannot be judged.

        Parameters
        ----------
        part : str
            Name of the panel.
        x, y : array_like, shape (n,)
            The points, m.
        """
        judged = [mode.check(part=part, x=x, y=y) for mode in self.modes]
        return judged + [
            Check(
                part=part,
                kind="panel",
                x=float("nan"),
                y=float("nan"),
                mode=mode,
                demand=0.0,
                demand_unit="Pa",
                allowable=float("nan"),
                ratio=float("nan"),
                basis="user",
                source="no strength known",
                note="not judged: the material gives no strength for it",
            )
            for mode in self.unjudged
        ]


@dataclass(frozen=True, eq=False)
class Forces:
    """Stress resultants at ``n`` points: N (n, 3) in N/m, M (n, 3) in N m/m, Q (n, 2) in N/m.

    M is positive where it stretches the lower face: the stress at height z is ``N / t - 12 z M / t^3``.
    """

    N: FloatArray
    M: FloatArray
    Q: FloatArray

    def turned(self, angle: float) -> Forces:
        """Return the same in axes that stand at an angle, rad, anticlockwise from above."""
        turn = np.linalg.inv(strain_rotation(angle))  # work of forces on strains is the same in both axes
        return Forces(self.N @ turn, self.M @ turn, self.Q @ shear_rotation(angle).T)


def forces(N: ArrayLike, M: ArrayLike, Q: ArrayLike, *, load: float) -> Forces:
    """Read stress resultants and multiply them by the load factor.

    Parameters
    ----------
    N, M : array_like, shape (n, 3)
        x, y, xy; N/m and N m/m.
    Q : array_like, shape (n, 2)
        xz, yz; N/m.
    load : float
        Load factor.

    Raises
    ------
    DesignError
        If the shapes do not fit, there is no point or a number is not finite.
    """
    arrays = [np.asarray(a, dtype=np.float64) for a in (N, M, Q)]
    n = arrays[0].shape[0] if arrays[0].ndim == 2 else 0
    if n == 0 or [a.shape for a in arrays] != [(n, 3), (n, 3), (n, 2)]:
        found = ", ".join(str(a.shape) for a in arrays)
        raise DesignError(
            f"Stress resultants have the shapes {found}; give (n, 3), (n, 3) and (n, 2), n above 0."
        )
    for name, values in zip("NMQ", arrays, strict=True):
        wrong = np.flatnonzero(~np.all(np.isfinite(values), axis=1))
        if wrong.size:
            raise DesignError(
                f"The stress resultant {name} is not finite at point {wrong[0]}; leave that point out."
            )
    return Forces(*(load * a for a in arrays))


def faces(force: Forces, thickness: float) -> FloatArray:
    """Stresses (xx, yy, xy) of a homogeneous sheet at its bottom and top face, (n, 2, 3), Pa."""
    positive("Panel", thickness=thickness)
    membrane, bending = force.N / thickness, 6 * force.M / thickness**2
    return np.stack([membrane + bending, membrane - bending], axis=1)


def von_mises(stress: FloatArray) -> FloatArray:
    """Equivalent stress of plane stress (..., 3), Pa."""
    x, y, s = stress[..., 0], stress[..., 1], stress[..., 2]
    return np.asarray(np.sqrt(x**2 - x * y + y**2 + 3 * s**2))
