"""The face of the library for flex tests: a splitter that gives as somebody measured on the bench."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import fields
from pathlib import Path
from typing import TYPE_CHECKING, Any

from splitterfem import api
from splitterfem.design import LoadCase, Splitter
from splitterfem.layouts import flextest as _flextest
from splitterfem.layouts.flextest_parameters import Fit
from splitterfem.layouts.flextest_readings import FlexReadings
from splitterfem.model import Model

if TYPE_CHECKING:
    from matplotlib.axes import Axes


class FlexTest(_flextest.FlexTest):
    """What a flex test says, with its picture."""

    def plot(self, ax: Axes | None = None, **options: Any) -> Axes:
        """Draw measured against computed, and where they differ; see `splitterfem.output.flexview.plot_flex_test`."""
        from splitterfem.output.flexview import plot_flex_test

        return plot_flex_test(self, ax, **options)

    def _repr_html_(self) -> str:
        """Write the fitted figures, and what the readings say; notebooks ask for it by this name."""
        import html

        table = str(self.table.to_html(index=False, float_format="{:.4g}".format))
        return table + "".join(f"<p>{html.escape(note)}</p>" for note in self.notes)


def fit_flex_test(
    splitter: Splitter | Model,
    readings: str | os.PathLike[str] | FlexReadings,
    *,
    fit: Fit | Sequence[Fit] | None = None,
    case: str | LoadCase | None = None,
    leave_out: Sequence[int] = (),
    profile: bool = True,
) -> FlexTest:
    """Find moduli, joints and supports with which a splitter gives as somebody measured on the bench.

    Parameters
    ----------
    splitter : Splitter or Model
        As it stood in the test: on the bench its supports are those of the bench.
    readings : path or FlexReadings
        A CSV file with the columns ``push x``, ``push y``, ``force`` (or ``mass``), ``read x``, ``read y``,
        ``deflection`` and, if you like, ``uncertainty`` and ``pad diameter``, each with its unit behind it, such as
        ``push x mm``.  Forces and deflections are positive down, and a deflection is what the push adds.
    fit : str, mapping or sequence of these, optional
        "E along", "E across", "shear modulus", "planar shear", or "sheet" for one factor on all moduli; paths such as
        "struts.front.end_stiffness", "struts.front.stiffness", "stops.buffer.stiffness", "stops.buffer.gap_down",
        "pockets.pocket.clearance_down", "ribs.tube.joint.slip_modulus", "ribs.tube.joint.shear_modulus";
        ``{"a name": [paths]}`` for several that share a factor.  Both moduli of a sheet with a grain, else "sheet",
        when left out.
    case : str or LoadCase, optional
        What acts all the time; its own weight when left out.
    leave_out : list of int
        Lines of the file that do not count.
    profile : bool
        Whether to correct the intervals for what is not linear; two more solves for each figure.

    Returns
    -------
    FlexTest
        With ``table``, ``residuals``, ``correlation``, ``notes``, ``values``, ``design`` (the splitter with the fitted
        figures), ``applied_to(other)`` and ``plot()``.

    Raises
    ------
    FileError
        If the file cannot be read; the sentence names its line.
    DesignError
        If a figure is not there, a push or gauge is off the panel, or there are too few readings.
    MechanismError, SolveError
        If a push cannot be solved, or the fit does not settle.

    Examples
    --------
    >>> import splitterfem as sf
    >>> coarse = sf.demo().with_("mesh.size", "200 mm")
    >>> found = sf.study.fit_flex_test(coarse, sf.study.demo_flex_test(), fit="sheet", leave_out=[21], profile=False)
    >>> 0.8 < found.table["ratio"][0] < 0.95
    True
    """
    model = splitter if isinstance(splitter, Model) else api.build(splitter)
    found = _flextest.fit_flex_test(model, readings, fit=fit, case=case, leave_out=leave_out, profile=profile)
    return FlexTest(**{part.name: getattr(found, part.name) for part in fields(found)})


def demo_flex_test() -> Path:
    """Return the file of a flex test of the demonstration: invented, with one reading that is wrong.

    Returns
    -------
    Path
        Of comma-separated values, in the package.
    """
    return Path(__file__).parent / "data" / "demo_flex.csv"
