"""A solved load case with what one asks of it: utilisations, pictures and files."""

from __future__ import annotations

from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from splitterfem import analysis

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes

    from splitterfem.strength.mesh_error import MeshDifference


class Solution(analysis.Solution):
    """A solved load case with its utilisations, pictures and files."""

    @cached_property
    def utilisation(self) -> pd.DataFrame:
        """Utilisation of every part and mode, worst first; see :func:`splitterfem.strength.utilisation_table`."""
        from splitterfem.strength import utilisation_table
        from splitterfem.strength.assess import assess

        return utilisation_table(assess(self))

    @cached_property
    def mesh_error(self) -> MeshDifference:
        """How far the mesh puts sag and stress off; see :func:`splitterfem.strength.mesh_error.mesh_error`."""
        from splitterfem.strength.mesh_error import mesh_error

        return mesh_error(self)

    def plot_sag(self, ax: Axes | None = None, **options: Any) -> Axes:
        """Draw sag contours in plan view; see :func:`splitterfem.output.plots.plot_sag`."""
        from splitterfem.output.plots import plot_sag

        return plot_sag(self, ax, **options)

    def plot_clearance(self, ax: Axes | None = None, **options: Any) -> Axes:
        """Draw the gap to the ground in plan view; see :func:`splitterfem.output.plots.plot_clearance`."""
        from splitterfem.output.plots import plot_clearance

        return plot_clearance(self, ax, **options)

    def plot_contacts(self, ax: Axes | None = None, **options: Any) -> Axes:
        """Draw what touches and how hard in plan view; see :func:`splitterfem.output.contactview.plot_contacts`."""
        from splitterfem.output.contactview import plot_contacts

        return plot_contacts(self, ax, **options)

    def plot_pressure(self, ax: Axes | None = None, **options: Any) -> Axes:
        """Draw the net pressure of the air in plan view, with the sag where it follows that.

        See :func:`splitterfem.output.plots.plot_pressure`.
        """
        from splitterfem.output.followed import followed_pressure
        from splitterfem.output.plots import plot_pressure

        shown: dict[str, Any] = {"air": self.load.air, "followed": followed_pressure(self)}
        return plot_pressure(self.model.design, self.case, ax, **(shown | options))

    def plot_utilisation(self, ax: Axes | None = None, **options: Any) -> Axes:
        """Draw what share of its strength the panel uses; see `splitterfem.output.strengthview.plot_utilisation`."""
        from splitterfem.output.strengthview import plot_utilisation

        return plot_utilisation(self, ax, **options)

    def plot_stress(self, ax: Axes | None = None, **options: Any) -> Axes:
        """Draw a stress of a face of the panel; see :func:`splitterfem.output.strengthview.plot_stress`."""
        from splitterfem.output.strengthview import plot_stress

        return plot_stress(self, ax, **options)

    def plot_shape(self, ax: Axes | None = None, **options: Any) -> Axes:
        """Draw the bent panel in space, exaggerated; see :func:`splitterfem.output.shapeview.plot_shape`."""
        from splitterfem.output.shapeview import plot_shape

        return plot_shape(self, ax, **options)

    def view_shape(self, **options: Any) -> Any:
        """Make a plotly figure of the bent panel; see :func:`splitterfem.output.shapepage.view_shape`."""
        from splitterfem.output.shapepage import view_shape

        return view_shape(self, **options)

    def to_shape_html(self, path: str | Path, **options: Any) -> Path:
        """Write the bent panel as a page that needs no network; see `splitterfem.output.shapepage.write_shape`."""
        from splitterfem.output.shapepage import write_shape

        return write_shape(self, path, **options)

    def to_vtu(self, path: str | Path) -> Path:
        """Write the mesh with all fields as VTU; see ``splitterfem.output.exportfields``."""
        from splitterfem.output.exports import write_vtu

        return write_vtu(self, path)

    def to_xdmf(self, path: str | Path) -> Path:
        """Write the mesh with all fields as XDMF; see ``splitterfem.output.exportfields``."""
        from splitterfem.output.exports import write_xdmf

        return write_xdmf(self, path)

    def to_csv(self, path: str | Path, what: str = "sag", **options: Any) -> Path:
        """Write sag, contours, supports, contacts, ribs, joints or utilisation as CSV.

        See :func:`splitterfem.output.exports.write_csv`.
        """
        from splitterfem.output.exports import write_csv

        return write_csv(self, path, what, **options)

    def to_dxf(self, path: str | Path, **options: Any) -> Path:
        """Write contour lines of the sag as DXF; see :func:`splitterfem.output.contour_dxf.write_contour_dxf`."""
        from splitterfem.output.contour_dxf import write_contour_dxf

        return write_contour_dxf(self, path, **options)

    def to_toml(self, path: str | Path) -> Path:
        """Write the design that was solved as a design file; see :func:`splitterfem.save`."""
        from splitterfem.design import save

        save(self.model.design, path)
        return Path(path)

    def __repr__(self) -> str:
        """Write splitter, load case, sag, gap and downforce on one line."""
        from splitterfem.output.headline import one_line

        return one_line(self)

    def _repr_html_(self) -> str:
        """Write the headline figures as a small table; notebooks ask for it by this name."""
        from splitterfem.output.headline import html_table

        return html_table(self)

    def summary(self) -> dict[str, object]:
        """Headline figures with units in their keys, ready for JSON."""
        from splitterfem.output.summary import summary

        return summary(self)
