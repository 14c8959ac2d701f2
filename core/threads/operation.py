"""The thread operation; what planning again and the movements of a pass need is loaded when it is first wanted."""

from collections.abc import Callable

from core.asking import Asked
from core.cutting import Progress
from core.dial_shown import DialsShown
from core.inputs import RunInput
from core.lathe import Lathe
from core.operation import Operation
from core.plan import Step
from core.state import State
from core.threads.job import ThreadJob, read_thread_job
from core.threads.planning import count_thread, plan_thread


def _replan(
    job: ThreadJob, lathe: Lathe, material: str | None, progress: Progress, entered: RunInput
) -> tuple[Step, ...]:
    from core.threads.replanning import replan_thread

    return replan_thread(job, lathe, material, progress, entered)


def _questions(job: ThreadJob, lathe: Lathe, state: State) -> tuple[Asked, ...]:
    from core.threads.questions import thread_questions

    return thread_questions(job, lathe, state)


def _moved(job: ThreadJob, lathe: Lathe, state: State) -> Asked | None:
    from core.threads.questions import MOVED

    return MOVED


def _movements(job: ThreadJob, lathe: Lathe) -> Callable[[Step, DialsShown, tuple[int, int]], tuple[str, ...]]:
    from core.threads.movements import ThreadMovements

    return ThreadMovements(job, lathe)


THREAD = Operation(
    read=read_thread_job,
    steps=count_thread,
    plan=plan_thread,
    replan=_replan,
    questions=_questions,
    moved=_moved,
    movements=_movements,
)
