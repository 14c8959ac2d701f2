"""The one logbook of the program: opened when first needed, closed at a clean end."""

from typing import TYPE_CHECKING

from core.errors import LogbookError
from core.logbook import Logbook

if TYPE_CHECKING:
    from tui.app import HalfnutApp


def logbook_of(app: "HalfnutApp") -> Logbook:
    """Return the logbook that all screens share; what it has to tell at opening is said on the screen.

    Raises LogbookError where it cannot be opened; the next call tries again.
    """
    if app.logbook is None:
        app.logbook = Logbook.open(app.paths.data)
        if app.logbook.notices:
            app.say(" ".join(f"{notice.rstrip('.')}." for notice in app.logbook.notices))
    return app.logbook


def close_logbook(app: "HalfnutApp") -> None:
    """Close the logbook, if it was opened; it can be opened again."""
    logbook, app.logbook = app.logbook, None
    if logbook is None:
        return
    try:
        logbook.close()
    except LogbookError:
        # All that was logged is on disk already; the next start takes the write-ahead log in.
        return
