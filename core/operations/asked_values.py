"""Measured values that a job file may omit. The run asks for each missing value and logs the answer.

Each missing value gets a step of its own. After an answer, the remaining steps are planned again from the job and all
answers so far. If the missing value is a list of readings, each reading is a question of its own.
"""

import re
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any, NamedTuple

from core.cutting import Progress
from core.events.state import State
from core.inputs import Edited, Moved, PickedUp, RunInput, nothing_planned_from
from core.plan import Expects, Step
from core.questions import Asked, ChoiceAsked, ValueAsked
from core.values.errors import QuantityError
from core.values.fields import Table
from core.values.quantities import LONGEST_TEXT, read_quantity

_ASKS = "asks"
"""Key in `Step.extra` for the value that the step asks for."""
AFTER = "_after"
"""Suffix of the keys of values that are measured again after a move."""
REVERSED = "reversed_"
"""Prefix of the keys of readings with the square turned over, or with the bar turned by half a turn."""

_UNIT_AT_DIGIT = re.compile(r"(?<=\d)(?=[a-zA-Z]+$)")
"""The place between a number and its unit, typed without a space."""


class AskedAt(NamedTuple):
    """The place of a value in the operation's table: its key, and its index from 0 if the value is an item of a list
    (otherwise None).
    """

    key: str
    place: int | None = None


class Ask(NamedTuple):
    """A question that asks for one missing value, and the texts of the step at which the user measures the value."""

    at: AskedAt
    title: str
    text: str
    question: str
    reads: bool = False
    """True for an indicator reading, which may be below 0. False for a size, which must be above 0."""
    choices: tuple[str, ...] = ()
    """The answers to choose from; () if the answer is a length."""
    required: bool = True
    """False if the user may skip the question and the result is then less exact."""
    cautions: tuple[str, ...] = ()

    def step(self) -> Step:
        """Return the step at which the user measures the missing value and enters the result."""
        return Step(
            action="read" if self.reads else "measure",
            title=self.title,
            text=self.text,
            expects=Expects.SIZE,
            required=self.required,
            cautions=self.cautions,
            extra=asks_for(self.at),
        )

    def asked(self, state: State, unit: str, detail: Sequence[str] = ()) -> Asked:
        """Return the question in the form in which a screen asks it.

        `unit`: "mm" or "in", the unit of a number that the user enters without a unit. `detail`: further sentences to
        show with the question.
        """
        if self.choices:
            answers = tuple((words, answer(state, self.at, words)) for words in self.choices)
            return ChoiceAsked(self.title, self.question, answers, 0, f"{self.title.lower()}: ")

        def read(text: str) -> str:
            return read_value(text, unit, above_zero=not self.reads)

        return ValueAsked(
            choice=self.title,
            question=self.question,
            read=read,
            entered=lambda value: answer(state, self.at, value),
            name=self.title.lower(),
            label="Reading" if self.reads else "Size",
            unit=unit,
            detail=tuple(detail),
        )


def read_value(text: str, unit: str, *, above_zero: bool) -> str:
    """Return a length as the user entered it, always with a unit. A number without a unit gets `unit`.

    Raises QuantityError if the text is empty or not a length, or if `above_zero` is True and the length is 0 or less.

    >>> read_value("-0.02", "mm", above_zero=False), read_value("3mm", "in", above_zero=True)
    ('-0.02 mm', '3 mm')
    """
    typed = text.strip()
    if not typed:
        raise QuantityError(
            f"The field is empty. Enter the value that you measured, such as {'1.2 in' if unit == 'in' else '0.02 mm'}."
        )
    value = f"{typed} {unit}" if typed[-1].isdecimal() else typed
    quantity = read_quantity(value[: LONGEST_TEXT + 1], "length")
    if above_zero and quantity.value <= 0:
        raise QuantityError("The size must be above 0. Enter the size that you measured.")
    return _UNIT_AT_DIGIT.sub(" ", value)


def asks_for(at: AskedAt) -> dict[str, str]:
    """Return the entry for `Step.extra` that records which value a step asks for."""
    return {_ASKS: at.key if at.place is None else f"{at.key} {at.place + 1}"}


def asked_at(step: Step) -> AskedAt | None:
    """Return the place of the value for which a step asks; None if the step asks for no value.

    >>> asked_at(Ask(AskedAt("readings", 1), "Read", "Read", "What?").step())
    AskedAt(key='readings', place=1)
    """
    asks = step.extra.get(_ASKS)
    if not isinstance(asks, str):
        return None
    key, _, number = asks.partition(" ")
    return AskedAt(key, int(number) - 1 if number.isdecimal() else None)


def all_asked(steps: Iterable[Step]) -> frozenset[AskedAt]:
    """Return the places of all values for which the given steps ask."""
    return frozenset(at for step in steps if (at := asked_at(step)) is not None)


def answer(state: State, at: AskedAt, value: str) -> Edited:
    """Return the input that adds one answer, `value` at the place `at`, to the earlier answers of the run.

    Readings taken after a move are compared with the readings taken before it. The first reading of a new set therefore
    turns the last complete set into the set before the move. This does not apply to readings taken once normal and once
    reversed, because only both sets together show the error.
    """
    logged = state.plan_input
    table = {**logged.parameters, **logged.answered}
    answers = dict(logged.answered)
    if at.place is None:
        answers[at.key] = value
        return Edited(plan_input={"answered": answers})
    before, first = list(table.get(at.key, [])), at.key.removesuffix(AFTER)
    is_further = at.place == 0 and first != at.key and f"{REVERSED}{first}" not in table
    if is_further and before and len(before) == len(table.get(first, [])):
        answers[first] = before
    answers[at.key] = [*before[: at.place], value]
    return Edited(plan_input={"answered": answers})


def lengths_of(table: Table, keys: Iterable[str], **bounds: Any) -> Iterator[tuple[str, float]]:
    """Yield the key and the length [mm] for each of `keys` that the operation's table contains.

    `bounds`: the limits of the lengths as keyword arguments, such as `least=0`.
    """
    for key in keys:
        value = table.length(key, **bounds)
        if value is not None:
            yield key, value


def readings_of(table: Table, key: str, most: int) -> tuple[float, ...]:
    """Return the readings [mm] that an operation's table lists under a key. `most`: how many readings it may list."""
    return tuple(float(reading.value) for reading in table.quantities(key, "length", most=most))


def as_planned(steps: Iterable[Step]) -> list[Step]:
    """Return the steps of a new plan without findings, because the figures of the plan already state these results."""
    return [replace(step, findings=()) if step.findings else step for step in steps]


# Planning again.


def is_answer(entered: RunInput) -> bool:
    """Return whether an input answers a question of the run. An input that changes the job file does not."""
    return isinstance(entered, Edited) and entered.plan_input.keys() == {"answered"}


def still_open(planned: Iterable[Step], progress: Progress) -> list[Step]:
    """Return those steps of a new plan that have the title of a step still open in the run."""
    titles = {step.title for step in progress.open_steps}
    return [step for step in planned if step.title in titles]


class Rest(NamedTuple):
    """Where planning starts again: the value that the user has just answered, and the values for which the run must
    still ask.
    """

    at: AskedAt | None
    """The address of the value that the user has just answered; None after a move."""
    open_asks: frozenset[AskedAt]
    """The addresses of the values that the run still has to ask for. The job's old values of these are ignored."""


def rest_after(progress: Progress, entered: RunInput, every: Collection[AskedAt]) -> Rest:
    """Return where planning starts again after an input. After a move, the run asks again for each value in `every`.

    Raises PlanError for an input other than an answer, an edit or a move.
    """
    if isinstance(entered, Moved | PickedUp):
        return Rest(None, frozenset(every))
    if not isinstance(entered, Edited):
        raise nothing_planned_from(entered)
    if is_answer(entered) and progress.open_steps:
        return Rest(asked_at(progress.open_steps[0]), all_asked(progress.open_steps[1:]))
    return Rest(None, all_asked(progress.open_steps))


def without_old(values: Mapping[str, Any], open_asks: Iterable[AskedAt]) -> dict[str, Any]:
    """Return a table's values by key, without the values for which the run must still ask.

    A list is cut off before the first item for which the run must still ask.

    >>> without_old({"bar": 20.0, "readings": (0.0, 0.1)}, [AskedAt("bar"), AskedAt("readings", 1)])
    {'readings': (0.0,)}
    """
    kept = dict(values)
    for key, place in open_asks:
        if key in kept and place is None:
            del kept[key]
        elif key in kept:
            kept[key] = kept[key][:place]
    return kept
