"""Usual factors and the order of failure; all of them common practice, no source.

They are defaults to start from, never applied by themselves: every formula takes its factor as an argument.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from splitterfem.errors import DesignError
from splitterfem.strength.row import Resistance

ON_YIELD = 1.5
"""On yield or a design value, for the air load at top speed with 15 % more speed."""

ON_WOOD_FASTENERS = 2.0
"""On fasteners in wood and on adhesive with fasteners as a back-up."""

ON_ADHESIVE_ALONE = 3.0
"""On adhesive without fasteners."""

LINK_STEP = 1.3
"""Least ratio of characteristic strengths from one link to the next in the wanted order of failure."""


@dataclass(frozen=True)
class Link:
    """A link of the chain from panel to chassis: its name and the load at which it fails, N."""

    name: str
    load: float


def failure_order(links: Sequence[Link]) -> list[tuple[Link, float, bool]]:
    """Order links by the load at which they fail.

    Parameters
    ----------
    links : sequence of Link
        Loads in the same direction at the same point.

    Returns
    -------
    list of (Link, float, bool)
        First to fail first: the link, its load over that of the link before (nan for the first), and whether the
        step is at least `LINK_STEP`.

    Raises
    ------
    DesignError
        If there are fewer than two links or a load is not above zero.
    """
    if len(links) < 2 or any(not link.load > 0 for link in links):
        raise DesignError("The order of failure needs two links or more, each with a load above zero.")
    ordered = sorted(links, key=lambda link: link.load)
    steps = [float("nan"), *(b.load / a.load for a, b in pairwise(ordered))]
    return [(link, step, not step < LINK_STEP) for link, step in zip(ordered, steps, strict=True)]


def link(name: str, resistance: Resistance) -> Link:
    """Make a link from a resistance in N.

    Raises
    ------
    DesignError
        If the resistance is not a force.
    """
    if resistance.unit != "N":
        raise DesignError(
            f"The link '{name}' is given in {resistance.unit}; give the load at which it fails, in N."
        )
    return Link(name, resistance.value)
