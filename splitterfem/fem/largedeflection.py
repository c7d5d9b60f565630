"""Large deflection: forces, energy and tangent of a von Karman plate with ribs."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from splitterfem.fem.contribution import Contribution
from splitterfem.fem.stretch import Stretch, rib_stretch, sheet_stretch
from splitterfem.fem.structure import Structure

Array = NDArray[np.float64]
Index = NDArray[np.int64]


@dataclass
class LargeDeflection:
    """A structure whose panel and ribs stretch as they tilt.

    Parameters
    ----------
    structure : Structure
        Linear stiffness and supports.
    contributions : tuple of Contribution
        The ribs that are in it.
    """

    structure: Structure
    contributions: tuple[Contribution, ...] = ()
    stretches: tuple[Stretch, ...] = field(init=False)

    def __post_init__(self) -> None:
        panel = self.structure.panel
        ribs = (rib_stretch(panel, part) for part in self.contributions if part.stretch)
        self.stretches = (sheet_stretch(panel), *ribs)

    def internal(self, x: Array) -> Array:
        """Nodal forces (n,) of the unknowns ``x`` (n,)."""
        return self.structure.internal(x) + self.stretched(x)

    def stretched(self, x: Array) -> Array:
        """Find what of the nodal forces (n,) is beyond the linear ones."""
        return np.asarray(sum(stretch.internal(x) for stretch in self.stretches))

    def energy(self, x: Array) -> float:
        """Strain energy in J."""
        linear = 0.5 * float(x @ (self.structure.matrix @ x))
        return linear + sum(stretch.energy(x) for stretch in self.stretches)

    def tangent(self, x: Array) -> sp.csc_array:
        """Tangent stiffness (n, n) at ``x``."""
        return self._with_blocks([(stretch, *stretch.tangent(x)) for stretch in self.stretches])

    def geometric(self, x: Array) -> sp.csc_array:
        """Stiffness (n, n) that the linear stresses of ``x`` add to slopes, for buckling and prestress."""
        values, rows, columns = list[Array](), list[Index](), list[Index]()
        for stretch in self.stretches:
            linear = np.einsum("nkd,nd->nk", stretch.force_rows, x[stretch.dofs])
            dofs = stretch.groups[2]
            _collect(values, rows, columns, stretch.geometric(linear), dofs, dofs)
        return _sparse(values, rows, columns, len(x))

    def _with_blocks(self, blocks: list[tuple[Stretch, Array, Array]]) -> sp.csc_array:
        values: list[Array] = []
        rows: list[Index] = []
        columns: list[Index] = []
        for stretch, mixed, own in blocks:
            _, dofs, slopes = stretch.groups
            _collect(values, rows, columns, mixed, dofs, slopes)
            _collect(values, rows, columns, mixed.transpose(0, 2, 1), slopes, dofs)
            _collect(values, rows, columns, own, slopes, slopes)
        n = self.structure.matrix.shape[0]
        return sp.csc_array(self.structure.matrix + _sparse(values, rows, columns, n))


def _collect(
    values: list[Array], rows: list[Index], columns: list[Index], blocks: Array, at: Index, to: Index
) -> None:
    """Add blocks (g, a, b) in rows (g, a) and columns (g, b) to triplets."""
    values.append(blocks.ravel())
    rows.append(np.repeat(at, to.shape[1], axis=1).ravel())
    columns.append(np.tile(to, (1, at.shape[1])).ravel())


def _sparse(values: list[Array], rows: list[Index], columns: list[Index], n: int) -> sp.csc_array:
    triplets = [np.concatenate(part) for part in (values, rows, columns)]
    return sp.csc_array(sp.coo_array((triplets[0], (triplets[1], triplets[2])), shape=(n, n)))
