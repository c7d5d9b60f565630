"""Look into source distribution and wheel: all that the package needs is in them, and nothing else in the wheel.

``python .ci/distributions.py DIST SOURCE``: the folder with one of each, and the tree they were built from.
"""

from __future__ import annotations

import sys
import tarfile
import zipfile
from pathlib import Path

DATA = {".toml", ".csv", ".typ"}
"""Endings of the package's own data."""

BESIDE = ["README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "tests/conftest.py", ".ci/run"]
"""What a source distribution has besides."""


def wanted(source: Path) -> set[str]:
    """Files of the package: modules, data and the mark that it is typed; not its pages of documentation."""
    return {
        place.relative_to(source).as_posix()
        for place in (source / "splitterfem").rglob("*")
        if place.is_file()
        and (place.suffix in DATA | {".py"} or place.name == "py.typed")
        and "docs" not in place.relative_to(source).parts
        and "__pycache__" not in place.parts
    }


def main(dist: Path, source: Path) -> list[str]:
    """Return what is wrong, in sentences."""
    (wheel,), (sdist,) = sorted(dist.glob("*.whl")), sorted(dist.glob("*.tar.gz"))
    need, wrong = wanted(source), list[str]()
    in_wheel = set(zipfile.ZipFile(wheel).namelist())
    with tarfile.open(sdist) as archive:
        in_sdist = {name.partition("/")[2] for name in archive.getnames()}
    wrong += [f"the wheel lacks {name}" for name in sorted(need - in_wheel)]
    wrong += [f"the source distribution lacks {name}" for name in sorted((need | set(BESIDE)) - in_sdist)]
    more = {name for name in in_wheel - need if ".dist-info/" not in name}
    wrong += [f"the wheel has {name}, which is not of the package" for name in sorted(more)]
    tests = {
        place.relative_to(source).as_posix() for place in (source / "tests").rglob("*") if place.is_file()
    }
    lost = {name for name in tests - in_sdist if "__pycache__" not in name}
    wrong += [f"the source distribution lacks {name}" for name in sorted(lost)]
    print(f"{wheel.name}: {len(in_wheel)} files, {wheel.stat().st_size // 1000} kB")
    print(f"{sdist.name}: {len(in_sdist)} files, {sdist.stat().st_size // 1000} kB")
    return wrong


if __name__ == "__main__":
    found = main(Path(sys.argv[1]), Path(sys.argv[2]))
    print(*found, sep="\n", end="\n" if found else "")
    sys.exit(1 if found else 0)
