"""How the board leads to set-up: by a line in its list, and by a message if no lathe is set up yet."""

from typing import Protocol

from core.lathe.set_up.in_use import DRAFTS_FOLDER
from core.values.errors import FileError
from tui.board.start_list import StartEntry
from tui.context import AppContext

KEY = "l"
"""The board's key for set-up."""


class SetupCaller(Protocol):
    """A screen that can open set-up."""

    @property
    def context(self) -> AppContext:
        """What all screens share."""

    def show_message(self, sentence: str) -> None:
        """Show a sentence."""


def setup_entry(board: SetupCaller) -> StartEntry:
    """Return the line that leads to set-up, for the list of what can be opened or started."""
    lathe = board.context.lathe
    if lathe.example:
        return StartEntry("lathe", "your own", "set it up in plain questions", lambda: open_setup(board))
    return StartEntry("lathe", lathe.name, "its dials and parts", lambda: open_setup(board))


def open_setup(board: SetupCaller) -> None:
    """Open set-up."""
    from tui.setup.screen import SetupScreen

    # Answers in set-up may make the message obsolete, or need another one.
    board.context.push_screen(SetupScreen(), lambda _: board.show_message(offer(board.context)))


def offer(context: AppContext) -> str:
    """Return a message that leads to set-up: there is no lathe yet, or answers wait there; "" if neither is so."""
    if _answers_wait(context):
        return f"Some answers about the lathe are not used yet. Press {KEY} to finish set-up."
    if not context.lathe.example:
        return ""
    return (
        "No lathe set up yet: readings are for an example lathe, not for your dials. "
        f"Press {KEY} to set up yours in plain questions."
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
