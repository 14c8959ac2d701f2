"""Continues a run without screens: answers each step with the same calls as the counter."""

from collections.abc import Iterator, Mapping
from fractions import Fraction
from typing import Any, get_args

from core.events.state import State
from core.inputs import MovedPart, SetTo, input_as_data, input_from_data
from core.logbook.active_run import ActiveRun
from core.operations.dividing.find_position import table_angle_deg
from core.operations.dividing.handle_dial import TABLE
from core.operations.registry import PlanInput, parameters_of
from core.plan import Step
from core.run.counter_view import Movements, counter_view
from core.run.revising import plan_input_of, revised_steps
from core.run.runout_view import readings_taken, runout_view
from core.run.table_reading import sets_table
from core.values.dials import Setting
from tui.runs import replan_rest

_MOST_ANSWERS = 200
ReplanInput = tuple[str, dict[str, Any]]
"""A cause for planning again, with the input that is logged with it."""


class Answering:
    """A run whose steps are answered one by one."""

    def __init__(self, run: ActiveRun) -> None:
        self.run = run
        self._plan_input: PlanInput | None = None
        self._plan_input_seen: object = None
        self._trials = 0
        """How many times the thread was measured or tried in the current start."""

    @property
    def state(self) -> State:
        """Return the run in the state that the log holds."""
        return self.run.state

    @property
    def plan_input(self) -> PlanInput:
        """The plan input of the run."""
        if self._plan_input is None or self._plan_input_seen is not self.state.plan_input:
            self._plan_input, self._plan_input_seen = plan_input_of(self.state.plan_input), self.state.plan_input
        return self._plan_input

    def revise(self, cause: str, data: Mapping[str, Any]) -> None:
        """Plan the remaining steps again and log the new plan.

        With the cause "edited", accept the present job files.
        """
        if cause == "edited":
            replan_rest(self.run, self.plan_input)
        else:
            entered = input_from_data(cause, data)
            self.run.revise(entered, revised_steps(self.plan_input, self.state, entered))

    def to_the_end(self) -> None:
        """Answer every step and finish the run. Check that the words of each step can be made."""
        for _ in range(_MOST_ANSWERS):
            step = self.state.cursor
            counter_view(self.plan_input.lathe, self.state, Movements(self.plan_input))
            if step is None:
                self.run.finish()
                return
            self._answer(step)
        raise AssertionError(f"still not at the end: {self.state.cursor}")

    def _answer(self, step: Step) -> None:
        if step.thread_start:
            self._trials = 0
        if step.expects == "reading" and not step.zeroed_dials:
            self._read()
        elif step.action == "measure":
            self._measure(step)
        elif step.zeroed_dials and step.required:
            dial = self.plan_input.lathe.dial(step.zeroed_dials[0])
            self.run.done(str(dial.graduation), dial.unit)
        else:
            self.run.done()

    def _read(self) -> None:
        """Read the indicator. After a complete set of readings with a result, plan the moves."""
        self.run.done("0.01", "mm")
        if runout_view(self.plan_input, self.state).current_set.refusal:
            return
        taken = readings_taken(self.plan_input, self.state)
        if taken is not None:
            self.revise(*input_as_data(taken))

    def _measure(self, step: Step) -> None:
        kind, must = self.plan_input.kind, step.required
        if kind == "thread" and not must and self._trials:
            self._trials += 1
            self.revise("fit", {"fit": "tight" if self._trials == 2 else "fits"})
            return
        if kind == "thread":
            self._trials += 1
        self.revise("measured", dict(self.size(step)))

    def size(self, step: Step) -> Mapping[str, float]:
        """Return the size to enter as measured, which is exactly the size that the dial predicts."""
        found, depth_mm = parameters_of(self.plan_input), self.state.depth_mm
        if step.expects == "circle":
            layer = next(one.at.layer for one in self.state.open_steps() if one.at.layer)
            return {"circle_mm": 2 * found.layers[layer - 1].circle_radius_mm}
        if self.plan_input.kind == "thread":
            return {"crest_mm": 0.8 * found.groove.depth_mm if depth_mm is None else depth_mm}
        if self.plan_input.kind in {"turn", "cut"}:
            return {"size_mm": found.size_mm(depth_mm or 0.0)}
        return {"depth_mm": depth_mm or 0.0}

    # Inputs that are possible now, besides the answer to the step.

    def inputs_possible_now(self) -> Iterator[ReplanInput]:
        """Yield every cause for planning again that the counter would accept now, with an input for it."""
        yield from self._measured()
        yield from self._set()
        yield from self._moved()
        yield "edited", {}

    def _measured(self) -> Iterator[ReplanInput]:
        kind, cursor = self.plan_input.kind, self.state.cursor
        under_way = cursor is not None and bool(self.state.progress.positions)
        if (
            kind == "runout"
            and (seen := runout_view(self.plan_input, self.state)).current_set.complete
            and not seen.again
        ):
            yield "measured", {"again": True}
        if (
            cursor is not None
            and (under_way or cursor.expects == "circle")
            and kind not in {"runout", "holes", "by_hand"}
        ):
            yield "measured", dict(self.size(cursor))
        if kind == "thread" and under_way:
            yield from (("fit", {"fit": fit}) for fit in ("won't start", "tight", "loose", "fits"))
        if under_way and not (self.state.revisions and isinstance(self.state.revisions[-1].entered, SetTo)):
            yield "spring", {}

    def _set(self) -> Iterator[ReplanInput]:
        step, lathe = self.state.cursor, self.plan_input.lathe
        if step is not None and sets_table(lathe, step) and lathe.rotary_table is not None:
            angle = table_angle_deg(step, lathe.rotary_table)
            yield "set", {"dial": TABLE, "position": str(angle), "shown": "as it is"}
        elif step is not None and step.action == "cut" and isinstance(setting := step.settings[0], Setting):
            position = Fraction(str(setting.position)) + lathe.dial(setting.dial).graduation
            yield "set", {"dial": setting.dial, "position": str(position), "shown": str(position)}

    def _moved(self) -> Iterator[ReplanInput]:
        if self.plan_input.kind == "thread":
            yield from (("picked up", {"moved": moved}) for moved in get_args(MovedPart))
        elif self.plan_input.kind in {"turn", "cut"}:
            yield "moved", {"size_mm": parameters_of(self.plan_input).size_mm(self.state.depth_mm or 0.0)}
        else:
            yield "moved", {}
