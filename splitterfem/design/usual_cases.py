"""The handling cases that are looked at as a rule."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from splitterfem.design.handling import GRAVITY, Gravel, KerbStrike, Lifting, PushTest, Shaking

if TYPE_CHECKING:
    from splitterfem.design.splitter import Splitter


def usual_handling(splitter: Splitter) -> tuple[Any, ...]:
    """Return the handling cases that are looked at as a rule, with their usual magnitudes (common practice, no source).

    A kerb at the left corner and under the first strut, lifting by a corner, transport and service shaking, gravel
    and a push by hand. A person on the panel is not among them: declare that yourself.

    Parameters
    ----------
    splitter : Splitter
        Its first strut is the one that a kerb hits.

    Returns
    -------
    tuple of handling cases
        One of each kind, and a kerb under the first strut where there is one.
    """
    kerbs = [KerbStrike()]
    if splitter.struts:
        first = splitter.struts[0].sides()[0].name
        kerbs.append(KerbStrike(at=first))
    return (
        *kerbs,
        Lifting(),
        Shaking(name="transport, 3 g"),
        Shaking(name="rough ground, 4 g", acceleration=4.0 * GRAVITY),
        Gravel(),
        PushTest(),
    )
