"""What is drawn beside the counter's words: unasked where there is room, else by a key, or why there is nothing."""

from collections.abc import Callable
from typing import TYPE_CHECKING

from textual.containers import ScrollableContainer

if TYPE_CHECKING:
    from core.events.state import State
    from core.operations.registry import PlanInput
    from core.run.step_pictures import StepPicture, StepPictures
    from tui.counter.run_screen import RunScreen
    from tui.counter.step_sketch import StepSketch

LEGEND = "Solid: cut. Close dots: begun. Wide dots: to come. The number: the position at hand."
ASCII_LEGEND = "#: cut. +: begun. Numbers and dots: to come. In [ ]: the position at hand."
"""What the signs of a pattern mean during a run; RunPattern draws it."""

_ALWAYS_FROM = 116
"""Columns from which a picture is beside the number unasked: that is then as large as on a screen of 80 columns."""
_FACE_COLUMNS, _LEAST_FACE = 76, 42
"""What number and words keep there, and beside a picture on a smaller screen."""
_LEAST_SKETCH, _MOST_SKETCH = 30, 64
_AFTERWARDS_S = 0.03
"""How long after the words of a step its picture takes the place of the one before: two frames."""
_NO_ROOM = "The words of this step leave no room for its picture. A larger screen shows both."


class StepPicturePanel:
    """The pictures of a run's steps. Nothing of them is made before one is to be seen: a pass waits for none."""

    def __init__(self, counter: "RunScreen") -> None:
        self._counter = counter
        self._asked: bool | None = None
        """Whether pictures were asked for or sent away by key; None while nobody has."""
        self._asked_at: State | None = None
        self._sketch: StepSketch | None = None
        self._comes = False
        """Another picture is about to be shown."""
        self._pictures: StepPictures | None = None
        self._plan_input: PlanInput | None = None
        self._state: State | None = None
        self._picture: StepPicture | None = None

    @property
    def crowds(self) -> bool:
        """A picture is shown where there is little room for words beside it."""
        return self._shown and self._counter.size.width < _ALWAYS_FROM

    @property
    def _shown(self) -> bool:
        return self._sketch is not None and self._sketch.display

    def show(self, words_fit: Callable[[int], bool]) -> None:
        """Show the picture of the step at hand, where it is asked for or there is room.

        words_fit: tells whether all words of the step are in sight in so many columns.
        """
        columns = self._counter.size.width
        if not self._wanted(columns, words_fit):
            if self._sketch is not None:
                self._sketch.display = False
            return
        sketch, beside = self._made(), _beside(columns)
        sketch.styles.width = min(beside, _MOST_SKETCH) if beside >= _LEAST_SKETCH else columns
        if sketch.display:
            self._show_soon()
        else:
            sketch.show_picture(self.picture)
            sketch.display = True

    def _show_soon(self) -> None:
        """Show the next step's picture once what is logged is on the screen, which no picture may hold up."""
        if not self._comes:
            self._comes = True
            self._counter.set_timer(_AFTERWARDS_S, self._show_latest)

    def _show_latest(self) -> None:
        """Show the picture of the step that is at hand by now."""
        self._comes = False
        if self._sketch is not None and self._shown:
            self._sketch.show_picture(self.picture)

    def _wanted(self, columns: int, words_fit: Callable[[int], bool]) -> bool:
        """Tell whether the step's picture is shown now."""
        wide = columns >= _ALWAYS_FROM
        if _beside(columns) < _LEAST_SKETCH and self._asked_at is not self._counter.state:
            # It would lie over the words: those of another step come first.
            return False
        if self._asked is False or (self._asked is None and not wide and self._counter.view.dial):
            return False
        if not self.picture:
            return False
        drawing = self.picture.drawing
        unasked = wide or (drawing is not None and drawing.shown_unasked)
        return bool(self._asked or unasked) and (wide or _beside(columns) < _LEAST_SKETCH or words_fit(_LEAST_FACE))

    @property
    def picture(self) -> "StepPicture":
        """The picture of the step at hand; worked out once for each state."""
        from core.run.step_pictures import StepPictures

        counter = self._counter
        if self._pictures is None or self._plan_input is not counter.plan_input:
            self._plan_input, self._pictures, self._state = counter.plan_input, StepPictures(counter.plan_input), None
        if self._picture is None or self._state is not counter.state:
            self._state, self._picture = counter.state, self._pictures(counter.state)
        return self._picture

    def switch(self, show: Callable[[], None]) -> str:
        """Show the picture, or send it away; return what to say, such as why this step has none."""
        if not self.picture:
            return self.picture.why_none
        self._asked, self._asked_at = not self._shown, self._counter.state
        show()
        return "" if self._asked == self._shown else _NO_ROOM

    def _made(self) -> "StepSketch":
        if self._sketch is None:
            from tui.counter.step_sketch import StepSketch

            self._sketch = StepSketch(id="sketch")
            self._counter.query_one("#body", ScrollableContainer).mount(self._sketch)
        return self._sketch


def _beside(columns: int) -> int:
    """Return how many columns number and words leave to a picture."""
    return columns - (_FACE_COLUMNS if columns >= _ALWAYS_FROM else _LEAST_FACE)
