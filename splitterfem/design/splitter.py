"""The splitter: everything that is built and asked, in one record."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property
from pathlib import Path
from typing import Annotated, Self

from pydantic import Field, PrivateAttr, model_validator

from splitterfem.design._change import found, replaced
from splitterfem.design._finding import Finding
from splitterfem.design._ground import survey
from splitterfem.design._kinds import Currency, Note
from splitterfem.design._pairs import half_names
from splitterfem.design._part_lists import PART_LISTS as PART_LISTS
from splitterfem.design._part_lists import one_line, put
from splitterfem.design._record import Flag, Name, Record, by_name
from splitterfem.design._refusals import refuse_faults, refuse_same_names
from splitterfem.design.behaviour import BucklingCases, SpeedSweeps, Vibration
from splitterfem.design.cases import Car, LoadCase, MeshSettings
from splitterfem.design.check import check
from splitterfem.design.cutout import CutOut
from splitterfem.design.doublers import Doubler
from splitterfem.design.envelope import Envelope
from splitterfem.design.handling import Handling
from splitterfem.design.panel import Panel
from splitterfem.design.parts import Part, Rib
from splitterfem.design.settings import StrengthSettings
from splitterfem.design.stop import Stop
from splitterfem.design.strut import Strut
from splitterfem.design.supports import Bolt, Pin, RearPocket
from splitterfem.errors import DesignError, nearest
from splitterfem.units import quantity

_MOST = 300


class Splitter(Record):
    """A front splitter: a flat panel, what stiffens and holds it, the car, and the load cases.

    Parameters
    ----------
    name : str
        Of the splitter.
    note : str
        Anything worth remembering.
    invented : bool
        Marks data made up for demonstration.
    currency : str
        Of all costs, such as "EUR"; costs are plain numbers in it and are never converted.
    panel : Panel
        Outline, cut-outs, sheet.
    doublers, ribs, struts, bolts, pins, pockets, stops : parts
        With names that are unique among them.
    cases : load cases
        With unique names.
    handling : handling cases
        Kerbs, hands, transport and the like, which become load cases too; see `all_cases`.
    car : Car
        How the panel stands over the ground.
    vibration : Vibration, optional
        Natural frequencies that are wanted.
    buckling : names of load cases
        For which buckling factors are wanted.
    sweeps : speed sweeps
        Load cases that are wanted at several speeds.
    mesh : MeshSettings
        How finely the panel is divided.
    strength : StrengthSettings
        Factors by which strength is judged.
    envelope : Envelope, optional
        Limits of a rulebook, the user's own numbers.

    Raises
    ------
    DesignError
        With a line for each fault: ``table.field: what was found and what would be right``.
    """

    name: Name
    note: Note = ""
    invented: Flag = False
    currency: Currency = ""
    panel: Panel
    doublers: Annotated[tuple[Doubler, ...], Field(max_length=_MOST)] = ()
    ribs: Annotated[tuple[Rib, ...], Field(max_length=_MOST)] = ()
    struts: Annotated[tuple[Strut, ...], Field(max_length=_MOST)] = ()
    bolts: Annotated[tuple[Bolt, ...], Field(max_length=_MOST)] = ()
    pins: Annotated[tuple[Pin, ...], Field(max_length=_MOST)] = ()
    pockets: Annotated[tuple[RearPocket, ...], Field(max_length=_MOST)] = ()
    stops: Annotated[tuple[Stop, ...], Field(max_length=_MOST)] = ()
    car: Car
    cases: Annotated[tuple[LoadCase, ...], Field(max_length=_MOST)] = ()
    handling: Annotated[tuple[Handling, ...], Field(max_length=_MOST)] = ()
    vibration: Vibration | None = None
    buckling: BucklingCases = ()
    sweeps: SpeedSweeps = ()
    mesh: MeshSettings = MeshSettings()
    strength: StrengthSettings = StrengthSettings()
    envelope: Envelope | None = None

    _folder: Path | None = PrivateAttr(default=None)

    @model_validator(mode="after")
    def _holds_together(self) -> Self:
        unsound: list[Finding] = []
        survey(self.panel, float(self.mesh.chord), unsound)
        refuse_faults(unsound)  # first, for handling cases look for their places on the panel
        refuse_same_names(self)
        refuse_faults(check(self))
        return self

    @property
    def folder(self) -> Path | None:
        """Folder of the file that the design was loaded from; paths in it are relative to this."""
        return self._folder

    def in_folder(self, folder: Path | str | None) -> Self:
        """Return the same splitter with the folder that its paths are relative to."""
        copy = self.model_copy()
        copy._folder = None if folder is None else Path(folder)
        return copy

    def path(self, file: str) -> Path:
        """Return the full path of a file that the design names.

        Raises
        ------
        DesignError
            The path leads out of the folder of the design file, through a link for example.
        """
        if self._folder is None:
            return Path(file)
        folder = self._folder.resolve()
        full = (folder / file).resolve()
        if not full.is_relative_to(folder):
            raise DesignError(f"'{file}' leads out of the folder of the design file; copy the file into it")
        return full

    def parts(self) -> Iterator[Part | CutOut]:
        """Iterate over the cut-outs and all parts, mirrored pairs once."""
        yield from self.panel.cutouts
        for field in PART_LISTS:
            yield from getattr(self, field)

    def part(self, name: str) -> Part | CutOut:
        """Find a part or a cut-out by its name, also one half of a mirrored pair.

        Raises
        ------
        DesignError
            There is none; the nearest names are given.
        """
        for part in self.parts():
            if part.name == name:
                return part
            if isinstance(part, Part) and name in half_names(part):
                return next(half for half in part.sides() if half.name == name)
        known = [part.name for part in self.parts()]
        raise DesignError(f"there is no part '{name}'; {nearest(name, known) if known else 'there are none'}")

    def case(self, name: str) -> LoadCase:
        """Find a load case by its name.

        Raises
        ------
        DesignError
            There is none; the nearest names are given.
        """
        return by_name(self.all_cases, name, "load case")

    @cached_property
    def all_cases(self) -> tuple[LoadCase, ...]:
        """All load cases: those given, and those that the handling cases stand for."""
        made = (case for handling in self.handling for case in handling.load_cases(self))
        return (*self.cases, *made)

    def with_(self, path: str | None = None, value: object = None, /, **changes: object) -> Self:
        """Return the same splitter with something changed, validated anew.

        Parameters
        ----------
        path : str, optional
            Where, with parts by name: ``"panel.sheet.thickness"``, ``"struts.front left.foot"``.
        value : object
            The new value there.
        **changes
            Fields of the splitter itself.

        Raises
        ------
        DesignError
            No such place, or a value that does not fit.

        Examples
        --------
        >>> thicker = splitter.with_("panel.sheet.thickness", "18 mm")  # doctest: +SKIP
        """
        if path is not None:
            field, _, rest = path.partition(".")
            if field not in type(self).model_fields:
                raise DesignError(f"there is no field '{field}'; {nearest(field, type(self).model_fields)}")
            changes[field] = replaced(getattr(self, field), rest, value) if rest else value
        made = super().with_(**changes)
        made._folder = self._folder
        return made

    def at(self, path: str) -> object:
        """Return the value at a path as `with_` takes it, such as ``"panel.sheet.thickness"``.

        Raises
        ------
        DesignError
            No such place.
        """
        return found(self, path)

    def with_part(self, name: str, /, **changes: object) -> Self:
        """Return the same splitter with fields of one part changed; naming half of a mirrored pair splits it.

        Raises
        ------
        DesignError
            No such part, or a value that does not fit.

        Examples
        --------
        >>> other = splitter.with_part("front left", foot=("480 mm", "300 mm"))  # doctest: +SKIP
        """
        return self.with_(**put(self, name, self.part(name).with_(**changes)))

    def moved(self, name: str, /, *, dx: object = 0.0, dy: object = 0.0) -> Self:
        """Return the same splitter with one part moved as a whole: "this strut 70 mm further aft".

        A strut takes its head with it; to move its foot alone use `with_part`. One half of a mirrored
        pair may be named; the name of the pair moves both, ``dy`` being that of the half as given.

        Parameters
        ----------
        name : str
            Of the part or cut-out.
        dx, dy : length
            Forward and to the left.

        Raises
        ------
        DesignError
            No such part, or it would leave the panel.
        """
        x, y = quantity(dx, "length", name="dx"), quantity(dy, "length", name="dy")
        return self.with_(**put(self, name, self.part(name).shifted(float(x), float(y))))

    def without(self, name: str) -> Self:
        """Return the same splitter without one part; naming one half of a mirrored pair keeps the other.

        Raises
        ------
        DesignError
            No such part.
        """
        self.part(name)
        return self.with_(**put(self, name, None))

    def expanded(self) -> Self:
        """Return the same splitter with mirrored pairs of parts written out, cut-outs left as they are."""
        lists: dict[str, object] = {
            field: tuple(half for part in getattr(self, field) for half in part.sides())
            for field in PART_LISTS
            if any(part.mirror for part in getattr(self, field))
        }
        return self.with_(**lists) if lists else self

    def __eq__(self, other: object) -> bool:
        """Compare by value; the folder does not count."""
        if not isinstance(other, Splitter):
            return NotImplemented
        return all(getattr(self, field) == getattr(other, field) for field in type(self).model_fields)

    def __hash__(self) -> int:
        """Hash by value; the folder does not count."""
        return hash(tuple(getattr(self, field) for field in type(self).model_fields))

    def __repr__(self) -> str:
        """Write a line that says what is there."""
        return one_line(self)

    __str__ = __repr__
