"""The picture of the current step, next to the counter's text.

The picture is shown if there is enough room, or if the user asks for it with a key. If the text leaves too little room
for a picture, a message says so.
"""

from collections.abc import Callable
from typing import TYPE_CHECKING

from textual.containers import ScrollableContainer

if TYPE_CHECKING:
    from core.events.state import State
    from core.operations.registry import PlanInput
    from core.run.step_pictures import StepPicture, StepPictures
    from tui.counter.run_screen import RunScreen
    from tui.counter.step_sketch import StepSketch

LEGEND = "Solid: cut. Close dots: started. Wide dots: planned. Number: present position."
ASCII_LEGEND = "*: cut. +: started. Dots: planned. # and [ ]: present position."
"""The legend of a pattern during a run, for a terminal with plain characters only."""
WOOD_LEGEND = (
    "Shaded: cut, darker where deeper. Close dots: started. Wide dots: planned. Number: present position. Press "
    ". to see the pattern on the whole screen."
)
ASCII_WOOD_LEGEND = (
    ": to @: cut, @ deepest. Dots: planned. [ ]: present position. Press . to see the pattern on the whole screen."
)
"""Legends of a pattern shown as wood: for a full terminal, and for plain characters."""

_ALWAYS_FROM = 116
"""The smallest screen width [columns] at which a picture is shown without a key.

The big number is then as large as on a screen of 80 columns.
"""
_FACE_COLUMNS, _LEAST_FACE = 76, 42
"""The columns for the number and its text next to a picture: on a wide screen, and on a smaller screen."""
_LEAST_SKETCH, _MOST_SKETCH = 30, 64
_NARROWER = 2
"""By how many columns a picture is made narrower in each try, until the text fits next to it."""
_AFTERWARDS_S = 0.03
"""The delay from the text of a step to its picture [s]: two frames."""
NO_ROOM = "The text of this step leaves no room for a picture. Enlarge the terminal to see both."


class StepPicturePanel:
    """Shows pictures of the steps of a run. A picture is made only when it is shown, so no pass waits for one."""

    def __init__(self, counter: "RunScreen") -> None:
        self._counter = counter
        self._asked: bool | None = None
        """True if the user showed pictures with a key, False if the user hid them, None without a key."""
        self._asked_at: State | None = None
        self._sketch: StepSketch | None = None
        self._comes = False
        """True while a picture waits to be shown."""
        self._pictures: StepPictures | None = None
        self._plan_input: PlanInput | None = None
        self._state: State | None = None
        self._picture: StepPicture | None = None

    @property
    def crowds(self) -> bool:
        """True if the picture leaves so little room that the text has to be shortened."""
        return self._shown and self._counter.size.width < _ALWAYS_FROM

    @property
    def columns(self) -> int:
        """The width of the picture in columns; 0 while it is hidden."""
        width = self._sketch.styles.width if self._sketch is not None and self._shown else None
        return 0 if width is None else int(width.value)

    @property
    def _shown(self) -> bool:
        return self._sketch is not None and self._sketch.display

    def show(self, words_fit: Callable[[int], bool]) -> None:
        """Show the current step's picture if the user asked for it or there is room for it; otherwise hide the picture.

        `words_fit`: a function that returns whether the step's text fits a given width [columns].
        """
        width = self._width(words_fit) if self._wanted else None
        if width is None:
            if self._sketch is not None:
                self._sketch.display = False
            return
        sketch = self._made()
        sketch.styles.width = width
        if sketch.display:
            self._show_soon()
        else:
            sketch.show_picture(self.picture)
            sketch.display = True

    def _show_soon(self) -> None:
        """Show the next step's picture a little later, so that it does not delay the text."""
        if not self._comes:
            self._comes = True
            self._counter.set_timer(_AFTERWARDS_S, self._show_latest)

    def _show_latest(self) -> None:
        self._comes = False
        if self._sketch is not None and self._shown:
            self._sketch.show_picture(self.picture)

    def _width(self, words_fit: Callable[[int], bool]) -> int | None:
        """Return the width of the picture [columns]; None if the text of the step leaves no room for it."""
        columns = self._counter.size.width
        beside = min(_beside(columns), _MOST_SKETCH)
        if beside < _LEAST_SKETCH:
            return columns
        return beside if columns >= _ALWAYS_FROM else widest(beside, _LEAST_SKETCH, columns, words_fit)

    @property
    def _wanted(self) -> bool:
        """True if the user asked for the current step's picture, or if this picture is shown unasked."""
        columns = self._counter.size.width
        wide = columns >= _ALWAYS_FROM
        if _beside(columns) < _LEAST_SKETCH and self._asked_at is not self._counter.state:
            # A picture would cover the words, and a new step must show its words first.
            return False
        if self._asked is False or (self._asked is None and not wide and self._counter.view.dial):
            return False
        if not self.picture:
            return False
        drawing = self.picture.drawing
        return bool(self._asked) or wide or (drawing is not None and drawing.shown_unasked)

    @property
    def picture(self) -> "StepPicture":
        """The picture of the current step. It is made once for each state of the run."""
        from core.run.step_pictures import StepPictures

        counter = self._counter
        if self._pictures is None or self._plan_input is not counter.plan_input:
            self._plan_input, self._pictures, self._state = counter.plan_input, StepPictures(counter.plan_input), None
        if self._picture is None or self._state is not counter.state:
            self._state, self._picture = counter.state, self._pictures(counter.state)
        return self._picture

    def switch(self, show: Callable[[], None]) -> str:
        """Show the picture if it is hidden, otherwise hide it. `show`: a function that arranges the screen again.

        Return the reason why the picture cannot be shown; "" if it was shown or hidden.
        """
        if not self.picture:
            return self.picture.why_none
        self._asked, self._asked_at = not self._shown, self._counter.state
        show()
        return "" if self._asked == self._shown else NO_ROOM

    def _made(self) -> "StepSketch":
        if self._sketch is None:
            from tui.counter.step_sketch import StepSketch

            self._sketch = StepSketch(id="sketch")
            self._counter.query_one("#body", ScrollableContainer).mount(self._sketch)
        return self._sketch


def widest(most: int, least: int, screen_columns: int, words_fit: Callable[[int], bool]) -> int | None:
    """Return the greatest width of a picture that leaves enough room for the text; None if no width does.

    `most`, `least`: the limits of the picture's width. `words_fit`: a function that returns whether the text fits a
    given width. All widths are in columns.
    """
    return next((width for width in range(most, least - 1, -_NARROWER) if words_fit(screen_columns - width)), None)


def _beside(columns: int) -> int:
    """Return how many of the screen's columns the number and its text leave for a picture."""
    return columns - (_FACE_COLUMNS if columns >= _ALWAYS_FROM else _LEAST_FACE)
