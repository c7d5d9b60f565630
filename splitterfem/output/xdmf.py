"""A mesh with fields as XDMF 3, its numbers in the XML itself, so that there is one file and no further package.

Elements and attributes are those of the XDMF Model and Format, version 3 (xdmf.org).
"""

from __future__ import annotations

import io
from collections.abc import Mapping
from xml.etree import ElementTree as ET

import numpy as np
from numpy.typing import NDArray

KINDS = {(): "Scalar", (3,): "Vector"}
"""Types of attributes by the shape of a value; any other is a matrix."""


def xdmf_bytes(
    points: NDArray[np.float64],
    triangles: NDArray[np.int64],
    at_nodes: Mapping[str, NDArray[np.float64]],
    in_cells: Mapping[str, NDArray[np.float64]],
    *,
    note: str,
) -> bytes:
    """Write quadratic triangles with fields.

    Parameters
    ----------
    points : ndarray, shape (n, 3)
        Nodes.
    triangles : ndarray of int, shape (m, 6)
        Corners, then the middles of the sides 0-1, 1-2 and 2-0.
    at_nodes, in_cells : mapping of str to ndarray, shapes (n, ...) and (m, ...)
        By name.
    note : str
        What it was made of, a comment.
    """
    root = ET.Element("Xdmf", Version="3.0")
    root.append(
        ET.Comment(f" made by {note.replace('--', '- -')} ")
    )  # not all readers bear an element Information
    grid = ET.SubElement(ET.SubElement(root, "Domain"), "Grid", Name="panel", GridType="Uniform")
    _item(ET.SubElement(grid, "Geometry", GeometryType="XYZ"), points)
    count = {"NumberOfElements": str(len(triangles)), "NodesPerElement": "6"}
    _item(ET.SubElement(grid, "Topology", {"TopologyType": "Triangle_6", **count}), triangles)
    for centre, fields in (("Node", at_nodes), ("Cell", in_cells)):
        for name, values in fields.items():
            kind = KINDS.get(values.shape[1:], "Matrix")
            _item(ET.SubElement(grid, "Attribute", Name=name, AttributeType=kind, Center=centre), values)
    ET.indent(root)
    return bytes(ET.tostring(root, encoding="utf-8", xml_declaration=True))


def _item(parent: ET.Element, values: NDArray[np.float64] | NDArray[np.int64]) -> None:
    """Put numbers into an element, with as many digits as bring them back to the last bit."""
    whole = np.issubdtype(values.dtype, np.integer)
    shape = " ".join(str(size) for size in values.shape)
    kind = {"DataType": "Int" if whole else "Float", "Precision": "8", "Format": "XML"}
    text = io.StringIO()
    np.savetxt(text, values, fmt="%d" if whole else "%.17g")
    ET.SubElement(parent, "DataItem", {"Dimensions": shape, **kind}).text = "\n" + text.getvalue()
