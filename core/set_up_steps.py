"""Keeps the set-up steps that are still to do when the rest of a run is planned again.

A set-up step swings a slide, touches off, or makes a dry run or a scratch pass. Without these steps, the passes would
be counted from a zero that was never set.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import takewhile

from core.plan import Step, numbered

SET_UP_TITLE = "Set up the lathe"
"""The title of the step that changes the settings left by the previous operation of a job.

The plan of a single operation never has this step.
"""
_PREPARING = frozenset({"set", "check"})


def prepares(step: Step) -> bool:
    """Return whether a step only sets or checks something, without cutting, turning the table, reading or measuring."""
    return step.action in _PREPARING


def set_up_steps(open_steps: Sequence[Step]) -> list[Step]:
    """Return the open steps before the next step that cuts, turns the table, reads or measures; [] if there is none."""
    leading = list(takewhile(prepares, open_steps))
    return leading if len(leading) < len(open_steps) else []


def set_up_left(planned: Sequence[Step], settled: Iterable[Step]) -> list[Step]:
    """Return the set-up steps of a new plan that are still needed.

    `planned`: the new plan. `settled`: the steps of the old plan that were done or skipped. A step is not needed if the
    last settled step with its title also has its text. A step that zeroes a dial is needed if the dial was not zeroed,
    or if an earlier step of the new plan is needed.
    """
    latest, zeroed = dict[str, str](), set[str]()
    for step in settled:
        # Steps of the first version have no title.
        latest[step.title or step.text] = step.text
        zeroed.update(step.zeroed_dials)
    left: list[Step] = []
    for step in set_up_steps(planned):
        if step.zeroed_dials:
            is_needed = bool(left) or not zeroed.issuperset(step.zeroed_dials)
        else:
            is_needed = step.text not in {latest.get(step.title), latest.get(step.text)}
        left += [step] if is_needed else []
    return left


def in_words_of(planned: Sequence[Step], logged: Iterable[Step]) -> list[Step]:
    """Return logged steps, each with the text of the planned step that has the same title.

    `planned`: the set-up steps that this version of the program plans from the input of the logged steps. Another
    version may have worded the same setting differently, and a different text would count as a different setting. A
    step whose title is not unique keeps its own text.
    """
    titles = Counter(step.title for step in planned)
    words = {step.title: step.text for step in planned if step.title and titles[step.title] == 1}
    return [replace(step, text=words.get(step.title, step.text)) for step in logged]


def dials_to_zero(open_steps: Sequence[Step]) -> frozenset[str]:
    """Return the dials that must still be set to zero before the next cut."""
    return frozenset(dial for step in set_up_steps(open_steps) for dial in step.zeroed_dials)


def with_set_up(still_open: Sequence[Step], planned: Sequence[Step], first_id: int) -> tuple[Step, ...]:
    """Return the open set-up steps of the old plan, followed by the newly planned steps.

    If a planned step does the same as an open step, such as touching off the same dial, it replaces the open step.
    `first_id`: the id of the first step returned.
    """
    remaining, merged = list(planned), list[Step]()
    if not any(step.zeroed_dials for step in still_open):
        # The open steps came after a zero that the user now sets again.
        merged = list(takewhile(lambda step: step.zeroed_dials, remaining))
        del remaining[: len(merged)]
    for step in still_open:
        at = _where_planned(remaining, step)
        if at is None:
            merged.append(step)
        else:
            merged += remaining[: at + 1]
            del remaining[: at + 1]
    return numbered([*merged, *remaining], first_id)


def _where_planned(planned: Sequence[Step], step: Step) -> int | None:
    """Return the index of the planned step that does the same as an open step; None if no planned step does.

    The texts may differ if another version of the program planned the open step, so the titles are compared too. Steps
    of the first version have no title. They all stay, even if the same step is then shown twice.
    """
    same = (at for at, again in enumerate(planned) if _does_the_same(again, step))
    titled = (at for at, again in enumerate(takewhile(prepares, planned)) if _has_its_title(again, step))
    return next(same, next(titled, None))


def _does_the_same(again: Step, step: Step) -> bool:
    if step.zeroed_dials:
        return set(step.zeroed_dials) <= set(again.zeroed_dials)
    return again.text == step.text or (step.at.step is not None and step.at.step == again.at.step)


def _has_its_title(again: Step, step: Step) -> bool:
    """Return whether two steps have the same title and action; False if either zeroes a dial or is in a pattern."""
    if not step.title or any(one.zeroed_dials or one.place for one in (again, step)):
        return False
    return (again.title, again.action) == (step.title, step.action)
