"""The movements of a threading pass, from setting the depth to pressing the key that completes the step.

Each movement is worded for the current step and for the present dial readings. The order is: depth, half nuts, cut,
stop, withdrawal, return of the carriage, key. This order is common practice, without a source. If the lathe could not
find the groove again, the half nuts must stay closed, and the movements say so.
"""

from collections.abc import Iterator
from functools import cache
from typing import NamedTuple

from core.lathe.lathe import CARRIAGE, Lathe
from core.operations.threads.carriage_travel import StopSettings, by_hand_words, spindle_in_reverse, stop_settings
from core.operations.threads.gearing import gearing
from core.operations.threads.job import ThreadJob
from core.operations.threads.starts import line_words, starts_by_thread_dial
from core.operations.threads.thread_dial import closing_place
from core.operations.threads.tool import withdrawal_setting
from core.plan import Step
from core.values.dials import ZeroedDials


def half_nuts_stay_closed(job: ThreadJob, lathe: Lathe) -> bool:
    """Return True if the half nuts must stay closed, so that the reversed spindle brings the carriage back."""
    return gearing(job.thread.exact_lead, lathe).nut_stays_closed


def closing_words(job: ThreadJob, lathe: Lathe, start: int = 1) -> str:
    """Return the instruction for closing the half nuts: "Close the half nuts on every 2nd line (0, 2)".

    start: the number of the thread start, from 1. If the starts have different lines on the thread dial, the
    instruction names those of this start.
    """
    gears = gearing(job.thread.exact_lead, lathe)
    if starts_by_thread_dial(job, lathe):
        return f"Close the half nuts on line {line_words(job, lathe, start)}"
    if not gears.dial_uses:
        return "Close the half nuts wherever they engage"
    return f"Close the half nuts {closing_place(gears.dial_uses[0])}"


def first_closing_words(job: ThreadJob, lathe: Lathe) -> str:
    """Return sentences about closing the half nuts for the first time, in the dry run; "" if nothing needs to be
    said.
    """
    gears = gearing(job.thread.exact_lead, lathe)
    if gears.nut_stays_closed:
        return "Keep the half nuts closed from now on. Reverse the spindle to bring the carriage back."
    if not gears.dial_uses or gears.dial_uses[0].anywhere:
        return ""
    wheel = f" (wheel of {gears.dial_uses[0].teeth})" if len(gears.dial_uses) > 1 else ""
    return f"Thread dial{wheel}: the line on which you first close the half nuts counts as line 0."


DRY_RUN, SCRATCH_PASS = "dry run", "scratch pass"
PASS_OF_CHECK = "pass"
"""The key in a check step's extra figures that makes the user run the step like a pass.

The value is one of these names.
"""


class _Pass(NamedTuple):
    """One pass of a thread on a lathe, with the dial readings before the pass."""

    job: ThreadJob
    lathe: Lathe
    dials: ZeroedDials
    stop: StopSettings | None
    closing: str
    """Where to close the half nuts; "" if they stay closed."""
    by_hand: bool
    """True if the turner turns the spindle by hand."""

    @property
    def closed(self) -> bool:
        return not self.closing


class ThreadMovements:
    """Describes the movements of one thread on one lathe. What all passes share is calculated once."""

    def __init__(self, job: ThreadJob, lathe: Lathe) -> None:
        self._job, self._lathe = job, lathe
        self._by_hand = bool(by_hand_words(job, lathe))
        self._closed = half_nuts_stay_closed(job, lathe)
        self._stop = cache(lambda starts_on: stop_settings(job, lathe, starts_on))
        self._closing = cache(lambda start: closing_words(job, lathe, start))

    def __call__(self, step: Step, dials: ZeroedDials, starts: tuple[int, int]) -> tuple[str, ...]:
        """Return the texts of a step's movements; () if the step is not a pass.

        dials: the present dial readings. starts: two numbers of thread starts, counted from 1: the current start, and
        the start during which the carriage dial was set.
        """
        dry = step.extra.get(PASS_OF_CHECK) == DRY_RUN
        if step.action not in {"cut", "spring"} and PASS_OF_CHECK not in step.extra:
            return ()
        start, start_at_zero = starts
        this_pass = _Pass(
            job=self._job,
            lathe=self._lathe,
            dials=dials,
            # A carriage dial that was not set at the zero face in this run does not show the stopping place.
            stop=self._stop(start - start_at_zero) if CARRIAGE in dials.zeros else None,
            closing="" if self._closed else self._closing(start),
            by_hand=self._by_hand,
        )
        return (*_depth(this_pass, step, dry), *_cut(this_pass, dry), *_stop(this_pass), "Then the key")


def _depth(this_pass: _Pass, step: Step, dry: bool) -> Iterator[str]:
    job, dials = this_pass.job, this_pass.dials
    if dry:
        yield f"Cross-slide {_withdrawal(this_pass) if job.thread.internal else 'out'}, tool clear of the work"
        return
    if job.straight:
        yield f"Cross-slide {'out' if job.thread.internal else 'in'} to its reading"
        return
    yield "Compound to its reading"
    cross_slide = step.setting("cross_slide")
    if cross_slide is not None:
        yield f"Cross-slide back to {dials.words(cross_slide)}, in the same turn"


def _cut(this_pass: _Pass, dry: bool) -> Iterator[str]:
    if not this_pass.closed:
        yield this_pass.closing
    elif dry:
        yield "Close the half nuts and leave them closed"
    if this_pass.by_hand:
        yield "Turn the spindle by hand, with the drive isolated"
    elif this_pass.closed:
        yield f"Spindle {'in reverse' if spindle_in_reverse(this_pass.job) else 'forward'}"


def _stop(this_pass: _Pass) -> Iterator[str]:
    """Yield the movements that end a pass: stop the cut, withdraw the tool and return the carriage."""
    job, place = this_pass.job, _place(this_pass)
    internal = job.thread.internal
    at_once = job.relief_mm is None and not job.from_chuck
    if this_pass.closed or at_once:
        yield f"{place} {'' if this_pass.closed else 'open the half nuts and immediately '}withdraw the tool"
        if internal:
            yield f"Cross-slide {_withdrawal(this_pass)}"
    else:
        yield f"{place} open the half nuts"
        yield f"Withdraw, cross-slide {_withdrawal(this_pass)}" if internal else "Withdraw the tool"
    if not this_pass.closed:
        yield _back(this_pass)
    elif this_pass.by_hand:
        yield f"Turn back by hand, half nuts closed: {_back(this_pass).lower()}"
    else:
        yield "Switch off and let the spindle stop"
        yield f"Reverse, half nuts closed: {_back(this_pass).lower()}, stop"


def _place(this_pass: _Pass) -> str:
    """Return a phrase for the place where the cut ends: a reading of the carriage dial, the relief, or a mark on the
    bed.
    """
    job = this_pass.job
    if job.from_chuck:
        return "With the tool out of the bore" if job.thread.internal else "Past the end of the thread"
    if this_pass.stop is not None:
        latest = (
            "" if this_pass.stop.latest is None else f" (latest {this_pass.dials.short_words(this_pass.stop.latest)})"
        )
        return f"At carriage {_carriage(this_pass)}{latest}"
    marked = CARRIAGE not in this_pass.lathe.dials
    if job.relief_mm is not None:
        return "At your mark, with the tip in the relief," if marked else "With the tip in the relief"
    return "At your mark" if marked and job.length_mm is not None else "At the end of the thread"


def _back(this_pass: _Pass) -> str:
    if not this_pass.job.from_chuck:
        return "Carriage back"
    return "Carriage back by the chuck" if this_pass.stop is None else f"Carriage back to {_carriage(this_pass)}"


def _carriage(this_pass: _Pass) -> str:
    return "" if this_pass.stop is None else this_pass.dials.short_words(this_pass.stop.aim)


def _withdrawal(this_pass: _Pass) -> str:
    """Return text that says how far the cross-slide moves inwards, past its touch-off reading, so that the tool clears
    the bore.
    """
    setting = withdrawal_setting(this_pass.job, this_pass.lathe.dial("cross_slide"))
    return f"inwards to {this_pass.dials.words(setting)}"
