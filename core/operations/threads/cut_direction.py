"""Which way spindle, leadscrew and tool go: the hand of the thread, and where the cut runs to.

Derived: a thread keeps its hand where spindle and carriage are both reversed. A
right-hand thread is cut towards the chuck with the spindle forward, a left-hand
one away from it; the other two ways want the spindle backwards, and the tool
upside down, or behind the axis.
"""

from collections.abc import Iterator

from core.lathe.lathe import Lathe
from core.operations.threads.job import ThreadJob


def spindle_backwards(job: ThreadJob) -> bool:
    """Tell whether the spindle turns backwards while this thread is cut."""
    return job.from_chuck != job.thread.left_hand


def way_words(job: ThreadJob) -> str:
    """Say which way all goes, in one line.

    >>> from core.values.fields import Table
    >>> from core.lathe.reader import example_lathe
    >>> from core.operations.threads.job import read_thread_job
    >>> table = {"thread": "M20x2-LH", "runs": "from the chuck"}
    >>> way_words(read_thread_job(Table(table, "", []), example_lathe()))
    'spindle forward, leadscrew reversed, the cut runs away from the chuck'
    """
    spindle = "backwards, tool upside down" if spindle_backwards(job) else "forward"
    screw = "reversed" if job.thread.left_hand else "as usual"
    return f"spindle {spindle}, leadscrew {screw}, the cut runs {_to(job)}"


def leading_side(job: ThreadJob) -> str:
    """Return the side of the tool that faces the way it travels, as the turner stands."""
    return "right" if job.from_chuck else "left"


def way_cautions(job: ThreadJob, lathe: Lathe) -> Iterator[str]:
    """Yield what is unwise about hand and direction."""
    if not spindle_backwards(job):
        return
    other = "from the chuck" if job.thread.left_hand else "to the chuck"
    hand = "left-hand" if job.thread.left_hand else "right-hand"
    yield (
        f"a {hand} thread cut {_to(job)} wants the spindle backwards and the tool upside down or behind "
        f'the work; with runs = "{other}" it turns forward'
    )
    if lathe.spindle.nose in (None, "screwed"):
        yield "with the spindle backwards a screwed-on chuck can unscrew under the cut: lock it, or do not cut this way"


def _to(job: ThreadJob) -> str:
    return "away from the chuck" if job.from_chuck else "towards the chuck"
