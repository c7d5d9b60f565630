"""Pressure map of a load case as it is: read from its file, before anything is done to it."""

from __future__ import annotations

from splitterfem import aero, design
from splitterfem.aero import SourceField, dynamic_pressure, read_grid, read_surface, read_taps, surface_map
from splitterfem.design import LoadCase, Splitter
from splitterfem.design.gap import AdjustedMap
from splitterfem.design.pressure import GridMap, MeshMap, TapMap
from splitterfem.errors import DesignError
from splitterfem.model.air import air_density


def source_map(splitter: Splitter, pressure: AdjustedMap, case: LoadCase, q: float) -> SourceField:
    """Read the map as it is, at a dynamic pressure in Pa.

    Raises
    ------
    DesignError
        If the file holds another quantity than the case says.
    FileError
        If the file cannot be read.
    """
    if isinstance(pressure, design.UniformMap):
        return aero.UniformMap(
            float(pressure.pressure or 0.0) if pressure.cp is None else q * float(pressure.cp)
        )
    if isinstance(pressure, design.FunctionMap):
        return aero.FunctionMap(pressure.function).scaled(q if pressure.quantity == "cp" else 1.0)
    reference = dynamic_pressure(float(pressure.reference_speed or 0.0), density=air_density(case))
    factor = q if pressure.quantity == "cp" else q / reference
    path, length, unit = splitter.path(pressure.file), pressure.length_unit, pressure.pressure_unit or "Pa"
    if isinstance(pressure, MeshMap):
        surface = read_surface(
            path, pressure.field, kind=pressure.quantity, length_unit=length, pressure_unit=unit
        )
        return surface_map(surface, pressure.values).scaled(factor)
    if isinstance(pressure, GridMap):
        grid = read_grid(path, pressure.quantity, length_unit=length, pressure_unit=unit)
        _same_kind(grid.kind or pressure.quantity, pressure, case, grid.name)
        return grid.map().scaled(factor)
    taps = read_taps(
        path, length_unit=length, pressure_unit=unit, face="upper" if pressure.lower_file else None
    )
    if pressure.lower_file is not None:
        below = splitter.path(pressure.lower_file)
        taps = taps.over(read_taps(below, length_unit=length, pressure_unit=unit, face="lower"))
    _same_kind(taps.kind, pressure, case, taps.name)
    return (taps.map(1.0) if taps.kind == "cp" else taps.map()).scaled(factor)


def _same_kind(kind: str, pressure: GridMap | TapMap, case: LoadCase, name: str) -> None:
    if kind != pressure.quantity:
        what = "taps" if isinstance(pressure, TapMap) else "values"
        raise DesignError(
            f"Load case '{case.name}' calls the {what} of {name} a {pressure.quantity}, but the file's column is "
            f'a {kind}: set quantity to "{kind}".'
        )
