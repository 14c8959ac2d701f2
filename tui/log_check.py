"""Checks the whole log in a thread after the first screen is painted, and repairs the log if it is damaged."""

from contextlib import suppress
from threading import Thread
from typing import TYPE_CHECKING

from core.values.errors import LogbookError
from tui.context import AppContext
from tui.log_access import REPAIRING

if TYPE_CHECKING:
    from core.logbook.logbook import Logbook


def check_log(context: AppContext) -> None:
    """Check the open log in a thread, so that no key has to wait.

    Do nothing if the log has not been opened or is open read-only.
    """
    logbook = context.log.opened
    if logbook is None or logbook.read_only:
        return
    check = logbook.check()

    def look() -> None:
        if damage := check.damage():
            # The program may have ended by now.
            with suppress(RuntimeError):
                context.call_later(_repair, context, logbook, damage)

    # The program could not end before a Textual worker ends.
    Thread(target=look, name="log check", daemon=True).start()


def _repair(context: AppContext, logbook: "Logbook", damage: str) -> None:
    """Repair the log in a thread. `damage` is a sentence that describes the damage.

    Keys wait during the repair, because no pass can be logged meanwhile.
    """
    if context.log.opened is not logbook:
        return
    context.keys.hold()
    context.show_message(REPAIRING)

    def repair() -> None:
        failed = ""
        try:
            # The check has already retried, so the damage is real.
            logbook.rebuild(damage)
        except LogbookError as error:
            failed = error.message
        with suppress(RuntimeError):
            context.call_later(_show_repaired, context, failed)

    Thread(target=repair, name="log repair", daemon=True).start()


def _show_repaired(context: AppContext, failed: str) -> None:
    try:
        if failed:
            context.show_message(failed)
            return
        said = context.log.new_notices()
        context.log_repaired.publish(None)
        context.log_has_changed()
        context.show_message(said)
    finally:
        context.keys.release()
