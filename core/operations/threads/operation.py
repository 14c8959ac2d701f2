"""The declaration of the thread operation. Modules that a new plan does not need at once are imported on first use."""

from collections.abc import Callable
from typing import TYPE_CHECKING

from core.cutting import Progress
from core.events.state import State
from core.inputs import RunInput
from core.lathe.lathe import Lathe
from core.operations.operation import TOOL, WORKHOLDING, Figures, Needs, Operation
from core.operations.threads.compound import swing_words
from core.operations.threads.job import ThreadJob, read_thread_job
from core.operations.threads.planning import count_thread, pitch_text, plan_thread
from core.plan import Step
from core.values.angles import angle_text
from core.values.dials import ZeroedDials

if TYPE_CHECKING:
    from core.drawing import Drawing
    from core.questions import Asked
    from core.replanning import MeasuredCut


def _replan(
    job: ThreadJob, lathe: Lathe, material: str | None, progress: Progress, entered: RunInput
) -> tuple[Step, ...]:
    from core.operations.threads.replanning import replan_thread

    return replan_thread(job, lathe, material, progress, entered)


def _measured_cut(job: ThreadJob, lathe: Lathe, material: str | None) -> "MeasuredCut":
    from core.operations.threads.replanning import ThreadCut

    return ThreadCut(job, lathe, material)


def _questions(job: ThreadJob, lathe: Lathe, state: State) -> "tuple[Asked, ...]":
    from core.operations.threads.questions import thread_questions

    return thread_questions(job, lathe, state)


def _moved(job: ThreadJob, lathe: Lathe, state: State) -> "Asked | None":
    from core.operations.threads.questions import MOVED

    return MOVED


def _movements(job: ThreadJob, lathe: Lathe) -> Callable[[Step, ZeroedDials, tuple[int, int]], tuple[str, ...]]:
    from core.operations.threads.movements import ThreadMovements

    return ThreadMovements(job, lathe)


def _drawings(job: ThreadJob, lathe: Lathe) -> "Callable[[State, Step], Drawing | None]":
    from core.operations.threads.drawings import thread_drawings

    return thread_drawings(job, lathe)


def _overview(job: ThreadJob, lathe: Lathe) -> "tuple[tuple[str, Drawing], ...]":
    from core.operations.threads.drawings import overview

    return overview(job, lathe)


def _needs(job: ThreadJob, lathe: Lathe, figures: Figures) -> Needs:
    from core.operations.threads.carriage_travel import direction_words, spindle_in_reverse
    from core.operations.threads.tool import tool_words

    bar = "boring bar with a " if job.thread.internal else ""
    own = "the chamfer is cut with its own tool"
    if job.relief_mm is not None:
        own = "chamfer and relief are cut with their own tools"
    reverses = job.thread.left_hand or spindle_in_reverse(job)
    return Needs(
        place="spindle",
        tool=f"{bar}threading tool, {tool_words(job, lathe)[0]}, once {own}",
        compound=_compound_of(job, lathe),
        gears=_gears_words(job, lathe, figures),
        turns=direction_words(job) if reverses else "",
        speed_rpm=job.speed_rpm or figures.get("speed_rpm"),
    )


def _compound_of(job: ThreadJob, lathe: Lathe) -> str:
    if job.compound_angle_deg is not None:
        return f"{angle_text(job.compound_angle_deg)} off square to the axis, {swing_words(job)}"
    # The cross-slide sets the depth, so the compound only indexes the starts; with one start, any position is right.
    return "along the bed, parallel to the spindle axis" if job.thread.starts > 1 and "compound" in lathe.dials else ""


def _gears_words(job: ThreadJob, lathe: Lathe, figures: Figures) -> str:
    from core.operations.thread_figure_words import train_words

    trains = figures.get("change_gears")
    if trains:
        return train_words(trains[0]["drivers"], trains[0]["driven"])
    levers = "levers of the gearbox" if figures.get("in_gearbox") else "leadscrew geared"
    if letters := lathe.levers_for(job.thread.exact_lead):
        levers = f"levers of the gearbox at {letters}"
    return f"{levers} for {pitch_text(job.thread.lead_mm, job.thread, lathe)}"


THREAD = Operation(
    read=read_thread_job,
    steps=count_thread,
    plan=plan_thread,
    replan=_replan,
    questions=_questions,
    moved=_moved,
    movements=_movements,
    has_spring_passes=True,
    drawings=_drawings,
    overview=_overview,
    measured_cut=_measured_cut,
    needs=_needs,
    set_up_keys=(WORKHOLDING, TOOL),
)
