"""The counter's questions about measurements and trials, and the events that it logs for the answers."""

from collections.abc import Callable, Sequence
from typing import TypeVar

from core.inputs import DiametersMeasured, Measured, RunInput
from core.operations.asked_values import is_answer
from core.operations.registry import operation_of, parameters_of
from core.plan import Expects
from core.questions import Asked, ChoiceAsked, EndsAsked, EnteredSize, PlacesAsked, SizeAsked, ValueAsked
from core.values.errors import CoreError
from tui.counter.run_screen import RunScreen
from tui.number_burst import has_unit
from tui.widgets.question import NumberStart, OneOf, OneOfOrNumber, QuestionScreen, Typed

Answer = TypeVar("Answer")

CONTINUE = "Continue as planned, without measuring"
_NOTE, _NOTHING = "Only a note in the log", "Ignore this number"
_OTHER_SIZE = "To enter another size, press Esc, then M."


def takes_number(asked: Asked) -> bool:
    """Return whether the first thing that a question asks for is a measured number."""
    if isinstance(asked, SizeAsked):
        return not asked.must_be_chosen
    return not isinstance(asked, ChoiceAsked) and not (isinstance(asked, EndsAsked) and asked.before is not None)


def questions_now(counter: RunScreen) -> tuple[Asked, ...]:
    """Return the operation's questions about measurements and trials at the current step. This may raise CoreError."""
    plan_input = counter.plan_input
    return operation_of(plan_input.kind).questions(parameters_of(plan_input), plan_input.lathe, counter.state)


async def measured(counter: RunScreen, *, may_continue: bool = False, wants_number: bool = False) -> None:
    """Ask for a measurement or the result of a trial, and use the answer to plan the remaining steps again.

    `may_continue`: True to offer continuing without a measurement. `wants_number`: True if digit keys type a number;
    the listed answers then have letters instead of digits.
    """
    try:
        asks = questions_now(counter)
    except CoreError as error:
        counter.show_message(error.message)
        return
    if not asks:
        takes_some = any(step.expects and step.action in {"measure", "read"} for step in counter.state.steps)
        takes_some = takes_some or any(is_answer(revision.entered) for revision in counter.state.revisions)
        here = "This step needs no measurement" if takes_some else "This operation uses no measurements"
        moved = " If something was moved, press 5 to measure again." if takes_some else ""
        counter.show_message(f"{here}. Write the size in a note instead (key 4).{moved}")
        return
    options = [asked.choice for asked in asks] + ([CONTINUE] if may_continue else [])
    chosen: int | NumberStart | None = 0
    if len(options) > 1:
        question = "What did you measure?"
        if wants_number:
            chosen = await _ask(counter, OneOfOrNumber(question, options))
        else:
            chosen = await _ask(counter, OneOf(question, options))
    if isinstance(chosen, NumberStart):
        await number_typed(counter, chosen)
    elif chosen == len(asks):
        counter.attempt(counter.run.done, "continued without measuring")
    elif chosen is not None:
        await _revise(counter, asks[chosen])


async def number_typed(counter: RunScreen, start: NumberStart) -> None:
    """Ask for the size that the current step needs, with the number `start` already in the field.

    A number from an instrument is logged without a further key press. If the number could be any of several sizes, the
    user chooses the size first.
    """
    try:
        every = questions_now(counter)
    except CoreError as error:
        counter.show_message(error.message)
        return
    asks = [asked for asked in every if takes_number(asked)]
    likely = _measured_last(counter, asks)
    if start.is_whole and len(asks) > 1 and likely is None:
        await offered(counter, start)
    elif asks:
        must_choose = any(isinstance(asked, SizeAsked) and asked.must_be_chosen for asked in every)
        several = (_OTHER_SIZE,) if len(asks) > 1 or must_choose else ()
        await _revise(counter, likely or asks[0], start, several)


async def offered(counter: RunScreen, number: NumberStart) -> None:
    """Ask what a number from an instrument means, because the current step asks for no number or for several."""
    try:
        asks = [asked for asked in questions_now(counter) if takes_number(asked)]
    except CoreError:
        asks = []
    text, unit = number.text, counter.plan_input.lathe.unit
    if not has_unit(text) and counter.context.controls.instrument_unit in {"", unit}:
        text = f"{text} {unit}"
    question = f"An instrument sent {text}. What is this number?"
    options = [*(asked.choice for asked in asks), _NOTE, _NOTHING]
    chosen = await _ask(counter, OneOfOrNumber(question, options, default=0 if asks else len(asks)))
    if isinstance(chosen, NumberStart):
        # The user measured again: the later number counts.
        await offered(counter, chosen if chosen.is_whole else number)
    elif chosen is None or chosen == len(asks) + 1:
        counter.show_message(f"{text} from the instrument was not used.")
    elif chosen == len(asks):
        counter.attempt(lambda: counter.run.note(f"measured {text}"), f"note, measured {text}")
    else:
        await _revise(counter, asks[chosen], number)


def _measured_last(counter: RunScreen, asks: Sequence[Asked]) -> Asked | None:
    """Return the only question; among several, the one about the size measured last, or else about this step's depth.

    Return None if there is no such question.
    """
    if len(asks) == 1:
        return asks[0]
    step = counter.state.cursor
    entered = (revision.entered for revision in reversed(counter.state.revisions))
    latest = next((size.what for size in entered if isinstance(size, Measured)), "")
    for what in (latest, "depth" if step is not None and step.expects == Expects.DEPTH else ""):
        for asked in asks:
            if what and isinstance(asked, SizeAsked | EndsAsked) and asked.what == what:
                return asked
    return None


async def _revise(
    counter: RunScreen, asked: Asked, start: NumberStart | None = None, detail: Sequence[str] = ()
) -> None:
    unit = counter.context.controls.instrument_unit
    if start is not None and start.is_whole and not start.is_sure and unit not in {"", counter.plan_input.lathe.unit}:
        # A number typed by hand is in the lathe's unit, a number from an instrument in the instrument's unit.
        start = start._replace(is_whole=False)
        detail = (
            *detail,
            f"Did you type this number, or did the instrument send it in {unit}? Add its unit, then press Enter.",
        )
    answered = await input_from(counter, asked, start, detail)
    if answered is not None:
        counter.revise(*answered)


async def input_from(
    counter: RunScreen, asked: Asked, start: NumberStart | None = None, detail: Sequence[str] = ()
) -> tuple[RunInput, str] | None:
    """Ask the user a question of the operation.

    Return the answer and the words that report it; None if the user cancels. `start`: a number to put into the first
    field; None for an empty field. `detail`: sentences to show below the first question.
    """
    match asked:
        case SizeAsked():
            reading = await _reading(counter, asked.question, asked.read, [*asked.detail, *detail], start)
            if reading is None:
                return None
            measured = Measured(what=asked.what, size_mm=reading.size_mm, edges_mm=reading.edges_mm)
            return measured, asked.words(reading.size_mm)
        case EndsAsked():
            return await _at_ends(counter, asked, start, detail)
        case PlacesAsked():
            return await _at_places(counter, asked, start, detail)
        case ChoiceAsked(answers=[(only, entered)]):
            # The user answered this question by choosing it from the list.
            return entered, f"{asked.words}{only.lower()}"
        case ChoiceAsked():
            words = [words for words, _ in asked.answers]
            chosen = await _ask(counter, OneOf(asked.question, words, default=asked.default))
            return None if chosen is None else (asked.answers[chosen][1], f"{asked.words}{words[chosen].lower()}")
        case ValueAsked():
            lines = [*asked.detail, *detail]
            value = await _ask(
                counter,
                Typed(asked.question, asked.read, label=asked.label, unit=asked.unit, start=start, detail=lines),
            )
            return None if value is None else (asked.entered(value), f"{asked.name}: {value}")


async def _at_ends(
    counter: RunScreen, asked: EndsAsked, start: NumberStart | None, more: Sequence[str]
) -> tuple[RunInput, str] | None:
    """Ask for the size at the shoulder end and, if the user measured there, at the free end.

    Return the answer and the words that report it; None if the user cancels. `start`: a number to put into the first
    field; None for an empty field. `more`: further sentences to show below the first question.
    """
    length_text, before = counter.plan_input.lathe.length_text, None
    if asked.before is not None:
        before = await _reading(counter, asked.before.question, asked.read, asked.before.detail)
        if before is None:
            return None
    detail = asked.detail(None if before is None else before.size_mm)
    question = f"What is the {asked.name} at the shoulder end?"
    shoulder = await _reading(counter, question, asked.read, [*detail, *more], start)
    if shoulder is None:
        if asked.before is not None and before is not None:
            entered = f"{asked.before.name}, {length_text(before.size_mm)}"
            counter.show_message(f"Nothing has been logged. Enter the {entered} again when you can measure.")
        return None
    words = f"{asked.name} {length_text(shoulder.size_mm)}"
    free = await _free_end(counter, asked, detail, length_text(shoulder.size_mm))
    if free is not None:
        words += f" at the shoulder, {length_text(free.size_mm)} at the free end"
    measured = Measured(
        what=asked.what,
        size_mm=shoulder.size_mm,
        free_end_mm=None if free is None else free.size_mm,
        reading_error_mm=max(end.error_mm or 0.0 for end in (shoulder, free) if end is not None),
        wire_mm=before.size_mm if before and asked.before and asked.before.field == "wire_mm" else None,
        major_mm=before.size_mm if before and asked.before and asked.before.field == "major_mm" else None,
    )
    return measured, words


async def _at_places(
    counter: RunScreen, asked: PlacesAsked, start: NumberStart | None, more: Sequence[str]
) -> tuple[RunInput, str] | None:
    """Ask for the diameters at two places. Both are needed, because one diameter does not show the taper.

    Return the answer and the words that report it; None if the user cancels. `start`: a number to put into the first
    field; None for an empty field. `more`: further sentences to show below the first question.
    """
    first = await _reading(counter, asked.questions[0], asked.read, [*asked.detail, *more], start)
    if first is None:
        return None
    second = await _reading(counter, asked.questions[1], asked.read, asked.detail)
    if second is None:
        counter.show_message(
            f"Nothing has been logged. Enter {counter.plan_input.lathe.length_text(first.size_mm)} again when you "
            "have both diameters."
        )
        return None
    sizes = first.size_mm, second.size_mm
    return DiametersMeasured(at_mm=asked.at_mm, diameters_mm=sizes), asked.words(*sizes)


async def _free_end(counter: RunScreen, asked: EndsAsked, detail: Sequence[str], shoulder: str) -> EnteredSize | None:
    """Ask for the size at the free end; return None if the user did not measure there.

    Esc cancels only this question. The size at the shoulder end, which `shoulder` gives in words, is kept.
    """
    keeps = f"Press Esc to use only the size at the shoulder end, {shoulder}."
    both_ends = ["Two measurements show whether the thread is tapered.", keeps]
    too = await _ask(
        counter, OneOfOrNumber("Did you measure the free end too?", ["Yes", "No"], keys="yn", detail=both_ends)
    )
    if too is None or too == 1:
        return None
    start = too if isinstance(too, NumberStart) else None
    return await _reading(counter, f"What is the {asked.name} at the free end?", asked.read, [*detail, keeps], start)


async def _reading(
    counter: RunScreen,
    question: str,
    read: Callable[[str], EnteredSize],
    detail: Sequence[str],
    start: NumberStart | None = None,
) -> EnteredSize | None:
    """Ask for a size and return it; None if the user cancels.

    If `read` refuses the text, the question shows the reason and stays open.
    """
    unit = counter.plan_input.lathe.unit
    return await _ask(counter, Typed(question, read, label="Size", unit=unit, start=start, detail=detail))


async def _ask(counter: RunScreen, question: QuestionScreen[Answer]) -> Answer | None:
    return await counter.context.ask(question)
