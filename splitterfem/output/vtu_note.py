"""A note in a VTK unstructured grid, put into the file that another package has written."""

from __future__ import annotations

from pathlib import Path

NAME = "made_by"

_GRID = b"<UnstructuredGrid>"


def add_note(place: Path, text: str) -> None:
    """Put a text into the field data of a grid: the codes of its letters, as VTK's own readers show it.

    The package that reads and writes meshes reads numbers only, and so the text is an array of 8-bit integers (VTK XML
    file formats, "FieldData").

    Parameters
    ----------
    place : Path
        A file with one grid without field data.
    text : str
        Letters beyond ASCII become question marks.
    """
    codes = text.encode("ascii", errors="replace")
    array = (
        f'<FieldData><DataArray type="UInt8" Name="{NAME}" NumberOfTuples="{len(codes)}" format="ascii">'
        f"{' '.join(map(str, codes))}</DataArray></FieldData>"
    )
    content = place.read_bytes()
    head, grid, rest = content.partition(_GRID)
    if not grid:
        raise ValueError("the file has no unstructured grid")
    place.write_bytes(head + grid + array.encode() + rest)
