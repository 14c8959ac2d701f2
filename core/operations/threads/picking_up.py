"""Finding a thread again with the tool, step by step. Common practice, no source."""

from dataclasses import replace
from typing import Any

from core import safety
from core.cutting import Infeed
from core.inputs import MovedPart
from core.lathe.lathe import Lathe, dial_words
from core.operations.threads.carriage import stop_steps
from core.operations.threads.gearing import gearing
from core.operations.threads.job import ThreadJob, angle_text
from core.plan import Expects, Step


def picking_up(job: ThreadJob, lathe: Lathe, infeed: Infeed, moved: MovedPart) -> list[Step]:
    """Return how a thread is found again. Depth comes from a measurement at the end."""
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
            text="Isolate the drive. Half nuts closed, tool clear; turn the spindle by hand the way it cuts until all "
            "play of gears and leadscrew is gone, with the tool beside a groove",
            cautions=(safety.BEFORE_POWER,),
        )
    )
    steps.append(
        Step(
            action="check",
            title="Find the groove",
            text=f"Work the tool into the groove with {_both(job)}, until both flanks touch and it reaches the bottom. "
            f"The last of it goes {'outwards' if job.thread.internal else 'inwards'}, the backlash taken up",
            cautions=_other_starts(job),
        )
    )
    steps += [_counts_from_here(dial.name, dial.at_marks(0)) for dial in (infeed.dial, *infeed.back_to_zero)]
    return [*steps, _must_measure(job)]


def _first(job: ThreadJob, lathe: Lathe, moved: MovedPart) -> list[Step]:
    """Return what the case itself calls for, before the groove is looked for."""
    if moved == "tool":
        angle = angle_text(2 * job.thread.half_angle_deg)
        text = (
            f"Tool: {safety.STOP_FIRST.lower()} Same form and tip as before, {angle} included, point at centre height, "
            "square to the work by the gauge"
        )
        caution = "Another tip makes another root: the flanks, and so the measurement, decide the depth."
        return [Step(action="check", title="Set the tool", text=text, cautions=(caution,))]
    if moved == "work":
        text = (
            f"Work: {safety.STOP_FIRST.lower()} Between centres put it back the same way round in its driver; in a "
            "chuck true it by an indicator on the crests, at both ends, before anything is cut"
        )
        mark = "0.01 mm" if lathe.unit == "mm" else "0.001 in"
        caution = f"Every {mark} that it runs out is {mark} of depth more on one side than on the other."
        return [Step(action="check", title="True the work", text=text, cautions=(caution,))]
    if moved == "half nuts":
        return [Step(action="check", title="Close the half nuts", text=_half_nuts_words(job, lathe))]
    return []


def _half_nuts_words(job: ThreadJob, lathe: Lathe) -> str:
    found = gearing(job.thread.exact_lead, lathe)
    if found.nut_stays_closed:
        return (
            "Half nuts: close them anywhere they go in, and from now on keep them closed and reverse the spindle, "
            "for nothing is known on this lathe that finds this lead again"
        )
    return (
        "Half nuts: close them as the thread dial says and look whether the tool still meets its groove; "
        "if it does nothing is lost: take this step back and go on"
    )


def _both(job: ThreadJob) -> str:
    return "the compound along the axis and the cross-slide" if job.straight else "compound and cross-slide together"


def _other_starts(job: ThreadJob) -> tuple[str, ...]:
    if job.thread.starts == 1:
        return ()
    words = (
        "note how far the compound was moved: the other starts count from its new place"
        if job.straight
        else ("be sure that it is the groove of the start that was being cut")
    )
    return (words,)


def _counts_from_here(dial: str, setting: Any) -> Step:
    return Step(
        action="set",
        title=f"Enter what the {dial_words(dial)} shows",
        text=f"Type what the {dial_words(dial)} shows now, or 0 if you set it to that: it counts from there",
        settings=(setting,),
        zeroes=(dial,),
        expects=Expects.READING,
        required=True,
    )


def _must_measure(job: ThreadJob) -> Step:
    how = "Touch the crest with the tool" if job.thread.internal else "Measure the thread, or touch the crest"
    return Step(
        action="measure",
        title="Measure the depth",
        text=f"{safety.STOP_FIRST} {how} and enter how deep the groove lies below it: "
        "the old count no longer tells the depth",
        expects=Expects.PITCH_DIAMETER,
        required=True,
    )
