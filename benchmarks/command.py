"""The command line of the benchmarks."""

from __future__ import annotations

import argparse
import json
import sys
import time
from pathlib import Path
from typing import Any

from benchmarks import accuracy, existing, laminates, machine, readme, real_job, solids, throughput, writing
from benchmarks.section import Options, Section, Table

HERE = Path(__file__).resolve().parent

NGSOLVE = (("ngsolve", "verify"),)
SECTIONS = {
    section.name: section
    for section in (
        Section("accuracy", "Accuracy of plates, beside other formulations", accuracy.measure),
        Section("laminates", "Laminates", laminates.measure),
        Section("solids", "Stiffened panels against three-dimensional solids", solids.measure),
        Section(
            "job",
            "The real job: a stiffened panel with openings, pads and pockets",
            real_job.measure,
            NGSOLVE,
        ),
        Section("speed", "Speed: where the time goes", existing.breakdown),
        Section("steps", "Steps of the main job", existing.steps),
        Section("moves", "Moves", existing.moves),
        Section("contact", "Contact", existing.contact),
        Section("nonlinear", "Nonlinear load cases", existing.nonlinear),
        Section("screening", "Screening", existing.screening),
        Section("throughput", "Throughput of studies", throughput.measure),
    )
}


def parsed(words: list[str] | None) -> argparse.Namespace:
    """Read the command line."""
    parser = argparse.ArgumentParser(
        prog="python benchmarks/run.py",
        description="Measure accuracy and speed; print tables, and save them as results.json and RESULTS.md.",
    )
    parser.add_argument(
        "sections", nargs="*", metavar="SECTION", help=f"of {', '.join(SECTIONS)}; all if left out"
    )
    parser.add_argument("--quick", action="store_true", help="few small meshes, each time taken once")
    parser.add_argument("--long", action="store_true", help="rows that take minutes besides")
    parser.add_argument("--add", action="store_true", help="keep the other sections of the results there are")
    parser.add_argument("--stored", action="store_true", help="measure nothing; write again what is stored")
    parser.add_argument("--readme", action="store_true", help="rewrite the short table of README.md")
    parser.add_argument("--out", type=Path, default=HERE, help="folder of results.json and RESULTS.md")
    options = parser.parse_args(words)
    for name in options.sections:
        if name not in SECTIONS:
            parser.error(f"there is no section '{name}'; there are {', '.join(SECTIONS)}")
    if options.quick and options.long:
        parser.error("--quick and --long contradict each other; give one")
    return options


def stored(folder: Path) -> dict[str, Any]:
    """Results of an earlier run; none if there was none."""
    path = folder / "results.json"
    return json.loads(path.read_text(encoding="utf-8")) if path.exists() else {"machine": {}, "sections": {}}


def measured(section: Section, options: Options) -> dict[str, Any]:
    """Measure a section, or say why not."""
    missing = section.missing()
    if missing is not None:
        return {"title": section.title, "left_out": missing, "tables": []}
    start = time.perf_counter()
    tables = section.measure(options)
    spent = time.perf_counter() - start
    return {
        "title": section.title,
        "mode": "quick" if options.quick else "long" if options.long else "usual",
        "seconds": spent,
        "tables": [_plain(table) for table in tables],
    }


def _plain(table: Table) -> dict[str, Any]:
    return {
        "title": table.title,
        "notes": list(table.notes),
        "printed": table.printed,
        "rows": table.rows,
    }


def save(results: dict[str, Any], folder: Path) -> None:
    """Write both files."""
    folder.mkdir(parents=True, exist_ok=True)
    writing.whole(folder / "results.json", writing.as_json(results))
    writing.whole(folder / "RESULTS.md", writing.markdown(results))


def main(words: list[str] | None = None) -> None:
    """Run the command."""
    given = parsed(words)
    results = stored(given.out) if given.add or given.stored else {"machine": {}, "sections": {}}
    if not given.stored:
        results["machine"] = machine.described()
        options = Options(quick=given.quick, long=given.long)
        for name in given.sections or SECTIONS:
            print(f"{name} ...", file=sys.stderr, flush=True)
            results["sections"][name] = found = measured(SECTIONS[name], options)
            print(f"\n== {found['title']}")
            print(found.get("left_out", ""))
            for table in found["tables"]:
                if table["printed"]:
                    print(writing.as_text(writing.table_of(table)), end="\n\n", flush=True)
            results["sections"] = {
                key: results["sections"][key] for key in SECTIONS if key in results["sections"]
            }
            save(results, given.out)
    save(results, given.out)
    if given.readme:
        writing.into_readme(HERE.parent / "README.md", readme.short_table(results))


if __name__ == "__main__":
    main()
