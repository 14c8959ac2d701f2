"""The picture beside the counter's words.

It is shown if there is room or a key asks for it; else a message says why not.
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

LEGEND = "Solid: cut. Close dots: started. Wide dots: to come. The number: the present position."
ASCII_LEGEND = "*: cut. +: started. Dots: to come. # and [ ]: the present position."
"""What the signs of a pattern mean during a run, on a terminal with plain characters only."""
WOOD_LEGEND = (
    "Shaded: cut, the darker the deeper. Close dots: started. Wide dots: to come. The number: the present position. "
    "Key . shows it on the whole screen."
)
ASCII_WOOD_LEGEND = (
    ": to @: cut, @ the deepest. Dots: to come. [ ]: the present position. Key . shows it on the whole screen."
)
"""The same for wood, shaded by depth."""

_ALWAYS_FROM = 116
"""The fewest columns at which a picture is shown beside the number without a key.

The number is then as large as on 80 columns.
"""
_FACE_COLUMNS, _LEAST_FACE = 76, 42
"""How many columns number and words have there, and how many beside a picture on a smaller screen."""
_LEAST_SKETCH, _MOST_SKETCH = 30, 64
_AFTERWARDS_S = 0.03
"""How long after the words of a step its picture is shown [s]: two frames."""
_NO_ROOM = "The words of this step leave no room for its picture. Enlarge the terminal to see both."


class StepPicturePanel:
    """The pictures of a run's steps. None is made before it is shown, so that no pass waits for one."""

    def __init__(self, counter: "RunScreen") -> None:
        self._counter = counter
        self._asked: bool | None = None
        """True if a key showed pictures, False if a key hid them, None before that."""
        self._asked_at: State | None = None
        self._sketch: StepSketch | None = None
        self._comes = False
        """True while another picture is about to be shown."""
        self._pictures: StepPictures | None = None
        self._plan_input: PlanInput | None = None
        self._state: State | None = None
        self._picture: StepPicture | None = None

    @property
    def crowds(self) -> bool:
        """True if a picture leaves little room for words beside it."""
        return self._shown and self._counter.size.width < _ALWAYS_FROM

    @property
    def _shown(self) -> bool:
        return self._sketch is not None and self._sketch.display

    def show(self, words_fit: Callable[[int], bool]) -> None:
        """Show the picture of the current step, if a key asked for it or there is room.

        words_fit: returns whether all words of the step fit in so many columns.
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
        """Show the picture of the next step once the screen says what is logged, which no picture may delay."""
        if not self._comes:
            self._comes = True
            self._counter.set_timer(_AFTERWARDS_S, self._show_latest)

    def _show_latest(self) -> None:
        """Show the picture of the step that is the current one by now."""
        self._comes = False
        if self._sketch is not None and self._shown:
            self._sketch.show_picture(self.picture)

    def _wanted(self, columns: int, words_fit: Callable[[int], bool]) -> bool:
        """Return whether the step's picture is shown now."""
        wide = columns >= _ALWAYS_FROM
        if _beside(columns) < _LEAST_SKETCH and self._asked_at is not self._counter.state:
            # The picture would cover the words, and those of a new step come first.
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
        """The picture of the current step. It is made once for each state of the run."""
        from core.run.step_pictures import StepPictures

        counter = self._counter
        if self._pictures is None or self._plan_input is not counter.plan_input:
            self._plan_input, self._pictures, self._state = counter.plan_input, StepPictures(counter.plan_input), None
        if self._picture is None or self._state is not counter.state:
            self._state, self._picture = counter.state, self._pictures(counter.state)
        return self._picture

    def switch(self, show: Callable[[], None]) -> str:
        """Show or hide the picture. Return a message, such as why this step has none."""
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
    """Return how many columns the number and the words leave for a picture."""
    return columns - (_FACE_COLUMNS if columns >= _ALWAYS_FROM else _LEAST_FACE)
