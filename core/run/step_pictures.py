"""What there is to be seen at the step at hand: its dial at the mark, a drawing of what is cut or swung.

Made only when somebody looks, so that a pass waits for none of it.
"""

from collections.abc import Callable, Sequence
from fractions import Fraction
from functools import cached_property
from typing import NamedTuple

from core.drawing import Drawing
from core.events.state import State
from core.inputs import SetTo
from core.lathe.lathe import dial_words
from core.lathe.set_up.collar import Mark, collar
from core.operations.operation import DrawingsOf
from core.operations.registry import PlanInput, kind_of, parameters_of
from core.plan import Step
from core.run.counter_view import dial_position, turns_words, was_undone
from core.run.progress import shown_settings
from core.values.dials import Dial
from core.values.errors import CoreError


class DialPicture(NamedTuple):
    """A dial at the mark that a step sets it to. Marks are counted from its own 0, inwards."""

    dial: Dial
    wanted_marks: int
    turns: str
    """What comes before the number, such as "1 full turn and"; "" for nothing."""
    now_marks: Fraction | None = None
    """Where it is now; None where that is not known, as before it is touched off."""
    set_to_zero: bool = False
    """The dial itself is turned to its 0 here, the slide stays."""

    @property
    def name(self) -> str:
        """The dial's name as it is spoken."""
        return dial_words(self.dial.name)

    @property
    def number(self) -> str:
        """What its mark shows under the zero line."""
        return self._engraved(Fraction(self.wanted_marks))

    def around(self, each_side: int) -> Sequence[Mark]:
        """Return the marks on each side of the wanted one, from left to right."""
        return collar(self.dial, self.wanted_marks, each_side)

    @property
    def away_marks(self) -> Fraction | None:
        """Return how many marks the dial is away from the wanted one now; None where that is not known."""
        return None if self.now_marks is None else self.now_marks - self.wanted_marks

    @property
    def now_offset(self) -> int | None:
        """Marks to the right of the wanted one (negative: left) at which the zero line is on the collar now.

        None where it is not known, and a whole turn away or further: the same mark comes by more than once.
        """
        away, dial = self.away_marks, self.dial
        if away is None or dial.per_turn is None or abs(away) >= dial.per_turn / dial.graduation:
            return None
        on_the_right = (dial.clockwise_goes == "out") == dial.rising_inwards
        rises = away if dial.rising_inwards else -away
        return round(rises if on_the_right else -rises)

    @property
    def now_words(self) -> str:
        """Say where the dial is now and how far that is, "" where it is not known or is there already."""
        away, dial = self.away_marks, self.dial
        if self.set_to_zero:
            return "Turn the collar alone to 0; the handle stays."
        if away is None or self.now_marks is None or dial.per_turn is None:
            return ""
        if not away:
            return "It is there now."
        turns, marks = divmod(abs(away), dial.per_turn / dial.graduation)
        far = [f"{turns} turn{'s' if turns != 1 else ''}"] if turns else []
        far += [f"{_count(marks)} mark{'s' if marks != 1 else ''}"] if marks else []
        return f"Now {self._engraved(self.now_marks)}: {' and '.join(far)} to go."

    def _engraved(self, marks: Fraction) -> str:
        position = (marks if self.dial.rising_inwards else -marks) * self.dial.graduation
        if self.dial.per_turn is not None:
            position %= self.dial.per_turn
        return self.dial.number_text(position)


def _count(marks: Fraction) -> str:
    return str(marks) if marks.denominator == 1 else f"{float(marks):.1f}"


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
        unsure = step.zeroes or was_undone(state, dial.name) or _was_set_since(state)
        now = None if unsure else dial.marks_at(dial_position(lathe, state, dial.name))
        return DialPicture(
            dial=dial,
            wanted_marks=round(dial.marks_at(setting.position)),
            turns=turns_words(dial, setting, zero),
            now_marks=now,
            set_to_zero=bool(step.zeroes),
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
