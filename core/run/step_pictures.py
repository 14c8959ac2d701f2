"""Makes the pictures for the current step: the dial at the mark to set, and a drawing of the cut or the swung slide.

A picture is made only if the screen shows pictures. Otherwise every key press would have to wait for one.
"""

from collections.abc import Callable, Sequence
from fractions import Fraction
from functools import cached_property
from typing import NamedTuple

from core.drawing import Drawing
from core.events.state import State
from core.inputs import SetTo
from core.lathe.dial_face import DialMark, marks_around
from core.lathe.lathe import dial_words
from core.operations.operation import DrawingsOf
from core.operations.registry import PlanInput, kind_of, parameters_of
from core.plan import Step
from core.run.counter_view import dial_position, turns_words, was_undone
from core.run.revising import shown_settings
from core.values.dials import Dial
from core.values.errors import CoreError


class DialPicture(NamedTuple):
    """A dial at the mark to which a step sets it, as seen from the handle.

    The marks are counted from the dial's 0 as the slide moves inwards.
    """

    dial: Dial
    wanted_marks: int
    turns: str
    """The words before the number, such as "1 full turn and"; "" for none."""
    now_marks: Fraction | None = None
    """The present position of the dial, in marks; None if the position is not known, as before touch-off."""
    set_to_zero: bool = False
    """True if the user turns only the dial's ring to 0 and leaves the slide in its position."""

    @property
    def name(self) -> str:
        """Return the name of the dial, as the screen shows it."""
        return dial_words(self.dial.name)

    @property
    def number(self) -> str:
        """Return the number that the dial shows at the wanted mark, as text."""
        return self._engraved(Fraction(self.wanted_marks))

    def around(self, each_side: int) -> Sequence[DialMark]:
        """Return the wanted mark with `each_side` marks on each side of it, from left to right."""
        return marks_around(self.dial, self.wanted_marks, each_side)

    @property
    def away_marks(self) -> Fraction | None:
        """Return how many marks the dial is past the wanted mark; None if its position is not known.

        The number is below 0 if the dial is short of the wanted mark.
        """
        return None if self.now_marks is None else self.now_marks - self.wanted_marks

    @property
    def now_offset(self) -> int | None:
        """Return how many marks the zero line now is to the right of the wanted mark; below 0 if it is to the left.

        Return None if the dial's position is not known, or if the dial is a whole turn or more away, where the same
        mark comes up again.
        """
        away, dial = self.away_marks, self.dial
        if away is None or dial.per_turn is None or abs(away) >= dial.per_turn / dial.graduation:
            return None
        on_the_right = (dial.clockwise_goes == "out") == dial.rising_inwards
        rises = away if dial.rising_inwards else -away
        return round(rises if on_the_right else -rises)

    @property
    def now_words(self) -> str:
        """Return in words the present reading of the dial and how far to turn it; "" if its position is not known."""
        away, dial = self.away_marks, self.dial
        if self.set_to_zero:
            return "Turn only the dial ring to 0. Do not move the handle."
        if away is None or self.now_marks is None or dial.per_turn is None:
            return ""
        if not away:
            return "The dial already shows this reading."
        turns, marks = divmod(abs(away), dial.per_turn / dial.graduation)
        amounts = [f"{turns} turn{'s' if turns != 1 else ''}"] if turns else []
        amounts += [f"{_count(marks)} mark{'s' if marks != 1 else ''}"] if marks else []
        return f"Now {self._engraved(self.now_marks)}: {' and '.join(amounts)} to go."

    def _engraved(self, marks: Fraction) -> str:
        position = (marks if self.dial.rising_inwards else -marks) * self.dial.graduation
        if self.dial.per_turn is not None:
            position %= self.dial.per_turn
        return self.dial.number_text(position)


def _count(marks: Fraction) -> str:
    return str(marks) if marks.denominator == 1 else f"{float(marks):.1f}"


DrawingOf = Callable[[State, Step], Drawing | None]
"""Returns the drawing of a step; None if the step has no drawing."""


class StepPicture(NamedTuple):
    """The pictures for a step: the dial and the drawing. If the step has neither, `why_none` gives the reason."""

    dial: DialPicture | None = None
    drawing: Drawing | None = None
    why_none: str = ""

    def __bool__(self) -> bool:
        """Return whether the step has a picture."""
        return self.dial is not None or self.drawing is not None


class StepPictures:
    """Makes the pictures for the steps of a run. The plan input of the run is read only once."""

    def __init__(self, plan_input: PlanInput) -> None:
        self._plan_input = plan_input

    def __call__(self, state: State) -> StepPicture:
        """Return the pictures for the current step."""
        step = state.cursor
        if step is None:
            return StepPicture(why_none="All steps are done. There is nothing more to show.")
        if self._drawing_of is None and self._declared is not None:
            return StepPicture(
                why_none="Another version of this program planned this run, so this version cannot draw the steps."
            )
        pictures = StepPicture(dial=self._dial(state, step), drawing=self._drawing(state, step))
        return pictures if pictures else pictures._replace(why_none=_why_none(step))

    def _drawing(self, state: State, step: Step) -> Drawing | None:
        try:
            return self._drawing_of(state, step) if self._drawing_of is not None else None
        except CoreError:
            return None

    def _dial(self, state: State, step: Step) -> DialPicture | None:
        """Return the picture of the first dial that a step sets.

        Return None for a digital readout, and for a dial whose reading the user has yet to enter.
        """
        lathe = self._plan_input.lathe
        setting = next(iter(shown_settings(lathe, state, step)), None)
        dial = None if setting is None else lathe.dials.get(setting.dial)
        if setting is None or dial is None or dial.per_turn is None or step.required:
            return None
        zero = state.zeros.get(dial.name, Fraction(0))
        uncertain = step.zeroed_dials or was_undone(state, dial.name) or _was_set_since(state)
        now = None if uncertain else dial.marks_at(dial_position(lathe, state, dial.name))
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
    """Return whether the last thing the user did was to set the dial differently from the plan."""
    latest = state.undoable
    return latest is not None and latest.kind == "revised" and isinstance(state.revisions[-1].entered, SetTo)


def _why_none(step: Step) -> str:
    match step.action:
        case "check":
            return "This step has no picture, because you set no dial."
        case "measure" | "read":
            return "This step has no picture, because you only measure and set no dial."
        case "set" if step.required:
            return "This step has no picture. Leave the dial as it is, and enter its reading."
        case _:
            return "This step has no picture."
