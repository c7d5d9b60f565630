"""The bent shape of a solved panel as a figure that turns under the mouse, and as a page that needs no network."""

from __future__ import annotations

import html
import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.colors import to_hex

from splitterfem.analysis import Solution
from splitterfem.errors import MissingExtraError
from splitterfem.output import files, style
from splitterfem.output.colours import map_of
from splitterfem.output.origin import full_origin
from splitterfem.output.range_words import with_doubts
from splitterfem.output.shape import Shape, scale_words, shape_of
from splitterfem.output.style import LengthUnit, Scale, scale_of
from splitterfem.output.wording import invented_mark

if TYPE_CHECKING:
    import plotly.graph_objects as go

__all__ = ["view_shape", "write_shape"]

POLICY = "default-src 'none'; script-src 'unsafe-inline' 'unsafe-eval'; style-src 'unsafe-inline'; img-src data: blob:"
"""What a browser may load for the page: nothing but what is in it (W3C, Content Security Policy Level 3)."""
PLAIN = "#9aa1ab"
EYE = {"eye": {"x": -1.5, "y": 0.25, "z": 1.0}, "up": {"x": 0, "y": 0, "z": 1}}
"""From behind and above, a little to the left."""


def view_shape(
    solution: Solution,
    *,
    unit: LengthUnit = "mm",
    exaggeration: float | None = None,
    ground: bool | None = None,
) -> go.Figure:
    """Make a figure of the bent panel that turns under the mouse; a notebook shows it.

    Colours are the sag itself, pointing at a place tells it; vertical movement is exaggerated as the title says.

    Parameters
    ----------
    solution : Solution
    unit : {"mm", "in"}
    exaggeration : float, optional
        A round number with which the movement is seen well when left out.
    ground : bool, optional
        Whether to draw the ground; where it would not lie far below the panel when left out.

    Returns
    -------
    plotly.graph_objects.Figure

    Raises
    ------
    DesignError
        If the exaggeration is not above zero.
    MissingExtraError
        If plotly is not installed.
    UnitError
        Another unit.
    """
    go, scale = _plotly(), scale_of(unit)
    shape = shape_of(solution, exaggeration=exaggeration, ground=ground)
    design, case = solution.model.design, solution.case
    figure = go.Figure([_panel(go, shape, solution, scale), *_parts(go, shape, scale)])
    invented = invented_mark(design)
    words = scale_words(shape, solution, scale).replace("\n", "<br>")
    hidden = {"visible": False}
    figure.update_layout(
        title={
            "text": f"{_safe(design.name)}{invented}<br>Bent shape in load case: {_safe(case.name)}"
            f"<br><sub>{words}; forward is away from you at first</sub>"
        },
        scene={"aspectmode": "data", "camera": EYE, "xaxis": hidden, "yaxis": hidden, "zaxis": hidden},
        margin={"l": 0, "r": 0, "b": 0, "t": 110},
        font={"color": style.INK},
        showlegend=False,
    )
    return figure


def write_shape(solution: Solution, path: str | os.PathLike[str], **options: Any) -> Path:
    """Write the figure of `view_shape` as one HTML file that carries all it needs; it appears whole or not at all.

    Parameters
    ----------
    solution : Solution
    path : path
        An existing file is replaced when the new one is complete.  About 5 MB.
    **options
        As those of `view_shape`.

    Raises
    ------
    FileError
        The file cannot be written.
    MissingExtraError
        If plotly is not installed.
    """
    files.ready(path)
    figure = view_shape(solution, **options)
    page = figure.to_html(
        full_html=True, include_plotlyjs=True, div_id="shape", config={"displaylogo": False}
    )
    made_by = html.escape(with_doubts(full_origin(solution), solution), quote=True)
    head = (
        f'<head><meta http-equiv="Content-Security-Policy" content="{html.escape(POLICY, quote=True)}">'
        f'<meta name="generator" content="{made_by}">'
    )
    return files.write_text(path, page.replace("<head>", head, 1))


def _plotly() -> Any:
    try:
        import plotly.graph_objects as go
    except ImportError:
        raise MissingExtraError(
            "A shape that turns needs plotly, which is not installed: run  pip install 'splitterfem[view3d]'"
        ) from None
    return go


def _safe(text: str) -> str:
    """Write text so that it is not taken for markup."""
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def _panel(go: Any, shape: Shape, solution: Solution, scale: Scale) -> Any:
    per = scale.per_metre
    levels = style.contour_levels(solution.sag.values * per)
    colours = map_of(style.SAG_COLOURS)
    x, y, z = (shape.points * per).T
    i, j, k = shape.sag.triangles.T
    sag = shape.sag.values * per
    places = np.column_stack([shape.sag.x * per, shape.sag.y * per])
    return go.Mesh3d(
        x=x, y=y, z=z, i=i, j=j, k=k, intensity=sag, cmin=float(levels[0]), cmax=float(levels[-1]), name="panel",
        colorscale=[[share, to_hex(colours(share))] for share in np.linspace(0.0, 1.0, 33)],
        colorbar={"title": {"text": f"sag, down ({scale.unit})"}, "len": 0.7},
        customdata=np.column_stack([places, sag]), flatshading=True,
        hovertemplate=f"x %{{customdata[0]:.0f}}, y %{{customdata[1]:.0f}}<br>sag %{{customdata[2]:.{scale.digits}f}} "
        f"{scale.unit}<extra></extra>",
        lighting={"ambient": 1.0, "diffuse": 0.0, "specular": 0.0, "fresnel": 0.0},
    )  # fmt: skip


def _parts(go: Any, shape: Shape, scale: Scale) -> list[Any]:
    per = scale.per_metre
    ink: dict[str, Any] = {"mode": "lines", "hoverinfo": "skip", "line": {"color": style.INK, "width": 4}}
    found: list[Any] = [_line(go, edge * per, name="edge", **ink) for edge in shape.edges]
    found += [_solid(go, faces * per, name, PLAIN, 1.0) for name, faces in shape.ribs]
    for name, ends in shape.struts:
        found.append(
            _line(go, ends * per, name=_safe(name), mode="lines", line={"color": style.INK, "width": 8})
        )
    for kind, name, at in shape.marks:
        look = {"size": 5, "color": style.PAPER, "line": {"color": style.INK, "width": 2}}
        said = {"text": _safe(f"{kind}: {name}"), "hoverinfo": "text"}
        found.append(_line(go, at[None] * per, name=_safe(name), mode="markers", marker=look, **said))
    ring = {
        "size": 8,
        "color": style.ALARM,
        "symbol": "circle-open",
        "line": {"color": style.ALARM, "width": 4},
    }
    found.append(_line(go, shape.worst[None] * per, name="largest sag", mode="markers", marker=ring))
    if shape.ground is not None:
        found.append(_solid(go, shape.ground[None] * per, "ground", style.NOT_THERE, 0.5))
    return found


def _line(go: Any, points: Any, **look: Any) -> Any:
    return go.Scatter3d(x=points[:, 0], y=points[:, 1], z=points[:, 2], **look)


def _solid(go: Any, faces: Any, name: str, colour: str, opacity: float) -> Any:
    """Make a body of faces with four corners, each as two triangles."""
    x, y, z = faces.reshape(-1, 3).T
    first = 4 * np.arange(len(faces))
    i, j, k = (np.concatenate([first + a, first + b]) for a, b in ((0, 0), (1, 2), (2, 3)))
    return go.Mesh3d(
        x=x, y=y, z=z, i=i, j=j, k=k, color=colour, opacity=opacity, name=_safe(name), hoverinfo="name",
        flatshading=True,
    )  # fmt: skip
