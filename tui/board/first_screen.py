"""Chooses the first screen: the counter if a run of the job was interrupted, otherwise the board.

The counter is the screen that leads through a run. A user at the lathe wants it first, so the board is made only after
the counter has closed. The program then starts faster.
"""

from typing import TYPE_CHECKING

from textual import on
from textual.app import ComposeResult
from textual.events import ScreenResume, ScreenSuspend

from core.values.errors import CoreError
from tui.context import AppContext
from tui.widgets.base_screen import BaseScreen

if TYPE_CHECKING:
    from core.jobs.job import JobOperation

_SETTLED_S = 0.5
"""By this time after the start the counter is painted, and the first pass cannot be done yet [s]."""


def first_screen(context: AppContext) -> BaseScreen[None]:
    """Return the screen with which the program starts. If the log cannot be read, it is the board with the error."""
    operation = None
    # Without a log there is no interrupted run, and opening a log would delay the board.
    if context.job is not None and context.paths.data.exists():
        try:
            operation = context.log.unfinished_operation(context.job)
        except CoreError:
            operation = None
    return _board() if operation is None else ResumingScreen(operation)


def _board(said: str = "") -> BaseScreen[None]:
    from tui.board.screen import BoardScreen

    return BoardScreen(said)


class ResumingScreen(BaseScreen[None]):
    """An empty screen behind the counter, which leads through a run. When the counter has closed, the board opens."""

    AUTO_FOCUS = ""

    def __init__(self, operation: "JobOperation") -> None:
        super().__init__()
        self._operation = operation
        self._was_left = False
        self._unsaid = ""

    def compose(self) -> ComposeResult:
        """Yield no widgets, because the counter, which leads through the run, covers this screen."""
        yield from ()

    def on_mount(self) -> None:
        """Continue the interrupted run in the counter, the screen that leads through a run.

        After the counter has been painted, the log's write-ahead file is merged into its main file.
        """
        # The program handles its own messages after the start. Earlier, Textual would draw every screen twice.
        self.app.call_later(self._go_on)
        self.set_timer(_SETTLED_S, self._take_in)

    def _go_on(self) -> None:
        from tui.runs import open_run

        open_run(self.context, self._operation)

    @on(ScreenSuspend)
    def _leave(self) -> None:
        self._was_left = True

    @on(ScreenResume)
    def _come_back(self) -> None:
        if self._was_left:
            self._show_board()

    def show_message(self, sentence: str) -> None:
        """Keep a message, such as the reason why the run cannot be continued, to show it on the board."""
        self._unsaid = sentence
        if self.is_current:
            self._show_board()

    def _show_board(self) -> None:
        self.app.push_screen(_board(self._unsaid))

    def _take_in(self) -> None:
        if self.context.log.opened is not None:
            from tui.log_check import check_log

            try:
                self.context.log.opened.checkpoint()
                check_log(self.context)
            except CoreError as error:
                self.context.show_message(error.message)
