"""Shows the progress of the selected operation, and as many of its figures as fit on the board."""

from typing import TYPE_CHECKING

from textual.content import Content

from core.jobs.job import JobOperation
from core.operations.form import Figure
from core.operations.registry import OPERATIONS
from core.pages.figure_words import lines_for
from core.values.plain_text import clean, counted, wrapped
from tui.context import context_of
from tui.glyphs import glyphs_of
from tui.widgets.figure_list import figure_contents
from tui.widgets.pager import Pager

if TYPE_CHECKING:
    from core.events.state import RunSummary


class OperationDetail(Pager, can_focus=False):
    """Shows the kind, progress and figures of one operation. Figures that do not fit are left out."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(self._written, id=id)
        self._operation: JobOperation | None = None
        self._info: RunSummary | None = None
        self._log_is_read = False

    def show_operation(self, operation: JobOperation | None, info: "RunSummary | None", *, log_is_read: bool) -> None:
        """Show an operation and its progress. `operation`: None to clear the widget.

        `info`: the newest run of the operation; None if it has no run. `log_is_read`: False while the log is still
        being read, when no progress can be shown.
        """
        self._operation, self._info, self._log_is_read = operation, info, log_is_read
        self.show(self._written)

    def _written(self, columns: int) -> list[Content]:
        operation = self._operation
        if operation is None:
            return []
        glyphs = glyphs_of(self.app)
        lines = [Content.styled(glyphs.text(OPERATIONS[operation.kind].title), "bold $text-primary")]
        for sentence in self._standing(operation):
            lines += [Content(line) for line in wrapped(glyphs.text(clean(sentence)), columns)]
        figures, names = operation.plan.figures, operation.figure_names
        if self._log_is_read and "estimated_time_s" in figures:
            from tui.operation.divide_figures import at_pace

            figures, names = at_pace(operation, context_of(self).log.pace)
        shown = lines_for(operation.plan_input.lathe, figures, names=names)
        lines += figure_contents([Figure(*line) for line in shown], columns, glyphs)
        rows = self.size.height
        if len(lines) > rows > 1:
            lines[rows - 1 :] = [Content.styled("Press c to see the whole card.", "$text-muted")]
        return lines

    def _standing(self, operation: JobOperation) -> list[str]:
        """Return sentences about an operation's progress, and about files changed since its run was started."""
        steps = counted(len(operation.plan.steps), "step")
        if self._info is None:
            return [f"{steps}, not started." if self._log_is_read else f"{steps}."]
        # This module is loaded with the log, after the first paint.
        from core.run.event_words import run_progress_words
        from core.run.revising import still_matches

        sentences = [f"Steps done: {run_progress_words(self._info)}."]
        if self._info.status == "running" and not still_matches(self._info.digests, operation):
            sentences.append(
                "The job file or the lathe file has changed since this run was started. Press Enter to choose "
                "how to continue."
            )
        return sentences
