"""A check of the whole log behind the screens, after the first paint; what it finds damaged is said and repaired."""

from contextlib import suppress
from threading import Thread
from typing import TYPE_CHECKING

from core.values.errors import LogbookError
from tui.context import AppContext

if TYPE_CHECKING:
    from core.logbook.logbook import Logbook


def check_log(context: AppContext) -> None:
    """Check the log that is open, in a thread that keeps no key waiting; one that may only be read stays as it is."""
    logbook = context.log.opened
    if logbook is None or logbook.read_only:
        return
    check = logbook.check()

    def look() -> None:
        if damage := check.damage():
            # The program may have ended meanwhile.
            with suppress(RuntimeError):
                context.call_later(_repair, context, logbook, damage)

    # A worker of Textual would have to end before the program can.
    Thread(target=look, name="log check", daemon=True).start()


def _repair(context: AppContext, logbook: "Logbook", damage: str) -> None:
    """Repair it in a thread as well; keys wait meanwhile, for a pass could not be logged."""
    if context.log.opened is not logbook:
        return
    context.keys.hold()
    context.say("The log is damaged and is being repaired. Keys are answered after that.")

    def repair() -> None:
        failed = ""
        try:
            # The check has looked twice.
            logbook.rebuild(damage)
        except LogbookError as error:
            failed = error.message
        with suppress(RuntimeError):
            context.call_later(_say_repaired, context, failed)

    Thread(target=repair, name="log repair", daemon=True).start()


def _say_repaired(context: AppContext, failed: str) -> None:
    try:
        if failed:
            context.say(failed)
            return
        said = context.log.new_notices()
        context.log_repaired.publish(None)
        context.log_has_changed()
        context.say(said)
    finally:
        context.keys.release()
