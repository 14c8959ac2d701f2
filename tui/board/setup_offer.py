"""Leads from the board to the set-up of the lathe: an entry in a list, and a message if there is no lathe yet."""

from typing import Protocol

from core.lathe.set_up.in_use import DRAFTS_FOLDER
from core.values.errors import FileError
from tui.board.start_list import StartEntry
from tui.context import AppContext

KEY = "l"
"""The key that opens set-up on the board."""


class SetupCaller(Protocol):
    """A screen from which the user can open the set-up of the lathe."""

    @property
    def context(self) -> AppContext:
        """The state that all screens share: job, lathe, log and controls."""

    def show_message(self, sentence: str) -> None:
        """Show a message above the key bar."""


def setup_entry(board: SetupCaller) -> StartEntry:
    """Return the entry of the list of what to open or start that opens the set-up of the lathe."""
    lathe = board.context.lathe
    if lathe.example:
        return StartEntry("lathe", "your own", "set it up by answering questions", lambda: open_setup(board))
    return StartEntry("lathe", lathe.name, "its dials and parts", lambda: open_setup(board))


def open_setup(board: SetupCaller) -> None:
    """Open the set-up of the lathe."""
    from tui.setup.screen import SetupScreen

    # Answers in set-up may change the message that the board shows.
    board.context.push_screen(SetupScreen(), lambda _: board.show_message(offer(board.context)))


def offer(context: AppContext) -> str:
    """Return a message that leads to the set-up; "" if the lathe is set up and all answers given there are in use."""
    if _answers_wait(context):
        return f"Some answers about the lathe are not used yet. Press {KEY} to finish set-up."
    if not context.lathe.example:
        return ""
    return (
        "No lathe is set up yet, so the readings are for an example lathe, not for yours. "
        f"Press {KEY} to set up your own lathe."
    )


def _answers_wait(context: AppContext) -> bool:
    path = context.paths.own_lathe
    if not (path.parent / DRAFTS_FOLDER).exists():
        return False
    # Loading the modules of set-up would delay the first paint.
    from core.lathe.set_up.draft import read_draft

    try:
        return bool(read_draft(path).open_answers)
    except FileError:
        return False
