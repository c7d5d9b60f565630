"""Whether it can be built: findings on the geometry of a design, each with its place and its mend."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import shapely

from splitterfem import curves
from splitterfem.curves import in_mm
from splitterfem.design._behaviour import behaviour
from splitterfem.design._doublers import doublers
from splitterfem.design._finding import Finding
from splitterfem.design._ground import Ground, first_point, survey
from splitterfem.design._inches import in_both, mostly_inches
from splitterfem.design._ribs import each_rib, ribs_together
from splitterfem.design.cases import LoadCase, PointForce
from splitterfem.design.lost import no_such_rib, ribs_meant
from splitterfem.errors import nearest
from splitterfem.materials import SheetMaterial

if TYPE_CHECKING:
    from splitterfem.design.pad import Pad
    from splitterfem.design.panel import Sheet
    from splitterfem.design.splitter import Splitter

__all__ = ["Finding", "check"]

_NEAR_EDGE = 1e-3
_OVERHANG = 0.01
"""Share of a patch that may be off the panel; the solver, whose edges are polygons, lets twice as much pass."""
_MOST_TRIANGLES = 500_000


def check(splitter: Splitter) -> tuple[Finding, ...]:
    """Look a design over without solving anything.

    Parameters
    ----------
    splitter : Splitter
        What to look at. One that exists has no finding of severity "error": those are raised when a
        splitter is made.

    Returns
    -------
    tuple of Finding
        Errors first, then warnings, then notes.
    """
    findings: list[Finding] = []
    ground = survey(splitter.panel, float(splitter.mesh.chord), findings)
    if ground is not None:
        for look in _LOOKS:
            findings += look(splitter, ground)
    findings = [finding for finding in findings if not _repeats(finding, findings)]
    if findings and mostly_inches(splitter):
        findings = [replace(finding, sentence=in_both(finding.sentence)) for finding in findings]
    order = {"error": 0, "warning": 1, "note": 2}
    return tuple(sorted(findings, key=lambda finding: order[finding.severity]))


def _repeats(finding: Finding, findings: list[Finding]) -> bool:
    """Tell whether a finding on one half of a mirrored pair has been told of the other half."""
    if finding.where is None:
        return False
    (x, y), path = finding.where, _pair(finding.path)
    for other in findings:
        if other is finding:
            return False
        if other.where is None or (other.code, _pair(other.path)) != (finding.code, path):
            continue
        if abs(other.where[0] - x) < 1e-6 and abs(other.where[1] + y) < 1e-6:
            return True
    return False


def _pair(path: str) -> str:
    return path.removesuffix(" left").removesuffix(" right")


def _pads(splitter: Splitter, ground: Ground) -> Iterator[Finding]:
    """Find struts, bolts, pins and stops whose pads are not wholly on the panel, or that share one place."""
    seen: list[tuple[str, tuple[float, float]]] = []
    for field, point in (("struts", "foot"), ("bolts", "at"), ("pins", "at"), ("stops", "at")):
        for part in getattr(splitter, field):
            path = f"{field}.{part.name}.{point}"
            halves = part.sides()
            if len(halves) == 2 and math.dist(*(getattr(half, point) for half in halves)) < _NEAR_EDGE:
                at = getattr(part, point)
                text = (
                    f"is on the centre plane at {in_mm(at)} mm and is its own mirror image; leave mirror out"
                )
                yield Finding("pair-on-itself", "error", path, at, text)
            for half in halves:
                at = getattr(half, point)
                yield from _pad(ground, half.pad, at, path)
                for other, place in seen:
                    if math.dist(place, at) < _NEAR_EDGE and other != part.name:
                        text = f"is at {in_mm(at)} mm, where '{other}' is too; check that both are meant"
                        yield Finding("fixings-together", "warning", path, at, text)
                seen.append((part.name, at))


def _pad(ground: Ground, pad: Pad, at: tuple[float, float], path: str) -> Iterator[Finding]:
    """Find a pad that is not wholly on the panel."""
    area = shapely.Polygon(curves.flatten(pad.loop(at), 1e-3 * math.sqrt(pad.area)))
    if ground.holds(area):
        return
    what, _ = ground.where_off(area)
    if not ground.roomy.covers(shapely.Point(at)):
        place = f"lies {what} at {in_mm(at)} mm"
    else:
        place = f"at {in_mm(at)} mm has a pad that reaches {what}"
    text = f"{place}; move it onto the panel or make the pad smaller"
    yield Finding("pad-off-panel", "error", path, (float(at[0]), float(at[1])), text)


def _pockets(splitter: Splitter, ground: Ground) -> Iterator[Finding]:
    """Find rear pockets that hold nothing, and those that overlap."""
    boxes = [(p.name, shapely.box(*half.bounds)) for p in splitter.pockets for half in p.sides()]
    for name, box in boxes:
        if not ground.holds(box):
            what, place = ground.where_off(box)
            text = f"reaches {what} at {in_mm(place)} mm; move its mouth, or give it less width or overlap"
            yield Finding("pocket-off-panel", "error", f"pockets.{name}.mouth", place, text)
    for (name, box), (other, second) in itertools.combinations(boxes, 2):
        if box.intersection(second).area > 1e-9:
            place = first_point(box.intersection(second))
            text = f"overlaps the pocket '{other}' at {in_mm(place)} mm; move one"
            yield Finding("pockets-overlap", "error", f"pockets.{name}.mouth", place, text)


def _struts(splitter: Splitter, ground: Ground) -> Iterator[Finding]:
    """Find struts whose head is not above their foot, and those with the modulus of another material."""
    del ground
    for strut in splitter.struts:
        if strut.head[2] <= strut.bracket_height:
            text = (
                f"is {1e3 * strut.head[2]:.6g} mm above the panel, not above the strut's lower end at "
                f"{1e3 * strut.bracket_height:.6g} mm; such a strut cannot hold the panel up"
            )
            yield Finding("strut-level", "warning", f"struts.{strut.name}.head", strut.head[:2], text)
        both = {"material", "modulus"} <= strut.model_fields_set
        if both and strut.form != "cable" and not strut.modulus_fits_material:
            material = strut.resolved
            text = (
                f"is {strut.modulus / 1e9:.4g} GPa, but '{material.name}' has {material.E / 1e9:.4g} GPa; leave "
                "the modulus out, or name the material that is used"
            )
            yield Finding("strut-modulus", "warning", f"struts.{strut.name}.modulus", None, text)


def _forces(splitter: Splitter, ground: Ground) -> Iterator[Finding]:
    """Find forces that act beside the panel."""
    for case in splitter.cases:
        for number, force in enumerate(case.forces, start=1):
            path = f"cases.{case.name}.forces.#{number}"
            if isinstance(force, PointForce):
                yield from _pad(ground, force.pad, force.at, f"{path}.at")
                continue
            loop = force.area_shape.outline().loop()
            area = shapely.Polygon(curves.flatten(loop, 1e-3 * math.sqrt(abs(curves.area(loop)))))
            share = ground.net.intersection(area).area / area.area
            place = first_point(area)
            if share == 0.0:
                text = f"acts beside the panel at {in_mm(place)} mm; move it onto the panel"
                yield Finding("force-off-panel", "error", path, place, text)
            elif share < 1.0 - _OVERHANG:
                what, off = ground.where_off(area)
                text = (
                    f"reaches {what} at {in_mm(off)} mm with {100.0 * (1.0 - share):.0f} % of its area; move it onto "
                    "the panel or make it smaller"
                )
                yield Finding("force-partly-off", "error", path, off, text)


def _cases(splitter: Splitter, ground: Ground) -> Iterator[Finding]:
    """Find cars and cases whose panel is in the ground, pressures that are nothing, and ribs that are not there."""
    car = splitter.car
    yield from _gap("car.ride_height", car.ride_height, car.rake, ground)
    for case in splitter.all_cases:
        path = f"cases.{case.name}"
        if case.ride_height is not None or case.rake is not None:
            height = car.ride_height if case.ride_height is None else case.ride_height
            rake = car.rake if case.rake is None else case.rake
            field = "rake" if case.ride_height is None else "ride_height"
            yield from _gap(f"{path}.{field}", height, rake, ground)
        by_speed = case.pressure is not None and case.pressure.by_speed
        if by_speed and case.speed + case.head_wind == 0.0:
            text = "is zero, so that the pressure map gives no pressure; write the speed of the case"
            yield Finding("case-at-rest", "warning", f"{path}.speed", None, text)
        for name in case.unbonded:
            if not ribs_meant(name, splitter.ribs):
                text = no_such_rib(name, splitter.ribs)
                yield Finding("no-such-rib", "error", f"{path}.unbonded", None, text)
        yield from _combination(splitter, case, f"{path}.combines")


def _combination(splitter: Splitter, case: LoadCase, path: str) -> Iterator[Finding]:
    """Find cases that combine what is not there, themselves, or other combinations."""
    known = {other.name: other for other in splitter.all_cases}
    for part in case.combines:
        other = known.get(part.case)
        if other is None:
            text = f"there is no load case '{part.case}'; {nearest(part.case, known)}"
            yield Finding("no-such-case", "error", path, None, text)
        elif other.combines:
            text = f"'{part.case}' is a combination itself; name the cases that it combines"
            yield Finding("nested-combination", "error", path, None, text)


def _gap(path: str, height: float, rake: float, ground: Ground) -> Iterator[Finding]:
    """Find a panel that touches the ground as it stands."""
    if abs(rake) >= math.radians(45.0):
        text = f"the rake is {math.degrees(rake):.4g} deg; give one below 45 deg, usually 0 to 2 deg"
        yield Finding("rake-too-steep", "error", f"{path.rpartition('.')[0]}.rake", None, text)
        return
    for x in (ground.whole.bounds[0], ground.whole.bounds[2]):
        gap = height - x * math.tan(rake)
        if gap <= 0.0:
            text = (
                f"leaves {1e3 * gap:.1f} mm to the ground at x = {1e3 * x:.1f} mm with a rake of "
                f"{math.degrees(rake):.3g} deg; give more ride height or less rake"
            )
            yield Finding("in-the-ground", "error", path, None, text)


def _sheets(splitter: Splitter, ground: Ground) -> Iterator[Finding]:
    """Find sheets as thick as the panel is wide, and figures of another board."""
    yield from _sheet("panel.sheet", splitter.panel.sheet, ground)
    for doubler in splitter.doublers:
        yield from _sheet(f"doublers.{doubler.name}.sheet", doubler.sheet, ground)


def _sheet(path: str, sheet: Sheet, ground: Ground) -> Iterator[Finding]:
    x0, y0, x1, y1 = ground.whole.bounds
    side = min(x1 - x0, y1 - y0)
    if sheet.thickness > 0.25 * side:
        text = (
            f"is {1e3 * sheet.thickness:.6g} mm, more than a quarter of the panel's {1e3 * side:.6g} mm; "
            "give the thickness of the sheet (a number without a unit is in metres)"
        )
        yield Finding("sheet-thick", "error", f"{path}.thickness", None, text)
    material = sheet.resolved
    usual = material.thickness if isinstance(material, SheetMaterial) else None
    if usual is not None and abs(sheet.thickness / usual - 1.0) > 0.05:
        text = (
            f"is {1e3 * sheet.thickness:.6g} mm, but the figures of '{material.name}' belong to a board of "
            f"{1e3 * usual:.6g} mm; name the board that is used"
        )
        yield Finding("sheet-other-board", "warning", f"{path}.thickness", None, text)


def _mesh(splitter: Splitter, ground: Ground) -> Iterator[Finding]:
    """Find a mesh that would eat all memory, or that is coarser than the panel."""
    for field in ("size", "pad_size"):
        size = getattr(splitter.mesh, field)
        if size is None:
            continue
        triangles = ground.net.area / (0.25 * math.sqrt(3.0) * size**2) if size > 1e-7 else math.inf
        if triangles > _MOST_TRIANGLES and field == "size":
            least = math.sqrt(ground.net.area / (0.25 * math.sqrt(3.0) * _MOST_TRIANGLES))
            text = (
                f"is {1e3 * size:.4g} mm, which makes {triangles:.2g} triangles, more than "
                f"{_MOST_TRIANGLES}; give at least {1e3 * least:.3g} mm"
            )
            yield Finding("mesh-too-fine", "error", "mesh.size", None, text)
        elif field == "pad_size" and size < 0.2e-3:
            text = f"is {1e3 * size:.4g} mm; give at least 0.2 mm"
            yield Finding("mesh-too-fine", "error", "mesh.pad_size", None, text)
    x0, y0, x1, y1 = ground.whole.bounds
    side = min(x1 - x0, y1 - y0)
    if splitter.mesh.size > 0.25 * side:
        text = (
            f"is {1e3 * splitter.mesh.size:.4g} mm on a panel of {1e3 * side:.6g} mm; give at most a quarter"
        )
        yield Finding("mesh-too-coarse", "warning", "mesh.size", None, text)


_LOOKS: tuple[Callable[[Any, Ground], Iterator[Finding]], ...] = (
    _sheets, each_rib, ribs_together, doublers, _pads, _pockets, _struts, _forces, _cases, _mesh, behaviour,
)  # fmt: skip
