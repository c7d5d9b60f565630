"""The page: sliders and buttons that move parts of a trial, its figures and its picture below them."""

from __future__ import annotations

import asyncio
import html
from collections.abc import Callable
from typing import Any, Literal

from splitterfem.analysis import Solution
from splitterfem.design import Splitter
from splitterfem.errors import SplitterError
from splitterfem.live.controls import Controls
from splitterfem.live.figures import (
    check_words,
    figures_of,
    figures_table,
    length_words,
    mesh_words,
    sentence,
)
from splitterfem.live.pace import NEWEST, REST, Waiting, running_loop
from splitterfem.live.pictures import QUICK, SLOW, Easel
from splitterfem.live.trial import Trial
from splitterfem.output.wording import ratio_words, words_for


class Page:
    """A trial with its sliders and buttons; what goes wrong is said on it, and the last good picture stays.

    Parameters
    ----------
    trial : Trial
    units : {"metric", "us"}
    check_at_rest : bool
        See :func:`splitterfem.live.explore`.

    Attributes
    ----------
    trial : Trial
        What is moved; it knows nothing of the page.
    controls : Controls
        The widgets.
    figures : str
        HTML of the figures and of what there is to say.
    png : bytes
        The picture.
    message : str
        What was said last; empty when there is nothing to say.
    checked : str
        What came out on a mesh made for the design as it is now; empty until that is known.

    Raises
    ------
    MissingExtraError
        If ipywidgets is not installed.
    UnitError
        If there are no such units.
    """

    def __init__(
        self, trial: Trial, *, units: Literal["metric", "us"] = "metric", check_at_rest: bool = False
    ) -> None:
        self.trial = trial
        self.checked = ""
        self._check_at_rest = check_at_rest
        self._slide, self._rest = Waiting(NEWEST), Waiting(REST)
        self._aside: asyncio.Future[Solution] | None = None
        self.words = words_for(units)
        self.message, self._tone = "", "note"
        self._kind = QUICK[0]
        self._drawn: dict[str, bytes] = {}
        self._easel = Easel(trial, self.words.size)
        self._handles: tuple[Any, Any] | None = None
        self.controls = Controls(trial, self.words, kinds=(*QUICK, *SLOW))
        self.figures, self.png = "", b""
        self._sent = b""
        self._draw()
        self._connect()

    @property
    def design(self) -> Splitter:
        """The splitter as it was kept last, with the mesh settings that it was given with."""
        return self.trial.kept

    def move(self, name: str, *, x: object = None, y: object = None) -> Page:
        """Move a part as its sliders would, see :meth:`splitterfem.live.trial.Trial.move`; errors are raised."""
        self._slide.now()
        self.trial.move(name, x=x, y=y)
        self.controls.choose(name)
        self._moved()
        return self

    def show(self, kind: str) -> Page:
        """Show another picture: "sag", "clearance", "push map", "rib gain" or "strut gain"; errors are raised."""
        self._show(kind)
        self.controls.show_kind(self._kind)
        return self

    def _connect(self) -> None:
        on = self.controls
        on.part.observe(self._guarded(lambda change: self._choose()), names="value")
        for slider in (on.x, on.y):
            slider.observe(lambda change: self._slides(), names="value")
        on.kind.observe(self._guarded(lambda change: self._show(change["new"])), names="value")
        on.undo.on_click(self._guarded(lambda _: self._back(self.trial.undo)))
        on.restart.on_click(self._guarded(lambda _: self._back(self.trial.restart)))
        on.keep.on_click(self._guarded(lambda _: self.keep()))
        on.check.on_click(self._guarded(lambda _: self._check()))

    def _guarded(self, action: Callable[[Any], object]) -> Callable[[Any], None]:
        """Let an event act; what goes wrong is said on the page, for nobody sees the errors of events."""

        def act(event: Any) -> None:
            if self.controls.silent:
                return
            self._slide.now()
            self._act(lambda: action(event))

        return act

    def _act(self, action: Callable[[], object]) -> None:
        try:
            action()
        except SplitterError as error:
            self._say(str(error), "trouble")
        except Exception as error:
            self._say(f"This should not have happened: {type(error).__name__}: {error}", "trouble")

    def _choose(self) -> None:
        self.controls.choose(self.controls.part.value)
        self._draw()

    def _slides(self) -> None:
        """Let a place of the sliders wait for a newer one, so that moves do not queue."""
        if not self.controls.silent:
            name, place = self.controls.part.value, self.controls.place()
            self._slide.put(lambda: self._act(lambda: self._slid(name, place)))

    def _slid(self, name: str, place: tuple[float, float]) -> None:
        x, y = place
        try:
            self.trial.move(name, x=x, y=y)
        except SplitterError as error:
            here = self.words.place(self.trial.place(name))
            raise type(error)(
                f"Not moved, figures and picture are those with '{name}' at x, y {here} {self.words.size}: {error}"
            ) from None
        self._moved()
        self._rests()

    def _back(self, step: Callable[[], object]) -> None:
        step()
        self.controls.choose(self.controls.part.value)
        self._moved()
        self._rests()

    def _rests(self) -> None:
        """Check the design in a thread once nothing has moved for a while, if that is wanted."""
        if self._check_at_rest and running_loop() is not None:
            self._rest.put(lambda: self._act(self._check_aside))

    def _check_aside(self) -> None:
        if self._aside is not None and not self._aside.done():
            self._rests()  # one at a time
            return
        quick, design = self.trial.quick, self.trial.design
        self._aside = asyncio.get_running_loop().run_in_executor(None, self.trial.on_own_mesh, design)
        self._aside.add_done_callback(lambda found: self._act(lambda: self._checked(quick, found)))

    def _checked(self, quick: Splitter, found: asyncio.Future[Solution]) -> None:
        """Tell what the check has found, unless a part has been moved since."""
        own = found.result()
        if self.trial.quick is quick:
            self.checked = check_words(figures_of(own), self.trial.now, self.words, self.trial.given.mesh)
            self._tell()

    def keep(self) -> Splitter:
        """Keep the design as it is now, as the button does: changes are told from it."""
        self._slide.now()
        self.trial.keep()
        self._drawn.clear()
        self._draw()
        self._say("Kept: the design of this page is now as you see it, and changes are told from it.")
        return self.design

    def _check(self) -> None:
        """Solve on a mesh made for the design, and say how far the figures are from those and what is weakest."""
        self._say("Solving on a mesh made for this design ...")
        own = self.trial.on_own_mesh()
        text = check_words(figures_of(own), self.trial.now, self.words, self.trial.given.mesh)
        if len(own.utilisation):
            worst = own.utilisation.iloc[0]
            ratio = ratio_words(float(worst["ratio"]))
            text += f" Weakest is '{worst['part']}', {worst['mode']}: {ratio} of what is allowed."
        self._say(text)

    def _moved(self) -> None:
        """Tell the figures first, then draw; a picture that takes seconds gives way to that of the sag."""
        self._drawn.clear()
        self.message = self.checked = ""
        self._tell()
        if self._kind in SLOW:
            self._kind = QUICK[0]
            self.controls.show_kind(self._kind)
        self._draw()

    def _show(self, kind: str) -> None:
        if kind in SLOW and kind not in self._drawn:
            self._say(f"Drawing the {kind}: this takes some seconds ...")
        try:
            self.png = self._picture(kind)
        except Exception:
            self.controls.show_kind(self._kind)
            raise
        self._kind, self.message = kind, ""
        self._tell()

    def _draw(self) -> None:
        self.png = self._picture(self._kind)
        self._tell()

    def _picture(self, kind: str) -> bytes:
        chosen = self.controls.part.value
        key = kind if kind in SLOW else f"{kind}, {chosen}"
        if key not in self._drawn:
            self._drawn[key] = self._easel.picture(kind, chosen=chosen)
        return self._drawn[key]

    def _say(self, text: str, tone: str = "note") -> None:
        self.message, self._tone = text, tone
        self._tell()

    def _tell(self) -> None:
        """Write the figures, and bring figures and picture to the notebook when it shows the page."""
        trial, words = self.trial, self.words
        said = sentence(self.message, self._tone) if self.message else ""
        about = mesh_words(trial.case.name, trial.mesh, trial.given.mesh, words, checked=self.checked)
        self.figures = f"{figures_table(trial.now, trial.before, words)}{said}<div>{html.escape(about)}</div>"
        self.controls.undo.disabled = not trial.can_undo
        if self._handles is not None:
            from IPython.display import HTML, Image

            figures, shown = self._handles
            figures.update(HTML(self.figures))
            if self.png is not self._sent:
                shown.update(Image(self.png, format="png"))
                self._sent = self.png

    def _ipython_display_(self) -> None:
        """Show controls, figures and picture, these two as outputs that stay in a saved notebook."""
        from IPython.display import HTML, Image, display

        shown = dict(self.controls.box._repr_mimebundle_())
        shown["text/plain"] = "(run this cell to move parts by sliders)"
        display(shown, raw=True)
        self._sent = self.png
        self._handles = (
            display(HTML(self.figures), display_id=True),
            display(Image(self.png, format="png"), display_id=True),
        )

    def __repr__(self) -> str:
        """Write splitter, load case and figures on one line."""
        now, words = self.trial.now, self.words
        return (
            f"Page of '{self.trial.given.name}', {self.trial.case.name}: worst sag {length_words(now.sag, words)}, "
            f"least clearance {length_words(now.gap, words)}"
        )
