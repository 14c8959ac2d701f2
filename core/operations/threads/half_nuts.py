"""Where the half nuts are closed at every pass, or that they stay closed.

A thread whose half nuts are opened where the lathe does not find it again is lost,
so that the list of movements says it, not the figures alone.
"""

from core.lathe.lathe import Lathe
from core.operations.threads.gearing import gearing
from core.operations.threads.job import ThreadJob
from core.operations.threads.starts import line_words, starts_by_thread_dial
from core.operations.threads.thread_dial import DialUse, where


def half_nuts_stay_closed(job: ThreadJob, lathe: Lathe) -> bool:
    """Tell whether the half nuts are never opened and the spindle, reversed, brings the carriage back."""
    return gearing(job.thread.exact_lead, lathe).nut_stays_closed


def closing_words(job: ThreadJob, lathe: Lathe, start: int = 1) -> str:
    """Say where the half nuts are closed: "Close the half nuts on every 2nd line (0, 2)".

    start: of a thread of several, from 1; where another line is another start it has lines of its own.
    """
    found = gearing(job.thread.exact_lead, lathe)
    if starts_by_thread_dial(job, lathe):
        return f"Close the half nuts on line {line_words(job, lathe, start)}"
    if not found.dial_uses:
        return "Close the half nuts wherever they go in"
    return f"Close the half nuts {where(found.dial_uses[0])}"


def first_closing_words(job: ThreadJob, lathe: Lathe) -> str:
    """Say what the first closing of the half nuts settles, at the dry run, as a sentence; "" for nothing."""
    found = gearing(job.thread.exact_lead, lathe)
    if found.nut_stays_closed:
        return "From now on keep the half nuts closed. The spindle, reversed, brings the carriage back."
    if not found.dial_uses or found.dial_uses[0].anywhere:
        return ""
    return f"Thread dial{_wheel(found.dial_uses)}: the line you close on first is line 0."


def _wheel(uses: tuple[DialUse, ...]) -> str:
    """Say which wheel serves best where there are several."""
    return f" (wheel of {uses[0].teeth})" if len(uses) > 1 else ""
