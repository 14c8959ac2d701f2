"""Errors in a user's entry or in a file, each with a message for the user.

Every message says what is wrong and what to enter instead, in one or two sentences. A screen shows the message next to
the field. A command prints the message unchanged.
"""

from collections.abc import Iterable

from core.values.plain_text import counted


class CoreError(Exception):
    """The base class of all errors that a user can correct.

    `field`: the form field or key with the error; "" if there is none. `message`: one or two sentences without control
    characters.
    """

    def __init__(self, message: str, *, field: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.field = field


class QuantityError(CoreError):
    """The text is not a quantity of the required kind, such as a length."""


class ThreadError(CoreError):
    """The thread does not exist, or a tool, blank or tolerance class does not fit the thread."""


class PlanError(CoreError):
    """The operation cannot be planned on this lathe with these values."""


class EventError(CoreError):
    """The event is not possible in the present state of a run. The state stays unchanged."""


class LogbookError(CoreError):
    """The logbook cannot be opened, read or written."""


MOST_SHOWN = 20
"""The largest number of errors shown for one file. More would push the first errors off the screen."""


class FileError(CoreError):
    """The file cannot be used. Each error in the file has its own sentence.

    `messages`: the sentences to show, which are the first 20 and the number of further errors. `every`: all sentences.
    """

    def __init__(self, messages: Iterable[str]) -> None:
        self.every = tuple(messages)
        self.messages = self.every[:MOST_SHOWN]
        more = len(self.every) - MOST_SHOWN
        if more > 0:
            self.messages += (
                f"There {'is' if more == 1 else 'are'} {counted(more, 'more error')}. Correct the errors above first.",
            )
        super().__init__("\n".join(self.messages))
