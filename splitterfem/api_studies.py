"""The face of the library for what helps to lay a splitter out: where it gives under a hand."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import fields
from pathlib import Path
from typing import TYPE_CHECKING, Any

from splitterfem import api
from splitterfem.analysis import pushmap as _pushmap
from splitterfem.design import LoadCase, Pad, Splitter
from splitterfem.model import Model
from splitterfem.units import quantity

if TYPE_CHECKING:
    from matplotlib.axes import Axes


class PushMap(_pushmap.PushMap):
    """Stiffness under a hand with its picture and file."""

    def plot(self, ax: Axes | None = None, **options: Any) -> Axes:
        """Draw the stiffness in plan view; see :func:`splitterfem.output.pushview.plot_push`."""
        from splitterfem.output.pushview import plot_push

        return plot_push(self, ax, **options)

    def to_csv(self, path: str | os.PathLike[str]) -> Path:
        """Write all points as comma-separated values; see :attr:`splitterfem.analysis.pushmap.PushMap.points`.

        Parameters
        ----------
        path : path
            An existing file is replaced when the new one is complete.

        Returns
        -------
        Path
            The file.

        Raises
        ------
        FileError
            The file cannot be written.
        """
        from splitterfem.output.exports import write_table

        return write_table(self.points, path, self.model.design)

    def _repr_html_(self) -> str:
        """Write the table, and what the figures cover; notebooks ask for it by this name."""
        import html

        table = str(self.table.to_html(index=False, float_format="{:.4g}".format))
        return table + "".join(f"<p>{html.escape(note)}</p>" for note in self.notes)


def push_map(
    splitter: Splitter | Model,
    case: str | LoadCase | None = None,
    *,
    force: object = _pushmap.FORCE,
    pad: object = _pushmap.HAND,
) -> PushMap:
    """Lean on a splitter everywhere, one point after the other, and find how stiff it feels under the hand.

    Parameters
    ----------
    splitter : Splitter or Model
        A design, or a model of it from :func:`splitterfem.build`.
    case : str or LoadCase, optional
        What acts at the same time; its own weight when left out.
    force : force
        Of the push, down, in words or in N: 200 N when left out.
    pad : Pad, length or mapping
        Over which it is spread; a length is the diameter of a round pad, in words or in m: 60 mm when left out.

    Returns
    -------
    PushMap
        With ``stiffness`` (a field), ``softest()``, ``table``, ``points``, ``notes``, ``plot()`` and ``to_csv()``.

    Raises
    ------
    UnitError, DesignError
        If force or pad cannot be read or are not above zero, or the case is unknown.
    MechanismError
        If the supports do not hold the panel under the case.

    Examples
    --------
    >>> import splitterfem as sf
    >>> pushes = sf.push_map(sf.demo().with_("mesh.size", "90 mm"), force="45 lbf", pad="3 in")
    >>> len(pushes.softest(2))
    2
    """
    push, hand = float(quantity(force, "force", name="force")), _pad(pad)
    model = splitter if isinstance(splitter, Model) else api.build(splitter)
    found = _pushmap.push_map(model, case, force=push, pad=hand)
    return PushMap(**{field.name: getattr(found, field.name) for field in fields(found)})


def _pad(given: Any) -> Pad:
    if isinstance(given, Pad):
        return given
    return Pad(**given) if isinstance(given, Mapping) else Pad(diameter=given)
