"""The steps of a plan, one a line: number, status, what to do, what a cut takes off."""

from collections.abc import Callable, Sequence

from textual.content import Content

from core.events.state import StepStatus
from core.lathe.lathe import Lathe
from core.operations.pass_words import amount_words
from core.plan import Step
from core.values.plain_text import clean
from tui.glyphs import cut, glyphs_of, shortened
from tui.widgets.line_list import LineList

_LEAST_WORDS = 34
"""If the words of a step have fewer columns than this, the amounts are not shown."""


def all_open(step_id: int) -> StepStatus:
    """Return "open": the status of every step of a plan that is not started."""
    return "open"


class PlanTable(LineList):
    """Shows the steps of any plan. The present step is marked by word and sign."""

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:
        super().__init__(id=id, classes=classes)
        self._steps: Sequence[Step] = ()
        self._lathe: Lathe | None = None
        self._status_of: Callable[[int], StepStatus] = all_open
        self._current: int | None = None
        self._begun = True

    def show_plan(
        self,
        steps: Sequence[Step],
        lathe: Lathe,
        status_of: Callable[[int], StepStatus] = all_open,
        current: int | None = None,
        *,
        begun: bool = True,
    ) -> None:
        """Show steps. `status_of` returns the status of a step id; `current` is the id of the present step.

        If `begun` is false, no status is shown. When another step becomes the present one, the cursor goes to it.
        """
        moved_on = current != self._current
        self._steps, self._lathe = steps, lathe
        self._status_of, self._current, self._begun = status_of, current, begun
        self.set_count(len(steps))
        if moved_on and current is not None:
            self.cursor = next((row for row, step in enumerate(steps) if step.id == current), 0)

    @property
    def step(self) -> Step | None:
        """The step under the cursor."""
        return self._steps[self.cursor] if self._steps else None

    def line(self, index: int, columns: int) -> Content:
        """Return the line of one step."""
        glyphs = glyphs_of(self.app)
        step = self._steps[index]
        status = self._status_of(step.id)
        word, sign = ("now", "current") if step.id == self._current else (status, status)
        caution = glyphs["caution"] if step.cautions else " "
        standing = f"{glyphs[sign]} {word:<7} " if self._begun else ""
        head = f"{index + 1:>{len(str(len(self._steps)))}} {standing}{caution} "
        words, amounts = glyphs.text(clean(step.text)), glyphs.text(self._amounts(step))
        room = columns - len(head)
        if amounts and room - len(amounts) - 2 >= min(len(words), _LEAST_WORDS):
            room -= len(amounts) + 2
            words = f"{cut(words, room, glyphs['ellipsis']):<{room}}  {amounts}"
        if len(words) > columns - len(head):
            # The whole text is below the list.
            words = glyphs.text(clean(step.name))
        style = "bold" if word == "now" else "" if status == "open" else "$text-muted"
        return Content.assemble((head + shortened(words, columns - len(head)), style))

    def _amounts(self, step: Step) -> str:
        """Return what a cut takes off and leaves, in the unit of its dial."""
        return "" if self._lathe is None else amount_words(step, self._lathe)
