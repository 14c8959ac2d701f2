"""The list of a job's operations. Each row shows an operation's number, status sign, name and progress."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from textual.content import Content

from core.jobs.job import JobOperation
from core.operations.registry import OPERATIONS
from core.values.plain_text import clean
from tui.glyphs import cut, glyphs_of
from tui.widgets.line_list import LineList
from tui.widgets.progress import BAR, LEAST_FOR_BAR, SIGNS, progress_words

if TYPE_CHECKING:
    # SQLite is loaded only after the first paint.
    from core.events.state import RunSummary

Runs = Mapping[str, "RunSummary"]
"""The newest run of each operation, by its name. An operation that was never started is missing."""

_LEAST_FOR_KIND = 90
_KIND = 24


class OperationList(LineList):
    """The list of a job's operations. Their progress is shown as soon as the log has been read."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._operations: Sequence[JobOperation] = ()
        self._runs: Runs | None = None

    def show_operations(self, operations: Sequence[JobOperation], runs: Runs | None) -> None:
        """Show these operations in the list.

        `runs`: the newest run of each operation; None until the log has been read.
        """
        self._operations, self._runs = operations, runs
        self.set_count(len(operations))

    @property
    def operation(self) -> JobOperation | None:
        """The operation under the cursor; None if the list is empty."""
        return self._operations[self.cursor] if self._operations else None

    def line(self, index: int, columns: int) -> Content:
        """Return the row of the operation at `index`, `columns` characters wide, as it is painted."""
        glyphs = glyphs_of(self.app)
        operation = self._operations[index]
        info = (self._runs or {}).get(operation.name)
        sign, state = " ", ""
        if self._runs is not None:
            sign = glyphs[SIGNS[info.status] if info else "open"]
            state = glyphs.text(progress_words(info, columns, glyphs))
        head = f"{operation.number:>{len(str(len(self._operations)))}} {sign} "
        room = columns - len(head) - len(state) - 2
        if columns >= LEAST_FOR_BAR:
            room = columns - len(head) - BAR - 2
        kind = ""
        if columns >= _LEAST_FOR_KIND:
            kind = f"{cut(OPERATIONS[operation.kind].title, _KIND - 2, glyphs['ellipsis']):<{_KIND}}"
            room -= _KIND
        room = max(room, 0)
        name = cut(glyphs.text(clean(operation.name)), room, glyphs["ellipsis"])
        style = "$text-muted" if info and info.status == "finished" else ""
        return Content.assemble((f"{head}{name:<{room}}  {kind}{state}", style))


def next_operation(operations: Sequence[JobOperation], runs: Runs, opened_last: str | None) -> int:
    """Return the index of the operation that the user will probably do next.

    This is the operation named `opened_last`, if there is one, and otherwise the first unfinished operation; 0 if all
    are finished. `runs`: the newest run of each operation.
    """
    for index, operation in enumerate(operations):
        if operation.name == opened_last:
            return index
    for index, operation in enumerate(operations):
        if operation.name not in runs or runs[operation.name].status != "finished":
            return index
    return 0
