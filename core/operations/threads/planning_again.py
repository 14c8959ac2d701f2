"""Planning the rest of a thread again, from what was measured, tried, set or moved."""

import math
from dataclasses import replace
from fractions import Fraction

from core import safety
from core.cutting import MEASURED_DEPTH, Infeed, Progress, cut_steps, said_if_it_cuts_air, spring_step
from core.inputs import (
    Edited,
    Fit,
    GaugeTried,
    Measured,
    Moved,
    PickedUp,
    RunInput,
    SetTo,
    nothing_planned_from,
)
from core.lathe.lathe import Lathe
from core.operations.setting_up import dials_to_zero
from core.operations.threads.job import ThreadJob
from core.operations.threads.picking_up import picking_up
from core.operations.threads.planning import (
    cutting,
    end_of_cutting,
    ending,
    measured_until_mm,
    measuring,
    plan_passes,
    touch_off,
    trying,
)
from core.operations.threads.readings import measured_pitch_diameters
from core.operations.threads.schedule import rest_of
from core.operations.threads.starts import later_starts, next_start_steps
from core.operations.threads.verdict import is_overshot, refuse_impossible, remaining_mm, verdict, wants_springs
from core.plan import Expects, Step, numbered
from core.values.errors import PlanError

WONT_START_MM, TIGHT_MM = 0.03, 0.01
"""On the radius: how much further a thread is cut that does not start, or is tight; common practice, no source."""


_OVERSHOT = "Cut no more: it is past its limits. Try the gauge or the mating part to learn what it still serves for"


def replan_thread(
    job: ThreadJob, lathe: Lathe, material: str | None, progress: Progress, entered: RunInput
) -> tuple[Step, ...]:
    """Return the steps that replace the open ones; raises PlanError.

    Once something was moved both readings are taken again, and depth comes from a measurement.
    """
    infeed = job.infeed(lathe)
    match entered:
        case Measured():
            steps = _measured(job, lathe, material, infeed, progress, entered)
        case GaugeTried():
            steps = _tried(job, lathe, material, infeed, progress, entered.fit)
        case SetTo():
            steps = _set_differently(job, lathe, material, infeed, progress, entered.position)
        case PickedUp():
            steps = picking_up(job, lathe, infeed, entered.moved)
        case Moved():
            steps = picking_up(job, lathe, infeed, "other")
        case Edited() if _is_picked_up(progress):
            steps = _until_measured(progress)
        case Edited():
            left_mm = job.groove.depth_mm - progress.depth_at_dial_mm(infeed)
            steps = _rest(job, lathe, material, infeed, progress, left_mm, measure=True)
            if not progress.positions:
                steps = [*touch_off(job, lathe, infeed), *steps]
        case _:
            raise nothing_planned_from(entered)
    last = _last_marks(steps, infeed, progress)
    for start in later_starts(progress.open_steps):
        steps += [
            *next_start_steps(job, lathe, start - 1),
            *cutting(job, lathe, plan_passes(job, lathe, material, last)),
        ]
    return numbered([*steps, ending()], progress.next_id)


def _last_marks(steps: list[Step], infeed: Infeed, progress: Progress) -> int | None:
    """Return the mark that this start ends on, which the starts after it are cut to; None where not known."""
    settings = [step.setting(infeed.dial.name) for step in steps if step.action == "cut"]
    if settings and settings[-1] is not None:
        return round(infeed.marks_at(settings[-1].position))
    return round(progress.marks(infeed)) or None


def _measured(
    job: ThreadJob,
    lathe: Lathe,
    material: str | None,
    infeed: Infeed,
    progress: Progress,
    size: Measured,
) -> list[Step]:
    if size.what == "crest":
        crest_mm = size.size_mm
        left_mm, springs = job.groove.depth_mm - crest_mm, False
        overshot = job.thread.has_limits and crest_mm > job.groove.most_depth_mm
        words = _groove_words(job, lathe, crest_mm)
    else:
        measured = measured_pitch_diameters(job, lathe, size)
        refuse_impossible(job, lathe, measured)
        left_mm = remaining_mm(job, measured.diameters_mm)
        overshot = is_overshot(job, measured.diameters_mm)
        springs = wants_springs(measured) and not overshot
        words = (
            *_unexpected_words(job, lathe, infeed, progress, left_mm),
            *verdict(job, lathe, measured, infeed, _marks_left(infeed, progress, left_mm)),
        )
    if _crest_is_still_touched(infeed, progress):
        # The dial will count from the crest, not from the groove that is there.
        reached = infeed.setting(max(0, infeed.marks(job.groove.depth_mm - left_mm)))
        progress = replace(progress, positions={**progress.positions, infeed.dial.name: reached.position})
    rest = _rest(job, lathe, material, infeed, progress, left_mm)
    if overshot:
        rest[0] = replace(rest[0], title="Cut no more", text=_OVERSHOT)
    if springs:
        # More infeed would make the thin end too small; the fat one first gets its chance to spring back.
        rest = [*_springs(job, infeed, progress, left_mm), _measure_again(), *rest]
    return [replace(rest[0], findings=words), *rest[1:]]


def _crest_is_still_touched(infeed: Infeed, progress: Progress) -> bool:
    """Tell whether the touch-off comes before the next cut; a thread picked up counts from its groove instead."""
    return infeed.dial.name in dials_to_zero(progress.open_steps) and not _is_picked_up(progress)


def _is_picked_up(progress: Progress) -> bool:
    """Tell whether a thread is being found again: its depth is then not known before it is measured."""
    return any(_must_be_measured(step) for step in progress.open_steps)


def _must_be_measured(step: Step) -> bool:
    return step.action == "measure" and bool(step.extra.get("must"))


def _until_measured(progress: Progress) -> list[Step]:
    """Return the open steps as they are, up to the measurement that the depth comes from."""
    at = next(at for at, step in enumerate(progress.open_steps) if _must_be_measured(step))
    return list(progress.open_steps[: at + 1])


def _groove_words(job: ThreadJob, lathe: Lathe, depth_mm: float) -> tuple[str, ...]:
    """Say how a groove stands that the tool was touched to; raises PlanError where it cannot be that deep."""
    groove, say = job.groove, lathe.say
    if abs(groove.depth_mm - depth_mm) > groove.depth_mm:
        raise PlanError(
            f"found a groove {say(depth_mm)} deep; accepted is at most {say(2 * groove.depth_mm)}", field="measured"
        )
    words = f"groove {say(depth_mm)} deep, {say(max(groove.depth_mm - depth_mm, 0.0))} to go on the radius"
    if job.thread.has_limits and depth_mm > groove.most_depth_mm:
        return words, f"{say(depth_mm - groove.most_depth_mm)} deeper than the limits allow"
    return (words,)


def _unexpected_words(
    job: ThreadJob, lathe: Lathe, infeed: Infeed, progress: Progress, left_mm: float
) -> tuple[str, ...]:
    """Say so where a measurement is off what the dial has cut by more than a quarter of the whole depth."""
    by_dial_mm = job.groove.depth_mm - progress.depth_at_dial_mm(infeed)
    if infeed.dial.name not in progress.positions or abs(left_mm - by_dial_mm) <= job.groove.depth_mm / 4:
        return ()
    sense = -1 if job.thread.internal else 1
    by_dial, typed = (
        lathe.say(job.thread.wanted_pitch_diameter_mm + sense * 2 * left) for left in (by_dial_mm, left_mm)
    )
    return (
        f"by the dial {by_dial} was to be expected, not {typed}: measure again before you cut "
        "(a size over wires is no pitch diameter)",
    )


def _marks_left(infeed: Infeed, progress: Progress, left_mm: float) -> int:
    """Return the graduations from where the dial stands to the one nearest the wanted depth, below 0 past it."""
    now = progress.marks(infeed)
    return round(now + Fraction(left_mm / infeed.mark_mm)) - math.floor(now)


def _rest(
    job: ThreadJob,
    lathe: Lathe,
    material: str | None,
    infeed: Infeed,
    progress: Progress,
    remaining_mm: float,
    *,
    measure: bool = False,
) -> list[Step]:
    """Return the cuts that are left from where the dial stands, and the end of cutting; only a trial where none is.

    A deviation changes where the planned passes continue, never how hard they cut.
    `measure` puts the first measurement among them, where there is still room for it.
    """
    now = progress.marks(infeed)
    last = round(now + Fraction(remaining_mm / infeed.mark_mm))
    depth_mm = job.groove.depth_mm - remaining_mm
    if last <= now:
        return [replace(trying(job, lathe, depth_mm), extra={MEASURED_DEPTH: depth_mm})]
    # Where the dial was set between two marks, the first step is counted from the mark before.
    whole = math.floor(now)
    planned = plan_passes(job, lathe, material).schedule
    marks = [whole + reached for reached in rest_of(planned.marks, last - whole, infeed.mark_mm, job.limits)]
    cuts = cut_steps(
        infeed,
        marks,
        name="Cut",
        from_marks=now,
        start_depth_mm=depth_mm,
        last_marks=last,
        last_exact_depth_mm=infeed.depth_mm(now) + remaining_mm,
    )
    cuts[-1] = replace(cuts[-1], cautions=_outside_words(job, lathe, cuts[-1].depth_mm or 0.0))
    end = end_of_cutting(job, lathe, infeed, cuts[-1], last)
    before = sum((cut.depth_mm or 0.0) <= measured_until_mm(job) for cut in cuts) if measure else 0
    if not before:
        return [*cuts, *end]
    middle = measuring(job, lathe, infeed, cuts[before - 1], marks[before - 1])
    return [*cuts[:before], *middle, *cuts[before:], *end]


def _outside_words(job: ThreadJob, lathe: Lathe, depth_mm: float) -> tuple[str, ...]:
    """Say so, before it is cut, where the mark nearest to the middle of the limits lies outside them."""
    groove = job.groove
    if not job.thread.has_limits or groove.least_depth_mm <= depth_mm <= groove.most_depth_mm:
        return ()
    past_mm, short_mm = 2 * (depth_mm - groove.most_depth_mm), 2 * (groove.least_depth_mm - depth_mm)
    how = f"{lathe.say(past_mm)} past" if past_mm > 0 else f"{lathe.say(short_mm)} short of"
    return (f"no mark lies inside the limits: this one ends {how} them on the pitch diameter; try the gauge first",)


def _tried(
    job: ThreadJob, lathe: Lathe, material: str | None, infeed: Infeed, progress: Progress, fit: Fit
) -> list[Step]:
    """Return what follows a trial: nothing where it fits, a small step and a spring pass where it does not.

    A gauge that does not start before the limits are reached tells nothing new: the passes go on as planned.
    """
    if fit == "fits":
        return []
    if fit == "loose":
        return [_loose(job, lathe)]
    wont_start = fit == "won't start"
    least = 2 if wont_start else 1
    now = progress.marks(infeed)
    marks = math.floor(now) + max(least, round((WONT_START_MM if wont_start else TIGHT_MM) / infeed.mark_mm))
    cuts = cut_steps(
        infeed,
        [marks],
        name="A small step",
        from_marks=now,
        start_depth_mm=progress.depth_at_dial_mm(infeed),
        last_marks=marks,
    )
    short_mm = job.groove.least_depth_mm - (cuts[0].depth_mm or 0.0)
    if wont_start and job.thread.has_limits and short_mm > 0:
        return _not_yet(job, lathe, material, infeed, progress)
    cuts = [replace(cuts[0], cautions=_small_step_words(job, lathe, cuts[0].depth_mm or 0.0))]
    return [
        *cuts,
        spring_step(infeed, marks, cuts[0].depth_mm or 0.0, 0.0),
        trying(job, lathe, cuts[0].depth_mm or 0.0),
    ]


def _not_yet(job: ThreadJob, lathe: Lathe, material: str | None, infeed: Infeed, progress: Progress) -> list[Step]:
    """Return the passes as they were still to come, and say why no gauge starts yet."""
    depth_mm = progress.depth_at_dial_mm(infeed)
    short_mm = 2 * (job.groove.least_depth_mm - depth_mm)
    words = f"by the dial it is still {lathe.say(short_mm)} short of its limits: no gauge starts before them"
    rest = _rest(job, lathe, material, infeed, progress, job.groove.depth_mm - depth_mm)
    return [replace(rest[0], findings=(words,)), *rest[1:]]


def _small_step_words(job: ThreadJob, lathe: Lathe, depth_mm: float) -> tuple[str, ...]:
    """Say that the dial is past the limits already, where it is: something else then keeps the gauge out."""
    past_mm = 2 * (depth_mm - job.groove.most_depth_mm)
    if not job.thread.has_limits or past_mm <= 0:
        return ()
    return (
        f"by the dial this ends {lathe.say(past_mm)} past the limits: measure before you cut; burrs, swarf, a pitch "
        "or an angle that is out, or a root too shallow keep a gauge out as well",
    )


def _loose(job: ThreadJob, lathe: Lathe) -> Step:
    limits = job.thread.limits
    how = "measure the pitch diameter (key 1) to learn which class it still keeps"
    if job.thread.has_limits and not job.thread.internal:
        how += f", least {lathe.say(limits.pitch_diameter_min_mm or 0.0)}"
    words = f"it is loose: nothing can be put back; {how}, or make the mating part to suit"
    return Step(
        action="measure",
        title="Decide what it serves for",
        text=f"{safety.STOP_FIRST} Decide whether it can still serve, or measure it",
        expects=Expects.PITCH_DIAMETER,
        findings=(words,),
    )


def _set_differently(
    job: ThreadJob, lathe: Lathe, material: str | None, infeed: Infeed, progress: Progress, position: Fraction
) -> list[Step]:
    """Return the pass at the reading that was really set, then the rest as far as it still goes."""
    now = progress.marks(infeed)
    depth_now_mm = progress.depth_at_dial_mm(infeed)
    left_mm = job.groove.depth_mm - depth_now_mm
    last = round(now + Fraction(left_mm / infeed.mark_mm))
    here = round(infeed.marks_at(position))
    first = cut_steps(
        infeed,
        [here],
        name="As set",
        from_marks=now,
        start_depth_mm=depth_now_mm,
        last_marks=max(last, here),
    )
    first = [said_if_it_cuts_air(first[0])]
    if here > last:
        over_mm = 2 * infeed.depth_mm(here - last)
        words = (
            f"this is {lathe.say(over_mm)} of pitch diameter past the last planned mark: wind back if it is not cut yet"
        )
        first = [replace(first[0], cautions=(words,))]
    if here >= last:
        return [*first, *end_of_cutting(job, lathe, infeed, first[0], here)]
    after = progress.after(first[0])
    # A pass that takes nothing leaves the work as deep as it is, which a measurement may know better than the passes.
    left_mm = job.groove.depth_mm - (first[0].depth_mm or 0.0)
    return [*first, *_rest(job, lathe, material, infeed, after, left_mm, measure=True)]


def _measure_again() -> Step:
    return Step(
        action="measure",
        title="Measure both ends",
        text=f"{safety.STOP_FIRST} Measure both ends again",
        expects=Expects.PITCH_DIAMETER,
    )


def _springs(job: ThreadJob, infeed: Infeed, progress: Progress, remaining_mm: float) -> list[Step]:
    """Return two spring passes where the dial stands, at the depth that was measured."""
    marks = round(progress.marks(infeed))
    depth_mm, left_mm = job.groove.depth_mm - remaining_mm, max(0.0, remaining_mm)
    return [spring_step(infeed, marks, depth_mm, left_mm) for _ in range(2)]
