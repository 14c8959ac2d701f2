"""The room that a boring tool has in the bore it threads, and how far it is drawn back to come out.

Lengths in mm. On the line through the axis: a round bar of diameter B whose point
stands out by p needs B + p. At full depth the bar must clear the crest, so p is at
least the depth and a gap; drawn back, the point must clear the crest and the bar
the wall opposite, by a gap each. With flank infeed the cross-slide goes back to one
reading after every pass, far enough for the last: after the first, when the compound
has hardly come out, the bar lies nearer to the wall opposite by the whole depth.
Derived; the gap is common practice, no source.
"""

import math
from collections.abc import Iterator
from typing import NamedTuple

from core.lathe.lathe import Lathe
from core.operations.threads.job import ThreadJob
from core.values.dials import Dial, Setting

GAP_MM = 0.5
"""Between tool or bar and the wall beside it; a twentieth of the bore where that is less."""
_LEAST_BAR_MM = 3.0
"""A thinner bar bends away; common practice, no source."""
_STIFF_DIAMETERS = 4.0
"""How far a steel bar may reach out of its clamp, in its own diameters."""


class BoreRoom(NamedTuple):
    """What a boring tool for one internal thread may measure [mm]."""

    gap_mm: float
    stands_out_mm: float
    """Least height of the point above the bar."""
    bar_mm: float
    """Largest diameter of a round bar; not above 0 where there is no room."""
    back_mm: float
    """How far the slide goes inwards from full depth until the point is clear of the crest."""


def bore_room(job: ThreadJob) -> BoreRoom:
    """Return the room in the bore of an internal thread.

    >>> from core.values.fields import Table
    >>> from core.lathe.reader import example_lathe
    >>> from core.operations.threads.job import read_thread_job
    >>> job = read_thread_job(Table({"thread": "M20x1.5-6H", "blank": "18.5 mm"}, "", []), example_lathe())
    >>> room = bore_room(job)  # 0.96 deep, by the flank: 18.5 - 2 x 0.96 - 3 x 0.5
    >>> round(room.bar_mm, 2), round(room.back_mm, 2)
    (15.08, 1.46)
    """
    depth_mm = job.groove.depth_mm
    gap_mm = min(GAP_MM, job.blank_mm / 20)
    nearest_wall_mm = depth_mm if job.straight else 2 * depth_mm
    return BoreRoom(
        gap_mm=gap_mm,
        stands_out_mm=depth_mm + gap_mm,
        bar_mm=job.blank_mm - nearest_wall_mm - 3 * gap_mm,
        back_mm=depth_mm + gap_mm,
    )


def bar_words(job: ThreadJob, lathe: Lathe) -> str:
    """Say what bar goes in: "round bar of at most 15.08 mm, its point 1.46 mm out of it"."""
    room = bore_room(job)
    return (
        f"round bar of at most {lathe.length_text(room.bar_mm)}, its point "
        f"{lathe.length_text(room.stands_out_mm)} out of it"
    )


def way_out_setting(job: ThreadJob, cross_slide: Dial) -> Setting:
    """Return where the cross-slide is turned to, inwards past its 0, before the tool comes out.

    With flank infeed the cross-slide stands at 0 in the cut, so that it goes in by
    depth and gap; with straight infeed it only passes its zero by the gap.
    """
    room = bore_room(job)
    past_mm = room.gap_mm if job.straight else room.back_mm
    return cross_slide.at_marks(math.ceil(past_mm / cross_slide.mark_mm - 1e-9))


def way_out_words(job: ThreadJob, cross_slide: Dial) -> str:
    """Say where that is, counted from 0: "inwards to 1 turn and 0.95 mm, past its 0"."""
    return f"inwards to {cross_slide.setting_text(way_out_setting(job, cross_slide))}, past its 0"


def bore_words(job: ThreadJob, lathe: Lathe) -> str:
    """Say what the bore is opened to, with its limits where there are some."""
    limits, say = job.thread.limits, lathe.length_text
    if limits.minor_min_mm is not None and limits.minor_max_mm is not None:
        return f"open it to {say(job.blank_mm)} (limits {say(limits.minor_min_mm)} to {say(limits.minor_max_mm)})"
    return f"open it to {say(job.blank_mm)}"


def bore_cautions(job: ThreadJob, lathe: Lathe) -> Iterator[str]:
    """Yield what is unwise about a boring tool in this bore."""
    if not job.thread.internal:
        return
    room, say = bore_room(job), lathe.length_text
    if room.bar_mm < max(_LEAST_BAR_MM, job.groove.depth_mm):
        yield (
            f"a bore of {say(job.blank_mm)} leaves no room for a stiff bar ({say(max(room.bar_mm, 0.0))} at most) "
            "that could cut this thread: tap it"
        )
    elif job.length_mm is not None and job.length_mm > _STIFF_DIAMETERS * room.bar_mm:
        yield (
            f"a bar of at most {say(room.bar_mm)} that reaches {say(job.length_mm)} into the bore springs: "
            "light passes, and spring passes until it cuts no more"
        )
    if not job.blank_given:
        yield (
            f"the bore is not measured: {say(job.blank_mm)} is assumed, and every error of it is an error of the depth"
        )
