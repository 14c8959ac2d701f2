"""Threads with several starts: the methods of moving from one start to the next.

With straight infeed, the compound lies parallel to the axis and moves the tool by one pitch. A compound that is swung
for the flanks cannot do this. The turner then closes the half nuts on another line of the thread dial, which moves the
tool by one pitch. If no line does this, the turner takes the gears out of mesh and turns the spindle by one turn
divided by the number of starts.

The lines and angles are derived here, not taken from a source. The methods are common practice, without a source.
"""

from collections.abc import Iterable
from fractions import Fraction
from typing import NamedTuple

from core.lathe.lathe import Lathe
from core.operations.thread_figure_words import train_words
from core.operations.threads.gearing import Train, gearing
from core.operations.threads.job import ThreadJob
from core.plan import Step, ThreadStart

_SAME_MM = 0.0005


class StartLines(NamedTuple):
    """One wheel of the thread dial, with the lines of the dial that belong to each start of a thread."""

    teeth: int
    lines: int
    of_start: tuple[tuple[int, ...], ...]
    """The lines of each start, counted from the first line used (0)."""


def start_lines(
    lead: Fraction, starts: int, screw_pitch: Fraction, wheels: tuple[tuple[int, int], ...]
) -> tuple[StartLines, ...]:
    """Return those wheels of the thread dial that have lines for every start, with the lines of each start.

    Line j of M lines, on a wheel of T teeth, passes the fixed mark when n = jT/M threads of the leadscrew have gone by.
    The half nuts close only at a whole n, and the tool is then n leadscrew pitches further along. The line belongs to
    start k, counted from 0, if this distance is a whole number of leads plus k pitches. A full turn of the dial must be
    a whole number of leads. Otherwise a line would not mean the same start in every turn.
    lead: the lead of the thread; screw_pitch: the pitch of the leadscrew; both exact [mm]. wheels: the teeth and lines
    of each wheel.
    The rule is derived in core.operations.threads.thread_dial.

    >>> start_lines(Fraction(6), 2, Fraction(3), ((16, 16),))[0].of_start[1][:2]
    (1, 3)
    """
    usable = []
    for teeth, lines in wheels:
        per_thread = screw_pitch / lead
        if (teeth * per_thread).denominator != 1:
            continue
        of_start: list[list[int]] = [[] for _ in range(starts)]
        for line in range(lines):
            threads = Fraction(line * teeth, lines)
            pitches = threads * per_thread * starts
            if threads.denominator == 1 and pitches.denominator == 1:
                of_start[int(pitches) % starts].append(line)
        if all(of_start):
            usable.append(StartLines(teeth=teeth, lines=lines, of_start=tuple(tuple(own) for own in of_start)))
    return tuple(usable)


def start_train(job: ThreadJob, lathe: Lathe) -> Train | None:
    """Return the best train of change gears that can index the starts; None if none of the trains offered can.

    To index the starts, the first driver must turn as often as the spindle, and the number of starts must divide its
    teeth.
    """
    gears = lathe.change_gears
    if gears is None or gears.fixed_ratio != 1:
        return None
    trains = gearing(job.thread.exact_lead, lathe, job.thread.starts).trains
    as_good = (train for train in trains if train.error_ppm == trains[0].error_ppm)
    return next((train for train in as_good if train.drivers[0] % job.thread.starts == 0), None)


def starts_by_thread_dial(job: ThreadJob, lathe: Lathe) -> bool:
    """Return True if the plan moves to the next start by closing the half nuts on another line of the thread dial."""
    return not _by_compound_dial(job, lathe) and lines_for_starts(job, lathe) is not None


def _by_compound_dial(job: ThreadJob, lathe: Lathe) -> bool:
    return job.straight and "compound" in lathe.dials


def next_start_steps(job: ThreadJob, lathe: Lathe, start: int) -> list[Step]:
    """Return the steps that move to the next start. `start`: the number of starts already cut."""
    number = f"start {start + 1} of {job.thread.starts}"
    if _by_compound_dial(job, lathe):
        return [_by_compound(job, lathe, start, number)]
    lines = lines_for_starts(job, lathe)
    if lines is not None:
        return [_by_thread_dial(lines, start, number)]
    return [_by_spindle(job, lathe, start, number)]


def lines_for_starts(job: ThreadJob, lathe: Lathe) -> StartLines | None:
    """Return a wheel of the thread dial that has lines for every start; None if there is no such wheel."""
    if lathe.leadscrew_mm is None or lathe.thread_dial is None or job.thread.starts == 1:
        return None
    if not gearing(job.thread.exact_lead, lathe).exact:
        return None
    wheels = lathe.thread_dial.wheels
    return next(iter(start_lines(job.thread.exact_lead, job.thread.starts, lathe.leadscrew_mm, wheels)), None)


def line_words(job: ThreadJob, lathe: Lathe, start: int) -> str:
    """Return text that gives the thread dial's lines for a start, such as "1 or 3"; "of this start" if the lines are
    not known.
    """
    lines = lines_for_starts(job, lathe)
    if lines is None or not 0 < start <= len(lines.of_start):
        return "of this start"
    *most, last = (str(line) for line in lines.of_start[start - 1])
    return f"{', '.join(most)} or {last}" if most else last


def index_words(job: ThreadJob, lathe: Lathe) -> tuple[str, ...]:
    """Return a phrase for each method by which this lathe can move to the next start, the planned method first.

    Return () for a thread with one start.
    """
    starts = job.thread.starts
    if starts == 1:
        return ()
    ways = []
    if "compound" in lathe.dials:
        by = (
            f"move the compound, parallel to the axis, on by {lathe.length_text(job.thread.pitch_mm)} (straight infeed)"
        )
        ways.append((not job.straight, by))
    lines = lines_for_starts(job, lathe)
    if lines is not None:
        each = "; ".join(f"start {number}: {_numbers(own)}" for number, own in enumerate(lines.of_start, start=1))
        ways.append((False, f"thread dial, wheel of {lines.teeth}, lines {each}"))
    ways.append((False, _spindle_words(job, lathe)))
    return tuple(words for _, words in sorted(ways, key=lambda rated: rated[0]))


def _by_compound(job: ThreadJob, lathe: Lathe, start: int, number: str) -> Step:
    dial = lathe.dials["compound"]
    travel_mm = start * job.thread.pitch_mm
    setting = dial.at_travel(travel_mm)
    out_mm = dial.travel_mm(dial.marks(travel_mm)) - travel_mm
    cautions: tuple[str, ...] = ()
    if abs(out_mm) > _SAME_MM:
        how = "too far" if out_mm > 0 else "short"
        cautions = (
            f"Start {start + 1} ends {lathe.length_text(abs(out_mm))} {how}, since the dial has no nearer mark.",
        )
    return Step(
        action="set",
        title=f"Move to {number}",
        text=f"For {number}: turn the compound, parallel to the axis, on to {dial.setting_text(setting)} "
        f"({lathe.length_text(travel_mm)} from its zero). Always approach from the same side",
        settings=(setting,),
        cautions=cautions,
        place=ThreadStart(start + 1),
    )


def _by_thread_dial(lines: StartLines, start: int, number: str) -> Step:
    first, own = _numbers(lines.of_start[0]), _numbers(lines.of_start[start])
    return Step(
        action="set",
        title=f"Move to {number}",
        text=f"For {number}: close the half nuts on line {own} of the thread dial (wheel of {lines.teeth}). Lines "
        f"count from the first line used. Start 1 used {first}. Move nothing else",
        place=ThreadStart(start + 1),
    )


def _by_spindle(job: ThreadJob, lathe: Lathe, start: int, number: str) -> Step:
    return Step(
        action="set",
        title=f"Move to {number}",
        text=f"For {number}: isolate the drive. Then {_spindle_words(job, lathe)}",
        cautions=("Do not move the leadscrew or the half nuts while the gears are out of mesh.",),
        place=ThreadStart(start + 1),
    )


def _spindle_words(job: ThreadJob, lathe: Lathe) -> str:
    starts, train = job.thread.starts, start_train(job, lathe)
    if train is None:
        return (
            f"use a spindle gear with a number of teeth that divides by {starts}. Mark a tooth, bring the gear out of "
            f"mesh, turn the spindle by 1/{starts} of a turn, and mesh the gear again"
        )
    first = train.drivers[0]
    return (
        f"mark the meshing tooth of the wheel of {first} ({train_words(train.drivers, train.driven)}). Bring the wheel "
        f"out of mesh, turn the spindle on by {first // starts} teeth (1/{starts} of a turn), and mesh the wheel again"
    )


def _numbers(lines: Iterable[int]) -> str:
    return ", ".join(str(line) for line in lines)


def starts_left(open_steps: Iterable[Step]) -> tuple[int, ...]:
    """Return the numbers of the starts that begin in the remaining steps. Start 1 is never among them."""
    return tuple(step.thread_start for step in open_steps if step.thread_start)
