"""Where the figures come from: files with their fingerprints, pressure maps, and how a drawing was read."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence

from splitterfem.analysis import Solution
from splitterfem.design import LoadCase, Splitter
from splitterfem.design.gap import GapLawMap
from splitterfem.design.pressure import Adjusted
from splitterfem.errors import FileError
from splitterfem.output.air_words import KINDS, blowing
from splitterfem.output.case_words import together, with_numbers
from splitterfem.output.wording import Words


def file_print(design: Splitter, file: str) -> str:
    """First 12 hex digits of the SHA-256 of a file that a design names.

    Raises
    ------
    FileError
        It cannot be read.
    DesignError
        Its path leads out of the folder of the design file.
    """
    try:
        return hashlib.sha256(design.path(file).read_bytes()).hexdigest()[:12]
    except OSError as problem:
        raise FileError(f"{file} cannot be read: {str(problem.strerror).lower()}; put it back.") from None


def files_of(design: Splitter, cases: Sequence[LoadCase]) -> list[str]:
    """Files that a design and load cases name: drawing first, then pressure maps, each once."""
    drawing = design.panel.drawing
    maps = [file for case in cases if case.pressure is not None for file in case.pressure.files]
    return list(dict.fromkeys([*([] if drawing is None else [drawing.file]), *maps]))


def fingerprints(design: Splitter, cases: Sequence[LoadCase]) -> dict[str, str]:
    """Fingerprint of every file that a design and load cases name, by its name.

    Raises
    ------
    FileError
        One of them cannot be read.
    """
    return {file: file_print(design, file) for file in files_of(design, cases)}


def cases_behind(solutions: Sequence[Solution]) -> list[LoadCase]:
    """Load cases whose air acts in solutions, those that they combine included, each once."""
    return list({part.name: part for solution in solutions for part in blowing(solution)}.values())


def file_sentences(design: Splitter, cases: Sequence[LoadCase]) -> list[str]:
    """Say in a sentence which files were read, with their fingerprints; none without files."""
    prints = fingerprints(design, cases)
    if not prints:
        return []
    listed = ", ".join(f"{file} ({digits})" for file, digits in prints.items())
    return [f"Files that were read, with the first digits of their SHA-256: {listed}."]


def pressure_sentences(solutions: Sequence[Solution], words: Words) -> list[str]:
    """Say where the air of load cases comes from, with their numbers."""
    said = [
        (number, f"net pressure, upper less lower face, from {pressure_words(part, words)}.")
        for number, solution in enumerate(solutions, start=1)
        for part in blowing(solution)
        if part.pressure is not None
    ]
    return with_numbers(together(said))


def pressure_words(case: LoadCase, words: Words) -> str:
    """Name the pressure map of a load case and what was done to it."""
    pressure = case.pressure
    assert pressure is not None
    if isinstance(pressure, GapLawMap):
        nose = (
            f"a nose {words.with_unit(float(pressure.nose.height), words.size, 0)} high"
            if pressure.nose
            else ""
        )
        return f"the gap law with a {pressure.lip} lip and {nose or 'nothing on the upper side'}"
    files = f" ({', '.join(pressure.files)})" if pressure.files else ""
    return f"{KINDS[pressure.kind]}{files}{_adjusted(pressure, words)}"


def _adjusted(pressure: Adjusted, words: Words) -> str:
    """Say what was done to a map, each with a comma before it."""
    said = []
    if pressure.scale != 1.0:
        said.append(f"times {pressure.scale:g}")
    if pressure.total_force is not None:
        total = words.with_unit(float(pressure.total_force), words.force, 0)
        speed = pressure.total_speed
        at = "" if speed is None else f" at {words.with_unit(float(speed), words.speed, 0)}"
        said.append(f"brought to a total of {total}{at}")
    if pressure.left_right is not None:
        said.append(f"{100.0 * float(pressure.left_right):.3g} % of it on the left half")
    if pressure.yaw_factor != 1.0:
        said.append(f"times {pressure.yaw_factor:g} for yaw")
    return "".join(f", {text}" for text in said)


def drawing_sentences(design: Splitter) -> list[str]:
    """Say how the drawing of the panel was read, file first; none without a drawing."""
    drawing = design.panel.drawing
    if drawing is None:
        return []
    unused = drawing.drawing.cutouts and not drawing.openings
    more = ["The openings of the drawing are not used."] if unused else []
    return [f"The panel was read from {drawing.file}.", *drawing.drawing.report, *more]
