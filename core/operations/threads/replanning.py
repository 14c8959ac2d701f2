"""New plans for the remaining steps of a thread after a measurement, a gauge check, a different dial setting or an
edited job.
"""

import math
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property

from core import safety
from core.cutting import Infeed, Progress, cut_steps, spring_step, with_measured_depth
from core.inputs import Edited, Fit, GaugeTried, Measured, Moved, PickedUp, RunInput
from core.lathe.lathe import Lathe
from core.operations.threads.job import ThreadJob
from core.operations.threads.measuring import (
    is_overshot,
    measured_pitch_diameters,
    refuse_impossible,
    remaining_mm,
    verdict_words,
    wants_springs,
)
from core.operations.threads.picking_up import picking_up
from core.operations.threads.planning import (
    cutting_steps,
    deburr_step,
    end_of_cutting,
    gauge_step,
    measured_until_mm,
    measuring_steps,
    plan_passes,
    touch_off_steps,
)
from core.operations.threads.schedule import passes_left
from core.operations.threads.starts import next_start_steps, starts_left
from core.plan import Expects, Step, numbered
from core.replanning import (
    Follows,
    Measurement,
    Reached,
    TouchedOff,
    nearest_mark,
    reached_by,
    replan_cut,
    unexpected_words,
    what_is_left,
)
from core.set_up_steps import set_up_steps
from core.values.errors import PlanError

WONT_START_MM, TIGHT_MM = 0.03, 0.01
"""How much deeper to cut, on the radius, if the gauge does not start, and if the gauge is tight.

Common practice, no source.
"""
_OVERSHOT = (
    "Cut no more. The thread is past its limits. Try the gauge or the mating part to see whether the thread is still "
    "usable"
)


def replan_thread(
    job: ThreadJob, lathe: Lathe, material: str | None, progress: Progress, entered: RunInput
) -> tuple[Step, ...]:
    """Return the steps that replace the remaining steps of a thread. Raise PlanError if no such steps are possible.

    If a part of the set-up has been moved, the new steps find the groove again, and a measurement gives its depth.
    """
    cut, until_measured = ThreadCut(job, lathe, material), _until_measured(progress)
    # Dial zeros still to set after a pick-up are in the groove, so no step touches off.
    from_groove = replace(progress, open_steps=progress.open_steps[len(set_up_steps(progress.open_steps)) :])
    match entered:
        case GaugeTried():
            steps = cut.tried(progress, entered.fit)
        case PickedUp():
            steps = picking_up(job, lathe, cut.infeed, entered.moved)
        case Moved():
            steps = picking_up(job, lathe, cut.infeed, "other")
        case Edited() if until_measured:
            steps = until_measured
        case _ if not until_measured and not _counts_from_groove(cut.infeed, from_groove):
            steps = replan_cut(cut, progress, entered)
        case Edited():
            steps = what_is_left(cut, reached_by(from_groove, cut.infeed), "")
        case _:
            steps = replan_cut(cut, from_groove, entered)
    last = _last_marks(steps, cut.infeed, progress)
    for start in starts_left(progress.open_steps):
        steps += [
            *next_start_steps(job, lathe, start - 1),
            *cutting_steps(job, lathe, plan_passes(job, lathe, material, last)),
        ]
    return numbered([*steps, deburr_step()], progress.next_id)


def _until_measured(progress: Progress) -> list[Step]:
    """Return the remaining steps of picking up a thread, up to the measurement that gives its depth.

    Return [] if the turner is not picking up a thread.
    """
    measured = (at for at, step in enumerate(progress.open_steps) if step.action == "measure" and step.required)
    return list(progress.open_steps[: next(measured, -1) + 1])


def _counts_from_groove(infeed: Infeed, progress: Progress) -> bool:
    """Return True if the infeed dial was set to 0 in the groove instead of on the blank.

    This is so after a thread has been picked up, until the first pass.
    """
    return infeed.dial.name not in progress.positions and progress.depth_at_dial_mm(infeed) > infeed.mark_mm


def _last_marks(steps: list[Step], infeed: Infeed, progress: Progress) -> int | None:
    """Return the infeed dial mark at which the current thread start ends; None if this mark is not known.

    Later starts are cut to the same mark. `steps`: the remaining steps of the current start.
    """
    settings = [step.setting(infeed.dial.name) for step in steps if step.action == "cut"]
    if settings and settings[-1] is not None:
        return round(infeed.marks_at(settings[-1].position))
    return round(progress.marks(infeed)) or None


@dataclass(frozen=True)
class ThreadCut:
    """One start of a thread, whose remaining passes can be planned again.

    Depths count from the surface of the blank.
    """

    job: ThreadJob
    lathe: Lathe
    material: str | None

    @cached_property
    def infeed(self) -> Infeed:
        """The infeed of the thread on this lathe."""
        return self.job.infeed(self.lathe)

    def last_mark(self, reached: Reached) -> int:
        """Return the dial mark that is nearest to the middle of the thread's limits.

        `reached`: the position and depth of the cut so far.
        """
        return nearest_mark(self.infeed, reached, self.job.groove.depth_mm)

    def passes(self, reached: Reached, last: int, follows: Follows) -> list[Step]:
        """Return the remaining passes of the schedule, with a measurement among them unless one has just been made.

        `reached`: the position and depth of the cut so far. `last`: the dial mark of the last pass. `follows`: whether
        a measurement or a pass comes right before these passes; "" for neither.
        """
        job, infeed = self.job, self.infeed
        # If the dial was set between two marks, the first pass counts from the mark before.
        whole = math.floor(reached.marks)
        planned = plan_passes(job, self.lathe, self.material).schedule
        cumulative = passes_left(planned.marks, last - whole, infeed.mark_mm, job.limits)
        marks = [whole + further for further in cumulative]
        cuts = cut_steps(
            infeed,
            marks,
            name="Cut",
            from_marks=reached.marks,
            start_depth_mm=reached.depth_mm,
            last_marks=last,
            last_exact_depth_mm=infeed.depth_mm(reached.marks) + job.groove.depth_mm - reached.depth_mm,
        )
        before = sum((cut.depth_mm or 0.0) <= measured_until_mm(job) for cut in cuts)
        if not before or follows == "measurement":
            return cuts
        middle = measuring_steps(job, self.lathe, infeed, cuts[before - 1], marks[before - 1])
        return [*cuts[:before], *middle, *cuts[before:]]

    def ended(self, passes: list[Step], reached: Reached, last: int) -> list[Step]:
        """Return the given passes, followed by their spring passes and the gauge check.

        `reached`: the position and depth of the cut before the passes. `last`: the dial mark of the last pass.
        """
        at = max(at for at, step in enumerate(passes) if step.action == "cut")
        cut = passes[at]
        cut = replace(cut, cautions=cut.cautions or _outside_words(self.job, self.lathe, cut.depth_mm or 0.0))
        return [*passes[:at], cut, *passes[at + 1 :], *end_of_cutting(self.job, self.lathe, self.infeed, cut, last)]

    def nothing_left(self, reached: Reached) -> list[Step]:
        """Return the gauge check for a thread whose measurement shows that it is already deep enough.

        `reached`: the position and depth of the cut so far.
        """
        return [with_measured_depth(gauge_step(self.job, self.lathe, reached.depth_mm), reached.depth_mm)]

    def amount_text(self, depth_mm: float) -> str:
        """Return a difference of depth on the radius [mm] as text. The text gives the difference of pitch diameter that
        it causes.
        """
        return f"{self.lathe.length_text(2 * depth_mm)} of pitch diameter"

    def measured(self, size: Measured, progress: Progress) -> Measurement:
        """Return the depth that follows from a measurement, with sentences about the measurement.

        The user has measured the pitch diameter, with or without wires, or the depth of the groove from the crest.
        """
        job, lathe = self.job, self.lathe
        if size.what == "crest":
            words = _groove_findings(job, lathe, size.size_mm)
            is_over = job.thread.has_limits and size.size_mm > job.groove.most_depth_mm
            return Measurement(size.size_mm, words, ended=self._cut_no_more(size.size_mm) if is_over else None)
        measured = measured_pitch_diameters(job, lathe, size)
        refuse_impossible(job, lathe, measured)
        depth_mm = job.groove.depth_mm - remaining_mm(job, measured.diameters_mm)
        now = progress.marks(self.infeed)
        marks_left = self.last_mark(Reached(now, depth_mm)) - math.floor(now)
        findings = (
            *unexpected_words(
                self,
                progress,
                depth_mm,
                job.groove.depth_mm / 4,
                self._pitch_diameter_text,
                " (a size over wires is not a pitch diameter)",
            ),
            *verdict_words(job, lathe, measured, self.infeed, marks_left),
        )
        if is_overshot(job, measured.diameters_mm):
            return Measurement(depth_mm, findings, ended=self._cut_no_more(depth_mm))
        if wants_springs(measured):
            return Measurement(depth_mm, findings, self._springs)
        return Measurement(depth_mm, findings)

    def touched_off(self, depth_mm: float) -> TouchedOff:
        """Return the step in which the turner touches off on the crest.

        The infeed dial then counts from the crest instead of from the groove.
        """
        steps = touch_off_steps(self.job, self.lathe, self.infeed)
        return TouchedOff(steps, Fraction(max(0, self.infeed.marks(depth_mm))))

    def _cut_no_more(self, depth_mm: float) -> Step:
        (trial,) = self.nothing_left(Reached(Fraction(0), depth_mm))
        return replace(trial, title="Cut no more", text=_OVERSHOT)

    def _pitch_diameter_text(self, depth_mm: float) -> str:
        sense = -1 if self.job.thread.internal else 1
        left_mm = self.job.groove.depth_mm - depth_mm
        return self.lathe.length_text(self.job.thread.wanted_pitch_diameter_mm + sense * 2 * left_mm)

    def _springs(self, reached: Reached) -> list[Step]:
        """Return two spring passes at the present reading, and the step in which the turner measures both ends again.

        A deeper pass would make the thinner end too thin. Spring passes first remove metal from the thicker end.
        """
        left_mm = max(0.0, self.job.groove.depth_mm - reached.depth_mm)
        spring = spring_step(self.infeed, round(reached.marks), reached.depth_mm, left_mm)
        return [spring, spring, _measure_again()]

    def tried(self, progress: Progress, fit: Fit) -> list[Step]:
        """Return the steps after a gauge check: none if the gauge fits, otherwise a small cut and a spring pass.

        If the gauge does not start because the thread is not yet inside its limits, the planned passes remain.
        """
        job, lathe, infeed = self.job, self.lathe, self.infeed
        if fit == "fits":
            return []
        if fit == "loose":
            return [_loose(job, lathe)]
        wont_start = fit == "won't start"
        least, further_mm = (2, WONT_START_MM) if wont_start else (1, TIGHT_MM)
        reached = reached_by(progress, infeed)
        marks = math.floor(reached.marks) + max(least, round(further_mm / infeed.mark_mm))
        (cut,) = cut_steps(
            infeed,
            [marks],
            name="A small step",
            from_marks=reached.marks,
            start_depth_mm=reached.depth_mm,
            last_marks=marks,
        )
        depth_mm = cut.depth_mm or 0.0
        if wont_start and job.thread.has_limits and depth_mm < job.groove.least_depth_mm:
            return self._not_yet(reached)
        cut = replace(cut, cautions=_small_step_words(job, lathe, depth_mm))
        return [cut, spring_step(infeed, marks, depth_mm, 0.0), gauge_step(job, lathe, depth_mm)]

    def _not_yet(self, reached: Reached) -> list[Step]:
        """Return the remaining passes. The first one states why no gauge can start on this thread yet."""
        short_mm = 2 * (self.job.groove.least_depth_mm - reached.depth_mm)
        size = "small" if self.job.thread.internal else "big"
        words = (
            f"According to the dial, the thread is still {self.lathe.length_text(short_mm)} too {size}. "
            "No gauge can start before the thread is inside its limits."
        )
        first, *others = what_is_left(self, reached, "measurement")
        return [replace(first, findings=(words,)), *others]


def _groove_findings(job: ThreadJob, lathe: Lathe, depth_mm: float) -> tuple[str, ...]:
    """Return sentences about a groove of this depth [mm]. Raise PlanError if no such groove is possible."""
    groove, length_text = job.groove, lathe.length_text
    if abs(groove.depth_mm - depth_mm) > groove.depth_mm:
        raise PlanError(
            f"{length_text(depth_mm)} is too deep for this groove. Enter at most {length_text(2 * groove.depth_mm)}.",
            field="measured",
        )
    to_go_mm = max(groove.depth_mm - depth_mm, 0.0)
    words = f"The groove is {length_text(depth_mm)} deep, with {length_text(to_go_mm)} to go."
    if job.thread.has_limits and depth_mm > groove.most_depth_mm:
        return words, f"This is {length_text(depth_mm - groove.most_depth_mm)} deeper than the limits allow."
    return (words,)


def _outside_words(job: ThreadJob, lathe: Lathe, depth_mm: float) -> tuple[str, ...]:
    """Return a caution if the last cut ends outside the thread's limits, because no dial mark lies inside them;
    otherwise return ().

    `depth_mm`: the depth after the last cut [mm].
    """
    groove = job.groove
    if not job.thread.has_limits or groove.least_depth_mm <= depth_mm <= groove.most_depth_mm:
        return ()
    past_mm, short_mm = 2 * (depth_mm - groove.most_depth_mm), 2 * (groove.least_depth_mm - depth_mm)
    is_big = (past_mm > 0) == job.thread.internal
    off = f"{lathe.length_text(past_mm if past_mm > 0 else short_mm)} too {'big' if is_big else 'small'}"
    return (f"No mark of the dial cuts within the limits. The last cut ends {off}. Try the gauge first.",)


def _small_step_words(job: ThreadJob, lathe: Lathe, depth_mm: float) -> tuple[str, ...]:
    """Return a caution if the dial shows a depth past the thread's limits, where a deeper cut will not help the gauge;
    otherwise return ().

    `depth_mm`: the depth shown by the dial [mm].
    """
    past_mm = 2 * (depth_mm - job.groove.most_depth_mm)
    if not job.thread.has_limits or past_mm <= 0:
        return ()
    return (
        f"Measure before you cut. According to the dial, this cut ends {lathe.length_text(past_mm)} past the limits. "
        "Burrs, swarf, a wrong pitch or angle, or a shallow root also keep a gauge out.",
    )


def _loose(job: ThreadJob, lathe: Lathe) -> Step:
    limits = job.thread.limits
    how = "Measure the pitch diameter (key 1) to see which class it still meets"
    if job.thread.has_limits and not job.thread.internal:
        how += f" (least {lathe.length_text(limits.pitch_diameter_min_mm or 0.0)})"
    words = f"The thread is too loose, and no cut can correct this. {how}, or make the mating part to suit."
    return Step(
        action="measure",
        title="Decide if the thread is usable",
        text=f"{safety.STOP_FIRST} Decide whether the thread is still usable, or measure the thread",
        expects=Expects.PITCH_DIAMETER,
        findings=(words,),
    )


def _measure_again() -> Step:
    return Step(
        action="measure",
        title="Measure both ends",
        text=f"{safety.STOP_FIRST} Measure both ends again",
        expects=Expects.PITCH_DIAMETER,
    )
