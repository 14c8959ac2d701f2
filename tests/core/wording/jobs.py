"""What is said of every job that has a golden card: its cautions, its steps, their movements, or why it is refused."""

import re
from collections.abc import Iterable, Iterator
from pathlib import Path

from core.jobs.job import JobOperation, read_job
from core.lathe.reader import problems_in
from core.run.counter_view import Movements, counter_view
from core.values.errors import FileError
from core.values.files import parse_toml, read_text
from tests.core.counted import Counted
from tests.core.wording.said import Said, said
from tests.golden.keeping import sources

_FIGURES = re.compile(r"\d[\d.]*")


class _Once:
    """Lets every sentence by once: figures aside, most steps of a plan say the same."""

    def __init__(self) -> None:
        self._shapes: set[str] = set()

    def new(self, sentences: Iterable[str]) -> list[str]:
        """Return the sentences that have not been said before."""
        found = []
        for sentence in sentences:
            shape = _FIGURES.sub("#", sentence)
            if sentence and shape not in self._shapes:
                self._shapes.add(shape)
                found.append(sentence)
        return found


def page() -> Iterator[Said]:
    """Return what is said of the jobs; a sentence stands where it is said first."""
    once = _Once()
    for name, path in sources().items():
        if "operation" not in parse_toml(read_text(path), path):
            yield said(name, *(str(problem) for problem in problems_in(parse_toml(read_text(path), path))))
            continue
        try:
            job = read_job(path)
        except FileError as error:
            yield said(name, *(_without_folder(message, path) for message in error.messages))
            continue
        for operation in job.operations:
            sentences = once.new([*operation.plan.general, *operation.plan.cautions, *_steps(operation)])
            if sentences:
                yield said(f"{name}, {operation.name}", *sentences)


def _without_folder(message: str, path: Path) -> str:
    return message.replace(f"{path.parent}/", "")


def _steps(operation: JobOperation) -> Iterator[str]:
    """Yield what the counter says at each step of the operation, every step done in turn."""
    plan_input = operation.plan_input
    run = Counted(plan_input.lathe, material=plan_input.material, **plan_input.parameters)
    movements = Movements(plan_input)
    while run.state.cursor is not None:
        view = counter_view(run.lathe, run.state, movements)
        yield from (view.text, *view.findings, *view.cautions, *view.also, view.amounts, *view.movements)
        run.done()
