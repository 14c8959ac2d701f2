"""What a round of readings asks for: the steps that cure it, and what must be said of it."""

from collections.abc import Mapping, Sequence
from typing import Any

from core import safety
from core.lathe import Lathe
from core.plan import Step
from core.runout.advice import advice
from core.runout.job import RunoutJob
from core.runout.remarks import questions, remarks
from core.runout.rounds import Findings, Turn
from core.runout.verdict import what_it_means


def curing_steps(found: Findings, job: RunoutJob, lathe: Lathe) -> list[Step]:
    """Return how it stands and, one step each, what to do about it."""
    advised = advice(found, job, lathe)
    stands = Step(action="check", text=" ".join((*advised.stands, *advised.expect)), extra={"stands": True})
    cautions = (safety.TURN_BY_HAND, safety.SOFT_HAMMER)
    count = len(advised.to_do)
    return [
        stands,
        *(
            Step(action="check", text=line, cautions=cautions, extra={"move": f"{number} of {count}"})
            for number, line in enumerate(advised.to_do, start=1)
        ),
    ]


def said_of(found: Findings, job: RunoutJob, lathe: Lathe) -> list[str]:
    """Return what must be said of the readings, grave things first."""
    said: list[str] = []
    for asked in (questions, remarks):
        for analysis in found.analyses:
            said += [line for line in asked(analysis, job, lathe.say_reading) if line not in said]
    if not found.first.below_indicator:
        said += what_it_means(found.first, lathe.say_reading)
    return said


def typed_turns(job: RunoutJob, given: Mapping[str, Any]) -> list[Turn]:
    """Return the turns of a round as a screen gives them."""
    turns = []
    closings = _by_plane(job, given.get("closing_mm"))
    for key, again in (("readings_mm", False), ("again_mm", True)):
        for plane, readings in enumerate(_by_plane(job, given.get(key)), start=1):
            turns.append(
                Turn(
                    angles_deg=job.angles_deg[: len(readings)],
                    readings_mm=tuple(float(reading) for reading in readings),
                    closing_mm=closings[plane - 1] if not again and plane <= len(closings) else None,
                    plane=plane,
                    again=again,
                )
            )
    return turns


def _by_plane(job: RunoutJob, found: Any) -> Sequence[Any]:
    """Return what was given, one item for each plane."""
    if found is None:
        return ()
    return found if job.planes == 2 else (found,)
