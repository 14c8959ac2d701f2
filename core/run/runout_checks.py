"""The results of runout checks that a pattern can use: the eccentricity of the work, or the runout of its face."""

from collections.abc import Iterator, Mapping
from math import atan2, degrees
from typing import Literal, NamedTuple

from core.events.state import State
from core.jobs.job import Job
from core.lathe.lathe import Lathe
from core.operations.registry import PlanInput, parameters_of
from core.operations.runout.analysis import Analysis
from core.operations.runout.job import RunoutJob, graduation_of, mark_words
from core.operations.runout.sets_of_readings import analyse_set, turns_in_job
from core.run.runout_view import runout_view
from core.values.errors import CoreError

Turned = Literal["clockwise", "anticlockwise"]
"""The direction in which the work was turned during a check, seen on its face from the spindle."""
WAYS: tuple[Turned, ...] = ("clockwise", "anticlockwise")
_FILE = "in this job's file"


def angle_on_work_deg(mark_deg: float, turned: Turned) -> float:
    """Return the angle on the work of a runout check's mark [deg], counted anticlockwise from the check's mark 0.

    The marks are numbered in the order in which they pass the indicator. If the work turns clockwise, they rise
    anticlockwise on the work. `turned`: the direction in which the work turned.

    >>> angle_on_work_deg(90, "clockwise"), angle_on_work_deg(90, "anticlockwise")
    (90.0, 270.0)
    """
    return float(mark_deg if turned == "clockwise" else -mark_deg) % 360


class RunoutCheck(NamedTuple):
    """One runout check for which all readings have been taken."""

    name: str
    """The name of the check's operation."""
    job: RunoutJob
    analysis: Analysis
    source: str = _FILE
    """The job file or the run with the readings, in a few words. Checks of several jobs can have the same name."""

    def words(self, lathe: Lathe) -> str:
        """Return the check in a few words: its name, the source of its readings, its runout and its high spot."""
        analysis, say = self.analysis, lathe.indicator_text
        off = f"runs out {say(analysis.tir_mm)}" if self.is_face else f"eccentric by {say(analysis.eccentricity_mm)}"
        return f"{self.name} ({self.job.surface}), {self.source}: {off}, high at {mark_words(analysis.high_spot_deg)}"

    @property
    def is_face(self) -> bool:
        """Return whether the readings were taken on a face. A face does not show where the work's centre is."""
        return self.job.surface == "face"

    def keys(self, turned: Turned) -> Mapping[str, str]:
        """Return the values that this check gives to keys of a pattern, as text for a job file.

        A key with the value "" must be emptied, because the value that it has does not belong to this check. `turned`:
        the direction in which the work turned.
        """
        towards_0_mm, towards_90_mm = self.analysis.work_centre_mm
        angle_deg = angle_on_work_deg(degrees(atan2(towards_90_mm, towards_0_mm)), turned)
        angle = f"{round(angle_deg, 2) % 360:g} deg"
        if not self.is_face:
            return {"eccentricity": f"{round(self.analysis.eccentricity_mm, 4):g} mm", "eccentric_at": angle}
        radius = "" if self.job.diameter_mm is None else f"{round(self.job.diameter_mm / 2, 4):g} mm"
        runout = f"{round(self.analysis.tir_mm, 4):g} mm"
        return {"face_runout": runout, "face_high_at": angle, "face_radius": radius}


def checks_in_job(job: Job | None) -> Iterator[RunoutCheck]:
    """Yield those runout checks of a job that have their readings in the job file."""
    for operation in job.operations if job is not None else ():
        if operation.kind == "runout" and (check := _in_file(operation.name, operation.plan_input)) is not None:
            yield check


def _in_file(name: str, plan_input: PlanInput) -> RunoutCheck | None:
    try:
        job: RunoutJob = parameters_of(plan_input)
        if not job.readings_mm:
            return None
        return RunoutCheck(name, job, analyse_set(job, turns_in_job(job), graduation_of(plan_input.lathe)).first)
    except CoreError:
        return None


def check_of_run(name: str, source: str, plan_input: PlanInput, state: State) -> RunoutCheck | None:
    """Return the check with a run's last set of readings; None if the set is incomplete or the work was moved since.

    `name`: the name of the check. `source`: a few words that say which run the readings come from.
    """
    try:
        view = runout_view(plan_input, state)
    except CoreError:
        return None
    last = view.current_set
    if not last.complete or last.analysis is None:
        return None
    return RunoutCheck(name, view.job, last.analysis.first, source)
