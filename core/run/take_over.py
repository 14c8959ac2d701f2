"""From one operation of a job to another: what the runout found means for the pattern that the job goes on to cut."""

from core.jobs.job import Job
from core.lathe.lathe import Lathe
from core.operations.operation import PatternGroove
from core.operations.registry import operation_of, parameters_of
from core.operations.runout.analysis import Analysis
from core.operations.runout.verdict import what_it_means
from core.values.errors import CoreError


def groove_of(job: Job | None) -> PatternGroove | None:
    """Return the deepest groove of the first pattern of a job that has tip and depth; None where none has."""
    for operation in job.operations if job is not None else ():
        try:
            groove = operation_of(operation.kind).groove(parameters_of(operation.plan_input))
        except CoreError:
            continue
        if groove is not None:
            return groove
    return None


def meaning(analysis: Analysis, lathe: Lathe, groove: PatternGroove | None) -> str:
    """Return what the runout found does to thread, spigot, bore and groove, with the numbers, on one line."""
    if groove is None:
        return " ".join(what_it_means(analysis, lathe.indicator_text))
    lines = what_it_means(
        analysis,
        lathe.indicator_text,
        tip_angle_deg=groove.tip_angle_deg,
        depth_mm=groove.depth_mm,
        tip_flat_mm=groove.tip_flat_mm,
    )
    return " ".join(lines)
