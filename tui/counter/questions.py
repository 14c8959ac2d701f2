"""What the counter asks, one question after the other, and what is logged of the answers.

Each is a coroutine that the counter runs as a worker, so that a question reads as a
line of code; an answer of None means that the user gave up and nothing is logged.
"""

from collections.abc import Callable, Sequence
from fractions import Fraction
from typing import TYPE_CHECKING, TypeVar

from core.inputs import DiametersMeasured, ExtraSpringPass, Measured, Moved, RunInput, SetTo
from core.lathe.lathe import Lathe, dial_words
from core.operations.dividing.handle_dial import TABLE
from core.operations.registry import operation_of, parameters_of
from core.plan import Step
from core.questions import Asked, ChoiceAsked, EndsAsked, EnteredSize, PlacesAsked, SizeAsked
from core.run.progress import position_at_reading, read_dial, shown_text
from core.values.dials import Setting
from core.values.errors import CoreError, QuantityError
from core.values.plain_text import clean
from tui.counter.run_screen import RunScreen
from tui.widgets.question import OneOf, QuestionScreen, Typed, YesNo

if TYPE_CHECKING:
    from core.events.state import State

Answer = TypeVar("Answer")

GO_ON = "Go on as planned, nothing measured"


def run_name(state: "State") -> str:
    """Return what a run is called: its operation in a job, else the name it was given."""
    if state.origin is not None:
        return state.origin.op_name
    return str(state.plan_input.parameters.get("name") or state.plan_input.kind)


async def measured(counter: RunScreen, *, may_go_on: bool = False) -> None:
    """Ask for a measurement, or a trial, that this operation can be planned from."""
    plan_input = counter.plan_input
    try:
        asks = operation_of(plan_input.kind).questions(parameters_of(plan_input), plan_input.lathe, counter.state)
    except CoreError as error:
        counter.say(error.message)
        return
    if not asks:
        counter.say("Nothing is planned from a measurement in this operation: write a note instead.")
        return
    options = [asked.choice for asked in asks] + ([GO_ON] if may_go_on else [])
    chosen: int | None = 0
    if len(options) > 1:
        chosen = await _ask(counter, OneOf("What was measured?", options))
    if chosen == len(asks):
        counter.attempt(counter.run.done, "went on without measuring")
    elif chosen is not None:
        answered = await _input(counter, asks[chosen])
        if answered is not None:
            counter.revise(*answered)


async def _input(counter: RunScreen, asked: Asked) -> tuple[RunInput, str] | None:
    """Ask what an operation declares; returns the input and how it is said once logged, None where it was cancelled."""
    match asked:
        case SizeAsked():
            reading = await _reading(counter, asked.question, asked.read, asked.detail)
            if reading is None:
                return None
            return Measured(what=asked.what, size_mm=reading.size_mm), asked.words(reading.size_mm)
        case EndsAsked():
            return await _at_ends(counter, asked)
        case PlacesAsked():
            return await _at_places(counter, asked)
        case ChoiceAsked():
            words = [words for words, _ in asked.answers]
            chosen = await _ask(counter, OneOf(asked.question, words, default=asked.default))
            return None if chosen is None else (asked.answers[chosen][1], f"{asked.words}{words[chosen].lower()}")


async def _at_ends(counter: RunScreen, asked: EndsAsked) -> tuple[RunInput, str] | None:
    """Ask for a size at the shoulder end and at the free end; one end alone will do."""
    say, before = counter.plan_input.lathe.length_text, None
    if asked.before is not None:
        before = await _reading(counter, asked.before.question, asked.read, asked.before.detail)
        if before is None:
            return None
    detail = asked.detail(None if before is None else before.size_mm)
    shoulder = await _reading(counter, f"Which {asked.name} at the shoulder end?", asked.read, detail)
    if shoulder is None:
        if asked.before is not None and before is not None:
            entered = f"{asked.before.name}, {say(before.size_mm)}"
            counter.say(f"Nothing is logged. The {entered}, must be entered again.")
        return None
    words = f"{asked.name} {say(shoulder.size_mm)}"
    free = await _free_end(counter, asked, detail, say(shoulder.size_mm))
    if free is not None:
        words += f" at the shoulder, {say(free.size_mm)} at the free end"
    measured = Measured(
        what=asked.what,
        size_mm=shoulder.size_mm,
        free_end_mm=None if free is None else free.size_mm,
        reading_error_mm=max(end.error_mm or 0.0 for end in (shoulder, free) if end is not None),
        wire_mm=before.size_mm if before and asked.before and asked.before.field == "wire_mm" else None,
        major_mm=before.size_mm if before and asked.before and asked.before.field == "major_mm" else None,
    )
    return measured, words


async def _at_places(counter: RunScreen, asked: PlacesAsked) -> tuple[RunInput, str] | None:
    """Ask for the diameters at two places; one alone tells no taper."""
    first = await _reading(counter, asked.questions[0], asked.read, asked.detail)
    if first is None:
        return None
    second = await _reading(counter, asked.questions[1], asked.read, asked.detail)
    if second is None:
        counter.say(
            f"Nothing is logged. Enter {counter.plan_input.lathe.length_text(first.size_mm)} again when you have both."
        )
        return None
    sizes = first.size_mm, second.size_mm
    return DiametersMeasured(at_mm=asked.at_mm, diameters_mm=sizes), asked.words(*sizes)


async def _free_end(counter: RunScreen, asked: EndsAsked, detail: Sequence[str], shoulder: str) -> EnteredSize | None:
    """Ask for the size at the free end too; None where it was not measured, and then the shoulder alone counts.

    What was entered for the `shoulder` is not lost by Esc: that cancels only this question.
    """
    keeps = f"Esc continues with the shoulder end alone, {shoulder}."
    both_ends = ["Two ends tell taper and spring from size.", keeps]
    if not await _ask(counter, YesNo("Is the free end measured too?", default=True, detail=both_ends)):
        return None
    return await _reading(counter, f"Which {asked.name} at the free end?", asked.read, [*detail, keeps])


async def _reading(
    counter: RunScreen, question: str, read: Callable[[str], EnteredSize], detail: Sequence[str]
) -> EnteredSize | None:
    """Ask for a size; one that `read` refuses stays in its field, with the reason."""
    return await _ask(counter, Typed(question, read, label="Size", unit=counter.plan_input.lathe.unit, detail=detail))


async def where(counter: RunScreen) -> None:
    """Ask what the rotary table shows, and say which position that is."""
    table = counter.plan_input.lathe.rotary_table
    if table is None or not any(step.action == "index" for step in counter.state.steps):
        counter.say("Only positions on a rotary table can be looked up.")
        return
    from core.run.table_reading import locate_table, reading_example, step_at_table

    step = step_at_table(counter.state, table)
    if step is None:
        counter.say("This plan has no positions on the table.")
        return
    lathe, asks = counter.plan_input.lathe, True
    while asks:
        place = await _ask(
            counter,
            Typed(
                "What does the table show now?",
                lambda text: locate_table(lathe, counter.state, text),
                label="Shows",
                detail=[reading_example(step, table)],
            ),
        )
        if place is None:
            return
        if not place.more:
            counter.say(place.words)
            return
        asks = (
            await _ask(counter, OneOf(place.words, ["Close", "Enter more: degrees or turns"], detail=place.more)) == 1
        )


async def shown_at_touch_off(counter: RunScreen, step: Step) -> None:
    """Ask what a dial shows at touch-off, and count from there."""
    dial = step.zeroed_dials[0]
    question = f"What does the {dial_words(dial)} show now, at touch-off?"
    shown = await _shown(counter, dial, question, at_touch_off=True)
    if shown is not None:
        lathe = counter.plan_input.lathe
        words = f"{dial_words(dial)} touched off at {lathe.dial(dial).reading_text(shown)}"
        counter.attempt(lambda: counter.run.done(str(shown), lathe.dial(dial).unit), words)


async def set_differently(counter: RunScreen) -> None:
    """Ask what the dial really shows at this step, and plan the rest from there."""
    from core.run.table_reading import sets_table

    step = counter.state.cursor
    setting = next((candidate for candidate in step.settings if isinstance(candidate, Setting)), None) if step else None
    lathe = counter.plan_input.lathe
    if step is not None and sets_table(lathe, step):
        await _table_set_differently(counter, step)
    elif step is not None and step.zeroed_dials and all(dial in lathe.dials for dial in step.zeroed_dials):
        await shown_at_touch_off(counter, step)
    elif step is not None and step.zeroed_dials:
        counter.say("This step is the zero that all is counted from: it is set as it says.")
    elif step is None or setting is None or step.action != "cut":
        counter.say("Only a depth or a position of the table can be set differently; this step sets neither.")
    else:
        name = dial_words(setting.dial)
        shown = await _shown(counter, setting.dial, f"What does the {name} show instead?")
        if shown is None:
            return
        position = position_at_reading(lathe, counter.state, setting, shown)
        entered = SetTo(dial=setting.dial, position=position, shown=str(shown))
        dial = lathe.dial(setting.dial)
        counter.revise(entered, f"{name} set to {dial.turns_text(position)}{dial.reading_text(shown)}")


async def _table_set_differently(counter: RunScreen, step: Step) -> None:
    from core.run.table_reading import read_table_setting, reading_example

    lathe = counter.plan_input.lathe
    table = lathe.rotary_table
    question = Typed(
        f"{step.name}: what does the table show instead?",
        lambda text: read_table_setting(lathe, step, text),
        label="Shows",
        detail=[reading_example(step, table)] if table else [],
    )
    answer = await _ask(counter, question)
    if answer is not None:
        position, shown = answer
        entered = SetTo(dial=TABLE, position=position, shown=shown)
        counter.revise(entered, f"rotary table set to {shown}; see the cautions for what that means")


async def spring(counter: RunScreen) -> None:
    """Ask for one more spring pass."""
    if await _ask(counter, YesNo("One more spring pass, at the reading as it stands?", default=True)):
        counter.revise(ExtraSpringPass(), "one more spring pass planned")


async def note(counter: RunScreen) -> None:
    """Ask for a note."""
    text = await _ask(counter, Typed("What is to be noted?", _note_text, label="Note"))
    if text is not None:
        counter.attempt(lambda: counter.run.note(text), "note")


async def pick_up(counter: RunScreen) -> None:
    """Ask whether work, tool, slide or dial was moved; if so the place is found again, step by step."""
    detail = [
        "The place is then found again step by step, and the depth comes from a measurement: "
        "the old count no longer tells it."
    ]
    if await _ask(counter, YesNo("Has work, tool, slide or dial been moved?", detail=detail)):
        await find_again(counter)


async def find_again(counter: RunScreen) -> None:
    """Plan finding the place again; turned work is touched off on its measured size."""
    plan_input = counter.plan_input
    try:
        asked = operation_of(plan_input.kind).moved(parameters_of(plan_input), plan_input.lathe, counter.state)
    except CoreError as error:
        counter.say(error.message)
        return
    if asked is None:
        counter.revise(Moved(), "planned again after a move")
        return
    match await _input(counter, asked):
        case Measured() as size, _:
            counter.revise(Moved(size=size), "to be touched off again")
        case entered, words:
            counter.revise(entered, f"to be found again: {words}")


async def go_back(counter: RunScreen) -> None:
    """Ask which step is to be done again; what followed it stays done."""
    done = [step for step in counter.state.steps if counter.state.status_of(step.id) != "open"]
    if not done:
        counter.say("No step has been done yet.")
        return
    latest_first = list(reversed(done))
    texts = [shown_text(counter.plan_input.lathe, counter.state, step) for step in latest_first]
    chosen = await _ask(counter, OneOf("Which step is to be done again?", texts))
    if chosen is not None:
        step = latest_first[chosen]
        counter.attempt(lambda: counter.run.reopen([step.id]), f'to be done again: "{clean(texts[chosen], 40)}"')


async def skip(counter: RunScreen) -> None:
    """Ask whether to leave the step at hand out."""
    step = counter.state.cursor
    if step is None:
        counter.say("No step is open any more.")
    elif step.required:
        counter.say("This step cannot be left out: what follows depends on it.")
    else:
        from core.run.table_view import skipped_with

        await _leave_out(counter, skipped_with(counter.state, step))


async def _leave_out(counter: RunScreen, steps: Sequence[Step]) -> None:
    detail = [shown_text(counter.plan_input.lathe, counter.state, steps[0])]
    if len(steps) > 1:
        detail.append(f"What else is open at this position is left out with it: {len(steps) - 1} more.")
    if await _ask(counter, YesNo("Leave this step out?", detail=detail)):
        ids = [step.id for step in steps]
        counter.attempt(lambda: counter.run.skip(ids, "left out at the machine"), "step left out")


async def leave(counter: RunScreen) -> None:
    """Ask whether to leave; nothing is lost."""
    detail = ["Everything is kept; Enter on the job goes on here."]
    if await _ask(counter, YesNo("Leave the counter?", yes="Leave", no="Stay", default=True, detail=detail)):
        counter.dismiss()


async def _ask(counter: RunScreen, question: QuestionScreen[Answer]) -> Answer | None:
    return await counter.context.ask(question)


async def _shown(counter: RunScreen, dial_name: str, question: str, *, at_touch_off: bool = False) -> Fraction | None:
    lathe: Lathe = counter.plan_input.lathe

    def read(text: str) -> Fraction:
        return read_dial(lathe, dial_name, text, at_touch_off=at_touch_off)

    return await _ask(counter, Typed(question, read, label="Shows", unit=lathe.dial(dial_name).unit))


def _note_text(text: str) -> str:
    cleaned = clean(text, 500).strip()
    if not cleaned:
        raise QuantityError("a note with at least one character is wanted")
    return cleaned
