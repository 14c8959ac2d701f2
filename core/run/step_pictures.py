"""What there is to be seen at the step at hand: its dial at the mark, a drawing of what is cut or swung.

Made only when somebody looks, so that a pass waits for none of it.
"""

from collections.abc import Callable
from fractions import Fraction
from functools import cached_property
from typing import NamedTuple

from core.drawing import Drawing
from core.events.state import State
from core.inputs import SetTo
from core.operations.operation import DrawingsOf
from core.operations.registry import PlanInput, kind_of, parameters_of
from core.plan import Step
from core.run.counter_view import stands_at, turns_words, was_undone
from core.run.dial_picture import DialPicture
from core.run.progress import shown_settings
from core.values.errors import CoreError

DrawingOf = Callable[[State, Step], Drawing | None]
"""Returns the drawing of a step, None where it has none."""


class StepPicture(NamedTuple):
    """What is drawn of a step; with neither, `why_none` says why."""

    dial: DialPicture | None = None
    drawing: Drawing | None = None
    why_none: str = ""

    def __bool__(self) -> bool:
        """Tell whether there is anything to be seen."""
        return self.dial is not None or self.drawing is not None


class StepPictures:
    """The pictures of one run's steps; what they are made from is read once for a basis."""

    def __init__(self, plan_input: PlanInput) -> None:
        self._plan_input = plan_input

    def __call__(self, state: State) -> StepPicture:
        """Return what is to be seen at the cursor of a run."""
        step = state.cursor
        if step is None:
            return StepPicture(why_none="All steps are done: there is nothing left to show.")
        if self._drawing_of is None and self._declared is not None:
            return StepPicture(why_none="Another version planned this run: this one cannot draw it.")
        found = StepPicture(dial=self._dial(state, step), drawing=self._drawing(state, step))
        return found if found else found._replace(why_none=_why_none(step))

    def _drawing(self, state: State, step: Step) -> Drawing | None:
        try:
            return self._drawing_of(state, step) if self._drawing_of is not None else None
        except CoreError:
            return None

    def _dial(self, state: State, step: Step) -> DialPicture | None:
        """Return the dial that is set first at a step; none for a readout, or one whose reading is to be entered."""
        lathe = self._plan_input.lathe
        setting = next(iter(shown_settings(lathe, state, step)), None)
        dial = None if setting is None else lathe.dials.get(setting.dial)
        if setting is None or dial is None or dial.per_turn is None or step.required:
            return None
        zero = state.zeros.get(dial.name, Fraction(0))
        unsure = step.zeroed_dials or was_undone(state, dial.name) or _was_set_since(state)
        now = None if unsure else dial.marks_at(stands_at(lathe, state, dial.name))
        return DialPicture(
            dial=dial,
            wanted_marks=round(dial.marks_at(setting.position)),
            turns=turns_words(dial, setting, zero),
            now_marks=now,
            set_to_zero=bool(step.zeroed_dials),
        )

    @cached_property
    def _declared(self) -> DrawingsOf | None:
        kind = kind_of(self._plan_input.kind)
        return None if kind is None else kind.operation.drawings

    @cached_property
    def _drawing_of(self) -> DrawingOf | None:
        try:
            return self._declared and self._declared(parameters_of(self._plan_input), self._plan_input.lathe)
        except CoreError:
            return None


def _was_set_since(state: State) -> bool:
    """Tell whether a dial was said to show something else than the last pass left it at."""
    latest = state.undoable
    return latest is not None and latest.kind == "revised" and isinstance(state.revisions[-1].entered, SetTo)


def _why_none(step: Step) -> str:
    """Say why a step has no picture."""
    match step.action:
        case "check":
            return "No picture belongs to this step: no dial is set at it."
        case "measure" | "read":
            return "No picture belongs to this step: something is measured, no dial is set."
        case "set" if step.required:
            return "No picture belongs to this step: the dial stays where it is, enter what it shows."
        case _:
            return "No picture belongs to this step: it sets no dial that can be drawn."
