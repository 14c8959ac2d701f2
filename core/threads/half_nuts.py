"""What is done with the half nuts at every pass: where they are closed again, or that they stay closed.

A thread whose half nuts are opened where the lathe does not find it again is lost,
so that the round of movements says it, not the figures alone.
"""

from core.lathe import Lathe
from core.threads.chasing_dial import DialUse, where
from core.threads.gearing import gearing
from core.threads.job import ThreadJob
from core.threads.starts import starts_by_chasing_dial


def way_back_words(job: ThreadJob, lathe: Lathe) -> str:
    """Say how the saddle goes back: "Saddle back: half nuts stay closed, spindle reversed"."""
    back = "Saddle to its start by the chuck" if job.from_chuck else "Saddle back"
    stays = gearing(job.thread.exact_lead, lathe).nut_stays_closed
    return f"{back}: half nuts stay closed, spindle reversed" if stays else f"{back}, half nuts open"


def cut_words(job: ThreadJob, lathe: Lathe) -> str:
    """Say how the cut begins: "Cut: half nuts closed on every 2nd line (0, 2)"."""
    found = gearing(job.thread.exact_lead, lathe)
    if found.nut_stays_closed:
        return "Cut"
    if starts_by_chasing_dial(job, lathe):
        return "Cut: half nuts closed on a line of this start"
    if not found.dial_uses:
        return "Cut: half nuts closed wherever they go in"
    return f"Cut: half nuts closed {where(found.dial_uses[0])}"


def first_closing_words(job: ThreadJob, lathe: Lathe) -> str:
    """Say how the half nuts are closed for the first time, at the dry pass."""
    found = gearing(job.thread.exact_lead, lathe)
    if found.nut_stays_closed:
        return "half nuts closed, and from now on kept closed: the spindle, reversed, brings the saddle back"
    if not found.dial_uses or found.dial_uses[0].anywhere:
        return "half nuts closed"
    return f"half nuts closed on a line of the chasing dial{_wheel(found.dial_uses)}, which from now on is line 0"


def _wheel(uses: tuple[DialUse, ...]) -> str:
    """Say which wheel serves best where there are several."""
    return f" (wheel of {uses[0].teeth})" if len(uses) > 1 else ""
