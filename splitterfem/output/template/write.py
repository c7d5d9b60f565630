"""Write the template of a design: DXF for a machine or a drawing board, PDF for a printer."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Literal

from splitterfem.design import Splitter
from splitterfem.errors import FileError
from splitterfem.output import files
from splitterfem.output.origin import full_origin
from splitterfem.output.template.dxf import dxf_bytes, writer
from splitterfem.output.template.make import Side, template_drawing
from splitterfem.output.template.paper import pages_of
from splitterfem.output.template.tiles import Tiling, tiling
from splitterfem.output.wording import System

Paper = Literal["a4", "letter", "a3", "roll"]


def write_template(
    splitter: Splitter,
    path: str | os.PathLike[str],
    *,
    units: System | None = None,
    seen_from: Side = "above",
    paper: Paper | None = None,
    margin: object = None,
    overlap: object = None,
    roll_width: object = None,
    half: bool = False,
    told: Callable[[Tiling], object] | None = None,
) -> Path:
    """Write the template of a design in true size; the name of the file says whether as DXF or as PDF.

    Parameters
    ----------
    splitter : Splitter
    path : path
        Ends in ``.dxf`` or ``.pdf``. An existing file is replaced when the new one is complete.
    units : {"metric", "us"}, optional
        Of drawing and texts; as most lengths of the design were written when left out.
    seen_from : {"above", "below"}
        Face of the panel that is drawn.
    paper : {"a4", "letter", "a3", "roll"}, optional
        Of a PDF; when left out, A4, or Letter with US units.
    margin : length, optional
        At the edges of the paper, where printers cannot print; 10 mm when left out.
    overlap : length, optional
        Of neighbouring sheets; 15 mm when left out.
    roll_width : length, optional
        Of ``paper="roll"``; 36 in when left out.
    half : bool
        Print the left half of a panel whose halves are alike.
    told : callable, optional
        Given the sheets of a PDF, once they are known.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    FileError
        The name ends otherwise, an option does not belong to that kind of file, or the file cannot be written.
    DesignError
        Another paper or face, paper with too little room, too many sheets, or half of a panel whose halves differ.
    UnitError
        Another system of units, or a length that cannot be read.
    MissingExtraError
        A DXF without the package that writes it.
    """
    kind = Path(path).suffix.casefold()
    given = {
        "paper": paper,
        "margin": margin,
        "overlap": overlap,
        "roll_width": roll_width,
        "half": half or None,
    }
    _refuse_other_kinds(path, kind, [name for name, value in given.items() if value is not None])
    files.ready(path)
    if kind == ".dxf":
        writer()
        return files.write_bytes(
            path,
            dxf_bytes(template_drawing(splitter, units=units, seen_from=seen_from), full_origin(splitter)),
        )
    from splitterfem.output.template.pdf import pdf_bytes

    drawing = template_drawing(splitter, units=units, seen_from=seen_from)
    chosen = paper or ("a4" if drawing.words.size == "mm" else "letter")
    pages = pages_of(chosen, margin=margin, overlap=overlap, roll_width=roll_width)
    sheets = tiling(drawing, pages, half=half)
    if told is not None:
        told(sheets)
    return files.write_bytes(path, pdf_bytes(drawing, sheets, full_origin(splitter), half=half))


def _refuse_other_kinds(path: str | os.PathLike[str], kind: str, options: list[str]) -> None:
    name = Path(path).name
    if kind not in (".dxf", ".pdf"):
        raise FileError(
            f"{name or path} is neither a .dxf nor a .pdf file; let the name of a template end so."
        )
    if kind == ".dxf" and options:
        raise FileError(f"{name}: {options[0]} belongs to a PDF and not to a DXF; leave it out.")
