"""Threads of several starts: how to come from one start to the next."""

from core.lathe import Lathe
from core.plan import Step
from core.threads.job import ThreadJob


def next_start_steps(job: ThreadJob, lathe: Lathe, start: int) -> list[Step]:
    """Return the steps from one start to the next; `start` counts the starts already cut.

    With straight infeed the compound, parallel to the axis, is moved on by one
    pitch. With the compound set over for the flanks it cannot do that, so the
    spindle is turned by 1/starts against the gears. Source: derived; common
    practice.
    """
    thread = job.thread
    number = f"start {start + 1} of {thread.starts}"
    if job.straight and "compound" in lathe.dials:
        dial = lathe.dials["compound"]
        travel_mm = start * thread.pitch_mm
        setting = dial.at_travel(travel_mm)
        return [
            Step(
                action="set",
                text=f"For {number}: compound, parallel to the axis, on to {dial.setting_text(setting)} "
                f"({lathe.say(travel_mm)} from its zero), always from the same side",
                settings=(setting,),
                extra={"start": start + 1},
            )
        ]
    return [
        Step(
            action="set",
            text=f"For {number}: mark a tooth of the spindle gear that divides by {thread.starts}, bring it out "
            f"of mesh, turn the spindle 1/{thread.starts} of a turn, mesh again",
            cautions=("Drive isolated while the gears are open.",),
            extra={"start": start + 1},
        )
    ]
