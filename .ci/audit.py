"""Ask for known holes in the installed runtime packages; say so plainly where no source of advisories answers.

``python .ci/audit.py PIP_AUDIT`` with the path of that program, in the environment whose packages are asked about.
Without an answer it skips packages and reports that none has a known hole.  So a release with a published hole is
asked about first, and a source that does not know it counts as not reached.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from importlib import metadata
from pathlib import Path

from licences import names

CONTROL = "urllib3==1.26.4"
"""Has a published hole: CVE-2021-33503, mended in 1.26.5."""

SOURCES = ("pypi", "osv")

PATIENCE = 300
"""Seconds for an answer."""

BORNE: dict[str, str] = {}
"""Advisories that do not concern this project, with the reason."""


def holes(program: str, source: str, requirements: list[str]) -> tuple[list[str], list[str]] | None:
    """Return known holes, and packages that the source does not know; None where it does not answer."""
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder, "requirements.txt")
        place.write_text("\n".join(requirements) + "\n", encoding="ascii")
        try:
            done = subprocess.run(
                [program, "--requirement", str(place), "--no-deps", "--disable-pip", "--format", "json",
                 "--progress-spinner", "off", "--vulnerability-service", source],
                capture_output=True, text=True, timeout=PATIENCE, check=False,
            )  # fmt: skip
            found = json.loads(done.stdout)["dependencies"]
        except (OSError, ValueError, KeyError, subprocess.TimeoutExpired):
            return None
    told = [
        f"{one['name']} {one['version']}: {hole['id']}, mended in {', '.join(hole['fix_versions']) or 'no release yet'}"
        for one in found
        for hole in one.get("vulns", [])
        if not {hole["id"], *hole.get("aliases", [])} & set(BORNE)
    ]
    return told, [one["name"] for one in found if "skip_reason" in one]


def main(program: str) -> int:
    """Print what is known; 1 when there are holes."""
    packages = [f"{name}=={metadata.version(name)}" for name in names() if name != "splitterfem"]
    for source in SOURCES:
        control = holes(program, source, [CONTROL])
        if control is None or not control[0]:
            print(f"source '{source}' does not answer, or not truly: it does not know the hole in {CONTROL}")
            continue
        answer = holes(program, source, packages)
        if answer is None:
            print(f"source '{source}' gave up on the list of packages")
            continue
        told, unknown = answer
        print(
            f"{len(packages)} packages asked about at '{source}': {len(told)} known holes", *told, sep="\n  "
        )
        if unknown:
            print("not known there, and so not audited:", ", ".join(unknown))
        return 1 if told else 0
    print(
        f"AUDIT NOT RUN: no source of advisories can be reached from here. {len(packages)} packages were not audited; "
        "run  .ci/audit.py  where there is a network before a release."
    )
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
