"""The first screen of all: the board, or what takes its place where an interrupted run is gone on with at once.

At the machine the counter is wanted. Until it has been left nobody sees the board, so none is made.
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
"""After so long the counter has been painted, and the first pass is not yet taken."""


def first_screen(context: AppContext) -> BaseScreen[None]:
    """Return the screen to begin with; what is wrong with the log is said on the board."""
    operation = None
    # Without a log nothing was interrupted: to open one would only hold up the board.
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
    """Nothing but what lies below the counter; come back to, it puts the board in between for good."""

    AUTO_FOCUS = ""

    def __init__(self, operation: "JobOperation") -> None:
        super().__init__()
        self._operation = operation
        self._was_left = False
        self._unsaid = ""

    def compose(self) -> ComposeResult:
        """Nothing: it is never looked at."""
        yield from ()

    def on_mount(self) -> None:
        """Go on; what the log has left over is taken in once the counter is there, before passes are taken."""
        # What the program itself is sent it gets when its start is over. Before that Textual draws every screen
        # and throws it away.
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

    def say(self, sentence: str) -> None:
        """Let the board say it: why the run cannot be gone on with."""
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
                self.context.say(error.message)
