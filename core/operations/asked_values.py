"""Measured values that a job may leave open. The run asks for each at a step of its own and logs the answer.

An answer is an edit of the run's parameters, so the rest is planned again from the job and all answers. The items of a
list of readings are asked one by one.
"""

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
"""Key in the extra figures of a step for the value that is asked there."""
AFTER = "_after"
"""Ending of the keys of values that are measured again after a move."""
REVERSED = "reversed_"
"""Beginning of the keys of readings taken with a square turned over, or a bar turned half a turn."""


class AskedAt(NamedTuple):
    """A value of the operation's table: its key, and its place in a list, counted from 0."""

    key: str
    place: int | None = None


class Ask(NamedTuple):
    """A value to ask for, and the step at which it is measured."""

    at: AskedAt
    title: str
    text: str
    question: str
    reads: bool = False
    """True for an indicator reading, which may be below 0; False for a size, which may not."""
    choices: tuple[str, ...] = ()
    """The words to choose from in place of a length."""
    required: bool = True
    """False for a value that only makes the result better."""
    cautions: tuple[str, ...] = ()

    def step(self) -> Step:
        """Return the step that asks."""
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
        """Return the question of the step. A number without a unit gets `unit`."""
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
    """Return a length as entered, with its unit. A number without a unit gets `unit`. Raises QuantityError.

    >>> read_value("-0.02", "mm", above_zero=False)
    '-0.02 mm'
    """
    typed = text.strip()
    if not typed:
        raise QuantityError(
            f"Nothing is entered. Enter what you measured, such as {'1.2 in' if unit == 'in' else '0.02 mm'}."
        )
    value = f"{typed} {unit}" if typed[-1].isdecimal() else typed
    quantity = read_quantity(value[: LONGEST_TEXT + 1], "length")
    if above_zero and quantity.value <= 0:
        raise QuantityError("The size must be above 0. Enter what you measured.")
    return value


def asks_for(at: AskedAt) -> dict[str, str]:
    """Return the extra figure of a step that asks for a value."""
    return {_ASKS: at.key if at.place is None else f"{at.key} {at.place + 1}"}


def asked_at(step: Step) -> AskedAt | None:
    """Return the value that a step asks for; None if it asks for none.

    >>> asked_at(Ask(AskedAt("readings", 1), "Read", "Read", "What?").step())
    AskedAt(key='readings', place=1)
    """
    asks = step.extra.get(_ASKS)
    if not isinstance(asks, str):
        return None
    key, _, number = asks.partition(" ")
    return AskedAt(key, int(number) - 1 if number.isdecimal() else None)


def all_asked(steps: Iterable[Step]) -> frozenset[AskedAt]:
    """Return the values that these steps ask for."""
    return frozenset(at for step in steps if (at := asked_at(step)) is not None)


def answer(state: State, at: AskedAt, value: str) -> Edited:
    """Return the input that adds an answer to those of the run.

    The first reading of a new set after a move makes the last complete set the one to compare with. A set that was read
    both ways stays the one to compare with, since only both readings together show the error.
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
    """Yield the lengths that a table has under some keys [mm]."""
    for key in keys:
        value = table.length(key, **bounds)
        if value is not None:
            yield key, value


def readings_of(table: Table, key: str, most: int) -> tuple[float, ...]:
    """Return up to `most` readings that a table has under a key [mm]. The run asks for the missing ones."""
    return tuple(float(reading.value) for reading in table.quantities(key, "length", most=most))


def as_planned(steps: Iterable[Step]) -> list[Step]:
    """Return the steps of a plan without findings, since its figures already say what the job's values show."""
    return [replace(step, findings=()) if step.findings else step for step in steps]


# Planning again.


def is_answer(entered: RunInput) -> bool:
    """Return whether an input answers a question of the run. Other edits come from a changed file."""
    return isinstance(entered, Edited) and entered.plan_input.keys() == {"answered"}


def still_open(planned: Iterable[Step], progress: Progress) -> list[Step]:
    """Return the steps of a new plan that are still to be done. Steps are recognised by their titles."""
    titles = {step.title for step in progress.open_steps}
    return [step for step in planned if step.title in titles]


class Rest(NamedTuple):
    """Where the rest of a run starts when it is planned again, and which values are still asked."""

    at: AskedAt | None
    """The value just answered; None after a move."""
    open_asks: frozenset[AskedAt]
    """The values still to be asked. The job has none for them, or an old one."""


def rest_after(progress: Progress, entered: RunInput, every: Collection[AskedAt]) -> Rest:
    """Return where to start when planning again. After a move `every` value is measured again.

    Raises PlanError for an input that such an operation cannot use.
    """
    if isinstance(entered, Moved | PickedUp):
        return Rest(None, frozenset(every))
    if not isinstance(entered, Edited):
        raise nothing_planned_from(entered)
    if is_answer(entered) and progress.open_steps:
        return Rest(asked_at(progress.open_steps[0]), all_asked(progress.open_steps[1:]))
    return Rest(None, all_asked(progress.open_steps))


def without_old(values: Mapping[str, Any], open_asks: Iterable[AskedAt]) -> dict[str, Any]:
    """Return the values by key, without those still to be asked. A list is cut off at the first item to ask.

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
