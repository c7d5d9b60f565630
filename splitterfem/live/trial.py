"""A design in the making: parts are moved, the model follows on its mesh, and the way back stays open."""

from __future__ import annotations

from collections import deque

from splitterfem import api, curves
from splitterfem.api import Solution
from splitterfem.design import LoadCase, MeshSettings, Splitter
from splitterfem.errors import DesignError
from splitterfem.live.figures import Figures, figures_of
from splitterfem.live.places import Range, movable, part_to_move, place_of, range_of
from splitterfem.units import quantity

STEPS_BACK = 50
"""Moves that can be undone."""

DIVISIONS = 14.0
"""Triangles along the longer side of the panel, at least, on the quick mesh."""

CHORD = 2e-3
"""Largest distance in m between a curved edge and its chords on the quick mesh."""

SAME = 1e-7
"""Moves shorter than this, in m, are none."""


class Trial:
    """A splitter whose parts are moved to see what comes of it, on one mesh that is coarser than its own.

    Parameters
    ----------
    splitter : Splitter
    case : str or LoadCase, optional
        A load case of the splitter by its name, or one of your own; the first one of the splitter when left out.
    mesh_size : length, optional
        Side of the triangles while parts are moved; when left out, 1/14 of the longer side of the panel, or that of
        the splitter's own mesh where it is coarser.

    Attributes
    ----------
    given : Splitter
        As it was at the start.
    case : LoadCase
    kept : Splitter
        As it was kept last; at the start the one given.
    before : Figures
        Of the one kept last, on the quick mesh.
    solution : Solution
        Of the design as it is now, on the quick mesh.

    Raises
    ------
    DesignError
        If there is no such load case, or nothing that could be moved.
    MeshError, MechanismError, SolveError
        If it cannot be solved as it is.
    """

    def __init__(
        self, splitter: Splitter, case: str | LoadCase | None = None, *, mesh_size: object = None
    ) -> None:
        if not movable(splitter):
            raise DesignError(
                "The splitter has neither ribs nor supports: there is nothing that could be moved."
            )
        self.given = self.kept = splitter
        self.case = _case(splitter, case)
        self.mesh = quick_mesh(splitter, mesh_size)
        self._first = self._model = api.build(splitter.with_(mesh=self.mesh))
        # The first change on a mesh cuts it into parts: better while the page opens than while somebody drags.
        self._first.for_design(self._first.design)
        self._start = self.solution = api.solve(self._model, self.case)
        self.before = self.now
        self._history: deque[Splitter] = deque(maxlen=STEPS_BACK)

    @property
    def now(self) -> Figures:
        """Sag, gap and mass of the design as it is now, on the quick mesh."""
        return figures_of(self.solution)

    @property
    def design(self) -> Splitter:
        """The design as it is now, with the mesh settings that the splitter was given with."""
        return self._model.design.with_(mesh=self.given.mesh)

    @property
    def quick(self) -> Splitter:
        """The design as it is now with the settings of the quick mesh."""
        return self._model.design

    @property
    def parts(self) -> tuple[str, ...]:
        """Names of the parts that can be moved; a mirrored pair has one."""
        return movable(self.quick)

    @property
    def started(self) -> Solution:
        """Solution of the splitter as it was given, on the quick mesh."""
        return self._start

    @property
    def can_undo(self) -> bool:
        """Whether there is a move to undo."""
        return bool(self._history)

    def place(self, name: str) -> tuple[float, float]:
        """Place (x, y) in m by which a part is moved: the mean of its points on the panel."""
        return place_of(part_to_move(self.quick, name))

    def reach(self, name: str) -> Range:
        """Places that a part can have with its points within the panel's extent."""
        return range_of(self.quick, part_to_move(self.quick, name))

    def move(self, name: str, *, x: object = None, y: object = None) -> Solution:
        """Bring a part to a place and solve; with an error, all stays as it was.

        Parameters
        ----------
        name : str
            Of the part; that of a mirrored pair moves both, the place being that of the half as given.
        x, y : length, optional
            Of its place, in words or in m, see :meth:`place`; as it is when left out.  A strut takes its upper end
            with it.

        Returns
        -------
        Solution
            On the quick mesh.

        Raises
        ------
        UnitError
            If a place cannot be read.
        DesignError
            If there is no such part, or it cannot be built there.
        MechanismError, SolveError
            If the panel is not held any more, or cannot be solved.
        """
        here = self.place(name)
        there = [
            old if given is None else float(quantity(given, "length", name=axis))
            for axis, given, old in zip("xy", (x, y), here, strict=True)
        ]
        dx, dy = there[0] - here[0], there[1] - here[1]
        if max(abs(dx), abs(dy)) > SAME:
            former = self.quick
            self._become(former.moved(name, dx=dx, dy=dy))
            self._history.append(former)
        return self.solution

    def undo(self) -> Solution:
        """Take the last move back.

        Raises
        ------
        DesignError
            If there is none.
        """
        if not self._history:
            raise DesignError("There is no move to undo: nothing has been moved since the start.")
        self._become(self._history[-1])
        self._history.pop()
        return self.solution

    def restart(self) -> Solution:
        """Go back to the splitter as it was given; this can be undone."""
        if self._model is not self._first:
            self._history.append(self.quick)
            self._model, self.solution = self._first, self._start
        return self.solution

    def keep(self) -> Splitter:
        """Keep the design as it is now: differences are told from it from now on.

        Returns
        -------
        Splitter
            With the mesh settings that the splitter was given with.
        """
        self.kept, self.before = self.design, self.now
        return self.kept

    def on_own_mesh(self, design: Splitter | None = None) -> Solution:
        """Solve a design on a mesh of its own, made for where its parts are.

        Parameters
        ----------
        design : Splitter, optional
            As it is now when left out.

        Raises
        ------
        MeshError, MechanismError, SolveError
            If it cannot be solved there.
        """
        return api.solve(self.design if design is None else design, self.case)

    def _become(self, design: Splitter) -> None:
        """Take another design on the same mesh; only when it is solved does anything change."""
        model = self._model.for_design(design)
        solution = api.solve(model, self.case)
        figures_of(solution)
        self._model, self.solution = model, solution


def quick_mesh(splitter: Splitter, size: object = None) -> MeshSettings:
    """Mesh settings on which moves are quick: coarser than the splitter's own where these are fine.

    Parameters
    ----------
    splitter : Splitter
    size : length, optional
        Side of the triangles; when left out, 1/14 of the longer side of the panel, or its own where that is more.
    """
    own = splitter.mesh
    chord = max(float(own.chord), CHORD)
    if size is not None:
        return own.with_(size=size, chord=chord)
    outline = curves.flatten(splitter.panel.outline.loop(), chord)
    longer = float((outline.max(axis=0) - outline.min(axis=0)).max())
    return own.with_(size=max(float(own.size), round(longer / DIVISIONS, 3)), chord=chord)


def _case(splitter: Splitter, case: str | LoadCase | None) -> LoadCase:
    if isinstance(case, LoadCase):
        return case
    if case is not None:
        return splitter.case(case)
    if not splitter.all_cases:
        raise DesignError("The splitter has no load case: say which one is to be solved.")
    return splitter.all_cases[0]
