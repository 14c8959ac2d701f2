"""The steps of picking up a thread, in which the turner brings the tool back into the existing groove.

The steps are common practice, without a source.
"""

from dataclasses import replace
from typing import Any

from core import safety
from core.cutting import Infeed
from core.inputs import MovedPart
from core.lathe.lathe import Lathe, dial_words
from core.operations.threads.carriage_travel import stop_steps
from core.operations.threads.gearing import gearing
from core.operations.threads.job import ThreadJob
from core.plan import Expects, Step
from core.values.angles import angle_text


def picking_up(job: ThreadJob, lathe: Lathe, infeed: Infeed, moved: MovedPart) -> list[Step]:
    """Return the steps that bring the tool back into a thread's groove and end with a measurement of the groove's
    depth.

    `moved`: the part of the set-up that was moved.
    """
    steps = [*_first(job, lathe, moved)]
    if moved != "half nuts":
        stops = stop_steps(job, lathe)
        if stops and not steps:
            stops[0] = replace(stops[0], text=f"Isolate the drive. {stops[0].text}")
        steps += stops
    steps.append(
        Step(
            action="check",
            title="Take up the backlash",
            text="Backlash: isolate the drive. Close the half nuts with the tool clear. Turn the spindle by hand in "
            "the direction of the cut, until the backlash of gears and leadscrew is taken up. Stop with the tool "
            "next to a groove",
            cautions=(safety.BEFORE_POWER,),
        )
    )
    steps.append(
        Step(
            action="check",
            title="Find the groove",
            text=f"Groove: move the tool into the groove with {_both(job)}, until both flanks touch and it reaches "
            f"the bottom. End with a move {'outwards' if job.thread.internal else 'inwards'}, the backlash taken up",
            cautions=_other_starts(job),
        )
    )
    steps += [_counts_from_here(dial.name, dial.at_marks(0)) for dial in (infeed.dial, *infeed.back_to_zero)]
    return [*steps, _must_measure(job)]


def _first(job: ThreadJob, lathe: Lathe, moved: MovedPart) -> list[Step]:
    """Return the first steps of picking up a thread, which depend on the part that was moved."""
    if moved == "tool":
        angle = angle_text(2 * job.thread.half_angle_deg)
        text = (
            f"Tool: {safety.STOP_FIRST.lower()} Set a tool of the same form and tip, {angle} included. Set its point "
            "at centre height, square to the work by the gauge"
        )
        caution = "A different tip cuts a different root. Go by the measurement, not by the old depth."
        return [Step(action="check", title="Set the tool", text=text, cautions=(caution,))]
    if moved == "work":
        text = (
            f"Work: {safety.STOP_FIRST.lower()} Between centres, put the work back in its driver in the same position. "
            "In a chuck, true the work with an indicator on the crests at both ends"
        )
        mark = "0.01 mm" if lathe.unit == "mm" else "0.001 in"
        caution = f"Runout of {mark} cuts {mark} deeper on one side than on the other."
        return [Step(action="check", title="True the work", text=text, cautions=(caution,))]
    if moved == "half nuts":
        return [Step(action="check", title="Close the half nuts", text=_half_nuts_words(job, lathe))]
    return []


def _half_nuts_words(job: ThreadJob, lathe: Lathe) -> str:
    gears = gearing(job.thread.exact_lead, lathe)
    if gears.nut_stays_closed:
        return (
            "Half nuts: close them wherever they engage. Keep them closed from now on and reverse the spindle. "
            "Nothing on this lathe can find this lead again"
        )
    return (
        "Half nuts: close them as the thread dial shows. Check that the tool still meets its groove. If it does, no "
        "position is lost. Undo this step and continue"
    )


def _both(job: ThreadJob) -> str:
    return "the compound along the axis and the cross-slide" if job.straight else "compound and cross-slide together"


def _other_starts(job: ThreadJob) -> tuple[str, ...]:
    if job.thread.starts == 1:
        return ()
    words = (
        "Note how far you moved the compound. The other starts are counted from its new position."
        if job.straight
        else "Make sure that the tool is in the groove of the current start."
    )
    return (words,)


def _counts_from_here(dial: str, setting: Any) -> Step:
    return Step(
        action="set",
        title=f"Enter the reading of the {dial_words(dial)}",
        text=f"Enter the present reading of the {dial_words(dial)}, or 0 if you set the dial to 0. Depths count from "
        "this reading",
        settings=(setting,),
        zeroed_dials=(dial,),
        expects=Expects.READING,
        required=True,
    )


def _must_measure(job: ThreadJob) -> Step:
    how = "Touch the crest with the tool" if job.thread.internal else "Measure the thread, or touch the crest"
    return Step(
        action="measure",
        title="Measure the depth",
        text=f"{safety.STOP_FIRST} {how} and enter the depth of the groove below the crest. "
        "The old count no longer applies",
        expects=Expects.PITCH_DIAMETER,
        required=True,
    )
