"""Runs that tests count in memory, without a logbook, to check the contents of the counter."""

from collections.abc import Iterable, Mapping
from typing import Any

from core.events.event import Event, as_read_back
from core.events.replay import apply
from core.events.state import State
from core.inputs import RunInput, input_as_data, input_from_data
from core.lathe.lathe import Lathe
from core.lathe.reader import lathe_from
from core.operations.registry import PlanInput, parameters_of
from core.plan import Step, numbered, plan_as_data, step_as_data
from core.run.counter_view import CounterView, Movements, counter_view
from core.run.revising import logged_plan_input, revised_steps
from tests.core.planned import make_plan

TABLE: dict[str, Any] = {"ratio": 72, "dial_graduation": "2 arcmin", "backlash": "3 arcmin"}


def table_lathe(**table: Any) -> Lathe:
    """Return a lathe with cross-slide, carriage and rotary table, from TOML tables as in a lathe file."""
    slide = {"per_turn": "4 mm", "graduation": "0.05 mm", "reads": "diameter"}
    carriage = {"per_turn": "20 mm", "graduation": "0.05 mm", "reads": "travel"}
    dials = {"cross_slide": slide, "carriage": carriage}
    data = {"format": 1, "name": "Bench", "dial": dials, "rotary_table": table or TABLE}
    return lathe_from(data, "bench.toml")


class Counted:
    """A run whose state follows every event, as if it were read from a logbook."""

    def __init__(self, lathe: Lathe, kind: str, material: str | None = None, **keys: Any) -> None:
        parameters = {"kind": kind, "name": "Marks", **{key.rstrip("_"): value for key, value in keys.items()}}
        self.lathe = lathe
        self.plan_input = PlanInput(kind=kind, parameters=parameters, lathe=lathe, material=material)
        plan_input = logged_plan_input(self.plan_input)
        body = {"schema": 1, "program": "test", "origin": None, "digest": plan_input.digest}
        body |= {name: getattr(plan_input, name) for name in ("kind", "parameters", "material", "lathe", "lathe_name")}
        body |= {"stand_in": False, "plan": plan_as_data(make_plan(self.plan_input))}
        self.state: State = apply(None, self._event(0, "begun", body), "ab" * 16)

    def _event(self, seq: int, kind: str, body: Mapping[str, Any]) -> Event:
        wall = "2026-11-25T10:00:00+01:00"
        return Event(seq=seq, kind=kind, body=as_read_back(body), wall=wall, session="s", monotonic_ms=seq)

    def log(self, kind: str, **body: Any) -> None:
        self.state = apply(self.state, self._event(self.state.last_seq + 1, kind, body))

    @property
    def job(self) -> Any:
        """The checked parameters of the operation."""
        return parameters_of(self.plan_input)

    @property
    def cursor(self) -> Step:
        """The current step."""
        assert self.state.cursor is not None
        return self.state.cursor

    @property
    def view(self) -> CounterView:
        """Return the words and numbers that the counter shows."""
        return counter_view(self.lathe, self.state, Movements(self.plan_input))

    def done(self, times: int = 1) -> None:
        """Do a number of steps, from the current step on."""
        for _ in range(times):
            self.log("done", step=self.cursor.id)

    def to_position(self, number: int) -> None:
        """Do steps until the current step is at a position."""
        while not (self.cursor.action == "index" and self.cursor.at.position == number):
            self.done()

    def skip(self) -> None:
        """Skip the current step."""
        self.log("skipped", steps=[self.cursor.id], reason="test")

    def again(self, number: int) -> None:
        """Repeat a position."""
        step = next(step for step in self.state.steps if step.action == "index" and step.at.position == number)
        self.log("reopened", steps=[step.id])

    def undo(self) -> None:
        """Undo the last logged event."""
        assert self.state.undoable is not None
        self.log("undone", seq=self.state.undoable.seq)

    def revise(self, cause: str, /, **given: Any) -> None:
        """Plan the remaining steps again. `cause` and the entered values are in the form of the log."""
        self.tell(input_from_data(cause, given))

    def tell(self, entered: RunInput) -> None:
        """Enter an input into the run, and plan the remaining steps again."""
        self.log_revised(entered, revised_steps(self.plan_input, self.state, entered))

    def log_revised(self, entered: RunInput, steps: Iterable[Step]) -> None:
        """Log an input, and the steps that replace the open steps."""
        cause, given = input_as_data(entered)
        new = numbered(steps, self.state.next_step_id)
        self.log("revised", cause=cause, given=given, steps=[step_as_data(step) for step in new])

    def as_an_older_program_logged_it(self) -> None:
        """Give every open step its number and its shift as one number, as an old log does."""
        again = numbered(self.state.open_steps(), self.state.next_step_id)
        steps = [step_as_data(step) for step in again]
        for figures in (step["extra"] for step in steps if "pattern_step" in step.get("extra", ())):
            figures["start"] = figures.pop("pattern_step") + 1_000_000 * figures.pop("shift_marks", 0)
        self.log("revised", cause="moved", given={}, steps=steps)
