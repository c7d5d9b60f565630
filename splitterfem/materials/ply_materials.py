"""Materials of plies that the catalogue knows by name: veneer, skins and cores of sandwiches, metal skins."""

from __future__ import annotations

from functools import cache

from splitterfem.errors import DesignError, nearest
from splitterfem.materials._files import IN_FILE, catalogue
from splitterfem.materials.sheet import SheetMaterial, SheetStrength

VENEER = SheetMaterial(
    name="birch veneer",
    kind="orthotropic",
    E1=17_500e6,
    E2=0.0,
    nu12=0.0,
    G12=620e6,
    G13=100 * 121e6,  # "rigid" beside the rolling shear of the plies across
    G23=121e6,
    density=680.0,
    density_characteristic=630.0,
    strength=SheetStrength(
        level="characteristic",
        bending_along=70e6,
        tension_along=75e6,
        compression_along=52e6,
        panel_shear=9.5e6,
        planar_shear_along=9.5e6,
        planar_shear_across=2.5e6,
    ),
    source="fitted to the table of birch plywood in the Handbook of Finnish Plywood (2002)",
    basis="memory",
    notes=(
        "For layups of peeled veneer of 1.4 mm only; a single veneer has no stiffness across. Transverse shear "
        "along the grain is taken as strong as shear in the plane of a board; it never governs in a plywood. "
        "Moisture and duration of load as for birch plywood."
    ),
)
"""Peeled birch veneer, the layer behind the handbook's table."""


def ply_material(name: str) -> SheetMaterial:
    """Find the material of a ply, such as ``"carbon fabric"``, ``"PVC foam 80"`` or ``"birch veneer"``.

    Raises
    ------
    DesignError
        If the catalogue has no such ply material.
    """
    wanted = " ".join(name.split()).casefold()
    for key, record in _known().items():
        if key.casefold() == wanted:
            return record
    raise DesignError(f"The catalogue has no ply material '{name}'; {nearest(wanted, _known())}")


def ply_material_names() -> tuple[str, ...]:
    """Names of the ply materials in the catalogue; its sheets of metal and plastic are among them."""
    return tuple(_known())


def is_in_catalogue(material: SheetMaterial) -> bool:
    """Tell whether a material is the catalogue's own of that name."""
    return material is VENEER or _known().get(material.name) == material


@cache
def _known() -> dict[str, SheetMaterial]:
    rows = catalogue("plies.toml")["ply"] + catalogue("sheets.toml")["sheet"]
    records = [VENEER, *(SheetMaterial.model_validate(row, context=IN_FILE) for row in rows)]
    return {record.name: record for record in records}
