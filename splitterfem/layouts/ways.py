"""Ways to change a design: values at paths, moves of a part, a part left out, a function."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from splitterfem.design import Splitter
from splitterfem.design.draft import Draft, value_at
from splitterfem.design.splitter import PART_LISTS
from splitterfem.errors import DesignError

Axis = Literal["dx", "dy"]
AXES: tuple[Axis, ...] = ("dx", "dy")


@dataclass(frozen=True)
class AtPaths:
    """The same value at one or several paths of `Splitter.with_`."""

    paths: tuple[str, ...]

    @property
    def name(self) -> str:
        """What it is called when it gets no name."""
        return ", ".join(self.paths)

    def dimension(self, base: Splitter) -> str | None:
        """Kind of quantity of the values; None when they are none.

        Raises
        ------
        DesignError
            If a path leads nowhere, or the paths are of different kinds.
        """
        kinds = {value_at(base, path)[1] for path in self.paths}
        if len(kinds) > 1:
            said = " and ".join(sorted(str(kind or "no quantity") for kind in kinds))
            raise DesignError(
                f"'{self.name}' changes places of different kinds together ({said}); change them apart."
            )
        return kinds.pop()

    def apply(self, draft: Draft, given: Any, absent: frozenset[str]) -> None:
        """Put a value in, except at parts that are left out."""
        for path in self.paths:
            if not any(_is_of(path, name) for name in absent):
                draft.set(path, given)

    def idle(self, absent: frozenset[str]) -> bool:
        """Tell whether it changes nothing because its parts are left out."""
        return all(any(_is_of(path, name) for name in absent) for path in self.paths)

    def spec(self) -> dict[str, object]:
        """Write as plain data."""
        return {"paths": list(self.paths)}


@dataclass(frozen=True)
class Move:
    """A part moved as a whole, forward (dx) or to the left (dy)."""

    part: str
    axis: Axis

    @property
    def name(self) -> str:
        """What it is called when it gets no name."""
        return f"{self.part} {self.axis}"

    def dimension(self, base: Splitter) -> str | None:
        """Kind of quantity of the values."""
        base.part(self.part)
        return "length"

    def apply(self, draft: Draft, given: Any, absent: frozenset[str]) -> None:
        """Move the part, if it is there."""
        if not self.idle(absent):
            from splitterfem.units import quantity

            by = float(quantity(given, "length", name=self.name))
            draft.move(self.part, *((by, 0.0) if self.axis == "dx" else (0.0, by)))

    def idle(self, absent: frozenset[str]) -> bool:
        """Tell whether it changes nothing because its part is left out."""
        return self.part in absent

    def spec(self) -> dict[str, object]:
        """Write as plain data."""
        return {"move": self.part, "along": self.axis}


@dataclass(frozen=True)
class Presence:
    """A part that is there or not."""

    part: str

    @property
    def name(self) -> str:
        """What it is called when it gets no name."""
        return f"{self.part} present"

    def dimension(self, base: Splitter) -> str | None:
        """No quantity; the part must be there in the base design.

        Raises
        ------
        DesignError
            If it is not.
        """
        base.part(self.part)
        return None

    def apply(self, draft: Draft, given: Any, absent: frozenset[str]) -> None:
        """Do nothing: what is left out is taken out last."""

    def idle(self, absent: frozenset[str]) -> bool:
        """Tell that it always counts."""
        return False

    def spec(self) -> dict[str, object]:
        """Write as plain data."""
        return {"part": self.part}


@dataclass(frozen=True)
class ByFunction:
    """A function that makes a design from a design and a value; for studies in one process only."""

    call: Callable[[Splitter, Any], Splitter]

    @property
    def name(self) -> str:
        """What it is called when it gets no name."""
        return str(getattr(self.call, "__name__", "function"))

    def dimension(self, base: Splitter) -> str | None:
        """No quantity that is known."""
        return None

    def apply(self, draft: Draft, given: Any, absent: frozenset[str]) -> None:
        """Do nothing: functions get the finished design."""

    def idle(self, absent: frozenset[str]) -> bool:
        """Tell that it always counts."""
        return False

    def spec(self) -> dict[str, object]:
        """Refuse: a function cannot be written down."""
        raise DesignError(
            f"'{self.name}' is a Python function, which can neither be kept in a file nor sent to other processes: "
            "leave file, workers and cluster out, or change the design by paths, moves and parts that are left out."
        )


Way = AtPaths | Move | Presence | ByFunction


def way_of(key: Any) -> Way:
    """Read a way from the short form in which people write it.

    Parameters
    ----------
    key : str, tuple or callable
        A path; ``(part, "dx")``, ``(part, "dy")`` or ``(part, "present")``; several paths that change together; or a
        function of a design and a value.

    Raises
    ------
    DesignError
        If it is none of those.
    """
    if isinstance(key, (AtPaths, Move, Presence, ByFunction)):
        return key
    if isinstance(key, str):
        return AtPaths((key,))
    if isinstance(key, (tuple, list)) and key and all(isinstance(one, str) for one in key):
        if len(key) == 2 and key[1] in AXES:
            return Move(key[0], key[1])
        if len(key) == 2 and key[1] == "present":
            return Presence(key[0])
        return AtPaths(tuple(key))
    if callable(key):
        return ByFunction(key)
    raise DesignError(
        f"A study is to change {key!r:.60}, which is no place in a design: give a path such as "
        '"panel.sheet.thickness", ("cross tube", "dx"), ("cross tube", "present"), or a tuple of paths.'
    )


def way_from(spec: Mapping[str, Any]) -> Way:
    """Read a way from plain data as `spec` writes it."""
    if "paths" in spec:
        return AtPaths(tuple(spec["paths"]))
    if "times" in spec:
        from splitterfem.layouts.scatter_inputs import Times

        return Times.from_spec(spec)
    if "move" in spec:
        return Move(spec["move"], spec["along"])
    return Presence(spec["part"])


def _is_of(path: str, part: str) -> bool:
    """Tell whether a path leads into a part."""
    for field in (*PART_LISTS, "panel.cutouts"):
        if path == f"{field}.{part}" or path.startswith(f"{field}.{part}."):
            return True
    return False
