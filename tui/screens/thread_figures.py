"""The figures of a thread as the threading screen shows them: words and units, nothing worked out."""

from collections.abc import Iterator, Mapping
from typing import Any

from core.lathe import Lathe, dial_words
from core.plan import Plan
from core.quantities import number_text
from core.threads.chasing_dial import DialUse
from core.threads.chasing_dial import words as half_nut_words
from core.threads.compound_view import scale_words
from core.threads.drills import tapping_drill, tapping_words
from core.threads.job import ThreadJob
from core.threads.planning import pitch_text, swing_words
from tui.widgets.figure_list import Figure

_DIAMETERS = (("Major diameter", "major"), ("Pitch diameter", "pitch_diameter"), ("Minor diameter", "minor"))


def main_figures(plan: Plan, job: ThreadJob, lathe: Lathe) -> Iterator[Figure]:
    """Yield limits, depth and what to set."""
    yield from _limits(plan, job, lathe)
    yield from _cutting(plan, job, lathe)


def further_figures(plan: Plan, job: ThreadJob, lathe: Lathe) -> Iterator[Figure]:
    """Yield what is wanted later: the tool's room, the time to stop, how to measure, gears and half nuts."""
    figures = plan.figures
    if "trailing_step_mm" in figures:
        yield Figure("Flank steps", lathe.say(figures["trailing_step_mm"]), "along the axis, the largest")
    yield Figure("Lead angle", f"{number_text(figures['lead_angle_deg'], 2)} deg")
    yield Figure("Tool's width", lathe.say(figures["tool_width_mm"]), "at the blank, at full depth")
    yield from _stopping(figures)
    yield from _measuring(figures, job, lathe)
    yield from _gearing(figures)


def last_reading(plan: Plan, job: ThreadJob, lathe: Lathe) -> str:
    """Return where the dial of the infeed stands at the last pass: "compound to 2 turns and 0.22 mm"."""
    return _reading(plan, job, lathe, -1)


def _limits(plan: Plan, job: ThreadJob, lathe: Lathe) -> Iterator[Figure]:
    thread, say, figures = job.thread, lathe.say, plan.figures
    side = "inside" if thread.internal else "outside"
    yield Figure("Thread", thread.designation, side + (", left-hand" if thread.left_hand else ""))
    lead = f"lead {pitch_text(thread.lead_mm, lathe)}, {thread.starts} starts" if thread.starts > 1 else ""
    yield Figure("Pitch", pitch_text(thread.pitch_mm, lathe), lead)
    for name, key in _DIAMETERS:
        largest, least = figures.get(f"{key}_max_mm"), figures.get(f"{key}_min_mm")
        if largest is not None and least is not None:
            yield Figure(name, f"{say(least)} to {say(largest)}")
        elif largest is not None:
            yield Figure(name, f"at most {say(largest)}")
        elif least is not None:
            yield Figure(name, f"at least {say(least)}")
        else:
            yield Figure(name, say(figures[f"{key}_basic_mm"]), "basic, no limits")


def _cutting(plan: Plan, job: ThreadJob, lathe: Lathe) -> Iterator[Figure]:
    say, figures = lathe.say, plan.figures
    what = "Bore" if job.thread.internal else "Blank"
    yield Figure(what, say(job.blank_mm), "as measured" if job.blank_given else "not typed: this is assumed")
    yield Figure("Depth", say(figures["depth_mm"]), "on the radius")
    yield Figure("Root", say(figures["root_mm"]), "diameter that the tip reaches")
    if job.straight:
        yield Figure("Compound", "locked", "depth is on the cross-slide alone")
    else:
        yield Figure("Compound scale", scale_words(job, lathe), swing_words(job))
    yield Figure("Cutting passes", str(figures["passes"]), f"and {job.spring_passes} spring passes")
    yield Figure("First pass", _reading(plan, job, lathe, 0), _takes(plan, lathe, 0))
    yield Figure("Last pass", last_reading(plan, job, lathe), _takes(plan, lathe, -1))


def _stopping(figures: Mapping[str, Any]) -> Iterator[Figure]:
    """How long the relief groove gives the hand."""
    time_s, rpm, most = figures.get("stop_time_s"), figures.get("speed_rpm"), figures.get("rpm_most")
    if time_s is None or rpm is None:
        return
    note = "no speed of this lathe leaves time" if most is None else f"fastest that leaves time: {most:g} rpm"
    yield Figure("Time to stop", f"{time_s:.2f} s at {rpm:g} rpm", note)


def _measuring(figures: Mapping[str, Any], job: ThreadJob, lathe: Lathe) -> Iterator[Figure]:
    """Over wires outside; the tapping drill inside."""
    say = lathe.say
    if "wire_mm" in figures:
        yield Figure("Wire", say(figures["wire_mm"]), f"best {say(figures['wire_best_mm'])}")
        yield Figure("Wires usable", f"{say(figures['wire_least_mm'])} to {say(figures['wire_most_mm'])}")
    if "over_wires_max_mm" in figures:
        yield Figure("Over 3 wires", f"{say(figures['over_wires_min_mm'])} to {say(figures['over_wires_max_mm'])}")
    drill = tapping_drill(job.thread) if job.thread.internal else None
    if drill is not None:
        yield Figure("Tapping drill", tapping_words(job.thread, drill))


def _gearing(figures: Mapping[str, Any]) -> Iterator[Figure]:
    if figures.get("in_gearbox"):
        yield Figure("Change gears", "the gearbox has it")
    for train in figures.get("change_gears", ())[:1]:
        pairs = zip(train["drivers"], train["driven"], strict=True)
        exact = train["error_ppm"] == 0
        note = "exact" if exact else f"pitch {number_text(train['error_ppm'], 1)} parts in a million out"
        yield Figure("Change gears", ", ".join(f"{driver} drives {driven}" for driver, driven in pairs), note)
    for use in figures.get("chasing_dial", ())[:1]:
        found = DialUse(teeth=use["teeth"], lines=use["lines"], use=tuple(use["use"]), anywhere=use["anywhere"])
        yield Figure("Half nuts", half_nut_words(found), "" if found.anywhere else f"wheel of {found.teeth}")


def _reading(plan: Plan, job: ThreadJob, lathe: Lathe, number: int) -> str:
    """Return what is set for one of the passes, counted from 0 or, below it, from the last."""
    dial = job.infeed(lathe).dial
    setting = [step for step in plan.steps if step.action == "cut"][number].setting(dial.name)
    return f"{dial_words(dial.name)} to {dial.setting_text(setting)}" if setting else dial_words(dial.name)


def _takes(plan: Plan, lathe: Lathe, number: int) -> str:
    removed_mm = [step for step in plan.steps if step.action == "cut"][number].removed_mm
    return "" if removed_mm is None else f"takes {lathe.say(removed_mm)}"
