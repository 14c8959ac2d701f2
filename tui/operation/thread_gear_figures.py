"""The figures of the gears for a thread: change gears, half nuts, starts. The words come from core."""

from collections.abc import Iterator

from core.lathe.lathe import Lathe
from core.operations.form import Figure
from core.operations.thread_figure_words import train_words
from core.operations.threads.carriage import by_hand_words, direction_words
from core.operations.threads.gearing import (
    Gearing,
    Train,
    best_trains_of_size,
    error_words,
    gearing,
    idler_words,
    length_error_mm,
    step_up_ratio,
)
from core.operations.threads.job import ThreadJob
from core.operations.threads.starts import index_words
from core.operations.threads.thread_dial import dial_use_words as half_nut_words


def gear_figures(job: ThreadJob, lathe: Lathe) -> Iterator[Figure]:
    """Yield the directions, the best trains, the half nuts for every wheel, and how to get to the next start."""
    gears = gearing(job.thread.exact_lead, lathe, job.thread.starts)
    yield Figure("Direction", *direction_words(job).rsplit(", the cut ", 1))
    yield from _trains(gears, job, lathe)
    yield from _half_nuts(gears, lathe)
    for number, words in enumerate(index_words(job, lathe)):
        yield Figure("Next start" if not number else "  or", words)


def _trains(gears: Gearing, job: ThreadJob, lathe: Lathe) -> Iterator[Figure]:
    """Yield the best train first, then the others of two and of four wheels."""
    if gears.in_gearbox:
        yield Figure("Change gears", "none: the gearbox has this lead")
        return
    if not gears.trains:
        if lathe.gearbox_mm or lathe.change_gears:
            yield Figure("Change gears", "none: neither the gearbox nor your wheels give this lead")
        return
    best = gears.trains[0]
    yield Figure("Change gears", train_words(best.drivers, best.driven), _error_note(best, job, lathe))
    yield Figure("", idler_words(best, left_hand=job.thread.left_hand))
    if step_up_ratio(job.thread.exact_lead, lathe) is not None:
        yield Figure("", by_hand_words(job, lathe))
    for size in (2, 4):
        trains = best_trains_of_size(size, job.thread.exact_lead, lathe, job.thread.starts)
        for train in trains:
            if train != best:
                yield Figure(
                    f"  of {size} wheels", train_words(train.drivers, train.driven), _error_note(train, job, lathe)
                )
        if not trains:
            yield Figure(f"  of {size} wheels", "none is near enough")


def _error_note(train: Train, job: ThreadJob, lathe: Lathe) -> str:
    """Return the error of the lead, and how much it adds up to over the length of the thread.

    If that length is not set, over 100 mm.
    """
    if train.error_ppm == 0:
        return "exact"
    length_mm = job.length_mm or 100.0
    over = lathe.length_text(length_error_mm(train, job.thread.exact_lead, length_mm))
    return f"{error_words(train)}: {over} over {lathe.length_text(length_mm)}"


def _half_nuts(gears: Gearing, lathe: Lathe) -> Iterator[Figure]:
    if not gears.dial_uses:
        if lathe.leadscrew_mm is not None:
            yield Figure("Half nuts", _without_dial(gears))
        return
    for number, use in enumerate(gears.dial_uses):
        note = f"wheel of {use.teeth}, {use.lines} lines"
        best = ", the best one" if not number and len(gears.dial_uses) > 1 and use.use else ""
        words = half_nut_words(use).removeprefix("close the half nuts ")
        yield Figure("" if number else "Half nuts", words, note + best)


def _without_dial(gears: Gearing) -> str:
    if gears.nut_stays_closed:
        return "keep the half nuts closed and reverse the spindle"
    return "wherever they go in"
