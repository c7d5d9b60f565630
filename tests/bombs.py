"""Files that promise or hold more than they should: small to write down, large to read. Run in a process of its own.

``python bombs.py FOLDER`` reads all of them and prints a line for each: its reader and name, the seconds of processor
time that it took, and the bytes by which the peak of memory has grown since the start.
"""

from __future__ import annotations

import struct
import sys
import time
from collections.abc import Callable
from pathlib import Path

_DXF = b"0\nSECTION\n2\nENTITIES\n%s0\nENDSEC\n0\nEOF\n"
_GRID = b"# vtk DataFile Version 3.0\nx\nASCII\nDATASET STRUCTURED_POINTS\nDIMENSIONS %s\nORIGIN 0 0 0\nSPACING 1 1 1\n"
_KEPT = b'{"splitterfem study": 1, "parameters": []}\n'


def _laughs() -> bytes:
    """Entities of XML that stand for ten of the one before each."""
    entities = [b'<!ENTITY l0 "' + b"l" * 1000 + b'">']
    entities += [b'<!ENTITY l%d "%s">' % (i, b"&l%d;" % (i - 1) * 10) for i in range(1, 9)]
    return b"<!DOCTYPE a [" + b"".join(entities) + b']><VTKFile type="UnstructuredGrid">&l8;</VTKFile>'


def _far_tag() -> bytes:
    """A binary mesh of Gmsh whose only point has a number of ten digits."""
    nodes = struct.pack("<4Q3iQQ3d", 1, 1, 1, 1, 2, 1, 0, 1, 10**9, 0.0, 0.0, 0.0)
    elements = struct.pack("<4Q3iQ4Q", 1, 1, 1, 1, 2, 1, 2, 1, 1, 10**9, 10**9, 10**9)
    head = b"$MeshFormat\n4.1 1 8\n\x01\0\0\0\n$EndMeshFormat\n"
    return head + b"$Nodes\n" + nodes + b"\n$EndNodes\n$Elements\n" + elements + b"\n$EndElements\n"


def _finished(number: int, measures: int) -> bytes:
    """Line of a study's file for a layout."""
    named = ",".join(f'"m{k:x}":{k}' for k in range(measures))
    return b'{"layout":%d,"values":{},"measures":{%s},"refused":"","seconds":1}\n' % (number, named.encode())


BOMBS: dict[str, dict[str, Callable[[], bytes]]] = {
    "toml": {
        "brackets": lambda: b"version = 1\nname = " + b"[" * 19_000,
        "dots": lambda: b"version = 1\n" + b".".join([b"a"] * 9000) + b" = 1\n",
        "headings": lambda: (
            b"version = 1\n" + b"".join(b"[%s]\n" % b".".join([b"a%d" % i] * 300) for i in range(900))
        ),
        "long note": lambda: b'version = 1\nnote = """' + b"line\n" * 390_000 + b'"""',
        "keys": lambda: b"version = 1\n" + b"".join(b"k%d = 1\n" % i for i in range(150_000)),
        "ribs": lambda: b"version = 1\n" + b"[[ribs]]\n" * 150_000,
        "numbers": lambda: b"version = 1\nx = [" + b"1e308,\n" * 250_000 + b"]",
    },
    "csv": {
        "commas": lambda: b"x_mm,y_mm,cp\n" + (b"," * 9000 + b"\n") * 2000,
        "quotes": lambda: b"x_mm,y_mm,cp\n" + (b'"' * 9000 + b"\n") * 2000,
        "headings": lambda: b"x_mm," * 1900 + b"\n",
        "empty lines": lambda: b"x_mm,y_mm,cp\n" + b"\n" * 19_000_000,
    },
    "dxf": {
        "lines": lambda: _DXF % (b"0\nLINE\n8\n0\n10\n0\n20\n0\n11\n1\n21\n1\n" * 30_000),
        "one polyline": lambda: _DXF % (b"0\nLWPOLYLINE\n" + b"10\n1e308\n20\n-1e308\n" * 400_000),
        "spline": lambda: (
            _DXF % (b"0\nSPLINE\n71\n2000000000\n72\n2000000000\n73\n2000000000\n" + b"10\n1\n20\n2\n" * 9000)
        ),
    },
    "vtu": {"entities": _laughs},
    "vtk": {
        "points": lambda: b"# vtk\nx\nASCII\nDATASET UNSTRUCTURED_GRID\nPOINTS 3000000000 double\n0 0 0\n",
        "grid of a million": lambda: _GRID % b"900 1100 1",
        "cube": lambda: _GRID % b"3000 3000 3000",
    },
    "msh": {
        "far number": lambda: (
            b"$MeshFormat\n2.2 0 8\n$EndMeshFormat\n$Nodes\n1\n2147483647 0 0 0\n$EndNodes\n$Elements\n1\n"
            b"1 2 2 0 0 1 1 1\n$EndElements\n"
        ),
        "far number, binary": _far_tag,
    },
    "avs": {"counts": lambda: b"4000000000 1 1 0 0\n1 0 0 0\n"},
    "kept": {
        "layouts": lambda: _KEPT + b'{"layout": 1}\n' * 500_000,
        "brackets": lambda: _KEPT + b"[" * 2_000_000 + b"\n",
        "finished layouts": lambda: _KEPT + b"".join(_finished(n, 20) for n in range(99_000)),
        "one layout of millions of measures": lambda: _KEPT + _finished(0, 2_500_000),
    },
}


def main(folder: Path) -> None:
    """Read all of them."""
    import resource

    from fuzz_targets import feed, prepared

    prepared(folder)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    for target, name, made in ((t, name, made) for t, some in BOMBS.items() for name, made in some.items()):
        content = made()
        start = time.process_time()
        feed(target, content, folder)
        took = time.process_time() - start
        grown = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before
        print(f"{target}: {name}", f"{took:.3f}", grown * 1024, sep="\t", flush=True)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
