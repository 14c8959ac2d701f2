"""The plan of a thread: the set-up, the passes, the measurements and the last steps.

The order of work is common practice, without a source.
"""

import math
from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from core import safety
from core.cutting import SCRATCH_DEPTH_MM, Infeed, backlash_words, cut_steps, spring_step, touch_off_step
from core.lathe.lathe import Lathe, dial_words
from core.operations.threads.carriage_travel import by_hand_words, direction_words, stop_steps
from core.operations.threads.compound import compound_setting_words
from core.operations.threads.figures import thread_figures
from core.operations.threads.job import ThreadJob, refuse_blank
from core.operations.threads.measuring import predicted_words
from core.operations.threads.movements import DRY_RUN, PASS_OF_CHECK, SCRATCH_PASS, first_closing_words
from core.operations.threads.plan_cautions import thread_cautions
from core.operations.threads.schedule import Schedule, pass_count, passes_left, schedule, usual_passes
from core.operations.threads.starts import next_start_steps
from core.operations.threads.thread import Thread
from core.operations.threads.tool import bar_words, bore_room, bore_words
from core.plan import Expects, Plan, Step, StepCount, numbered
from core.values.quantities import MM_PER_INCH, mm_text, number_text

LEFT_FOR_MEASURING_MM = 0.1
"""How far the thread is above its largest pitch diameter at the first measurement, on the diameter.

Common practice, no source.
"""


class Passes(NamedTuple):
    """The infeed and the passes of a thread on a lathe."""

    infeed: Infeed
    last_marks: int
    schedule: Schedule

    @property
    def depths_mm(self) -> tuple[float, ...]:
        """The depth on the radius after each pass [mm]."""
        return tuple(self.infeed.depth_mm(marks) for marks in self.schedule.marks)


def plan_passes(job: ThreadJob, lathe: Lathe, material: str | None, last: int | None = None) -> Passes:
    """Return the passes from the blank to the wanted depth or, if `last` is given, to that mark of the infeed dial.

    Raise PlanError if the thread cannot be cut.
    """
    infeed = job.infeed(lathe)
    total = max(1, infeed.marks(job.groove.depth_mm))
    planned = schedule(
        total_marks=total,
        mark_mm=infeed.mark_mm,
        passes=job.passes,
        usual_passes=usual_passes(job.thread.pitch_mm, material),
        limits=job.limits,
        tip=job.tip,
        length_text=lathe.length_text,
    )
    if last and last != total:
        planned = planned._replace(marks=passes_left(planned.marks, last, infeed.mark_mm, job.limits))
    return Passes(infeed=infeed, last_marks=last or total, schedule=planned)


def count_thread(job: ThreadJob, lathe: Lathe, material: str | None) -> StepCount:
    """Return the number of steps that a thread needs. Raise PlanError for a blank far too large or too small."""
    refuse_blank(job.thread, job.blank_mm, lathe.length_text)
    infeed = job.infeed(lathe)
    total = max(1, infeed.marks(job.groove.depth_mm))
    wanted = job.passes or usual_passes(job.thread.pitch_mm, material)
    passes = pass_count(total, infeed.mark_mm, wanted, job.limits)
    # Steps of each start: its passes, spring passes and trial; measurement with a spring pass; move to the start.
    start = passes + job.spring_passes + 1 + (1 + bool(job.spring_passes) if passes > 1 else 0) + 1
    # Steps taken once: compound, direction, bore and tool, chamfer, relief, touch-off, dry run, scratch pass.
    # Deburring at the end takes the place of a move to the first start, which no thread has.
    around = ("compound" in lathe.dials) + (job.thread.left_hand or job.from_chuck) + 2 * job.thread.internal
    around += 1 + (job.relief_mm is not None) + len(touch_off_steps(job, lathe, infeed)) + 2
    return StepCount(job.thread.starts * start + around, "deepest_pass", "a deeper pass")


def plan_thread(job: ThreadJob, lathe: Lathe, material: str | None) -> Plan:
    """Return the plan of a threading operation. Raise PlanError if the thread cannot be cut on this lathe."""
    passes = plan_passes(job, lathe, material)
    steps = [*_preparation(job, lathe, passes.infeed)]
    for start in range(job.thread.starts):
        if start:
            steps += next_start_steps(job, lathe, start)
        steps += cutting_steps(job, lathe, passes)
    steps.append(deburr_step())
    cut = [step for step in steps if step.action == "cut"]
    return Plan(
        figures=thread_figures(job, lathe, cut),
        cautions=tuple(thread_cautions(job, lathe, passes.infeed, passes.schedule, material)),
        general=safety.general(material, *safety.in_the_chuck(lathe)),
        steps=numbered(steps),
    )


def _preparation(job: ThreadJob, lathe: Lathe, infeed: Infeed) -> list[Step]:
    """Return the steps before the first cut: compound, chamfer, relief, touch-off, dry run and scratch pass."""
    steps = (
        [Step(action="set", title=_compound_title(job), text=compound_setting_words(job, lathe))]
        if "compound" in lathe.dials
        else []
    )
    if job.thread.left_hand or job.from_chuck:
        steps.append(Step(action="check", title="Check the direction", text=f"Direction: {direction_words(job)}"))
    if job.thread.internal:
        steps += _bore_steps(job, lathe)
    steps.append(Step(action="check", title="Chamfer", text=_chamfer_words(job, lathe), cautions=(safety.CHAMFER,)))
    if job.relief_mm is not None:
        steps.append(
            Step(action="check", title="Cut the relief", text=_relief_words(job, lathe), cautions=(safety.RELIEF,))
        )
    steps += touch_off_steps(job, lathe, infeed)
    steps.append(dry_run_step(job, lathe))
    marks = max(1, math.ceil(SCRATCH_DEPTH_MM / infeed.mark_mm - 1e-9))
    steps.append(
        Step(
            action="check",
            title="Scratch pass",
            text=f"Scratch pass: {infeed.set_words(marks)}. {safety.STOP_FIRST} Check "
            f"{_pitch_words(job, lathe)} with a rule or gauge",
            settings=infeed.settings(marks),
            cautions=(safety.TOOL_OUT_FIRST,),
            extra={PASS_OF_CHECK: SCRATCH_PASS},
        )
    )
    return steps


def _bore_steps(job: ThreadJob, lathe: Lathe) -> list[Step]:
    """Return the first steps of an internal thread: the turner bores to size, then mounts a tool that has room to
    withdraw.
    """
    return [
        Step(
            action="check",
            title="Bore to size",
            text=f"Bore: {bore_words(job, lathe)}. {safety.STOP_FIRST} Measure it: depths count from this size",
            cautions=(safety.BORE,),
        ),
        Step(
            action="check",
            title="Set the boring tool",
            text=f"Boring tool: {bar_words(job, lathe)}. It withdraws "
            f"{lathe.length_text(bore_room(job).withdraw_mm)} inwards "
            "to clear the crest",
        ),
    ]


def dry_run_step(job: ThreadJob, lathe: Lathe) -> Step:
    """Return the step of the dry run, a pass clear of the work in which the turner practises stopping and closing the
    half nuts.
    """
    end = ", away from the chuck" if job.from_chuck else " and try the stop"
    by_hand = by_hand_words(job, lathe)
    return Step(
        action="check",
        title="Dry run",
        text=f"Dry run: run the length with the tool clear{end}. {first_closing_words(job, lathe)}".rstrip(),
        cautions=(*([by_hand] if by_hand else []), safety.TOOL_OUT_FIRST),
        extra={PASS_OF_CHECK: DRY_RUN},
    )


def touch_off_steps(job: ThreadJob, lathe: Lathe, infeed: Infeed) -> list[Step]:
    """Return the steps that set the dials to 0: the infeed dial with the tool touching the work, and the carriage dial
    at the zero face.
    """
    side = "the bore" if job.thread.internal else "the blank"
    direction = "outwards" if job.thread.internal else "inwards"
    cross_slide = infeed.back_to_zero[0] if infeed.back_to_zero else infeed.dial
    steps = []
    if not job.straight:
        text = (
            f"{dial_words(infeed.dial.name).capitalize()}: take up its backlash "
            f"{direction}{backlash_words(infeed.dial)}"
        )
        steps.append(touch_off_step(infeed.dial, text, touches=False))
    elif job.thread.starts > 1 and "compound" in lathe.dials:
        dial = lathe.dials["compound"]
        text = f"Compound: take up its backlash along the axis{backlash_words(dial)}"
        steps.append(touch_off_step(dial, text, touches=False))
    wound = f"{direction}{backlash_words(cross_slide)}"
    text = f"Cross-slide: wind {wound} until the tool just touches {side} at {lathe.length_text(job.blank_mm)}"
    steps.append(touch_off_step(cross_slide, text, job.blank_mm))
    return [*steps, *stop_steps(job, lathe)]


def cutting_steps(job: ThreadJob, lathe: Lathe, passes: Passes) -> list[Step]:
    """Return the steps that cut one start of a thread: passes, measurement, last passes, spring passes and gauge
    check.
    """
    infeed, marks = passes.infeed, passes.schedule.marks
    cuts = cut_steps(
        infeed,
        marks,
        name="Cut",
        last_marks=passes.last_marks,
        last_exact_depth_mm=job.groove.depth_mm,
    )
    before = first_measured_after(job, passes.depths_mm)
    if not before:
        return [*cuts, *end_of_cutting(job, lathe, infeed, cuts[-1], passes.last_marks)]
    middle = measuring_steps(job, lathe, infeed, cuts[before - 1], marks[before - 1])
    return [*cuts[:before], *middle, *cuts[before:], *end_of_cutting(job, lathe, infeed, cuts[-1], marks[-1])]


def first_measured_after(job: ThreadJob, depths_mm: Sequence[float]) -> int:
    """Return the number of passes before the first measurement; 0 if the passes include no measurement.

    `depths_mm`: the depth after each pass [mm].
    """
    before = sum(depth <= measured_until_mm(job) for depth in depths_mm)
    return min(before or len(depths_mm) - 1, len(depths_mm) - 1)


def measured_until_mm(job: ThreadJob) -> float:
    """Return the greatest depth at which the first measurement may be made [mm].

    Some metal must then be left to cut.
    """
    return job.groove.least_depth_mm - LEFT_FOR_MEASURING_MM / 2


def measuring_steps(job: ThreadJob, lathe: Lathe, infeed: Infeed, cut: Step, marks: int) -> list[Step]:
    """Return a spring pass, and the step in which the turner deburrs the thread and measures both of its ends.

    `cut`: the pass to measure. `marks`: the infeed dial mark of that pass.
    """
    remaining = cut.remaining_mm or 0.0
    spring = [spring_step(infeed, marks, cut.depth_mm or 0.0, remaining)] if job.spring_passes else []
    return [
        *spring,
        Step(
            action="measure",
            title="Measure",
            text=f"{_measure_words(job)}{predicted_words(job, lathe, cut.depth_mm or 0.0)}",
            expects=Expects.PITCH_DIAMETER,
            cautions=(safety.NO_RAG,),
        ),
    ]


def _measure_words(job: ThreadJob) -> str:
    how = "try gauge or mating part at the mouth" if job.thread.internal else "measure at both ends"
    enter = f"{safety.STOP_FIRST} Deburr the crests, {how} and enter the result"
    return f"{enter}. The program then plans the remaining steps again"


def end_of_cutting(job: ThreadJob, lathe: Lathe, infeed: Infeed, cut: Step, marks: int) -> list[Step]:
    """Return the spring passes after the last cut, and the check with a gauge or the mating part.

    `cut`: the last pass. `marks`: the infeed dial mark of that pass.
    """
    springs = [spring_step(infeed, marks, cut.depth_mm or 0.0, 0.0) for _ in range(job.spring_passes)]
    return [*springs, gauge_step(job, lathe, cut.depth_mm or 0.0)]


def _try_words(job: ThreadJob) -> str:
    if job.thread.starts > 1:
        how = (
            "Measure. Try the gauge or the mating part after the last start. The gauge goes only when all starts are "
            "cut"
        )
    else:
        how = "Try the gauge or the mating part, or measure. Stop as soon as the gauge goes"
    return f"{safety.STOP_FIRST} {how}"


def gauge_step(job: ThreadJob, lathe: Lathe, depth_mm: float) -> Step:
    """Return the step in which the turner tries a gauge or the mating part.

    depth_mm: the depth of the groove on the radius [mm].
    """
    return Step(
        action="measure",
        title="Try the gauge, or measure",
        text=f"{_try_words(job)}{predicted_words(job, lathe, depth_mm)}",
        expects=Expects.PITCH_DIAMETER,
        cautions=(safety.NO_RAG,),
    )


def deburr_step() -> Step:
    """Return the last step of a thread, in which the turner removes the burrs."""
    return Step(
        action="check",
        title="Deburr",
        text=f"Deburr: {safety.STOP_FIRST.lower()} Deburr the ends and the crests",
        cautions=(safety.NO_RAG,),
    )


def _chamfer_words(job: ThreadJob, lathe: Lathe) -> str:
    what = "Open the end of the bore" if job.thread.internal else "Chamfer the end"
    return f"{what} to just {_beyond_root(job, lathe)}"


def _beyond_root(job: ThreadJob, lathe: Lathe) -> str:
    return f"{'above' if job.thread.internal else 'below'} the root, {lathe.length_text(job.groove.root_diameter_mm)}"


def _compound_title(job: ThreadJob) -> str:
    is_locked = job.straight and job.thread.starts == 1
    return "Lock the compound" if is_locked else "Swing the compound"


def _relief_words(job: ThreadJob, lathe: Lathe) -> str:
    to = (
        f"to {lathe.length_text(job.relief_diameter_mm)}"
        if job.relief_diameter_mm
        else f"to just {_beyond_root(job, lathe)}"
    )
    return f"Relief (undercut): {lathe.length_text(job.relief_mm or 0.0)} wide, {to}"


def _pitch_words(job: ThreadJob, lathe: Lathe) -> str:
    thread = job.thread
    if thread.starts > 1:
        return f"the lead of {pitch_text(thread.lead_mm, thread, lathe)}"
    return f"the pitch of {pitch_text(thread.pitch_mm, thread, lathe)}"


_IN_MM = frozenset({"metric", "trapezoidal", "ba"})
_BY_THE_INCH = frozenset({"unified", "whitworth", "bsp", "acme"})


def pitch_text(pitch_mm: float, thread: Thread, lathe: Lathe) -> str:
    """Return a pitch or lead as text, in the unit used for screw pitch gauges of the thread's standard.

    If the lathe's unit is different, the text adds the length in that unit. The pitch of a custom thread is given in
    the lathe's unit only.
    """
    tpi = f"{number_text(MM_PER_INCH / Fraction(pitch_mm), 3)} tpi"
    if thread.system == "custom":
        return tpi if lathe.unit == "in" else mm_text(pitch_mm)
    if thread.system in _BY_THE_INCH:
        return tpi if lathe.unit == "in" else f"{tpi} ({lathe.length_text(pitch_mm)})"
    return mm_text(pitch_mm) if lathe.unit == "mm" else f"{mm_text(pitch_mm)} ({lathe.length_text(pitch_mm)})"


def limits_text(sizes_mm: Sequence[float], thread: Thread, lathe: Lathe) -> str:
    """Return one size or two limits of a thread as text in the lathe's unit, the smaller limit first.

    For a thread of a metric standard, the sizes are given in mm; if the lathe's unit is the inch, the inches follow in
    brackets.

    >>> from core.lathe.reader import example_lathe
    >>> from core.operations.threads.designation import read_thread
    >>> limits_text((9.732, 9.968), read_thread("M10-6g"), example_lathe())
    '9.732 mm to 9.968 mm'
    """
    own = " to ".join(lathe.length_text(size) for size in sizes_mm)
    return (
        own if lathe.unit == "mm" or thread.system not in _IN_MM else f"{' to '.join(map(mm_text, sizes_mm))} ({own})"
    )
