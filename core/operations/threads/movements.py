"""The movements of one pass of a thread, in order, from setting the depth to the key; where the half nuts close.

They are made for the step at hand, from what its dials really show. The order is common practice, no source:
depth, half nuts, cut, stop, withdraw, carriage back, and only then the key. A thread whose half nuts are opened
where the lathe cannot find it again is lost, so the movements say when they stay closed.
"""

from collections.abc import Iterator
from functools import cache
from typing import NamedTuple

from core.lathe.lathe import CARRIAGE, Lathe
from core.operations.threads.carriage import StopMarks, by_hand_words, spindle_backwards, stop_marks
from core.operations.threads.gearing import gearing
from core.operations.threads.job import ThreadJob
from core.operations.threads.starts import line_words, starts_by_thread_dial
from core.operations.threads.thread_dial import DialUse, where
from core.operations.threads.tool import way_out_setting
from core.plan import Step
from core.values.dials import DialsShown, Setting


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


DRY_RUN, SCRATCH_PASS = "dry run", "scratch pass"
PASS_OF_CHECK = "pass"
"""Key among a check step's extras under which one of these stands: it is run like a pass."""


class _Pass(NamedTuple):
    """One pass as the hands come to it."""

    job: ThreadJob
    lathe: Lathe
    dials: DialsShown
    marks: StopMarks | None
    closing: str
    """Where the half nuts are closed; "" where they stay closed."""
    by_hand: bool
    """The spindle is turned by hand."""

    @property
    def closed(self) -> bool:
        """The half nuts stay closed."""
        return not self.closing


class ThreadMovements:
    """The movements of one thread on one lathe; what no pass changes is worked out once."""

    def __init__(self, job: ThreadJob, lathe: Lathe) -> None:
        self._job, self._lathe = job, lathe
        self._by_hand = bool(by_hand_words(job, lathe))
        self._closed = half_nuts_stay_closed(job, lathe)
        self._marks = cache(lambda starts_on: stop_marks(job, lathe, starts_on))
        self._closing = cache(lambda start: closing_words(job, lathe, start))

    def __call__(self, step: Step, dials: DialsShown, starts: tuple[int, int]) -> tuple[str, ...]:
        """Return the movements of a pass, () for a step that is none.

        dials: what the dials show; starts: of a thread of several, from 1, the one cut now and
        the one that was cut when the carriage dial was set.
        """
        dry = step.extra.get(PASS_OF_CHECK) == DRY_RUN
        if step.action not in {"cut", "spring"} and PASS_OF_CHECK not in step.extra:
            return ()
        start, start_at_zero = starts
        found = _Pass(
            job=self._job,
            lathe=self._lathe,
            dials=dials,
            # A dial that was not set at its face in this run shows nothing of the place.
            marks=self._marks(start - start_at_zero) if CARRIAGE in dials.zeros else None,
            closing="" if self._closed else self._closing(start),
            by_hand=self._by_hand,
        )
        return (*_depth(found, step, dry), *_cut(found, dry), *_stop(found), "Then the key")


def _depth(found: _Pass, step: Step, dry: bool) -> Iterator[str]:
    job, dials = found.job, found.dials
    if dry:
        yield f"Cross-slide {_way_out(found) if job.thread.internal else 'out'}, tool clear of the work"
        return
    if job.straight:
        yield f"Cross-slide {'out' if job.thread.internal else 'in'} to its reading"
        return
    yield "Compound to its reading"
    cross_slide = step.setting("cross_slide")
    if cross_slide is not None:
        yield f"Cross-slide back to {dials.words(cross_slide)}, in the same turn"


def _cut(found: _Pass, dry: bool) -> Iterator[str]:
    if not found.closed:
        yield found.closing
    elif dry:
        yield "Close the half nuts and leave them closed"
    if found.by_hand:
        yield "Drive isolated, turn the spindle by hand"
    elif found.closed:
        yield f"Spindle {'backwards' if spindle_backwards(found.job) else 'forward'}"


def _stop(found: _Pass) -> Iterator[str]:
    """Yield where the cut stops, how the tool comes out, and how the carriage goes back."""
    job, place = found.job, _place(found)
    internal = job.thread.internal
    at_once = job.relief_mm is None and not job.from_chuck
    if found.closed or at_once:
        yield f"{place} {'' if found.closed else 'open the half nuts and at once '}withdraw the tool"
        if internal:
            yield f"Cross-slide {_way_out(found)}"
    else:
        yield f"{place} open the half nuts"
        yield f"Withdraw, cross-slide {_way_out(found)}" if internal else "Withdraw the tool"
    if not found.closed:
        yield _back(found)
    elif found.by_hand:
        yield f"Turn back by hand, half nuts closed: {_back(found).lower()}"
    else:
        yield "Switch off, let it stop"
        yield f"Reverse, half nuts closed: {_back(found).lower()}, stop"


def _place(found: _Pass) -> str:
    """Say where the cut stops, in words of what this lathe has."""
    job = found.job
    if job.from_chuck:
        return "With the tool out of the bore" if job.thread.internal else "Past the end of the thread"
    if found.marks is not None:
        latest = "" if found.marks.latest is None else f" (latest {_compact(found.dials, found.marks.latest)})"
        return f"At carriage {_carriage(found)}{latest}"
    marked = CARRIAGE not in found.lathe.dials
    if job.relief_mm is not None:
        return "At your mark, the tip in the relief," if marked else "With the tip in the relief"
    return "At your mark" if marked and job.length_mm is not None else "At the end of the thread"


def _back(found: _Pass) -> str:
    """Say where the carriage goes before the key."""
    if not found.job.from_chuck:
        return "Carriage back"
    return "Carriage back by the chuck" if found.marks is None else f"Carriage back to {_carriage(found)}"


def _carriage(found: _Pass) -> str:
    return "" if found.marks is None else _compact(found.dials, found.marks.aim)


def _way_out(found: _Pass) -> str:
    """Say how far the cross-slide goes inwards, past where it was touched off, so that the tool clears the bore."""
    setting = way_out_setting(found.job, found.lathe.dial("cross_slide"))
    return f"inwards to {_compact(found.dials, setting)}"


def _compact(dials: DialsShown, setting: Setting) -> str:
    """Return what a dial shows, short: "1 turn 3.3 mm"; the list must fit three rows or so."""
    return dials.words(setting).replace(" and ", " ")
