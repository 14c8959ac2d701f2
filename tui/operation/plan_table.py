"""The list of a plan's steps: for each step its number, the instruction, and the depth that a cut takes off."""

from collections.abc import Sequence

from textual.content import Content

from core.lathe.lathe import Lathe
from core.operations.pass_words import amount_words
from core.plan import Step
from core.values.plain_text import clean
from tui.glyphs import cut, glyphs_of, shortened
from tui.widgets.line_list import LineList

_LEAST_WORDS = 34
"""The fewest columns for instructions. With fewer columns the depths are not shown."""


class PlanTable(LineList):
    """The list of steps of any plan."""

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:
        super().__init__(id=id, classes=classes)
        self._steps: Sequence[Step] = ()
        self._lathe: Lathe | None = None

    def show_plan(self, steps: Sequence[Step], lathe: Lathe) -> None:
        """Show steps with the depth that each cut takes off, in the units of the lathe's dials."""
        self._steps, self._lathe = steps, lathe
        self.set_count(len(steps))

    @property
    def step(self) -> Step | None:
        """The selected step."""
        return self._steps[self.cursor] if self._steps else None

    def search_text(self, index: int) -> str:
        """Return the full text of one step, including the depth that it takes off."""
        step = self._steps[index]
        return glyphs_of(self.app).text(f"{index + 1} {step.text} {self._amounts(step)}")

    def line(self, index: int, columns: int) -> Content:
        """Return the row for one step."""
        glyphs = glyphs_of(self.app)
        step = self._steps[index]
        caution = glyphs["caution"] if step.cautions else " "
        head = f"{index + 1:>{len(str(len(self._steps)))}} {caution} "
        words, amounts = glyphs.text(clean(step.text)), glyphs.text(self._amounts(step))
        room = columns - len(head)
        if amounts and room - len(amounts) - 2 >= min(len(words), _LEAST_WORDS):
            room -= len(amounts) + 2
            words = f"{cut(words, room, glyphs['ellipsis']):<{room}}  {amounts}"
        if len(words) > columns - len(head):
            # The whole text is below the list.
            words = glyphs.text(clean(step.name))
        return Content(head + shortened(words, columns - len(head)))

    def _amounts(self, step: Step) -> str:
        """Return the depth that a cut takes off and the depth that remains, in the unit of the dial."""
        return "" if self._lathe is None else amount_words(step, self._lathe)
