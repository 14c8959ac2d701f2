"""From one operation of a job to another: what the runout found means for the pattern that the job goes on to cut."""

from typing import NamedTuple

from core.jobs.job import Job
from core.lathe.lathe import Lathe
from core.operations.patterns.job import PatternJob
from core.operations.registry import parameters_of
from core.operations.runout.analysis import Analysis
from core.operations.runout.verdict import what_it_means
from core.values.errors import FileError


class Groove(NamedTuple):
    """The groove of a pattern: included angle of the tip [deg], its flat [mm], depth [mm]."""

    tip_angle_deg: float
    tip_flat_mm: float
    depth_mm: float


def groove_of(job: Job | None) -> Groove | None:
    """Return the deepest groove of the first layers of a job that say tip and depth; None where none do."""
    for operation in job.operations if job is not None else ():
        if operation.kind != "pattern":
            continue
        try:
            layers = parameters_of(operation.basis)
        except FileError:
            continue
        depths = [layer.depth_mm for layer in layers.layers if layer.depth_mm] if isinstance(layers, PatternJob) else []
        if layers.tip is not None and depths:
            return Groove(layers.tip.angle_deg, layers.tip.flat_mm, max(depths))
    return None


def meaning(analysis: Analysis, lathe: Lathe, groove: Groove | None) -> str:
    """Return what the runout found does to thread, spigot, bore and groove, with the numbers, on one line."""
    if groove is None:
        return " ".join(what_it_means(analysis, lathe.say_reading))
    lines = what_it_means(
        analysis,
        lathe.say_reading,
        tip_angle_deg=groove.tip_angle_deg,
        depth_mm=groove.depth_mm,
        tip_flat_mm=groove.tip_flat_mm,
    )
    return " ".join(lines)
