"""Stopping short of a shoulder: how long the groove gives the hand, and the fastest speed that leaves enough."""

from dataclasses import dataclass

from core.lathe import Lathe
from core.threads.gearing import gearing
from core.threads.job import ThreadJob


@dataclass(frozen=True, kw_only=True)
class Stopping:
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


def _lost_turns(job: ThreadJob, lathe: Lathe) -> float:
    """Return the turns the spindle runs on while the carriage still follows."""
    if lathe.spindle.run_down_turns is None or not gearing(job.thread.exact_lead, lathe).nut_stays_closed:
        return 0.0
    return lathe.spindle.run_down_turns
