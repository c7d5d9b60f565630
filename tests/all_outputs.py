"""Every kind of output of one small panel, written into a folder; run as a script by tests of what files contain."""

from __future__ import annotations

import contextlib
import io
import os
import sys
from pathlib import Path

from tiny_panel import tiny_panel

import splitterfem as sf
from splitterfem.cli import main
from splitterfem.output.bundle import write_bundle
from splitterfem.output.plots import save_picture
from splitterfem.output.report import write_report

CASE = "taps"

TAPS = "x_mm, y_mm, cp\n" + "".join(
    f"{x}, {y}, {0.3 + 0.001 * x:.2f}\n" for x in (0, 200, 400) for y in (-300, 0, 300)
)


def small_design(folder: Path, **changes: object) -> sf.Splitter:
    """Write a small panel with a file of taps beside it, and read it back."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "taps.csv").write_text(TAPS, encoding="ascii", newline="\n")
    pressure = {"kind": "taps", "file": "taps.csv", "quantity": "cp", "length_unit": "mm", "uncertainty": 0.2}
    case = {"name": CASE, "speed": "150 km/h", "pressure": pressure}
    place = folder / "design.toml"
    splitter = tiny_panel(**changes)
    sf.save(splitter.with_(cases=[*splitter.cases, case]), place)
    return sf.load(place)


def write_all(splitter: sf.Splitter, case: str, out: Path) -> None:
    """Write every kind of output into a folder."""
    model = sf.build(splitter)
    solution = sf.solve(model, case)
    write_bundle([solution], out, also=("xdmf", "dxf", "sag", "design"))
    for ending in ("svg", "pdf"):
        save_picture(solution.plot_sag(), out / f"sag.{ending}")
    save_picture(solution.plot_shape(), out / "shape.svg")
    for ending in ("pdf", "html"):
        write_report([solution], out / f"report.{ending}", losses=False)
    for ending in ("pdf", "dxf"):
        sf.template(splitter, out / f"template.{ending}")
    solution.to_shape_html(out / "shape.html")
    thickness = ["9 mm", "10 mm"]
    study = sf.study.sweep(splitter, {"panel.sheet.thickness": thickness}, case, fresh_mesh=False)
    study.to_csv(out / "study.csv")
    study.to_parquet(out / "study.parquet")
    save_picture(study.plot("worst sag"), out / "study.png")
    sf.push_map(model).to_csv(out / "push.csv")


def write_json(design: Path, case: str, out: Path) -> None:
    """Write what the command line says as JSON."""
    said = io.StringIO()
    with contextlib.redirect_stdout(said):
        assert main(["solve", str(design), "--case", case, "--json"]) == 0
    (out / "solve.json").write_text(said.getvalue(), encoding="utf-8")


if __name__ == "__main__":
    home, made = Path(sys.argv[1]), Path(sys.argv[2])
    os.chdir(home)
    write_all(small_design(home), CASE, made)
    write_json(Path("design.toml"), CASE, made)
