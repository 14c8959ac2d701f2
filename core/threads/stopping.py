"""Stopping short of a shoulder: where, how long the groove gives the hand, and the fastest speed that leaves enough."""

import math
from typing import NamedTuple

from core.dials import Dial
from core.lathe import Lathe
from core.threads.gearing import gearing
from core.threads.job import ThreadJob


class Stopping(NamedTuple):
    """Time to stop in the relief groove [s], at the speed given, and the fastest speed that leaves enough."""

    tool_width_mm: float
    room_mm: float
    """From the edge of the groove to the far flank of the tool, half its width taken off."""
    rpm: float | None
    time_s: float | None
    rpm_most: float | None


def stopping(job: ThreadJob, lathe: Lathe) -> Stopping | None:
    """Return how the tool stops in the relief groove; None where it runs away from it or there is none.

    Room = relief - half of the tool's width at the blank; time = room / feed,
    less the spindle's run-down where the half nuts stay closed.
    Source: derived; reaction time is the user's own (common practice, no source).
    """
    if job.relief_mm is None or job.from_chuck:
        return None
    width_mm = job.tip.width_mm(job.groove.depth_mm)
    room_mm = job.relief_mm - width_mm / 2
    spindle = lathe.spindle
    turns = room_mm / job.thread.lead_mm - _lost_turns(job, lathe)
    rpm = job.speed_rpm or spindle.slowest_rpm
    time_s = None if rpm is None else turns * 60 / rpm
    fastest = turns * 60 / spindle.reaction_time_s
    return Stopping(
        tool_width_mm=width_mm,
        room_mm=room_mm,
        rpm=rpm,
        time_s=time_s,
        rpm_most=spindle.fastest_up_to(fastest) if fastest > 0 else None,
    )


def relief_wanted_mm(job: ThreadJob, lathe: Lathe) -> float | None:
    """Return how wide a groove leaves the reaction time at the speed given, else at the slowest [mm].

    None where no speed is known. Source: `stopping`, solved for the groove.
    """
    rpm = job.speed_rpm or lathe.spindle.slowest_rpm
    if rpm is None:
        return None
    turns = rpm * lathe.spindle.reaction_time_s / 60 + _lost_turns(job, lathe)
    return job.tip.width_mm(job.groove.depth_mm) / 2 + turns * job.thread.lead_mm


def stopping_place_mm(job: ThreadJob) -> tuple[float, float] | None:
    """Return from where to where the tip may stop (or begin, by the chuck), counted from the end face [mm].

    From the end of the thread to where the tool still clears the wall of the groove;
    both alike without one. None where no length is given, or the groove is too narrow.
    """
    if job.length_mm is None:
        return None
    room_mm = 0.0 if job.relief_mm is None else job.relief_mm - job.tip.width_mm(job.groove.depth_mm) / 2
    return None if room_mm < 0 else (job.length_mm, job.length_mm + room_mm)


def place_words(job: ThreadJob, lathe: Lathe) -> str:
    """Say where the tip stops, from the end face and on the saddle's dial, "" where it is not known."""
    place = stopping_place_mm(job)
    if place is None:
        return ""
    least, most = place
    words = f"tip {lathe.say(least)} from the end face"
    if most - least > 0.0005:
        words = f"tip {lathe.say(least)} to {lathe.say(most)} from the end face"
    saddle = lathe.dials.get("saddle")
    return words if saddle is None else f"{words}; {_saddle_words(saddle, least, most)}"


def _saddle_words(saddle: Dial, least_mm: float, most_mm: float) -> str:
    """Say the same on the saddle's dial, counted from 0 with the tip over the end face, on marks inside the two."""
    first, last = math.ceil(least_mm / saddle.mark_mm - 1e-9), math.floor(most_mm / saddle.mark_mm + 1e-9)
    if last <= first:
        return f"saddle {saddle.setting_text(saddle.at_travel(least_mm))}, from 0 at the face"
    first_text, last_text = (saddle.setting_text(saddle.at_marks(marks)) for marks in (first, last))
    return f"saddle {first_text} to {last_text}, from 0 at the face"


def _lost_turns(job: ThreadJob, lathe: Lathe) -> float:
    """Return the turns the spindle runs on while the carriage still follows."""
    if lathe.spindle.run_down_turns is None or not gearing(job.thread.exact_lead, lathe).nut_stays_closed:
        return 0.0
    return lathe.spindle.run_down_turns
