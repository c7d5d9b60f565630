"""The face of the library for what a splitter does besides its load cases: how it vibrates, how it buckles."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from typing import TYPE_CHECKING, Any

from splitterfem import api
from splitterfem.analysis import buckling as _buckling
from splitterfem.analysis import modes as _modes
from splitterfem.analysis.behaviour import placed
from splitterfem.design import AddedMass, LoadCase, Splitter
from splitterfem.model import Model

if TYPE_CHECKING:
    from matplotlib.axes import Axes


class Modes(_modes.Modes):
    """Natural vibrations with their pictures."""

    def plot(self, ax: Axes | None = None, **options: Any) -> Axes:
        """Draw the shapes side by side; see :func:`splitterfem.output.modesview.plot_modes`."""
        from splitterfem.output.modesview import plot_modes

        return plot_modes(self, ax, **options)

    def plot_excitations(
        self, speeds: Sequence[float] | None = None, ax: Axes | None = None, **options: Any
    ) -> Axes:
        """Draw the frequencies over what may shake the panel.

        See :func:`splitterfem.output.excitationview.plot_excitations`; speeds over kerbs are in m/s.
        """
        from splitterfem.output.excitationview import plot_excitations

        return plot_excitations(self, speeds, ax, **options)

    def _repr_html_(self) -> str:
        """Write the table; notebooks ask for it by this name."""
        return str(self.table.to_html(index=False, float_format="{:.4g}".format))


class Buckling(_buckling.Buckling):
    """Buckling factors with their pictures."""

    def plot(self, ax: Axes | None = None, **options: Any) -> Axes:
        """Draw the shapes side by side; see :func:`splitterfem.output.modesview.plot_buckling`."""
        from splitterfem.output.modesview import plot_buckling

        return plot_buckling(self, ax, **options)

    def _repr_html_(self) -> str:
        """Write the table, and what a factor is worth; notebooks ask for it by this name."""
        import html

        table = str(self.table.to_html(index=False, float_format="{:.4g}".format))
        return table + "".join(f"<p>{html.escape(note)}</p>" for note in self.notes)


def natural_frequencies(
    splitter: Splitter | Model,
    count: int = 6,
    *,
    case: str | LoadCase | None = None,
    prestress: bool = False,
    air_spring: bool = False,
    added: Sequence[AddedMass | tuple[object, object, object]] = (),
) -> Modes:
    """Find the lowest natural frequencies of a splitter and their shapes.

    Parameters
    ----------
    splitter : Splitter or Model
        A design, or a model of it from :func:`splitterfem.build`.
    count : int
        How many.
    case : str or LoadCase, optional
        About which it vibrates: the supports that act in it act all the time.  Under its own weight when left out.
    prestress : bool
        Whether the stresses of the case stiffen or soften the panel.
    air_spring : bool
        Whether the pressure of the case follows the gap as the panel moves, without damping or delay.
    added : sequence of AddedMass or (x, y, mass)
        What is bolted to the panel and vibrates with it; quantities in words or SI.

    Returns
    -------
    Modes
        With ``table``, ``excitations``, ``notes``, ``plot()`` and ``plot_excitations()``.  Struts and fixings have no
        mass of their own, and nothing is said of flutter.

    Raises
    ------
    DesignError
        See :func:`splitterfem.analysis.modes.natural_modes`.
    SolveError
        If the modes do not converge.
    """
    model = splitter if isinstance(splitter, Model) else api.build(splitter)
    masses = [mass if isinstance(mass, AddedMass) else _mass(*mass) for mass in added]
    found = _modes.natural_modes(
        model,
        count,
        case=case,
        prestress=prestress,
        air_spring=air_spring,
        added=[placed(mass) for mass in masses],
    )
    return Modes(**{field.name: getattr(found, field.name) for field in fields(found)})


def _mass(x: Any, y: Any, mass: Any) -> AddedMass:
    return AddedMass(at=(x, y), mass=mass)


def buckling(splitter: Splitter | Model, case: str | LoadCase, count: int = 3) -> Buckling:
    """Find the factors on a load case at which panel and ribs buckle.

    Parameters
    ----------
    splitter : Splitter or Model
        A design, or a model of it from :func:`splitterfem.build`.
    case : str or LoadCase
        A load case of the design by its name, or one of your own.
    count : int
        How many; fewer come back when the load does not buckle the panel in so many ways.

    Returns
    -------
    Buckling
        With ``table``, ``notes`` (what a factor is worth) and ``plot()``.

    Raises
    ------
    DesignError
        See :func:`splitterfem.analysis.buckling.buckling_factors`.
    SolveError
        If the shapes do not converge.
    """
    model = splitter if isinstance(splitter, Model) else api.build(splitter)
    found = _buckling.buckling_factors(model, case, count)
    return Buckling(**{field.name: getattr(found, field.name) for field in fields(found)})
