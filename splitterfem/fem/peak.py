"""The worst sag of a panel whose motion is a sum of known fields, without summing them everywhere."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from splitterfem.fem.space import PanelSpace

Array = NDArray[np.float64]
Index = NDArray[np.int64]

WATCHED = 6
"""Corners of the mesh with the largest sag around which it is looked at closely."""


@dataclass(frozen=True, eq=False)
class Worst:
    """Worst sag of one sum.

    Attributes
    ----------
    value : float
        In m.
    node : int
        The one that counts most at its place.
    nodes : ndarray of int, shape (6,)
    shares : ndarray, shape (6,)
        Of the sag at those nodes, which make it.
    corners : ndarray, shape (corners,)
        Sag at all corners of the mesh in m.
    """

    value: float
    node: int
    nodes: Index
    shares: Array
    corners: Array


@dataclass(frozen=True, eq=False)
class Peak:
    """Fields of sag at the nodes of a mesh, and how the worst of their sum is found.

    The sag is quadratic in each element.  It is summed at all corners, then at the sample points of the elements around
    those with the largest sag.

    Attributes
    ----------
    elements : ndarray of int, shape (nt, 6)
        Nodes of each element.
    around : tuple of ndarray of int
        Elements at each corner.
    samples : ndarray, shape (q, 6)
        Quadratic shape functions at the sample points of an element.
    nodes, corners : int
        Their numbers; corners come first.
    sag : ndarray, shape (N, nodes)
        Of a unit amount of each shape.
    rest, push : ndarray, shape (nodes, 1 + r), (nodes, m)
        Under the loads, and under unit forces on the restraints.
    sag_corners, rest_corners, push_corners : ndarray
        The same at the corners alone.
    """

    elements: Index
    around: tuple[Index, ...]
    samples: Array
    nodes: int
    corners: int
    sag: Array
    rest: Array
    push: Array
    sag_corners: Array
    rest_corners: Array
    push_corners: Array

    def knowing(self, sag: Array, loads: Array, pushes: Array) -> Peak:
        """Return the same with the sag (N, nodes) of shapes and the motions (n, ...) under loads and pushes."""
        rest, push, few = -loads[2::5], -pushes[2::5], self.corners
        return replace(
            self,
            sag=sag,
            rest=rest,
            push=push,
            sag_corners=np.ascontiguousarray(sag[:, :few]),
            rest_corners=np.ascontiguousarray(rest[:few].T),
            push_corners=np.ascontiguousarray(push[:few].T),
        )

    def worst(self, index: Index, amounts: Array, loads: Index, rows: Index, push: Array) -> Worst:
        """Find the worst sag.

        Parameters
        ----------
        index : ndarray of int, shape (k,)
            Shapes that a layout has.
        amounts : ndarray, shape (k,)
            How much the ribs pass on by each; it is taken away.
        loads : ndarray of int
            Which of the loads act.
        rows : ndarray of int, shape (p,)
            Restraints that it has.
        push : ndarray, shape (p,)
            Their forces on the panel beyond those of the ties.
        """
        corners = self.rest_corners[loads].sum(axis=0) + push @ self.push_corners[rows]
        corners -= amounts @ self.sag_corners[index]
        top = np.argpartition(corners, -WATCHED)[-WATCHED:]
        elements = np.unique(np.concatenate([self.around[corner] for corner in top]))
        nodes, place = np.unique(self.elements[elements], return_inverse=True)
        sag = self._summed(nodes, index, amounts, loads, rows, push)[place.reshape(len(elements), -1)]
        values = sag @ self.samples.T
        element, sample = divmod(int(np.argmax(values)), values.shape[1])
        shares, here = self.samples[sample], self.elements[elements[element]]
        node = int(here[np.argmax(shares)])
        return Worst(float(values[element, sample]), node, here, shares, corners)

    def at(self, place: Worst, index: Index, amounts: Array, loads: Index, rows: Index, push: Array) -> float:
        """Sag of another sum at a place in m."""
        return float(place.shares @ self._summed(place.nodes, index, amounts, loads, rows, push))

    def _summed(
        self, nodes: Index, index: Index, amounts: Array, loads: Index, rows: Index, push: Array
    ) -> Array:
        found = self.rest[np.ix_(nodes, loads)].sum(axis=1) + self.push[np.ix_(nodes, rows)] @ push
        return np.asarray(found - amounts @ self.sag[np.ix_(index, nodes)])


def peak_of(space: PanelSpace, samples: Array) -> Peak:
    """Prepare the search for the worst sag on a mesh.

    Parameters
    ----------
    space : PanelSpace
    samples : ndarray, shape (q, 6)
        Quadratic shape functions at the sample points of an element.
    """
    elements = space.dofs[:, 2::5] // 5
    corners = space.points.shape[1]
    owner = np.repeat(np.arange(len(elements)), 3)
    order = np.argsort(elements[:, :3].ravel(), kind="stable")
    counts = np.bincount(elements[:, :3].ravel(), minlength=corners)
    around = tuple(np.split(owner[order], np.cumsum(counts)[:-1]))
    none = np.zeros((0, 0))
    return Peak(elements, around, samples, space.n_dofs // 5, corners, none, none, none, none, none, none)
