"""What the counter asks, one question after the other, and what is logged of the answers.

Each is a coroutine that the counter runs as a worker, so that a question reads as a
line of code; an answer of None means that the user gave up and nothing is logged.
"""

from collections.abc import Callable, Sequence
from fractions import Fraction
from typing import TYPE_CHECKING, Any, TypeVar

from core.continuing import position_shown, read_shown, shown_text
from core.dials import Setting
from core.errors import PlanError, QuantityError
from core.indexing.by_dial import TABLE
from core.lathe import Lathe, dial_words
from core.operations import asks_of, parameters_of
from core.plain_text import clean
from core.plan import Step
from core.quantities import read_quantity
from tui.screens.ask import OneOf, Question, Typed, YesNo

if TYPE_CHECKING:
    from core.operations import Basis
    from core.state import State
    from tui.screens.counter import CounterScreen

Answer = TypeVar("Answer")

GO_ON = "Go on as planned, nothing measured"


def run_name(state: "State") -> str:
    """Return what a run is called: its operation in a job, else the name it was given."""
    if state.origin is not None:
        return state.origin.op_name
    return str(state.basis.parameters.get("name") or state.basis.kind)


async def measured(counter: "CounterScreen", *, may_go_on: bool = False) -> None:
    """Ask for a measurement of a kind that this operation can be planned from."""
    asks: dict[str, Callable[[CounterScreen], Any]] = {}
    about = asks_of(counter.basis.kind)
    if about == "depth":
        step = counter.state.cursor
        if step is not None and step.expects == "circle":
            asks["Type the circle across its groove centres"] = _measured_circle
        else:
            asks["Type the depth that was measured"] = _measured_depth
    elif about in {"diameter", "place"}:
        asks["Type what was measured"] = _measured_size
    elif about == "thread":
        # Here and below: what only one kind is asked would keep the first paint of every counter waiting.
        from tui.screens.thread_questions import thread_asks

        asks |= thread_asks(counter)
    else:
        counter.say("Nothing is planned from a measurement in this operation: write a note instead.")
        return
    options = [*asks, *([GO_ON] if may_go_on else [])]
    if len(options) == 1:
        await asks[options[0]](counter)
        return
    chosen = await _ask(counter, OneOf("What was measured?", options))
    if chosen is None:
        return
    if options[chosen] == GO_ON:
        counter.attempt(counter.run.done, "went on without measuring")
    else:
        await asks[options[chosen]](counter)


async def _measured_size(counter: "CounterScreen") -> None:
    given = await _size(counter)
    if given:
        to_go = " to go" if "to_go_mm" in given else ""
        counter.revise("measured", given, f"measured {counter.basis.lathe.say(*given.values())}{to_go}")


async def _size(counter: "CounterScreen", question: str = "") -> dict[str, float]:
    """Ask for what is measured of work that is cut in passes; {} where the question was cancelled."""
    from core.facing import asked_for

    lathe = counter.basis.lathe
    asked = asked_for(parameters_of(counter.basis), lathe)
    size_mm = await _length(counter, question or asked.question, detail=[asked.counts], above_zero=asked.above_zero)
    return {} if size_mm is None else {asked.key: size_mm}


async def _measured_circle(counter: "CounterScreen") -> None:
    from core.table_measuring import check_circle

    question = "How large is the trial circle, from groove centre to groove centre?"
    circle_mm = await _length(counter, question, check=check_circle)
    if circle_mm is not None:
        counter.revise("measured", {"circle_mm": circle_mm}, f"trial circle {counter.basis.lathe.say(circle_mm)}")


async def _measured_depth(counter: "CounterScreen") -> None:
    from core.table_measuring import check_depth, depth_found_words

    depth_mm = await _length(counter, "How deep is it cut now?", check=check_depth)
    if depth_mm is not None:
        words = depth_found_words(counter.basis, counter.state, depth_mm)
        counter.revise("measured", {"depth_mm": depth_mm}, words)


async def where(counter: "CounterScreen") -> None:
    """Ask what the rotary table shows, and say which position that is."""
    table = counter.basis.lathe.rotary_table
    if table is None or not any(step.action == "index" for step in counter.state.steps):
        counter.say("Only positions on a rotary table can be looked up.")
        return
    from core.table_reading import reading_example, step_at_table, where_is_it

    step = step_at_table(counter.state, table)
    if step is None:
        counter.say("This plan has no positions on the table.")
        return
    lathe, asks = counter.basis.lathe, True
    while asks:
        found = await _ask(
            counter,
            Typed(
                "What does the table show now?",
                lambda text: where_is_it(lathe, counter.state, text),
                label="Shows",
                detail=[reading_example(step, table)],
            ),
        )
        if found is None:
            return
        if not found.more:
            counter.say(found.words)
            return
        asks = (
            await _ask(counter, OneOf(found.words, ["Close", "Enter more: degrees or turns"], detail=found.more)) == 1
        )


async def shown_at_touch_off(counter: "CounterScreen", step: Step) -> None:
    """Ask what a dial shows at touch-off, and count from there."""
    dial = step.zeroes[0]
    question = f"What does the {dial_words(dial)} show now, at touch-off?"
    shown = await _shown(counter, dial, question, at_touch_off=True)
    if shown is not None:
        lathe = counter.basis.lathe
        words = f"{dial_words(dial)} touched off at {lathe.dial(dial).reading_text(shown)}"
        counter.attempt(lambda: counter.run.done(str(shown), lathe.dial(dial).unit), words)


async def set_differently(counter: "CounterScreen") -> None:
    """Ask what the dial really shows at this step, and plan the rest from there."""
    from core.table_reading import sets_table

    step = counter.state.cursor
    setting = next((found for found in step.settings if isinstance(found, Setting)), None) if step else None
    lathe = counter.basis.lathe
    if step is not None and sets_table(lathe, step):
        await _table_set_differently(counter, step)
    elif step is not None and step.zeroes and all(dial in lathe.dials for dial in step.zeroes):
        await shown_at_touch_off(counter, step)
    elif step is not None and step.zeroes:
        counter.say("This step is the zero that all is counted from: it is set as it says.")
    elif step is None or setting is None or step.action != "cut":
        counter.say("Only a depth or a position of the table can be set differently; this step sets neither.")
    else:
        name = dial_words(setting.dial)
        shown = await _shown(counter, setting.dial, f"What does the {name} show instead?")
        if shown is None:
            return
        position = position_shown(lathe, counter.state, setting, shown)
        given = {"dial": setting.dial, "position": str(position), "shown": str(shown)}
        dial = lathe.dial(setting.dial)
        counter.revise("set", given, f"{name} set to {dial.turns_text(position)}{dial.reading_text(shown)}")


async def _table_set_differently(counter: "CounterScreen", step: Step) -> None:
    from core.table_reading import reading_example, set_place

    lathe = counter.basis.lathe
    table = lathe.rotary_table
    question = Typed(
        f"{step.text.partition(':')[0]}: what does the table show instead?",
        lambda text: set_place(lathe, step, text),
        label="Shows",
        detail=[reading_example(step, table)] if table else [],
    )
    found = await _ask(counter, question)
    if found is not None:
        position, shown = found
        given = {"dial": TABLE, "position": str(position), "shown": shown}
        counter.revise("set", given, f"rotary table set to {shown}; see the cautions for what that means")


async def spring(counter: "CounterScreen") -> None:
    """Ask for one more spring pass."""
    if await _ask(counter, YesNo("One more spring pass, at the reading as it stands?", default=True)):
        counter.revise("spring", {}, "one more spring pass planned")


async def note(counter: "CounterScreen") -> None:
    """Ask for a note."""
    text = await _ask(counter, Typed("What is to be noted?", _note_text, label="Note"))
    if text is not None:
        counter.attempt(lambda: counter.run.note(text), "note")


async def pick_up(counter: "CounterScreen") -> None:
    """Ask whether work, tool, slide or dial was moved; if so the place is found again, step by step."""
    detail = [
        "The place is then found again step by step, and the depth comes from a measurement: "
        "the old count no longer tells it."
    ]
    if await _ask(counter, YesNo("Has work, tool, slide or dial been moved?", detail=detail)):
        await find_again(counter)


async def find_again(counter: "CounterScreen") -> None:
    """Plan finding the place again; turned work is touched off on its measured size."""
    about = asks_of(counter.basis.kind)
    if about == "thread":
        from tui.screens.thread_questions import ask_what_was_moved

        await ask_what_was_moved(counter)
    elif about in {"diameter", "place"}:
        given = await _size(counter, "What does the diameter of the work measure now?" if about == "diameter" else "")
        if given:
            counter.revise("moved", given, "to be touched off anew")
    else:
        counter.revise("moved", {}, "planned again after a move")


async def go_back(counter: "CounterScreen") -> None:
    """Ask which step is to be done again; what followed it stays done."""
    done = [step for step in counter.state.steps if counter.state.status_of(step.id) != "open"]
    if not done:
        counter.say("No step has been done yet.")
        return
    latest_first = list(reversed(done))
    texts = [shown_text(counter.basis.lathe, counter.state, step) for step in latest_first]
    chosen = await _ask(counter, OneOf("Which step is to be done again?", texts))
    if chosen is not None:
        step = latest_first[chosen]
        counter.attempt(lambda: counter.run.reopen([step.id]), f'to be done again: "{clean(texts[chosen], 40)}"')


async def skip(counter: "CounterScreen") -> None:
    """Ask whether to leave the step at hand out."""
    step = counter.state.cursor
    if step is None:
        counter.say("No step is open any more.")
    elif step.extra.get("must", False):
        counter.say("This step cannot be left out: what follows depends on it.")
    else:
        from core.table_view import left_out_with

        await _leave_out(counter, left_out_with(counter.state, step))


async def _leave_out(counter: "CounterScreen", steps: Sequence[Step]) -> None:
    detail = [shown_text(counter.basis.lathe, counter.state, steps[0])]
    if len(steps) > 1:
        detail.append(f"What else is open at this position is left out with it: {len(steps) - 1} more.")
    if await _ask(counter, YesNo("Leave this step out?", detail=detail)):
        ids = [step.id for step in steps]
        counter.attempt(lambda: counter.run.skip(ids, "left out at the machine"), "step left out")


async def leave(counter: "CounterScreen") -> None:
    """Ask whether to leave; nothing is lost."""
    detail = ["Everything is kept; Enter on the job goes on here."]
    if await _ask(counter, YesNo("Leave the counter?", yes="Leave", no="Stay", default=True, detail=detail)):
        counter.dismiss()


async def _ask(counter: "CounterScreen", question: Question[Answer]) -> Answer | None:
    return await counter.app.push_screen_wait(question)


async def _length(
    counter: "CounterScreen",
    question: str,
    detail: list[str] | None = None,
    *,
    above_zero: bool = True,
    check: Callable[["Basis", "State", float], None] | None = None,
) -> float | None:
    """Ask for a length; one that `check` refuses by a PlanError stays in its field, with the reason."""
    unit = counter.basis.lathe.unit
    read_length = _length_reader(unit, above_zero)

    def read(text: str) -> float:
        value_mm = read_length(text)
        try:
            if check is not None:
                check(counter.basis, counter.state, value_mm)
        except PlanError as error:
            raise QuantityError(error.message) from error
        return value_mm

    return await _ask(counter, Typed(question, read, label="Size", unit=unit, detail=detail or []))


def _length_reader(unit: str, above_zero: bool) -> Callable[[str], float]:
    """Return what reads a length, above zero or any; a bare number counts in `unit`."""

    def read(text: str) -> float:
        bare = text.strip() and text.strip()[-1].isdecimal()
        value = read_quantity(f"{text} {unit}" if bare else text, "length").value
        if above_zero and value <= 0:
            raise QuantityError("a size above 0 is wanted")
        return float(value)

    return read


async def _shown(
    counter: "CounterScreen", dial_name: str, question: str, *, at_touch_off: bool = False
) -> Fraction | None:
    lathe: Lathe = counter.basis.lathe

    def read(text: str) -> Fraction:
        return read_shown(lathe, dial_name, text, at_touch_off=at_touch_off)

    return await _ask(counter, Typed(question, read, label="Shows", unit=lathe.dial(dial_name).unit))


def _note_text(text: str) -> str:
    cleaned = clean(text, 500).strip()
    if not cleaned:
        raise QuantityError("a note with at least one character is wanted")
    return cleaned
