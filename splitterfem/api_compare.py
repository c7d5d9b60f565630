"""The face of the library for two designs or more, side by side."""

from __future__ import annotations

from collections.abc import Sequence

from splitterfem import analysis, api
from splitterfem.design import LoadCase, Splitter
from splitterfem.errors import DesignError, nearest
from splitterfem.model import Model
from splitterfem.output.compare import Comparison, default_names

__all__ = ["Comparison", "common_case", "compare"]

RESERVED = ("unit", "figure")
"""Columns of a comparison's table, which no design can be called."""


def compare(
    designs: Sequence[Splitter | Model | analysis.Solution],
    case: str | LoadCase | None = None,
    *,
    names: Sequence[str] | None = None,
) -> Comparison:
    """Set designs side by side in one load case.

    Outlines, meshes, cars and load cases of the same name may differ; what differs of the last two is noted.

    Parameters
    ----------
    designs : sequence of Splitter, Model or Solution
        At least two; changes are those from the first.  Designs and models are solved.
    case : str or LoadCase, optional
        A load case that all designs have, by its name, or one of your own.  Solutions of it are taken as they are,
        those of another case are solved anew.  It can be left out where all are solutions.
    names : sequence of str, optional
        Of the designs.  Their own when left out, or "before" and "after" where these are the same.

    Returns
    -------
    Comparison
        With ``table``, ``plot()``, ``text()``, ``summary()`` and ``notes``.

    Raises
    ------
    DesignError
        If there are fewer than two designs, a design has no such load case, or names do not fit.
    MechanismError, SolveError
        As :func:`splitterfem.solve`.

    Examples
    --------
    >>> import splitterfem as sf
    >>> before = sf.demo().with_("mesh.size", "200 mm")
    >>> after = before.with_("panel.sheet.thickness", "18 mm")
    >>> found = sf.compare([before, after], "straight, 210 km/h", names=["15 mm", "18 mm"])
    >>> bool(found.table.loc["largest sag", "change"] < 0.0)
    True
    """
    given = [designs] if isinstance(designs, (Splitter, Model, analysis.Solution)) else list(designs)
    if len(given) < 2:
        raise DesignError(
            f"A comparison needs at least two designs, and there is {len(given)}; give both in a list."
        )
    for one in given:
        if not isinstance(one, (Splitter, Model, analysis.Solution)):
            raise DesignError(f"{one!r:.60} cannot be compared; give designs, models or solutions.")
    own = [_design(one) for one in given]
    called = _checked(names, own)
    if case is None and not all(isinstance(one, analysis.Solution) for one in given):
        known = _common(own)
        said = (
            f"all have: {', '.join(known)}" if known else "they have none in common, so give one of your own"
        )
        raise DesignError(f"Say in which load case the designs are to be compared; {said}.")
    if isinstance(case, str):
        for name, design in zip(called, own, strict=True):
            if case not in _cases(design):
                raise DesignError(f"'{name}' has no load case '{case}'; {nearest(case, _cases(design))}")
    return Comparison(tuple(_solved(one, case) for one in given), called)


def common_case(designs: Sequence[Splitter]) -> str:
    """Name of the first load case that all designs have.

    Raises
    ------
    DesignError
        If there is none.
    """
    known = _common(designs)
    if not known:
        raise DesignError("The designs have no load case in common; give all of them one of the same name.")
    return known[0]


def _common(designs: Sequence[Splitter]) -> list[str]:
    return [name for name in _cases(designs[0]) if all(name in _cases(design) for design in designs)]


def _design(one: Splitter | Model | analysis.Solution) -> Splitter:
    if isinstance(one, analysis.Solution):
        return one.model.design
    return one.design if isinstance(one, Model) else one


def _cases(design: Splitter) -> list[str]:
    return [case.name for case in design.all_cases]


def _solved(one: Splitter | Model | analysis.Solution, case: str | LoadCase | None) -> analysis.Solution:
    if not isinstance(one, analysis.Solution):
        assert case is not None
        return api.solve(one, case)
    if case is None or (isinstance(case, str) and one.case.name == case) or one.case == case:
        return one
    return api.solve(one.model, case)


def _checked(names: Sequence[str] | None, designs: Sequence[Splitter]) -> tuple[str, ...]:
    if names is None:
        return default_names(designs)
    found = [names] if isinstance(names, str) else [str(name) for name in names]
    if len(found) != len(designs):
        names_given = f"{len(found)} name{'' if len(found) == 1 else 's'}"
        raise DesignError(
            f"There are {len(designs)} designs and {names_given} for them; give one name for each."
        )
    for name in found:
        if not name.strip() or name in RESERVED or name.startswith("change"):
            raise DesignError(f"A design cannot be called '{name}' in a comparison; give it another name.")
        if found.count(name) > 1:
            raise DesignError(f"Two designs are called '{name}'; give each a name of its own.")
    return tuple(found)
