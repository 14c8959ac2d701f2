"""Errors in what a user enters or a file holds, as sentences.

Every message says what is wrong and what to enter instead, in one or two sentences:
a screen puts it beside the field, a command line prints it as it is.
"""

from collections.abc import Iterable

from core.values.plain_text import counted


class CoreError(Exception):
    """The base class of all errors that a user can correct.

    `field` is the field or key with the error; "" if there is none. `message` is one or two sentences, already
    cleaned of control characters.
    """

    def __init__(self, message: str, *, field: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.field = field


class QuantityError(CoreError):
    """A text does not state a quantity of the kind needed, such as a length."""


class ThreadError(CoreError):
    """An error about a thread: it does not exist, or a tool, blank or class does not fit it."""


class PlanError(CoreError):
    """An operation cannot be planned on this lathe with these values."""


class EventError(CoreError):
    """An event is not possible in the present state of a run. The run is unchanged."""


class LogbookError(CoreError):
    """The logbook cannot be opened, read or written."""


MOST_SHOWN = 20
"""How many errors of a file are shown at most. Nobody reads more, and they would push the first ones off the screen."""


class FileError(CoreError):
    """A file cannot be used, with a sentence for each thing that is wrong in it.

    `messages` are the sentences to show: the first ones, then how many more there are. `every` holds all of them.
    """

    def __init__(self, messages: Iterable[str]) -> None:
        self.every = tuple(messages)
        self.messages = self.every[:MOST_SHOWN]
        more = len(self.every) - MOST_SHOWN
        if more > 0:
            self.messages += (f"{counted(more, 'more error')}. Correct these first.",)
        super().__init__("\n".join(self.messages))
