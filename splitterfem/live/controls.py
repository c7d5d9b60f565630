"""Sliders and buttons of the page, and what they show; they decide nothing."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from splitterfem.errors import MissingExtraError
from splitterfem.live.trial import Trial
from splitterfem.output.wording import Words
from splitterfem.units import convert, quantity

STEPS = {"mm": 5.0, "in": 0.25}
"""Steps of the sliders."""


class Controls:
    """Widgets to choose a part, to slide it, to choose a picture, and to go back.

    Parameters
    ----------
    trial : Trial
    words : Words
        Units for people.
    kinds : sequence of str
        Pictures to choose from.

    Attributes
    ----------
    part, kind : Dropdown, ToggleButtons
    x, y : FloatSlider
        Place of the part in the unit of people; they act when they are let go.
    undo, restart, keep, check : Button
    box : VBox
        All of them, to be shown.
    silent : bool
        Whether the widgets are being set by the page, so that events are none of the user's.

    Raises
    ------
    MissingExtraError
        If ipywidgets is not installed.
    """

    def __init__(self, trial: Trial, words: Words, *, kinds: Sequence[str]) -> None:
        widgets = widgets_of_notebooks()
        self._trial, self._unit = trial, words.size
        self.silent = False
        self.part = widgets.Dropdown(
            options=trial.parts, description="Part", layout={"width": "auto", "min_width": "260px"}
        )
        self.x, self.y = (_slider(widgets, text, self._unit) for text in ("x, forward", "y, to the left"))
        self.kind = widgets.ToggleButtons(
            options=list(kinds), description="Picture", style={"button_width": "auto"}
        )
        self.undo = _button(widgets, "Undo", "take the last move back")
        self.restart = _button(widgets, "Start over", "back to the design as it was given")
        self.keep = _button(widgets, "Keep", "make this the design of the page, and tell changes from it")
        self.check = _button(
            widgets, "Check", "solve on a mesh made for this design and find what is weakest"
        )
        buttons = widgets.HBox(
            [self.undo, self.restart, self.keep, self.check], layout={"flex_flow": "row wrap"}
        )
        self.box = widgets.VBox([self.part, self.x, self.y, buttons, self.kind])
        self.choose(self.part.value)

    def choose(self, name: str) -> None:
        """Choose a part and bring the sliders to its place and its reach."""
        x, y = self._trial.place(name)
        reach = self._trial.reach(name)
        with self._silently():
            self.part.value = name
            self._set(self.x, x, reach.x)
            self._set(self.y, y, reach.y)

    def show_kind(self, kind: str) -> None:
        """Let the choice of pictures show the one that is there."""
        with self._silently():
            self.kind.value = kind

    def place(self) -> tuple[float, float]:
        """Place (x, y) in m that the sliders show."""
        return (
            quantity(f"{self.x.value!r} {self._unit}", "length"),
            quantity(f"{self.y.value!r} {self._unit}", "length"),
        )

    def _set(self, slider: Any, place: float, ends: tuple[float, float]) -> None:
        """Give a slider its place and its ends; these are whole steps away, so that the place is one of its own."""
        step = STEPS[self._unit]
        value = round(convert(place, self._unit), 6)
        low, high = (convert(end, self._unit) for end in ends)
        low = value - step * math.floor((value - low) / step + 1e-9)
        high = value + step * math.floor((high - value) / step + 1e-9)
        slider.min, slider.max = min(slider.min, low), max(slider.max, high)
        slider.value = value
        slider.min, slider.max = low, high
        slider.disabled = high - low < step

    @contextmanager
    def _silently(self) -> Iterator[None]:
        before, self.silent = self.silent, True
        try:
            yield
        finally:
            self.silent = before


def widgets_of_notebooks() -> Any:
    """Import ipywidgets.

    Raises
    ------
    MissingExtraError
        If it is not installed.
    """
    try:
        import ipywidgets
    except ImportError:
        raise MissingExtraError(
            "The live page needs ipywidgets: install it with  pip install 'splitterfem[notebook]'  or move parts with "
            "model.moved(...) in the meantime."
        ) from None
    return ipywidgets


def _slider(widgets: Any, text: str, unit: str) -> Any:
    return widgets.FloatSlider(
        description=f"{text} ({unit})",
        step=STEPS[unit],
        readout_format=".0f" if unit == "mm" else ".2f",
        continuous_update=False,
        style={"description_width": "130px"},
        layout={"width": "auto", "max_width": "760px"},
    )


def _button(widgets: Any, text: str, tip: str) -> Any:
    return widgets.Button(description=text, tooltip=tip, layout={"width": "auto"})
