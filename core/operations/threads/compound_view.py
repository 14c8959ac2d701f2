"""What the compound's own scale says of how it is swung for a thread, in words."""

import math

from core.lathe.lathe import CompoundScale, Lathe
from core.operations.threads.job import ThreadJob, angle_text
from core.values.dials import Unit
from core.values.quantities import number_text


def scale_words(job: ThreadJob, lathe: Lathe) -> str:
    """Say in few words what the compound's own scale reads, "" for straight infeed.

    >>> from core.lathe.reader import example_lathe
    >>> from core.operations.threads.job import read_thread_job
    >>> from core.values.fields import Table
    >>> job = read_thread_job(Table({"thread": "M10", "compound_angle": "29 deg"}, "", []), example_lathe())
    >>> scale_words(job, example_lathe())
    '29 deg (29 deg off square)'
    """
    if job.compound_angle_deg is None:
        return ""
    square = f"{angle_text(job.compound_angle_deg)} off square"
    if lathe.compound is None:
        return f"{square}, by protractor"
    reading = angle_text(lathe.compound.reading_deg(job.compound_angle_deg))
    return (
        f"{reading} ({square})" if lathe.compound.shows(job.compound_angle_deg) else f"{square}: {reading} is not on it"
    )


def mark_instead_words(half_angle_deg: float, scale: CompoundScale) -> str:
    """Say which mark of a scale that ends too soon serves instead, before what else there is to do.

    >>> mark_instead_words(30, CompoundScale(zero="perpendicular", end_deg=25))
    'set it to its mark 25, 25 deg off square, the nearest below the half angle; or '
    """
    mark_deg = scale.largest_mark_below_deg(half_angle_deg)
    if mark_deg is None:
        return "no mark that it has lies below the half angle; "
    reading = number_text(scale.reading_deg(mark_deg), 2)
    return f"set it to its mark {reading}, {angle_text(mark_deg)} off square, the nearest below the half angle; or "


def sideways_words(off_square_deg: float, unit: Unit) -> str:
    """Say how far a slide that stands off square goes sideways over a length, as the lathe's dials count.

    >>> sideways_words(29, "mm"), sideways_words(29, "in")
    ('485 mm sideways in 1000 mm', '4.848 in sideways in 10 in')
    """
    slope = math.sin(math.radians(off_square_deg))
    return f"{10 * slope:.3f} in sideways in 10 in" if unit == "in" else f"{1000 * slope:.0f} mm sideways in 1000 mm"
