"""Instructions for swinging the compound: the direction, the reading of its scale, and what to do if the scale is too
short.
"""

import math

from core.lathe.lathe import CompoundScale, Lathe
from core.operations.compound_drawing import SQUARE_DEG, Swing
from core.operations.threads.job import ThreadJob
from core.values.angles import angle_text
from core.values.dials import Unit
from core.values.quantities import number_text


def compound_setting_words(job: ThreadJob, lathe: Lathe) -> str:
    """Return the instruction for swinging the compound: the reading of its scale and the direction of its handle."""
    if job.compound_angle_deg is None:
        if job.thread.starts > 1:
            return (
                "Swing the compound parallel to the spindle axis and lock its swivel. Set the depth on the cross-slide"
            )
        return "Lock the compound. Set the depth on the cross-slide alone"
    square = f"{angle_text(job.compound_angle_deg)} off square to the axis"
    if lathe.compound is None:
        return f"Swing the compound {square}, {swing_words(job)}. Lock its swivel"
    reading = angle_text(lathe.compound.reading_deg(job.compound_angle_deg))
    if not lathe.compound.shows(job.compound_angle_deg):
        short = f"(its scale ends before {reading}: use a protractor)"
        return f"Swing the compound {square}, {swing_words(job)} {short}. Lock its swivel"
    return f"Swing the compound to {reading} on its own scale ({square}), {swing_words(job)}. Lock its swivel"


def swing_words(job: ThreadJob) -> str:
    """Return the direction in which the compound's handle swings, so that the tool feeds along its trailing flank.

    For an outside right-hand thread cut towards the chuck, the handle swings towards the tailstock. For a cut away from
    the chuck, or in a bore, the handle swings the other way. This is common practice, without a source.
    """
    other_way = job.from_chuck != job.thread.internal
    return f"its handle towards the {'chuck' if other_way else 'tailstock'}"


def swing_of(job: ThreadJob) -> Swing:
    """Return the direction and angle of the compound for a thread.

    A compound that only moves the tool from start to start lies parallel to the axis.
    """
    to_the_left = job.from_chuck != job.thread.internal
    slide_deg = 0.0 if job.thread.starts > 1 else SQUARE_DEG
    if job.compound_angle_deg is not None:
        slide_deg = SQUARE_DEG + (-job.compound_angle_deg if to_the_left else job.compound_angle_deg)
    return Swing(
        slide_deg=slide_deg,
        leans="left" if to_the_left and slide_deg else "right",
        at="bore" if job.thread.internal else "outside",
        read=not job.straight or job.thread.starts > 1,
    )


def compound_scale_words(job: ThreadJob, lathe: Lathe) -> str:
    """Return a short phrase with the reading to set on the compound's own scale; "" for straight infeed.

    >>> from core.lathe.reader import example_lathe
    >>> from core.operations.threads.job import read_thread_job
    >>> from core.values.fields import Table
    >>> job = read_thread_job(Table({"thread": "M10", "compound_angle": "29 deg"}, "", []), example_lathe())
    >>> compound_scale_words(job, example_lathe())
    '29° (29° off square)'
    """
    if job.compound_angle_deg is None:
        return ""
    square = f"{angle_text(job.compound_angle_deg)} off square"
    if lathe.compound is None:
        return f"{square}, by protractor"
    reading = angle_text(lathe.compound.reading_deg(job.compound_angle_deg))
    return (
        f"{reading} ({square})"
        if lathe.compound.shows(job.compound_angle_deg)
        else f"{square}: its scale ends before {reading}"
    )


def nearest_mark_words(half_angle_deg: float, scale: CompoundScale) -> str:
    """Return the first half of a sentence that tells the turner to set the compound to the last mark of a scale that is
    too short.

    Return "" if the scale has no mark below the wanted angle. half_angle_deg: the half angle of the thread [deg].

    >>> nearest_mark_words(30, CompoundScale(zero="perpendicular", end_deg=25))
    'Set the compound to its mark 25 (25° off square), or '
    """
    mark_deg = scale.largest_mark_below_deg(half_angle_deg)
    if mark_deg is None:
        return ""
    reading = number_text(scale.reading_deg(mark_deg), 2)
    return f"Set the compound to its mark {reading} ({angle_text(mark_deg)} off square), or "


def sideways_words(off_square_deg: float, unit: Unit) -> str:
    """Return a phrase for the sideways travel of a slide that is swung off square, over 1000 mm or 10 in of its travel.

    >>> sideways_words(29, "mm"), sideways_words(29, "in")
    ('485 mm sideways in 1000 mm', '4.848 in sideways in 10 in')
    """
    slope = math.sin(math.radians(off_square_deg))
    return f"{10 * slope:.3f} in sideways in 10 in" if unit == "in" else f"{1000 * slope:.0f} mm sideways in 1000 mm"
