"""The counter's questions, and what the counter logs for each answer.

Each question is a coroutine that reads from top to bottom. The counter runs it as a worker. The answer None means that
the user cancelled the question, so that nothing is logged.
"""

from collections.abc import Sequence
from fractions import Fraction
from typing import TYPE_CHECKING, TypeVar

from core.inputs import ExtraSpringPass, Measured, Moved, SetTo
from core.lathe.lathe import Lathe, dial_words
from core.operations.dividing.handle_dial import TABLE
from core.operations.registry import PlanInput, finds_cuts_again, kind_of, operation_of, parameters_of
from core.plan import Step
from core.run.put_backs import steps_to_repeat
from core.run.revising import position_at_reading, read_dial, shown_text
from core.values.dials import Setting
from core.values.errors import CoreError, QuantityError
from core.values.plain_text import clean
from tui.counter.measuring import input_from
from tui.counter.run_screen import RunScreen
from tui.widgets.question import NumberStart, OneOf, QuestionScreen, Typed, YesNo

if TYPE_CHECKING:
    from core.events.state import State
    from core.jobs.job import JobOperation
    from core.operations.operation import Handover
    from core.run.cut_places import CutPlace

Answer = TypeVar("Answer")

_WIDEST_QUESTION, _BESIDE_AN_ANSWER = 72, 10
"""The width of a question, and the part of it for an answer's frame, pointer and key [columns]."""


def run_name(state: "State") -> str:
    """Return the name of a run: the name of its operation in the job, otherwise the name in its parameters."""
    if state.origin is not None:
        return state.origin.op_name
    return str(state.plan_input.parameters.get("name") or state.plan_input.kind)


async def where(counter: RunScreen) -> None:
    """Ask for the reading of the rotary table, and show the position there. For a pattern, offer further questions."""
    table = counter.plan_input.lathe.rotary_table
    if table is None or not any(step.action == "index" for step in counter.state.steps):
        counter.show_message("This operation sets no positions on the rotary table, so there is none to find.")
        return
    from core.run.table_reading import locate_table, reading_example, step_at_table

    step = step_at_table(counter.state, table)
    if step is None:
        counter.show_message("This plan has no more positions.")
        return
    from core.run.cut_places import cut_places

    if finds_cuts_again(counter.plan_input.kind) and (places := cut_places(counter.state)):
        chosen = await _ask(counter, OneOf("What do you want to find?", _WHERE))
        if chosen == 1:
            await _list_readings(counter, places)
        elif chosen == 2:
            await _cut_wrong(counter, places)
        elif chosen == 3:
            from tui.counter.put_back import find_work_again

            await find_work_again(counter)
        if chosen != 0:
            return
    lathe, asks = counter.plan_input.lathe, True
    while asks:
        place = await _ask(
            counter,
            Typed(
                "What does the rotary table read now?",
                lambda text: locate_table(lathe, counter.state, text),
                label="Shows",
                detail=[reading_example(step, table)],
            ),
        )
        if place is None:
            return
        if not place.more:
            counter.show_message(place.words)
            return
        asks = (
            await _ask(counter, OneOf(place.words, ["Close", "Also enter the degrees or the turns"], detail=place.more))
            == 1
        )


_WHERE = [
    "The position that the rotary table shows now",
    "The readings of every position that has been cut",
    "A position was cut in the wrong place",
    "The work was taken off: find its position again",
]


async def _list_readings(counter: RunScreen, places: "Sequence[CutPlace]") -> None:
    """Show the readings of the table and the slide at every position that has been cut."""
    from core.run.cut_places import places_as_work_lies, reading_words

    lathe, state = counter.plan_input.lathe, counter.state
    lines = [reading_words(lathe, state, place) for place in places_as_work_lies(state, places)]
    detail = [
        "Isolate the drive. Turn the spindle by hand until the cutter's point falls into a cut. Check the "
        "position at a second cut."
    ]
    await _ask(counter, OneOf("Readings of the cut positions, the latest one first", lines, detail=detail))


async def _cut_wrong(counter: RunScreen, places: "Sequence[CutPlace]") -> None:
    """Ask which position was cut in the wrong place, and for its real readings. Plan the remaining steps again."""
    from core.run.cut_places import cut_wrong, read_slide_place, read_table_place, reading_words, slide_setting_of
    from core.run.table_reading import reading_example

    lathe, state = counter.plan_input.lathe, counter.state
    lines = [reading_words(lathe, state, place) for place in places]
    chosen = await _ask(counter, OneOf("Which position was cut in the wrong place?", lines))
    if chosen is None or lathe.rotary_table is None:
        return
    place = places[chosen]
    example = reading_example(place.step, lathe.rotary_table)
    table = await _ask(
        counter,
        Typed(
            f"What did the rotary table show at position {place.position}?",
            lambda text: read_table_place(lathe, place, text),
            label="Showed",
            detail=[example],
        ),
    )
    if table is None:
        return
    name = dial_words(slide_setting_of(place).dial)
    slide = await _ask(
        counter,
        Typed(
            f"What did the {name} show at position {place.position}?",
            lambda text: read_slide_place(lathe, state, place, text),
            label="Showed",
            detail=["If the turns from 0 were also wrong, enter 6+1.70 for 6 turns and a reading of 1.70."],
        ),
    )
    if slide is None:
        return
    again = await _ask(counter, _what_follows(state, place))
    if again is not None:
        entered = cut_wrong(lathe, place, table, slide, again == 0)
        counter.revise(entered, f"position {place.position} of layer {place.layer} cut elsewhere: {entered.shown}")


def _what_follows(state: "State", place: "CutPlace") -> OneOf:
    """Return the question that asks whether a position cut in the wrong place is also to be cut in its right place.

    Remaining passes at this position are dropped only if the user agrees.
    """
    open_cuts = (step for step in state.open_steps() if step.action == "cut" and not step.feeds_along)
    left = sum(step.at.where == place.step.at.where for step in open_cuts)
    dropped = f" Skip its {left} remaining pass{'' if left == 1 else 'es'}." if left else ""
    return OneOf(
        f"Do you want to cut position {place.position} again, in the right place?",
        ["Yes, cut all its passes there", f"No, cut nothing there.{dropped}"],
        default=0 if left else 1,
        detail=["The wrong cut stays in the work either way."],
    )


async def shown_at_touch_off(counter: RunScreen, step: Step, start: NumberStart | None = None) -> None:
    """Ask for the reading of a dial at touch-off, from which all later readings of this dial are counted.

    `start`: a number that is already typed; None for an empty field.
    """
    dial = step.zeroed_dials[0]
    name, touches = dial_words(dial), not step.title or "touch" in f"{step.title} {step.text}".casefold()
    where = "now, at touch-off" if touches else "here, at the point from which its readings count"
    question = f"What does the {name} show {where}?"
    shown = await _shown(counter, dial, question, at_touch_off=True, start=start)
    if shown is not None:
        lathe = counter.plan_input.lathe
        reading = lathe.dial(dial).reading_text(shown)
        words = f"{name} touched off at {reading}" if touches else f"{name}: readings count from {reading}"
        counter.attempt(lambda: counter.run.done(str(shown), lathe.dial(dial).unit), words)


def can_be_set(lathe: Lathe, step: Step) -> bool:
    """Return whether the user can enter, at this step, the real reading of a dial or of the rotary table."""
    if step.zeroed_dials:
        return all(dial in lathe.dials for dial in step.zeroed_dials)
    if step.action == "index":
        # Every step calls this function. A thread's counter starts sooner without the modules of dividing.
        from core.run.table_reading import sets_table

        return sets_table(lathe, step)
    return step.action == "cut" and any(isinstance(setting, Setting) for setting in step.settings)


async def set_differently(counter: RunScreen) -> None:
    """Ask for the real reading of a dial or the rotary table, and plan the remaining steps from this reading."""
    from core.run.table_reading import other_dials, sets_table

    step = counter.state.cursor
    setting = next((candidate for candidate in step.settings if isinstance(candidate, Setting)), None) if step else None
    lathe = counter.plan_input.lathe
    if step is not None and (others := other_dials(lathe, counter.state, step)):
        chosen: int | None = 0
        if len(others) > 1:
            names = [dial_words(name) for name in others]
            chosen = await _ask(counter, OneOf("Which dial is not at its planned reading?", names))
        if chosen is None:
            return
        setting = step.setting(others[chosen])
        if setting is not None and setting.dial != TABLE:
            await _dial_set_differently(counter, setting)
        else:
            await _table_set_differently(counter, step)
    elif step is not None and sets_table(lathe, step):
        await _table_set_differently(counter, step)
    elif step is not None and step.zeroed_dials and all(dial in lathe.dials for dial in step.zeroed_dials):
        await shown_at_touch_off(counter, step)
    elif step is not None and step.zeroed_dials:
        counter.show_message("This step sets the zero for all readings. Set the dial as the step says.")
    elif setting is not None and setting.dial == "boring_head":
        counter.show_message(
            "Do not enter the reading of the boring head. Cut the next trial circle and enter its size. The program "
            "then plans the move of the head."
        )
    elif step is None or setting is None or step.action != "cut":
        counter.show_message("This step sets neither a depth nor a position, so there is no reading to enter.")
    else:
        await _dial_set_differently(counter, setting)


async def _dial_set_differently(counter: RunScreen, setting: Setting) -> None:
    lathe, name = counter.plan_input.lathe, dial_words(setting.dial)
    shown = await _shown(counter, setting.dial, f"What does the {name} actually show?")
    if shown is not None:
        position = position_at_reading(lathe, counter.state, setting, shown)
        entered = SetTo(dial=setting.dial, position=position, shown=str(shown))
        dial = lathe.dial(setting.dial)
        counter.revise(entered, f"{name} set to {dial.turns_text(position)}{dial.reading_text(shown)}")


async def _table_set_differently(counter: RunScreen, step: Step) -> None:
    from core.run.table_reading import read_table_setting, reading_example

    lathe = counter.plan_input.lathe
    table = lathe.rotary_table
    question = Typed(
        f"{step.name}: what does the rotary table actually show?",
        lambda text: read_table_setting(lathe, step, text),
        label="Shows",
        detail=[reading_example(step, table)] if table else [],
    )
    answer = await _ask(counter, question)
    if answer is not None:
        position, shown = answer
        entered = SetTo(dial=TABLE, position=position, shown=shown)
        counter.revise(entered, f"rotary table set to {shown}; see the cautions for what that means")


def has_spring_passes(plan_input: PlanInput) -> bool:
    """Return whether the operation of a run has spring passes; False for a kind that this version does not know."""
    kind = kind_of(plan_input.kind)
    return kind is not None and kind.operation.has_spring_passes


async def spring(counter: RunScreen) -> None:
    """Ask whether to add one more spring pass. Show a message if the operation has no spring passes."""
    if not has_spring_passes(counter.plan_input):
        counter.show_message("This operation has no spring passes. To cut a pass again, press 6 and repeat a step.")
    elif await _ask(counter, YesNo("Add one more spring pass at the same reading?", default=True)):
        counter.revise(ExtraSpringPass(), "one more spring pass planned")


async def hand_over(counter: RunScreen) -> None:
    """Ask for another operation of the open job, and write a result of this run into that operation."""
    handover, context = result_to_hand_over(counter), counter.context
    takers = [] if handover is None else users_of(counter, handover)
    if handover is None or not takers or context.job is None:
        counter.show_message("This run has no result yet that another operation of this job can use.")
        return
    chosen: int | None = 0
    if len(takers) > 1:
        names = [operation.name for operation in takers]
        chosen = await _ask(counter, OneOf(f"Which operation will use the {handover.words}?", names))
    if chosen is None:
        return
    from core.jobs.editor import change_operation

    taker = takers[chosen]
    table = handover.table_with(taker.plan_input.parameters)
    try:
        context.job = change_operation(context.job.path, taker.name, table, context.lathe_path, context.paths.own_lathe)
    except CoreError as error:
        counter.show_message(f"The result was not used. {error.message}")
        return
    to_do = handover.to_do(table).removesuffix(".") if handover.to_do is not None else ""
    counter.attempt(
        lambda: counter.run.note(f"{handover.words} taken over by {taker.name}"),
        f"{handover.words}, in {taker.name}{to_do and f'. {to_do}'}",
    )


def result_to_hand_over(counter: RunScreen) -> "Handover | None":
    """Return the result of this run that another operation can use; None if there is no such result."""
    plan_input = counter.plan_input
    try:
        hands_over = operation_of(plan_input.kind).hands_over
        return hands_over and hands_over(parameters_of(plan_input), plan_input.lathe, counter.state)
    except CoreError:
        return None


def users_of(counter: RunScreen, handover: "Handover") -> "list[JobOperation]":
    """Return the operations of the open job that can use the result `handover`; [] if no job is open."""
    job = counter.context.job
    return [operation for operation in job.operations if operation.kind == handover.kind] if job is not None else []


async def note(counter: RunScreen) -> None:
    """Ask for a note, and log it."""
    text = await _ask(counter, Typed("What do you want to note?", _note_text, label="Note"))
    if text is not None:
        counter.attempt(lambda: counter.run.note(text), "note")


async def ask_if_moved(counter: RunScreen) -> None:
    """Ask whether the work, the tool, a slide or a dial was moved. If so, plan how to find the position again."""
    detail = ["If so, you find the position again step by step, then measure. The old count no longer applies."]
    if await _ask(counter, YesNo("Has the work, the tool, a slide or a dial been moved?", detail=detail)):
        await plan_after_move(counter)


async def plan_after_move(counter: RunScreen) -> None:
    """Plan the steps that find the position again after something was moved.

    Turned work is touched off at its measured size.
    """
    plan_input = counter.plan_input
    if finds_cuts_again(plan_input.kind):
        from tui.counter.put_back import find_work_again, work_taken_off

        taken_off = await work_taken_off(counter)
        if taken_off is None:
            return
        if taken_off:
            await find_work_again(counter)
            return
    try:
        asked = operation_of(plan_input.kind).moved(parameters_of(plan_input), plan_input.lathe, counter.state)
    except CoreError as error:
        counter.show_message(error.message)
        return
    if asked is None:
        counter.revise(Moved(), "planned again after a move")
        return
    match await input_from(counter, asked):
        case Measured() as size, _:
            counter.revise(Moved(size=size), "touch off again")
        case entered, words:
            counter.revise(entered, f"find the position again: {words}")


async def go_back(counter: RunScreen) -> None:
    """Ask which earlier step to repeat. Later steps that are done stay done."""
    done = steps_to_repeat(counter.state)
    if not done:
        since = "since the work was put back" if counter.state.steps_done else "yet"
        counter.show_message(f"No step has been done {since}.")
        return
    latest_first = list(reversed(done))
    texts = [_list_text(counter, step) for step in latest_first]
    chosen = await _ask(counter, OneOf("Which step do you want to repeat?", texts))
    if chosen is not None:
        from core.run.steps_together import repeated_with

        ids = [step.id for step in repeated_with(counter.state, latest_first[chosen])]
        counter.attempt(lambda: counter.run.reopen(ids), f'repeat "{clean(texts[chosen], 40)}"')


def _list_text(counter: RunScreen, step: Step) -> str:
    """Return the text of a step for a list of answers.

    If the text is too long for one row, return the step's name instead.
    """
    text = shown_text(counter.plan_input.lathe, counter.state, step)
    return text if len(text) <= min(counter.size.width, _WIDEST_QUESTION) - _BESIDE_AN_ANSWER else step.name


async def skip(counter: RunScreen) -> None:
    """Ask whether to skip the current step. If later steps depend on this step, show why it cannot be skipped."""
    step = counter.state.cursor
    if step is None:
        counter.show_message("All steps are done.")
    elif step.required:
        counter.show_message("You cannot skip this step, because later steps depend on it.")
    else:
        from core.run.steps_together import skipped_with

        await _skip(counter, skipped_with(counter.state, step))


async def _skip(counter: RunScreen, steps: Sequence[Step]) -> None:
    detail = [shown_text(counter.plan_input.lathe, counter.state, steps[0])]
    if len(steps) == 2 and steps[1].feeds_along and not steps[0].feeds_along and steps[0].action == "cut":
        detail.append("This also skips the feed along the work, which cuts nothing without the feed in.")
    elif len(steps) > 1:
        detail.append(f"This also skips the other unfinished steps of this position: {len(steps) - 1}.")
    if await _ask(counter, YesNo("Skip this step?", detail=detail)):
        ids = [step.id for step in steps]
        counter.attempt(lambda: counter.run.skip(ids, "skipped at the machine"), "step skipped")


async def close(counter: RunScreen) -> None:
    """Ask whether to close the counter. Nothing is lost by closing it."""
    detail = ["Everything is saved. To continue this run, press Enter on the board."]
    if await _ask(counter, YesNo("Close the counter?", yes="Close it", no="Stay", default=True, detail=detail)):
        counter.dismiss()


async def _ask(counter: RunScreen, question: QuestionScreen[Answer]) -> Answer | None:
    return await counter.context.ask(question)


async def _shown(
    counter: RunScreen, dial_name: str, question: str, *, at_touch_off: bool = False, start: NumberStart | None = None
) -> Fraction | None:
    lathe: Lathe = counter.plan_input.lathe

    def read(text: str) -> Fraction:
        return read_dial(lathe, dial_name, text, at_touch_off=at_touch_off)

    return await _ask(counter, Typed(question, read, label="Shows", start=start, unit=lathe.dial(dial_name).unit))


def _note_text(text: str) -> str:
    cleaned = clean(text, 500).strip()
    if not cleaned:
        raise QuantityError('The note is empty. Enter some words, such as "new insert".')
    return cleaned
