"""The questions that find the position of work that was taken off the table, from cuts already made in the work.

Nothing is logged before the last answer. Esc cancels all questions, except while the user corrects a reading: then Esc
returns to the result.
"""

from collections.abc import Sequence

from core.operations.patterns.put_back import ReadingSlippedError
from core.run.cut_places import places_as_work_lies, reading_words
from core.run.found_again import (
    ENOUGH,
    TO_FIND,
    CutRead,
    CutToFind,
    WorkFound,
    cannot_be_found,
    cuts_to_find,
    farthest_first,
    meeting_words,
    read_slide,
    read_table,
    slide_example,
    slide_name,
    table_example,
    work_found,
)
from core.safety import STOP_FIRST
from core.values.errors import PlanError
from tui.counter.run_screen import RunScreen
from tui.widgets.question import OneOf, Typed

_ORDINALS = ("first", "second", "third", "fourth", "fifth")
_CANCELLED = "Nothing has been logged. When you can, press 8 (Where?) to find the work again."
_CONTINUE = "Accept this position and plan the remaining steps for it"
_ANOTHER = "Find another cut as well"


async def work_taken_off(counter: RunScreen) -> bool | None:
    """Ask whether only the work was taken off the table. Return the answer; None if the user cancels.

    If there are too few cuts to find the work again, ask nothing and return False.
    """
    if len(cuts_to_find(counter.plan_input, counter.state)) < TO_FIND:
        return False
    chosen = await counter.context.ask(
        OneOf(
            "What was moved?",
            [
                "A slide, the table or a dial, or you are not sure: find the zeros again",
                "Only the work was taken off the table: find its position again",
            ],
        )
    )
    return None if chosen is None else chosen == 1


async def find_work_again(counter: RunScreen) -> None:
    """Ask for the readings at two or three cuts, show where the work lies now, and plan the remaining steps there."""
    cuts = cuts_to_find(counter.plan_input, counter.state)
    if why := cannot_be_found(counter.plan_input, counter.state):
        counter.show_message(why)
        return
    read: list[CutRead] = []
    work = await _agreed(counter, cuts, read) if await _read_cuts(counter, cuts, read) else None
    if work is None:
        counter.show_message(_CANCELLED)
    else:
        counter.revise(work.entered, "work found again; the remaining steps are planned")


async def _read_cuts(counter: RunScreen, cuts: Sequence[CutToFind], read: list[CutRead]) -> bool:
    """Ask for the readings at two or three cuts, and add them to `read`. Return False if the user cancels."""
    while len(read) < len(cuts):
        if len(read) == TO_FIND:
            third = await counter.context.ask(
                OneOf(
                    "Do you want to find a third cut?",
                    ["Yes, a third cut, to see whether a reading is wrong", "No, two cuts are enough"],
                    detail=[
                        "Two cuts are enough to show how the work lies. Only a third cut shows whether a "
                        "reading is wrong."
                    ],
                )
            )
            if third is None:
                return False
            if third == 1:
                return True
        elif len(read) >= ENOUGH:
            return True
        if not await _read_another(counter, cuts, read):
            return False
    return True


async def _read_another(counter: RunScreen, cuts: Sequence[CutToFind], read: list[CutRead]) -> bool:
    """Ask for one more cut and its readings, and add them to `read`. Return False if the user cancels."""
    lathe, state = counter.plan_input.lathe, counter.state
    while True:
        choice = farthest_first(cuts, [one.cut for one in read])
        places = places_as_work_lies(state, [cut.place for cut in choice])
        number = _ORDINALS[min(len(read), len(_ORDINALS) - 1)]
        chosen = await counter.context.ask(
            OneOf(
                f"Which cut do you want to find {number}?",
                [reading_words(lathe, state, place) for place in places],
                detail=["Cuts that are far apart give the best result, so they are listed first."],
            )
        )
        if chosen is None:
            return False
        answer = await _met(counter, choice[chosen], cuts[0])
        if answer is None:
            return False
        if answer:
            break
    reading = await _readings(counter, choice[chosen])
    if reading is None:
        return False
    read.append(reading)
    return True


async def _met(counter: RunScreen, cut: CutToFind, last: CutToFind) -> bool | None:
    """Ask the user to bring the cutter's point into a cut.

    Return True when the point is there, False if the user wants another cut, and None if the user cancels.
    """
    chosen = await counter.context.ask(
        OneOf(
            f"Bring the cutter's point into {cut.name}.",
            ["The point is in the cut: enter the readings", "Choose another cut"],
            detail=meeting_words(cut, last),
            cautions=[STOP_FIRST],
        )
    )
    return None if chosen is None else chosen == 0


async def _readings(counter: RunScreen, cut: CutToFind) -> CutRead | None:
    """Ask for the readings of the slide and the table while the point is in a cut; None if the user cancels."""
    plan_input, state = counter.plan_input, counter.state
    slide = await counter.context.ask(
        Typed(
            f"{cut.name.capitalize()}: what does the {slide_name(plan_input)} read?",
            lambda text: read_slide(plan_input, state, cut, text),
            label="Reads",
            detail=[slide_example(plan_input, state)],
        )
    )
    if slide is None:
        return None
    table = await counter.context.ask(
        Typed(
            f"{cut.name.capitalize()}: what does the table read?",
            lambda text: read_table(plan_input, cut, text),
            label="Reads",
            detail=[table_example(cut)],
        )
    )
    return None if table is None else CutRead(cut, slide, table)


async def _agreed(counter: RunScreen, cuts: Sequence[CutToFind], read: list[CutRead]) -> WorkFound | None:
    """Show how the work lies now, or which reading seems wrong, until the user agrees. Readings can be corrected.

    Return the position to which the user agreed; None if the user cancels.
    """
    while True:
        work, again = None, list(read)
        try:
            work = work_found(counter.plan_input, counter.state, read)
            words = work.words
        except ReadingSlippedError as error:
            words = error.message
            slipped = [one for one in read if one.found in error.slipped]
            again = [*slipped, *(one for one in read if one not in slipped)]
        except PlanError as error:
            words = error.message
        options = [_CONTINUE] if work is not None else []
        options += [f"Enter {one.cut.name} again" for one in again]
        options += [_ANOTHER] if len(read) < len(cuts) else []
        chosen = await counter.context.ask(OneOf(words, options))
        if chosen is None or (work is not None and chosen == 0):
            return None if chosen is None else work
        if options[chosen] == _ANOTHER:
            await _read_another(counter, cuts, read)
            continue
        one = again[chosen - (work is not None)]
        reading = await _readings(counter, one.cut)
        if reading is not None:
            read[read.index(one)] = reading
