"""What a round of readings asks for: the steps that cure it, and what must be said of it."""

from core import safety
from core.lathe.lathe import Lathe
from core.operations.runout.advice import advice
from core.operations.runout.job import RunoutJob
from core.operations.runout.remarks import questions, remarks
from core.operations.runout.sets_of_readings import Findings
from core.operations.runout.verdict import what_it_means
from core.plan import Step


def curing_steps(found: Findings, job: RunoutJob, lathe: Lathe) -> list[Step]:
    """Return how it stands and, one step each, what to do about it."""
    advised = advice(found, job, lathe)
    stands = Step(
        action="check", title="How it stands", text=" ".join((*advised.stands, *advised.expect)), extra={"stands": True}
    )
    cautions = (safety.TURN_BY_HAND, safety.SOFT_HAMMER)
    count = len(advised.to_do)
    return [
        stands,
        *(
            Step(
                action="check",
                title=f"Move {number} of {count}",
                text=line,
                cautions=cautions,
                extra={"move": f"{number} of {count}"},
            )
            for number, line in enumerate(advised.to_do, start=1)
        ),
    ]


def said_of(found: Findings, job: RunoutJob, lathe: Lathe) -> list[str]:
    """Return what must be said of the readings, grave things first."""
    said: list[str] = []
    for asked in (questions, remarks):
        for analysis in found.analyses:
            said += [line for line in asked(analysis, job, lathe.indicator_text) if line not in said]
    if not found.first.below_indicator:
        said += what_it_means(found.first, lathe.indicator_text)
    return said
