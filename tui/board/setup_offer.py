"""What leads to set-up: a line among what can be begun, and the offer where no lathe is told yet."""

from typing import Protocol

from core.lathe.set_up.in_use import DRAFTS_FOLDER
from core.values.errors import FileError
from tui.board.start_list import StartEntry
from tui.context import AppContext

KEY = "l"
"""The board's key for set-up."""


class SetupCaller(Protocol):
    """A screen from which set-up is opened."""

    @property
    def context(self) -> AppContext:
        """What all screens share."""

    def say(self, sentence: str) -> None:
        """Show a sentence."""


def setup_entry(board: SetupCaller) -> StartEntry:
    """Return the line that leads to set-up, for the list of what can be opened or begun."""
    lathe = board.context.lathe
    if lathe.example:
        return StartEntry("lathe", "your own", "asked in plain questions", lambda: open_setup(board))
    return StartEntry("lathe", lathe.name, "its dials and parts", lambda: open_setup(board))


def open_setup(board: SetupCaller) -> None:
    """Open set-up."""
    from tui.setup.screen import SetupScreen

    # What was told meanwhile may have answered the offer, or left another.
    board.context.push_screen(SetupScreen(), lambda _: board.say(offer(board.context)))


def offer(context: AppContext) -> str:
    """Return the sentence that leads to set-up: only the stand-in counts, or answers wait there; "" for neither."""
    if _answers_wait(context):
        return f"Answers about the lathe wait in set-up and do not count yet: key {KEY}."
    if not context.lathe.example:
        return ""
    return (
        "No lathe is told yet: all readings are for a stand-in, not for your dials. Set-up asks for yours in plain "
        f"questions: key {KEY}."
    )


def _answers_wait(context: AppContext) -> bool:
    path = context.paths.own_lathe
    if not (path.parent / DRAFTS_FOLDER).exists():
        return False
    # What set-up needs would keep the first paint waiting.
    from core.lathe.set_up.draft import read_draft

    try:
        return bool(read_draft(path).open_answers)
    except FileError:
        return False
