"""Readings of a flex test as arrays."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class FlexReadings:
    """Readings of a flex test.

    Attributes
    ----------
    name : str
        Of the file, or of whatever they come from.
    line : ndarray of int, shape (n,)
        Line of each reading in its file.
    push : ndarray, shape (n, 2)
        Where it was pushed, in m.
    force : ndarray, shape (n,)
        In N, positive down.
    pad : ndarray, shape (n,)
        Diameter in m of what pushed.
    read : ndarray, shape (n, 2)
        Where the gauge stood, in m.
    deflection : ndarray, shape (n,)
        What the push added to the sag there, in m, positive down.
    uncertainty : ndarray, shape (n,), or None
        Standard uncertainty of each reading in m.
    """

    name: str
    line: NDArray[np.int64]
    push: Array
    force: Array
    pad: Array
    read: Array
    deflection: Array
    uncertainty: Array | None = None

    def __len__(self) -> int:
        """Return the number of readings."""
        return len(self.line)

    def without(self, lines: NDArray[np.int64]) -> FlexReadings:
        """Return the readings without those on some lines of the file."""
        kept = ~np.isin(self.line, lines)
        u = None if self.uncertainty is None else self.uncertainty[kept]
        return replace(
            self,
            line=self.line[kept],
            push=self.push[kept],
            force=self.force[kept],
            pad=self.pad[kept],
            read=self.read[kept],
            deflection=self.deflection[kept],
            uncertainty=u,
        )

    @property
    def table(self) -> pd.DataFrame:
        """Readings in the columns and units of a file."""
        found: dict[str, Array] = {
            "push x mm": 1e3 * self.push[:, 0],
            "push y mm": 1e3 * self.push[:, 1],
            "force N": self.force,
            "pad diameter mm": 1e3 * self.pad,
            "read x mm": 1e3 * self.read[:, 0],
            "read y mm": 1e3 * self.read[:, 1],
            "deflection mm": 1e3 * self.deflection,
        }
        if self.uncertainty is not None:
            found["uncertainty mm"] = 1e3 * self.uncertainty
        return pd.DataFrame(found)
