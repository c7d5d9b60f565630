"""List the licences of the installed runtime packages and extras; fail on one that is unknown or not allowed.

Runs in the environment to be listed: ``python .ci/licences.py`` prints a table, ``--write FILE`` stores it as Markdown.
Packages are those that splitterfem needs, with its extras for users, and what they need in turn, as far as they are
installed; tools of developers are not among them.
"""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Iterator
from importlib import metadata
from pathlib import Path

EXTRAS = ("report", "dxf", "notebook", "parallel", "cluster", "search", "parquet", "fast", "view3d")
"""What users may ask for."""

ALLOWED = {
    "0BSD", "Apache-2.0", "Apache-2.0 WITH LLVM-exception", "BSD", "BSD-2-Clause", "BSD-3-Clause", "CC0-1.0",
    "HPND", "ISC", "MIT", "MIT-0", "MIT-CMU", "MPL-2.0", "PSF-2.0", "Python-2.0", "Unlicense", "Zlib", "ZPL-2.1",
    "BSL-1.0", "CNRI-Python", "LGPL-2.1-only", "LGPL-2.1-or-later", "LGPL-3.0-only", "LGPL-3.0-or-later",
    "LGPL", "OFL-1.1", "NCSA", "bzip2-1.0.6", "GPL-3.0-or-later WITH GCC-exception-3.1", "LicenseRef-Intel",
}  # fmt: skip
"""Licences that do not bind who uses or sells what splitterfem makes.  Of the LGPL only unchanged packages are used,
installed beside this one and never copied into it; those of Intel, of the extra ``fast`` alone, allow use and are no
open ones.  The list is a choice of this project and no legal advice."""

WORDS = {
    r"Intel (Simplified Software License|End User License Agreement)": "LicenseRef-Intel",
    r"Apache-2.0 with LLVM": "Apache-2.0 WITH LLVM-exception",
    r"\bMIT\b": "MIT",
    r"^MIT license": "MIT",
    r"Apache( Software License|,? ?(License)?,? ?(Version )?2(\.0)?)": "Apache-2.0",
    r"^Apache License": "Apache-2.0",
    r"BSD[ -]?3|3-Clause|New BSD|Modified BSD": "BSD-3-Clause",
    r"BSD[ -]?2|2-Clause|Simplified BSD": "BSD-2-Clause",
    r"\bBSD\b": "BSD",
    r"Python Software Foundation|^PSF": "PSF-2.0",
    r"Mozilla Public License 2|MPL[ -]?2": "MPL-2.0",
    r"LGPL[ -]?(v)?2\.1|Lesser General Public License v2": "LGPL-2.1-or-later",
    r"LGPL[ -]?(v)?3|Lesser General Public License v3": "LGPL-3.0-or-later",
    r"LGPL|Lesser General Public License": "LGPL",
    r"\bISC\b": "ISC",
    r"HPND|Historical Permission": "HPND",
    r"Unlicense": "Unlicense",
    r"Zope Public": "ZPL-2.1",
}
"""How packages without an SPDX expression word their licences, first match first."""

READ = {
    "matplotlib": ("PSF-2.0", "its own licence is that of Python with the names changed"),
    "splitterfem": ("BSD-3-Clause", "LICENSE"),
}
"""Packages whose notes say it in no usual words; read by a person."""


def names() -> list[str]:
    """Names of the packages that are needed, in order, as far as they are installed."""
    found: dict[str, None] = {}
    waiting = [("splitterfem", EXTRAS)]
    while waiting:
        name, extras = waiting.pop()
        try:
            needed = metadata.requires(name) or []
        except metadata.PackageNotFoundError:
            continue
        new = _plain(name) not in found
        found[_plain(name)] = None
        if new or extras:
            waiting += [other for other in _wanted(needed, extras) if _plain(other[0]) not in found]
    return sorted(found)


def _plain(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def _wanted(needed: list[str], extras: tuple[str, ...]) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Find the requirements that hold with extras; other markers count as true, for only what is installed counts."""
    for line in needed:
        requirement, _, marker = line.partition(";")
        extra = re.search(r"extra\s*==\s*['\"]([\w.-]+)['\"]", marker)
        if extra and _plain(extra[1]) not in {_plain(one) for one in extras}:
            continue
        match = re.match(r"\s*([\w.-]+)\s*(?:\[([^\]]*)\])?", requirement)
        if match:
            yield match[1], tuple(one.strip() for one in (match[2] or "").split(",") if one.strip())


def licence(name: str) -> str:
    """Licence of a package as an SPDX expression, or in its own words where none is known."""
    if name in READ:
        return READ[name][0]
    notes = metadata.metadata(name)
    stated = notes.get("License-Expression")
    if stated:
        return str(stated).strip()
    classes = [
        line.split("::")[-1].strip() for line in notes.get_all("Classifier") or [] if "License ::" in line
    ]
    first = (notes.get("License") or "").strip().splitlines()[:1]
    for words in (*first, *[one for one in classes if one != "OSI Approved"]):
        for pattern, known in WORDS.items():
            if re.search(pattern, words, re.IGNORECASE):
                return known
    return " / ".join([*first, *classes]) or "UNKNOWN"


def allowed(expression: str) -> bool:
    """Tell whether one of the choices of an SPDX expression has only allowed licences."""
    text = expression.replace("(", " ").replace(")", " ")
    return any(
        all(part.strip() in ALLOWED for part in re.split(r"\s+AND\s+", choice))
        for choice in re.split(r"\s+OR\s+", text)
    )


def main() -> int:
    """Print or store the table; 1 when a licence is not allowed."""
    parser = argparse.ArgumentParser(description="licences of the installed runtime packages")
    parser.add_argument(
        "--write", metavar="FILE", type=Path, help="store the table as Markdown, without versions"
    )
    place = parser.parse_args().write
    rows = [(name, metadata.version(name), licence(name)) for name in names()]
    if place is not None:
        lines = [f"| {name} | {found} |" for name, _, found in rows]
        text = "# Licences of the packages that splitterfem uses\n\n" + INTRODUCTION
        place.write_text(
            text + "\n".join(["| package | licence |", "| --- | --- |", *lines, ""]), encoding="utf-8"
        )
    wide = max(len(name) + len(version) for name, version, _ in rows) + 3
    for name, version, found in rows:
        print(f"{f'{name} {version}'.ljust(wide)}{found}{'' if allowed(found) else '   NOT ALLOWED'}")
    refused = [f"{name}: {found}" for name, _, found in rows if not allowed(found)]
    missing = [extra for extra in EXTRAS if not _has(extra)]
    if missing:
        print(f"not installed here, and so not listed in full: the extras {', '.join(missing)}")
    if refused:
        print("licences that .ci/licences.py does not allow:", *refused, sep="\n  ", file=sys.stderr)
    return 1 if refused else 0


INTRODUCTION = """\
Written by `.ci/licences.py --write`, which reads what the installed packages say of themselves and fails on a licence
that is not on its list. Needed packages and the extras for users are here, with what those need in turn.

"""


def _has(extra: str) -> bool:
    """Tell whether the packages of an extra are installed."""
    for name, _ in _wanted(
        [line for line in metadata.requires("splitterfem") or [] if "extra" in line], (extra,)
    ):
        try:
            metadata.version(name)
        except metadata.PackageNotFoundError:
            return False
    return True


if __name__ == "__main__":
    sys.exit(main())
