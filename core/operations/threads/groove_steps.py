"""Which drawing belongs to a step of a thread: the compound to be swung, else the groove as far as it is cut."""

from collections.abc import Callable, Iterator

from core.cutting import depth_now_mm
from core.drawing import Drawing
from core.events.state import State
from core.lathe.lathe import Lathe
from core.operations.compound_drawing import SQUARE_DEG, Swing, swing_drawing
from core.operations.threads.groove_drawing import GrooveNow, groove_drawing
from core.operations.threads.job import ThreadJob
from core.plan import Step


def thread_drawings(job: ThreadJob, lathe: Lathe) -> Callable[[State, Step], Drawing | None]:
    """Return what draws the steps of one thread on one lathe."""

    def drawn(state: State, step: Step) -> Drawing | None:
        if step.action == "set" and not step.settings:
            swung = swing_of(job)
            return swing_drawing(swung, lathe) if swung.read and not step.thread_start else None
        if (step.action == "check" and not step.settings) or (
            step.zeroed_dials and "cross_slide" not in step.zeroed_dials
        ):
            return None
        done = tuple(_depths_of_start(state))[::-1]
        next_mm = step.depth_mm if step.action in {"cut", "spring"} else _scratch_mm(job, lathe, step)
        now_mm = depth_now_mm(state.open_steps(), state.depth_mm if done else None)
        return groove_drawing(job, lathe, GrooveNow(done, now_mm, next_mm, touches=bool(step.zeroed_dials)))

    return drawn


def _depths_of_start(state: State) -> Iterator[float]:
    """Yield the depths of the passes done in the groove at hand [mm], the latest first."""
    for step in state.done_latest_first():
        if step.thread_start:
            return
        if step.depth_mm is not None:
            yield step.depth_mm


def _scratch_mm(job: ThreadJob, lathe: Lathe, step: Step) -> float | None:
    """Return how deep a scratch pass goes [mm], None for a step that cuts nothing."""
    infeed = job.infeed(lathe)
    setting = step.setting(infeed.dial.name)
    if step.action != "check" or setting is None:
        return None
    return infeed.depth_mm(infeed.marks_at(setting.position))


def swing_of(job: ThreadJob) -> Swing:
    """Return how the compound is swung for a thread.

    Its handle lies towards the tailstock for a right-hand cut towards the chuck,
    to the other side where the tool runs away from the chuck or cuts a bore (see
    core.operations.threads.planning.swing_words). A compound that only indexes starts lies along the axis.
    """
    to_the_left = job.from_chuck != job.thread.internal
    slide_deg = 0.0 if job.thread.starts > 1 else SQUARE_DEG
    if job.compound_angle_deg is not None:
        slide_deg = SQUARE_DEG + (-job.compound_angle_deg if to_the_left else job.compound_angle_deg)
    return Swing(
        slide_deg=slide_deg,
        leans="left" if to_the_left and slide_deg else "right",
        at="bore" if job.thread.internal else "outside",
        read=not job.straight or job.thread.starts > 1,
    )
