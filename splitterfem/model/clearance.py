"""Static gap between the panel and the ground."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from splitterfem.design import LoadCase, Splitter

Array = NDArray[np.float64]


def clearance_datum(splitter: Splitter, case: LoadCase) -> Callable[[Array], Array]:
    """Return the static gap in m between the ground and the panel's lower face as a function of x in m."""
    car = splitter.car
    height = float(car.ride_height if case.ride_height is None else case.ride_height)
    slope = float(np.tan(car.rake if case.rake is None else case.rake))
    return lambda x: height - slope * np.asarray(x, dtype=float)
