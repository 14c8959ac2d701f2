"""The list of a plan's steps. Each row has the step's number, its instruction, and the depth that the cut removes."""

import re
from collections.abc import Sequence

from textual.content import Content

from core.lathe.lathe import Lathe
from core.operations.pass_words import amount_words
from core.plan import Step
from core.values.plain_text import clean
from tui.glyphs import glyphs_of, shortened
from tui.widgets.line_list import LineList

_ENDS = re.compile(r"[.,;] ")
"""Where the text of a step may end in the list, so that no dial reading is cut off in the middle."""


class PlanTable(LineList):
    """The list of a plan's steps, one step in each row."""

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:
        super().__init__(id=id, classes=classes)
        self._steps: Sequence[Step] = ()
        self._lathe: Lathe | None = None

    def show_plan(self, steps: Sequence[Step], lathe: Lathe) -> None:
        """Show the steps of a plan. Depths are in the units of the lathe's dials."""
        self._steps, self._lathe = steps, lathe
        self.set_count(len(steps))

    @property
    def step(self) -> Step | None:
        """The selected step; None if there are no steps."""
        return self._steps[self.cursor] if self._steps else None

    def search_text(self, index: int) -> str:
        """Return the text of a step for a search: its number, its instruction, and the depth that the cut removes."""
        step = self._steps[index]
        return glyphs_of(self.app).text(f"{index + 1} {step.text} {self._amounts(step)}")

    def line(self, index: int, columns: int) -> Content:
        """Return the row for a step, at most `columns` wide."""
        glyphs = glyphs_of(self.app)
        step = self._steps[index]
        caution = glyphs["caution"] if step.cautions else " "
        head = f"{index + 1:>{len(str(len(self._steps)))}} {caution} "
        words, amounts = glyphs.text(clean(step.text)), glyphs.text(self._amounts(step))
        room = columns - len(head)
        if len(words) > room:
            # The whole text is below the list.
            words = _whole_parts(words, room) or glyphs.text(clean(step.name))
        if amounts and len(words) + 2 + len(amounts) <= room:
            words = f"{words:<{room - len(amounts) - 2}}  {amounts}"
        return Content(head + shortened(words, room))

    def _amounts(self, step: Step) -> str:
        return "" if self._lathe is None else amount_words(step, self._lathe)


def _whole_parts(words: str, columns: int) -> str:
    """Return as many whole sentences or clauses of a text as fit into `columns` columns; "" if none fits.

    >>> _whole_parts("Cross-slide to 1 turn and 0.45 mm, then feed. Withdraw.", 40)
    'Cross-slide to 1 turn and 0.45 mm'
    """
    ends = [match.start() for match in _ENDS.finditer(words) if match.start() <= columns]
    return words[: ends[-1]] if ends else ""
