"""The record of a lathe over all runs: for each dial and kind of cut, how measurements differ from the dial.

The record only advises. It corrects no dial, no plan and no file.
"""

import statistics
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property
from typing import NamedTuple

from core.lathe.lathe import Lathe
from core.operations.dividing.steps import Pace
from core.record.lathe_notes import LatheNote, notes_about
from core.record.observations import (
    CutKind,
    DialDifference,
    EndTaper,
    PassTime,
    RunObservations,
    SpringYield,
    all_times,
)
from core.record.statistics import Mean, mean_of

FEWEST = 4
"""The smallest number of measurements from which the record gives a verdict. Fewer measurements are only shown."""
FEWEST_PASSES = 8
"""The smallest number of passes from which the record gives a usual time."""


class Period(NamedTuple):
    """The measurements between two adjustments of the lathe, in the order of the log."""

    since: LatheNote | None
    """The adjustment before these measurements; None for measurements before the first adjustment."""
    differences: tuple[DialDifference, ...]
    springs: tuple[SpringYield, ...] = ()
    tapers: tuple[EndTaper, ...] = ()

    @property
    def mean(self) -> Mean | None:
        """Return the mean difference between measurement and dial [mm]; None if there are no measurements."""
        return mean_of([one.difference_mm for one in self.differences])

    @property
    def after_touch_off(self) -> Mean | None:
        """Return the mean difference from the dial of the first measurements after a touch-off [mm].

        This mean includes the error of the touch-off. Return None if there are no such measurements.
        """
        return mean_of([one.difference_mm for one in self.differences if one.after_touch_off])

    @property
    def between(self) -> Mean | None:
        """Return the mean difference from the dial of measurements that followed another measurement [mm].

        This mean is the error of the dial alone. Return None if there are no such measurements.
        """
        return mean_of([one.difference_mm for one in self.differences if not one.after_touch_off])

    @property
    def spring_pass(self) -> Mean | None:
        """Return the mean amount that one spring pass took off [mm]; None if no spring pass was measured."""
        return mean_of([one.each_mm for one in self.springs])

    @property
    def free_end_larger(self) -> Mean | None:
        """Return how much larger the work was at its free end on average [mm]; None if this was never measured.

        The free end is compared with the shoulder.
        """
        return mean_of([one.larger_mm for one in self.tapers])


@dataclass(frozen=True)
class DialRecord:
    """The record of one dial for one kind of cut, divided into periods between adjustments of the lathe."""

    cut: CutKind
    periods: tuple[Period, ...]
    """The periods from the earliest to the latest. The last period describes the lathe in its present state."""
    other_description: int
    """The number of measurements made while the lathe file described the dial differently."""

    @cached_property
    def count(self) -> int:
        """Return the number of measurements in all periods."""
        return sum(len(period.differences) for period in self.periods)

    @property
    def latest(self) -> Period:
        """Return the period since the last adjustment."""
        return self.periods[-1]


class UsualTime(NamedTuple):
    """The usual time of one kind of pass, counted from the key press for the step before to that for the pass."""

    kind: str
    action: str
    number: int
    """The number of passes from which the median was taken."""
    median_s: float

    @property
    def is_known(self) -> bool:
        """Return True if enough passes were timed to give a usual time."""
        return self.number >= FEWEST_PASSES


class LatheRecord(NamedTuple):
    """The record of one lathe, made from the log of all runs and the user's notes."""

    lathe: Lathe
    runs: int
    dials: tuple[DialRecord, ...]
    times: tuple[UsualTime, ...]
    notes: tuple[LatheNote, ...]
    other_lathes: tuple[str, ...]
    """The names of the other lathes in the log. An old name of a renamed lathe is among them."""


def lathe_record(lathe: Lathe, observed: Iterable[RunObservations], notes: Sequence[LatheNote] = ()) -> LatheRecord:
    """Return the record of a lathe. `observed`: what each run in the log shows, the earliest run first.

    Runs on other lathes are ignored. If the log has two continuations of one run, the measurements that are in both
    count once.
    """
    every = list(observed)
    runs = [run for run in every if run.lathe_name == lathe.name]
    others = sorted({run.lathe_name for run in every if run.lathe_name} - {lathe.name})
    found: dict[CutKind, list[DialDifference]] = {}
    for one in dict.fromkeys(one for run in runs for one in run.differences):
        found.setdefault(one.cut, []).append(one)
    for run in runs:
        for cut in (*(one.cut for one in run.springs), *(one.cut for one in run.tapers)):
            found.setdefault(cut, [])
    dials = [_dial_record(lathe, cut, found[cut], runs, notes) for cut in sorted(found) if cut.dial in lathe.dials]
    own_notes = tuple(notes_about(notes, lathe.name))
    return LatheRecord(lathe, len(runs), tuple(dials), usual_times(all_times(runs)), own_notes, tuple(others))


def _dial_record(
    lathe: Lathe,
    cut: CutKind,
    differences: Sequence[DialDifference],
    runs: Sequence[RunObservations],
    notes: Sequence[LatheNote],
) -> DialRecord:
    counted = [one for one in differences if one.mm_per_unit == lathe.dials[cut.dial].mm_per_unit]
    springs = list(dict.fromkeys(one for run in runs for one in run.springs if one.cut == cut))
    tapers = list(dict.fromkeys(one for run in runs for one in run.tapers if one.cut == cut))
    adjustments = [note for note in notes_about(notes, lathe.name, cut.dial) if note.sort == "adjustment"]
    periods = _periods(counted, springs, tapers, adjustments)
    return DialRecord(cut, tuple(periods), len(differences) - len(counted))


def _periods(
    differences: Sequence[DialDifference],
    springs: Sequence[SpringYield],
    tapers: Sequence[EndTaper],
    adjustments: Sequence[LatheNote],
) -> Iterable[Period]:
    """Yield the period before the first adjustment of the lathe, then one period after each adjustment.

    Periods without measurements are left out, except the last period.
    """
    ordered = sorted(adjustments, key=lambda note: note.moment)

    def period_of(one: DialDifference | SpringYield | EndTaper) -> int:
        return sum(note.moment <= _moment(one.wall) for note in ordered)

    for number in range(len(ordered) + 1):
        period = Period(
            ordered[number - 1] if number else None,
            tuple(one for one in differences if period_of(one) == number),
            tuple(one for one in springs if period_of(one) == number),
            tuple(one for one in tapers if period_of(one) == number),
        )
        if any(period[1:]) or number == len(ordered):
            yield period


def _moment(wall: str) -> datetime:
    """Return a logged time as a datetime; the earliest possible datetime if the text is not a time."""
    try:
        moment = datetime.fromisoformat(wall)
    except ValueError:
        return datetime.min.replace(tzinfo=UTC)
    return moment if moment.tzinfo is not None else moment.replace(tzinfo=UTC)


def usual_times(times: Iterable[PassTime]) -> tuple[UsualTime, ...]:
    """Return the usual time of a pass for each kind of operation and each action, such as a cut or a spring pass.

    The usual time is the median, because a mean would be spoilt by a long break between two passes.
    """
    found: dict[tuple[str, str], list[float]] = {}
    for one in times:
        found.setdefault((one.kind, one.action), []).append(one.seconds)
    return tuple(
        UsualTime(kind, action, len(seconds), statistics.median(seconds))
        for (kind, action), seconds in sorted(found.items())
    )


def pace_of(kind: str, times: Iterable[PassTime]) -> Pace | None:
    """Return how long the user takes to cut a position on a rotary table and to turn the table to the next one.

    `kind`: the kind of operation. Return None if too few passes of this kind have been timed.
    """
    usual = {time.action: time for time in usual_times(times) if time.kind == kind and time.is_known}
    if "cut" not in usual or "index" not in usual:
        return None
    return Pace(usual["cut"].median_s, usual["index"].median_s, usual["cut"].number)
