"""The base class of counters: a screen that shows a run, provides its plan input and its text, and logs events."""

from abc import abstractmethod
from collections.abc import Awaitable, Callable, Sequence
from functools import cached_property
from typing import TYPE_CHECKING, Any

from core.inputs import RunInput
from core.operations.registry import PlanInput
from core.run.counter_view import CounterView, Movements, counter_view
from core.run.revising import plan_input_of, revised_steps
from core.values.errors import CoreError
from core.values.plain_text import sentence
from tui.bell import Sound
from tui.log_access import OtherRun
from tui.widgets.base_screen import BaseScreen, Body

if TYPE_CHECKING:
    from core.events.state import State
    from core.jobs.job import JobOperation
    from core.lathe.lathe import Lathe
    from core.logbook.active_run import ActiveRun

OpenInstead = Callable[["JobOperation"], Awaitable[bool]]
"""Replaces the screen on top by the unfinished run of an operation. Returns whether that run was opened."""


class RunScreen(BaseScreen[None]):
    """A screen that shows a run. The counter's questions and pictures use only the members of this class."""

    def __init__(self, run: "ActiveRun", open_instead: OpenInstead | None = None) -> None:
        """Show a run. `open_instead`: the function that opens another run of the job; None to offer no other run."""
        super().__init__()
        self.run = run
        self._open_instead = open_instead
        self._view: CounterView | None = None
        self._viewed = run.state
        self._plan_input: PlanInput = plan_input_of(run.state.plan_input)
        self._plan_input_seen = run.state.plan_input
        self._movements = Movements(self._plan_input)

    @abstractmethod
    def paint(self, logged: str | None = None) -> None:
        """Show the present state of the run.

        `logged`: a sentence about the step that was just logged; None to keep the previous sentence.
        """

    @property
    def state(self) -> "State":
        """The present state of the run, as the log gives it."""
        return self.run.state

    @property
    def lathe_shown(self) -> "Lathe":
        """The lathe for which this run was started, even if the job names another lathe now."""
        return self.plan_input.lathe

    @property
    def plan_input(self) -> PlanInput:
        """The input for planning the remaining steps. It is read again only after an edit has changed it."""
        if self.state.plan_input is not self._plan_input_seen:
            self._plan_input, self._plan_input_seen = plan_input_of(self.state.plan_input), self.state.plan_input
            self._movements = Movements(self._plan_input)
        return self._plan_input

    @property
    def view(self) -> CounterView:
        """The current step in words and numbers. It is made once for each state of the run."""
        if self._view is None or self._viewed is not self.state:
            plan_input = self.plan_input
            self._view, self._viewed = counter_view(plan_input.lathe, self.state, self._movements), self.state
        return self._view

    # Logging.

    def attempt(self, record: Callable[[], Any], logged: str) -> bool:
        """Log an event by calling `record`, and show a message with the text `logged`. Return whether this succeeded.

        If the event cannot be logged, show the reason. The run does not change in that case.
        """
        try:
            record()
        except CoreError as error:
            self.paint()
            self.show_message(f"Not logged. {sentence(error.message)}")
            self.context.bell.say(Sound.NOT_LOGGED)
            return False
        step = self.state.cursor
        wants_number = step is not None and step.expects and step.action in {"measure", "read"}
        self.context.bell.say(Sound.MEASURE if wants_number else Sound.LOGGED)
        self.show_message("")
        self.paint(f"Logged: {logged}.")
        # On a small terminal the screen may be scrolled down for the step before.
        body = self.query_one("#body", Body)
        if body.scroll_offset.y:
            body.scroll_home(animate=False)
        return True

    def revise(self, entered: RunInput, logged: str) -> bool:
        """Plan the remaining steps again with an entry of the user, and log the new plan.

        `logged`: the text of the message. Return whether the new plan was logged.
        """
        return self.attempt(
            lambda: self.run.revise(entered, revised_steps(self.plan_input, self.state, entered)), logged
        )

    # The other runs of the job.

    @cached_property
    def other_runs(self) -> Sequence[OtherRun]:
        """The job's other unfinished runs, the latest opened first; () if the log cannot be read."""
        if self._open_instead is None:
            return ()
        return self.context.log.other_runs(self.context.job, self.state.origin)

    async def open_instead(self, operation: "JobOperation") -> bool:
        """Replace this run by the run of another operation. Return whether that run was opened."""
        return self._open_instead is not None and await self._open_instead(operation)
