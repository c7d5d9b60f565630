"""The face of the library for a design that is not solved: the demonstration, pictures, bill and template."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from splitterfem.design import Splitter, load

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes


def demo() -> Splitter:
    """Return the demonstration splitter: invented, a club hill-climb saloon.

    Returns
    -------
    Splitter
        With seven load cases.
    """
    return load(Path(__file__).parent / "data" / "demo.toml")


def plot_design(splitter: Splitter, ax: Axes | None = None, **options: Any) -> Axes:
    """Draw what is built in plan view.

    Parameters
    ----------
    splitter : Splitter
    ax : Axes, optional
        Where to draw; a new figure when left out.
    **options
        As :func:`splitterfem.output.plots.plot_design` takes them.

    Returns
    -------
    Axes
        In the unit of the picture, x up the page and y to the left.

    Raises
    ------
    UnitError
        If there is no such unit.
    """
    from splitterfem.output.plots import plot_design

    return plot_design(splitter, ax, **options)


def plot_envelope(splitter: Splitter, ax: Axes | None = None, **options: Any) -> Axes:
    """Draw panel, bodywork and limits in plan view.

    Parameters
    ----------
    splitter : Splitter
    ax : Axes, optional
        Where to draw; a new figure when left out.
    **options
        As :func:`splitterfem.output.envelopeview.plot_envelope` takes them.

    Returns
    -------
    Axes
        In the unit of the picture, x up the page and y to the left.

    Raises
    ------
    DesignError
        As :func:`splitterfem.analysis.envelope.check_envelope`.
    UnitError
        If there is no such unit.
    """
    from splitterfem.output.envelopeview import plot_envelope

    return plot_envelope(splitter, ax, **options)


def bill_of_materials(splitter: Splitter) -> pd.DataFrame:
    """List what is built, joints of ribs included, with mass and cost as far as they are known.

    Parameters
    ----------
    splitter : Splitter

    Returns
    -------
    pandas.DataFrame
        See :func:`splitterfem.analysis.bill.bill_of_materials` for its columns, for where the costs come from, and
        for what the totals in its last rows leave out.
    """
    from splitterfem.analysis.bill import bill_of_materials

    return bill_of_materials(splitter)


def template(splitter: Splitter, path: str | Path, **options: Any) -> Path:
    """Write the template for the saw in true size, as DXF or as sheets of PDF by the name of the file.

    Parameters
    ----------
    splitter : Splitter
    path : path
        Ends in ``.dxf`` or ``.pdf``; an existing file is replaced when the new one is complete.
    **options
        ``units`` and ``seen_from``; of a PDF also ``paper`` ("a4", "letter", "a3" or "roll"), ``margin``,
        ``overlap``, ``roll_width`` and ``half``; see :func:`splitterfem.output.template.write.write_template`.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    DesignError, UnitError
        If an option does not fit, or the halves are not alike.
    FileError
        If the file's name has another ending, or it cannot be written.
    MissingExtraError
        If ezdxf or typst is not installed.

    Examples
    --------
    >>> sf.template(splitter, "template.pdf", paper="roll", roll_width="24 in")  # doctest: +SKIP
    """
    from splitterfem.output.template.write import write_template

    return write_template(splitter, path, **options)
