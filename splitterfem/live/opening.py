"""Opening the page on which parts are moved."""

from __future__ import annotations

from typing import Literal

from splitterfem.design import LoadCase, Splitter
from splitterfem.live.page import Page
from splitterfem.live.trial import Trial


def explore(
    splitter: Splitter,
    case: str | LoadCase | None = None,
    *,
    units: Literal["metric", "us"] = "metric",
    mesh_size: object = None,
    check_at_rest: bool = False,
) -> Page:
    """Open a page in a notebook on which ribs and supports are moved by sliders, and sag, clearance and mass follow.

    Parameters
    ----------
    splitter : Splitter
    case : str or LoadCase, optional
        A load case of the splitter by its name, or one of your own; the first one of the splitter when left out.
    units : {"metric", "us"}
        Of figures and pictures.
    mesh_size : length, optional
        Side of the triangles while parts are moved, see :class:`splitterfem.live.trial.Trial`.
    check_at_rest : bool
        Whether the page solves on a mesh made for the design once nothing has been moved for half a second, and tells
        those figures too.  A move that is made meanwhile waits, some seconds on a slow machine.

    Returns
    -------
    Page
        It shows itself when it ends a cell.  ``page.design`` is the splitter as it was kept last.

    Raises
    ------
    MissingExtraError
        If ipywidgets is not installed.
    UnitError, DesignError, MeshError, MechanismError, SolveError
        If the splitter cannot be solved as it is.
    """
    return Page(Trial(splitter, case, mesh_size=mesh_size), units=units, check_at_rest=check_at_rest)
