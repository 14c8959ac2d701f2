"""Words and units for the figures in the form for threading. This module calculates nothing."""

from collections.abc import Iterator, Mapping
from typing import Any

from core.lathe.lathe import Lathe, dial_words
from core.operations.form import Figure
from core.operations.pass_words import pass_length_text
from core.operations.thread_figure_words import train_words
from core.operations.threads.carriage_travel import by_hand_words, direction_words, stop_place_words
from core.operations.threads.compound import compound_scale_words, swing_words
from core.operations.threads.drills import (
    clearance_hole,
    clearance_hole_words,
    height_words,
    nearest_words,
    tapping_drill,
    tapping_words,
)
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
from core.operations.threads.measuring import usual_error_words
from core.operations.threads.planning import limits_text, pitch_text
from core.operations.threads.starts import index_words
from core.operations.threads.thread_dial import dial_use_words
from core.operations.threads.tool import (
    bar_words,
    clearance_note,
    full_profile_words,
    lean_words,
    side_clearance_words,
    tip_words,
    tool_words,
    withdrawal_words,
)
from core.plan import Plan
from core.values.angles import angle_text

_DIAMETERS = (("Major diameter", "major"), ("Pitch diameter", "pitch_diameter"), ("Minor diameter", "minor"))


def main_figures(plan: Plan, job: ThreadJob, lathe: Lathe) -> Iterator[Figure]:
    """Yield the figures about a thread's limits, depth and settings."""
    yield from _limits(plan, job, lathe)
    yield from _cutting(plan, job, lathe)


def further_figures(plan: Plan, job: ThreadJob, lathe: Lathe) -> Iterator[Figure]:
    """Yield the figures that the turner needs later: tool, stopping, measuring, change gears, half nuts and holes."""
    figures = plan.figures
    if "trailing_step_mm" in figures:
        yield Figure("Flank steps", lathe.length_text(figures["trailing_step_mm"]), "the largest, along the axis")
    yield from _tool(figures, job, lathe)
    yield from _stopping(figures, job, lathe)
    yield from _measuring(figures, job, lathe)
    yield from _gear_figures(job, lathe)
    yield from _holes(job, lathe)


def last_reading(plan: Plan, job: ThreadJob, lathe: Lathe) -> str:
    """Return the infeed dial's reading at the last pass, such as "compound to 2 turns and 0.22 mm"."""
    return _reading(plan, job, lathe, -1)


def _limits(plan: Plan, job: ThreadJob, lathe: Lathe) -> Iterator[Figure]:
    thread, figures = job.thread, plan.figures
    side = "inside" if thread.internal else "outside"
    yield Figure("Thread", thread.designation, side + (", left-hand" if thread.left_hand else ""))
    lead = f"lead {pitch_text(thread.lead_mm, thread, lathe)}, {thread.starts} starts" if thread.starts > 1 else ""
    yield Figure("Pitch", pitch_text(thread.pitch_mm, thread, lathe), lead)
    for name, key in _DIAMETERS:
        largest, least = figures.get(f"{key}_max_mm"), figures.get(f"{key}_min_mm")
        if largest is not None and least is not None:
            yield Figure(name, limits_text((least, largest), thread, lathe))
        elif largest is not None:
            yield Figure(name, f"at most {limits_text((largest,), thread, lathe)}")
        elif least is not None:
            yield Figure(name, f"at least {limits_text((least,), thread, lathe)}")
        else:
            yield Figure(name, limits_text((figures[f"{key}_basic_mm"],), thread, lathe), "basic, no limits")


def _cutting(plan: Plan, job: ThreadJob, lathe: Lathe) -> Iterator[Figure]:
    length_text, figures = lathe.length_text, plan.figures
    what = "Bore" if job.thread.internal else "Blank"
    yield Figure(
        what, length_text(job.blank_mm), "as entered" if job.blank_measured else "assumed; measure it and enter it"
    )
    yield Figure("Tool tip", tip_words(job, lathe))
    yield Figure("Depth", length_text(figures["depth_mm"]), "on the radius; passes end at the nearest mark")
    yield Figure("Root", length_text(figures["root_mm"]), "diameter that the tip reaches")
    if job.straight:
        stands = "parallel to the axis" if job.thread.starts > 1 else "locked"
        yield Figure("Compound", stands, "the cross-slide alone sets the depth")
    else:
        yield Figure("Compound scale", compound_scale_words(job, lathe), swing_words(job))
    yield Figure("Cutting passes", str(figures["passes"]), f"and {job.spring_passes} spring passes")
    yield Figure("First pass", _reading(plan, job, lathe, 0), _takes(plan, lathe, 0))
    yield Figure("Last pass", last_reading(plan, job, lathe), _takes(plan, lathe, -1))


def _tool(figures: Mapping[str, Any], job: ThreadJob, lathe: Lathe) -> Iterator[Figure]:
    """Yield the figures for grinding the tool and, for an inside thread, the boring bar that fits."""
    yield Figure("Tool", *tool_words(job, lathe))
    yield Figure("Tool's width", lathe.length_text(figures["tool_width_mm"]), "at the blank, at full depth")
    yield Figure("Lead angle", angle_text(figures["lead_angle_deg"]), "at the pitch diameter")
    leading, trailing = side_clearance_words(job)
    yield Figure("Leading flank", leading, clearance_note(job))
    yield Figure("Trailing flank", trailing)
    yield Figure("Lean", lean_words(job, lathe))
    if words := full_profile_words(job, lathe):
        yield Figure("Full profile", words)
    if job.thread.internal:
        yield Figure("Boring tool", bar_words(job, lathe))
        way_out = withdrawal_words(job, lathe.dial("cross_slide"))
        yield Figure("Withdraw", f"cross-slide {way_out}", "before the tool comes out of the bore")


def _stopping(figures: Mapping[str, Any], job: ThreadJob, lathe: Lathe) -> Iterator[Figure]:
    """Yield where the tool stops (or starts, in a cut away from the chuck), and the time for stopping in the relief."""
    if words := stop_place_words(job, lathe):
        yield Figure("Start" if job.from_chuck else "Stop", words)
    time_s, rpm, most = figures.get("stop_time_s"), figures.get("speed_rpm"), figures.get("rpm_most")
    if time_s is None or rpm is None:
        return
    note = (
        "too fast at any speed: turn the spindle by hand"
        if most is None
        else f"fastest speed that leaves time to stop: {most:g} rpm"
    )
    yield Figure("Time to stop", f"{time_s:.2f} s at {rpm:g} rpm", note)


def _measuring(figures: Mapping[str, Any], job: ThreadJob, lathe: Lathe) -> Iterator[Figure]:
    """Yield the figures for measuring an outside thread over wires. For an inside thread, name the gauge instead."""
    if "wire_mm" not in figures:
        yield Figure("To measure", "use a gauge or the mating part: wires do not fit inside")
        return
    length_text = lathe.length_text
    yield Figure("Wire", length_text(figures["wire_mm"]), f"best {length_text(figures['wire_best_mm'])}")
    yield Figure("Wires usable", f"{length_text(figures['wire_least_mm'])} to {length_text(figures['wire_most_mm'])}")
    lead = figures.get("wire_lead_correction_mm")
    note = f"includes {length_text(lead)} for the lead angle" if lead else "the lead angle adds too little to matter"
    yield Figure("Over 3 wires", _ends(figures, "over_wires", lathe), note)
    yield Figure("Over 2 wires", "the same size, measured between faces that are square to the axis")
    crest = f"with the opposite crest at {length_text(job.blank_mm)}"
    yield Figure("Over 1 wire", _ends(figures, "over_one_wire", lathe), crest)
    yield Figure("Uncertainty", *usual_error_words(job.thread, lathe))


def _ends(figures: Mapping[str, Any], name: str, lathe: Lathe) -> str:
    if f"{name}_basic_mm" in figures:
        return f"{lathe.length_text(figures[f'{name}_basic_mm'])}, basic"
    return f"{lathe.length_text(figures[f'{name}_min_mm'])} to {lathe.length_text(figures[f'{name}_max_mm'])}"


def _holes(job: ThreadJob, lathe: Lathe) -> Iterator[Figure]:
    """Yield the tapping drill for an inside thread, and the clearance holes for the screw."""
    drill = tapping_drill(job.thread) if job.thread.internal else None
    if drill is not None:
        yield Figure("Tapping drill", tapping_words(job.thread, drill), height_words(job.thread, lathe.length_text))
        yield Figure("Drills near it", nearest_words(drill.drill.mm))
    hole = clearance_hole(job.thread)
    if hole is not None:
        yield Figure("Clearance hole", clearance_hole_words(hole), "ISO 273, for the screw")


def _reading(plan: Plan, job: ThreadJob, lathe: Lathe, number: int) -> str:
    """Return the infeed dial's reading at a pass, in words.

    `number`: the index of the pass; 0 is the first pass, and -1 is the last.
    """
    dial = job.infeed(lathe).dial
    setting = [step for step in plan.steps if step.action == "cut"][number].setting(dial.name)
    return f"{dial_words(dial.name)} to {dial.setting_text(setting)}" if setting else dial_words(dial.name)


def _takes(plan: Plan, lathe: Lathe, number: int) -> str:
    step = [step for step in plan.steps if step.action == "cut"][number]
    return "" if step.removed_mm is None else f"takes {pass_length_text(step.removed_mm, step, lathe)}"


def _gear_figures(job: ThreadJob, lathe: Lathe) -> Iterator[Figure]:
    """Yield the figures about directions, change gears, half nuts, and moving to the next start of the thread."""
    gears = gearing(job.thread.exact_lead, lathe, job.thread.starts)
    yield Figure("Direction", *direction_words(job).rsplit(", the cut ", 1))
    yield from _trains(gears, job, lathe)
    yield from _half_nuts(gears, lathe)
    for number, words in enumerate(index_words(job, lathe)):
        yield Figure("Next start" if not number else "  or", words)


def _trains(gears: Gearing, job: ThreadJob, lathe: Lathe) -> Iterator[Figure]:
    """Yield the best train of change gears, then the other trains of two and four wheels."""
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
    """Return a note with the lead error of a train, in parts per million and over the length of the thread.

    If no length is entered, the note gives the error over 100 mm.
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
        words = dial_use_words(use).removeprefix("close the half nuts ")
        yield Figure("" if number else "Half nuts", words, note + best)


def _without_dial(gears: Gearing) -> str:
    if gears.nut_stays_closed:
        return "keep the half nuts closed and reverse the spindle"
    return "wherever they engage"
