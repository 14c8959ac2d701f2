"""Planning the rest of a thread again, from what was measured, tried, set or moved."""

import math
from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction
from typing import Any

from core import safety
from core.cutting import Infeed, Progress, cut_steps, spring_step
from core.errors import PlanError
from core.lathe import Lathe
from core.plan import Step, numbered
from core.threads.figures import wire_for
from core.threads.job import ThreadJob
from core.threads.planning import (
    cutting,
    end_of_cutting,
    ending,
    measured_until_mm,
    measuring,
    plan_passes,
    touch_off,
    trying,
)
from core.threads.schedule import Schedule, schedule, usual_passes
from core.threads.starts import next_start_steps
from core.threads.wires import pitch_diameter_from_wires_mm

TAPER_MM = 0.02
"""Two ends that differ by more are called tapered or sprung; a quarter of a usual tolerance."""


def replan_thread(
    job: ThreadJob,
    lathe: Lathe,
    material: str | None,
    progress: Progress,
    cause: str,
    given: Mapping[str, Any],
) -> tuple[Step, ...]:
    """Return the steps that replace the open ones; raises PlanError.

    `cause` "measured": given holds pitch_diameter_mm or over_wires_mm (with wire_mm
    where it is not the planned one), each a number or {"shoulder", "free"}, or
    crest_mm (depth found by touching the crest); "fit": given["fit"] is "goes" or
    "does not go"; "set": given["position"], where the dial was really set; "picked
    up" and "moved": both readings are taken anew and depth comes from a measurement.
    """
    infeed = job.infeed(lathe)
    if cause == "measured":
        steps = _measured(job, lathe, material, infeed, progress, given)
    elif cause == "fit":
        steps = _tried(job, infeed, progress, given["fit"])
    elif cause == "set":
        steps = _set_differently(job, lathe, material, infeed, progress, Fraction(str(given["position"])))
    elif cause in {"picked up", "moved"}:
        steps = [*_picking_up(infeed), _must_measure()]
    elif cause == "edited":
        steps = _rest(job, material, infeed, progress, job.groove.depth_mm - progress.depth_mm, measure=True)
        if not progress.positions:
            steps = [*touch_off(job, lathe, infeed), *steps]
    else:
        accepted = "measured, fit, set, picked up, moved and edited"
        raise PlanError(f'found the cause "{cause}"; accepted are {accepted}')
    last = _last_marks(steps, infeed, progress)
    for start in progress.later_starts:
        steps += [
            *next_start_steps(job, lathe, start - 1),
            *cutting(job, plan_passes(job, lathe, material, last)),
        ]
    return numbered([*steps, ending()], progress.next_id)


def _last_marks(steps: list[Step], infeed: Infeed, progress: Progress) -> int | None:
    """Return the mark that this start ends on, which the starts after it are cut to; None where not known."""
    settings = [step.setting(infeed.dial.name) for step in steps if step.action == "cut"]
    if settings and settings[-1] is not None:
        return round(infeed.marks_at(Fraction(settings[-1].position).limit_denominator(10**9)))
    return round(progress.marks(infeed)) or None


def measured_pitch_diameters_mm(job: ThreadJob, lathe: Lathe, given: Mapping[str, Any]) -> tuple[float, ...]:
    """Return the measured pitch diameter at each end measured: shoulder, then free end [mm]."""
    if "pitch_diameter_mm" in given:
        return _ends(given["pitch_diameter_mm"])
    wire_mm = float(given.get("wire_mm") or wire_for(job, lathe))
    return tuple(
        pitch_diameter_from_wires_mm(over_mm, wire_mm, job.thread) for over_mm in _ends(given["over_wires_mm"])
    )


def verdict(job: ThreadJob, lathe: Lathe, diameters_mm: tuple[float, ...]) -> str:
    """Say how a measured pitch diameter stands: how much is left, inside the limits, or past them."""
    thread, limits = job.thread, job.thread.limits
    fat_mm = fat_end_mm(job, diameters_mm)
    words = f"pitch diameter {lathe.say(fat_mm)}"
    largest, least = limits.pitch_diameter_max_mm, limits.pitch_diameter_min_mm
    if largest is None or least is None:
        return f"{words}, basic {lathe.say(thread.pitch_diameter_basic_mm)}; the standard gives no limits here"
    if least <= fat_mm <= largest:
        words += f", inside the limits {lathe.say(least)} to {lathe.say(largest)}"
    elif (fat_mm > largest) != thread.internal:
        words += f", {lathe.say(abs(fat_mm - (least if thread.internal else largest)))} from the nearer limit"
    else:
        over = abs(fat_mm - (largest if thread.internal else least))
        words += (
            f", {lathe.say(over)} past the limits: it cannot be put back; it may still serve "
            "where a loose fit does, or with a mating part made to suit"
        )
    return f"{words}; {taper_words(job, lathe, diameters_mm)}" if is_tapered(diameters_mm) else words


def fat_end_mm(job: ThreadJob, diameters_mm: tuple[float, ...]) -> float:
    """Return the end that rules: the one with more metal left [mm]."""
    return min(diameters_mm) if job.thread.internal else max(diameters_mm)


def is_tapered(diameters_mm: tuple[float, ...]) -> bool:
    """Tell whether the two ends differ by more than a measurement does."""
    return len(diameters_mm) > 1 and abs(diameters_mm[0] - diameters_mm[1]) > TAPER_MM


def taper_words(job: ThreadJob, lathe: Lathe, diameters_mm: tuple[float, ...]) -> str:
    """Say which end is fat and what cures it. Common practice, no source."""
    free_is_fat = (diameters_mm[1] > diameters_mm[0]) != job.thread.internal
    end = "free" if free_is_fat else "shoulder"
    by = lathe.say(abs(diameters_mm[0] - diameters_mm[1]))
    cure = (
        "a spring pass or a support, not more infeed" if free_is_fat else "see whether tailstock and work are in line"
    )
    return f"the {end} end is fat by {by}, which is spring or taper: {cure}"


def _ends(given: Any) -> tuple[float, ...]:
    if isinstance(given, Mapping):
        return tuple(float(given[end]) for end in ("shoulder", "free") if given.get(end) is not None)
    return (float(given),)


def _measured(
    job: ThreadJob,
    lathe: Lathe,
    material: str | None,
    infeed: Infeed,
    progress: Progress,
    given: Mapping[str, Any],
) -> list[Step]:
    if "crest_mm" in given:
        remaining_mm = job.groove.depth_mm - float(given["crest_mm"])
        words = f"groove {lathe.say(float(given['crest_mm']))} deep"
        tapered = False
    else:
        diameters = measured_pitch_diameters_mm(job, lathe, given)
        sense = -1 if job.thread.internal else 1
        remaining_mm = sense * (fat_end_mm(job, diameters) - job.thread.wanted_pitch_diameter_mm) / 2
        words, tapered = verdict(job, lathe, diameters), is_tapered(diameters)
    rest = _rest(job, material, infeed, progress, remaining_mm)
    if tapered:
        # More infeed would make the thin end too small; the fat one first gets its chance to spring back.
        rest = [*_springs(job, infeed, progress, remaining_mm), _measure_again(), *rest]
    first = rest[0]
    rest[0] = replace(first, cautions=(words, *first.cautions))
    return rest


def _rest(
    job: ThreadJob,
    material: str | None,
    infeed: Infeed,
    progress: Progress,
    remaining_mm: float,
    *,
    measure: bool = False,
) -> list[Step]:
    """Return the cuts that are left from where the dial stands, and the end of cutting; only a trial where none is.

    `measure` puts the first measurement among them, where there is still room for it.
    """
    now = progress.marks(infeed)
    last = round(now + Fraction(remaining_mm / infeed.mark_mm))
    if last <= now:
        return [trying(job)]
    depth_mm = job.groove.depth_mm - remaining_mm
    # Where the dial was set between two marks, the first step is counted from the mark before.
    whole = math.floor(now)
    planned = _schedule_of_rest(job, material, infeed, progress, (last - whole, remaining_mm))
    cuts = cut_steps(
        infeed,
        [whole + marks for marks in planned.marks],
        name="Cut",
        from_marks=now,
        start_depth_mm=depth_mm,
        last_marks=last,
        last_exact_depth_mm=infeed.depth_mm(now) + remaining_mm,
    )
    end = end_of_cutting(job, infeed, cuts[-1], last)
    before = sum((cut.depth_mm or 0.0) <= measured_until_mm(job) for cut in cuts) if measure else 0
    if not before:
        return [*cuts, *end]
    middle = measuring(job, infeed, cuts[before - 1], whole + planned.marks[before - 1])
    return [*cuts[:before], *middle, *cuts[before:], *end]


def _schedule_of_rest(
    job: ThreadJob, material: str | None, infeed: Infeed, progress: Progress, left: tuple[int, float]
) -> Schedule:
    """Return the passes for what is left: marks, and the same in mm; as many as its share of the usual ones."""
    marks, remaining_mm = left
    before = progress.last_removed_mm
    share = remaining_mm / job.groove.depth_mm
    return schedule(
        total_marks=marks,
        mark_mm=infeed.mark_mm,
        passes=None,
        usual_passes=max(1, round(usual_passes(job.thread.pitch_mm, material) * share)),
        limits=job.limits,
        tip=job.tip,
        start_mm=max(0.0, job.groove.depth_mm - remaining_mm),
        marks_before=None if not before else max(1, round(before / infeed.mark_mm)),
    )


def _tried(job: ThreadJob, infeed: Infeed, progress: Progress, fit: str) -> list[Step]:
    """Return what follows a trial: nothing where it goes, a mark or two and a spring pass where it does not."""
    if fit in {"goes", "fits"}:
        return []
    if fit == "loose":
        words = "it is loose: nothing can be put back; it may serve with a mating part made to suit"
        return [Step(action="check", text="Decide whether it can still serve", cautions=(words,))]
    now = progress.marks(infeed)
    marks = math.floor(now) + (2 if fit == "won't start" else 1)
    cuts = cut_steps(
        infeed,
        [marks],
        name="A small step",
        from_marks=now,
        start_depth_mm=progress.depth_mm,
        last_marks=marks,
    )
    return [*cuts, spring_step(infeed, marks, cuts[0].depth_mm or 0.0, 0.0), trying(job)]


def _set_differently(
    job: ThreadJob, lathe: Lathe, material: str | None, infeed: Infeed, progress: Progress, position: Fraction
) -> list[Step]:
    """Return the pass at the reading that was really set, then the rest as far as it still goes."""
    now = progress.marks(infeed)
    mark = infeed.marks_at(position)
    left_mm = job.groove.depth_mm - progress.depth_mm
    last = round(now + Fraction(left_mm / infeed.mark_mm))
    here = round(mark)
    first = cut_steps(
        infeed,
        [here],
        name="As set",
        from_marks=now,
        start_depth_mm=progress.depth_mm,
        last_marks=max(last, here),
    )
    if here > last:
        over_mm = 2 * infeed.depth_mm(here - last)
        words = (
            f"this is {lathe.say(over_mm)} of pitch diameter past the last planned mark: wind back if it is not cut yet"
        )
        first = [replace(first[0], cautions=(words,))]
    if here >= last:
        return [*first, *end_of_cutting(job, infeed, first[0], here)]
    after = replace(
        progress,
        depth_mm=first[0].depth_mm or 0.0,
        positions={infeed.dial.name: position},
        last_removed_mm=first[0].removed_mm,
    )
    return [*first, *_rest(job, material, infeed, after, job.groove.depth_mm - after.depth_mm, measure=True)]


def _picking_up(infeed: Infeed) -> list[Step]:
    """Return how a thread is found again with the tool. Common practice, no source."""
    steps = [
        Step(
            action="check",
            text="Half nuts closed as before, tool clear; turn the spindle forward by hand until all gear play is gone",
            cautions=("Drive isolated while you turn by hand.",),
        ),
        Step(
            action="check",
            text="Work the tool into the groove with compound and cross-slide together, "
            "until both flanks touch and it reaches the bottom",
        ),
    ]
    dials = (infeed.dial, *infeed.back_to_zero)
    for dial in dials:
        name = "cross-slide" if dial.name == "cross_slide" else dial.name
        steps.append(
            Step(
                action="set",
                text=f"Type what the {name} shows now, or 0 if you set it to that: it counts from there",
                settings=(dial.at_marks(0),),
                zeroes=(dial.name,),
                expects="reading",
                extra={"must": True},
            )
        )
    return steps


def _must_measure() -> Step:
    return Step(
        action="measure",
        text="Measure the thread, or touch the crest and type how deep the groove lies below it: "
        "the old count no longer tells the depth",
        expects="pitch diameter",
        extra={"must": True},
        cautions=(safety.MEASURE_STOPPED,),
    )


def _measure_again() -> Step:
    return Step(
        action="measure",
        text="Measure both ends again",
        expects="pitch diameter",
        cautions=(safety.MEASURE_STOPPED,),
    )


def _springs(job: ThreadJob, infeed: Infeed, progress: Progress, remaining_mm: float) -> list[Step]:
    """Return two spring passes where the dial stands, at the depth that was measured."""
    marks = round(progress.marks(infeed))
    depth_mm, left_mm = job.groove.depth_mm - remaining_mm, max(0.0, remaining_mm)
    return [spring_step(infeed, marks, depth_mm, left_mm) for _ in range(2)]
