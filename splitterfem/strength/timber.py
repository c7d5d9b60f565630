"""Service class, duration of load and partial factors of wood-based parts (EN 1995-1-1)."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum, StrEnum
from functools import cache
from typing import Any, Literal

from splitterfem.errors import DesignError
from splitterfem.strength._inputs import positive
from splitterfem.strength.hardware import read_table
from splitterfem.strength.row import Basis, Resistance

Member = Literal["plywood", "connection"]


class ServiceClass(IntEnum):
    """Moisture that the wood meets (EN 1995-1-1 2.3.1.3)."""

    DRY = 1
    """Indoors."""
    HUMID = 2
    """Under cover; a panel sealed on all faces, edges and holes, and kept dry."""
    WET = 3
    """In the weather: what a panel near the road is, unless fully sealed and dried."""


class LoadDuration(StrEnum):
    """How long a load acts in sum over the life of the part (EN 1995-1-1 2.3.1.2)."""

    PERMANENT = "permanent"
    """Over ten years: own weight on the mounts."""
    LONG = "long"
    """Half a year to ten years: storage on the struts."""
    MEDIUM = "medium"
    """A week to half a year."""
    SHORT = "short"
    """Under a week: the air load of laps."""
    INSTANTANEOUS = "instantaneous"
    """A strike on a kerb."""


@dataclass(frozen=True)
class TimberFactors:
    """What turns a characteristic strength of wood into a design value.

    Attributes
    ----------
    k_mod : float
        For moisture and duration of load.
    gamma : float
        Partial factor gamma_M of the material or the connection.
    source, basis : str
        Where they come from and how well they are known.
    """

    k_mod: float
    gamma: float
    source: str = "given by the user"
    basis: Basis = "user"

    def __post_init__(self) -> None:
        positive("Factors on wood", k_mod=self.k_mod, gamma_M=self.gamma)

    @property
    def factor(self) -> float:
        """Design over characteristic value, ``k_mod / gamma_M``."""
        return self.k_mod / self.gamma

    def design(self, characteristic: Resistance) -> Resistance:
        """Return the design value of a characteristic resistance."""
        reason = f"gamma_M {self.gamma:g} over k_mod {self.k_mod:g}"
        return characteristic.divided(1.0 / self.factor, reason)


def k_mod(
    service_class: ServiceClass | int,
    duration: LoadDuration | str,
    *,
    bond_class: int = 3,
    member: str = "plywood",
) -> float:
    """Modification factor for moisture and duration of load, EN 1995-1-1 table 3.1.

    Parameters
    ----------
    service_class : ServiceClass
    duration : LoadDuration
    bond_class : int
        1, 2 or 3 of EN 636: the wettest service class that the board is made for.
    member : str
        Only plywood is in the table.

    Raises
    ------
    DesignError
        If the board is not made for that service class, or a word is not in the table.

    Examples
    --------
    >>> k_mod(ServiceClass.WET, LoadDuration.SHORT)
    0.7
    """
    table = _table()["k_mod"]
    try:
        wet, time = ServiceClass(service_class), LoadDuration(duration)
        row = table[member][str(int(wet))]
    except (ValueError, KeyError) as problem:
        raise DesignError(
            f"There is no k_mod of {member} for service class {service_class!s} and duration '{duration!s}'; "
            f"give plywood, a class of 1, 2 or 3 and one of {', '.join(LoadDuration)}."
        ) from problem
    if int(wet) > bond_class:
        raise DesignError(
            f"A board of EN 636-{bond_class} is not made for service class {int(wet)}; "
            f"choose EN 636-{int(wet)} or keep it drier."
        )
    return float(row[table["durations"].index(time.value)])


def gamma_M(member: Member) -> float:
    """Partial factor of ``"plywood"`` or of a ``"connection"``, EN 1995-1-1 table 2.3.

    Raises
    ------
    DesignError
        If the table has no such member.
    """
    return float(_of("gamma_M", member))


def timber_factors(
    service_class: ServiceClass | int,
    duration: LoadDuration | str,
    *,
    member: Member = "plywood",
    bond_class: int = 3,
) -> TimberFactors:
    """k_mod and gamma_M of plywood or of its connections.

    Raises
    ------
    DesignError
        See `k_mod` and `gamma_M`.
    """
    table = _table()["k_mod"]
    basis: Basis = _of("gamma_M_basis", member)
    return TimberFactors(
        k_mod(service_class, duration, bond_class=bond_class),
        gamma_M(member),
        f"{table['source']}; {_of('gamma_M_source', member)}",
        basis,
    )


def face_compression() -> Resistance:
    """Characteristic strength of hardwood plywood squeezed across its faces, Pa; indicative.

    It is not the handbook's compression across the face grain, which acts in the plane of the board.
    """
    row = _table()["face_compression"]
    return Resistance(
        "compression across the faces", 1e6 * row["strength_MPa"], "Pa", row["source"], row["basis"]
    )


def _of(what: str, member: str) -> Any:
    rows = _table()[what]
    if member not in rows:
        raise DesignError(f"There is no partial factor of '{member}'; known: {', '.join(rows)}.")
    return rows[member]


@cache
def _table() -> dict[str, Any]:
    return read_table("timber.toml")
