"""A check of the whole log behind the screens, after the first paint; what it finds damaged is said and repaired."""

from contextlib import suppress
from threading import Thread
from typing import TYPE_CHECKING

from core.values.errors import LogbookError
from tui.log_access import untold_notices

if TYPE_CHECKING:
    from core.logbook.logbook import Logbook
    from tui.app import HalfnutApp


def check_log(app: "HalfnutApp") -> None:
    """Check the log that is open, in a thread that keeps no key waiting; one that may only be read stays as it is."""
    logbook = app.logbook
    if logbook is None or logbook.read_only:
        return
    check = logbook.check()

    def look() -> None:
        if damage := check.damage():
            # The program may have ended meanwhile.
            with suppress(RuntimeError):
                app.call_later(_repair, app, logbook, damage)

    # A worker of Textual would have to end before the program can.
    Thread(target=look, name="log check", daemon=True).start()


def _repair(app: "HalfnutApp", logbook: "Logbook", damage: str) -> None:
    """Repair it in a thread as well; keys wait meanwhile, for a pass could not be logged."""
    if app.logbook is not logbook:
        return
    app.key_queue.hold()
    app.say("The log is damaged and is being repaired. Keys are answered after that.")

    def mend() -> None:
        failed = ""
        try:
            # The check has looked twice.
            logbook.rebuild(damage)
        except LogbookError as error:
            failed = error.message
        with suppress(RuntimeError):
            app.call_later(_say_repaired, app, failed)

    Thread(target=mend, name="log repair", daemon=True).start()


def _say_repaired(app: "HalfnutApp", failed: str) -> None:
    try:
        if failed:
            app.say(failed)
            return
        said = untold_notices(app)
        app.log_repaired_signal.publish(None)
        app.log_has_changed()
        app.say(said)
    finally:
        app.key_queue.release()
