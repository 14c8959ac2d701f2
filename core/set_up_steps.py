"""What is still to be set up when a run is planned again: it stays until it is done.

Swinging a slide, touching off, a dry run, a scratch pass: a cut planned again
without them would be counted from a zero that was never set.
"""

from collections.abc import Iterable, Sequence
from itertools import takewhile

from core.plan import Step, numbered

_PREPARING = frozenset({"set", "check"})


def prepares(step: Step) -> bool:
    """Tell whether a step neither cuts, turns the table, reads nor measures."""
    return step.action in _PREPARING


def set_up_steps(open_steps: Sequence[Step]) -> list[Step]:
    """Return the open steps before the next that cuts, turns the table, reads or measures; [] where none follows."""
    leading = list(takewhile(prepares, open_steps))
    return leading if len(leading) < len(open_steps) else []


def set_up_left(planned: Sequence[Step], settled: Iterable[Step]) -> list[Step]:
    """Return the set-up steps of a plan that those done or skipped before, of another plan, do not make needless.

    What was set last under the same title counts, in the same words; a dial that is at zero stays so, unless
    something before it is set up again.
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


def dials_to_zero(open_steps: Sequence[Step]) -> frozenset[str]:
    """Return the dials whose zero is still to be set before the next cut."""
    return frozenset(dial for step in set_up_steps(open_steps) for dial in step.zeroed_dials)


def with_set_up(still_open: Sequence[Step], planned: Sequence[Step], first_id: int) -> tuple[Step, ...]:
    """Return the steps planned again, the set-up steps still open in their places before them.

    A planned step that does the same (touches off on a size just measured) takes the
    place of the open one.
    """
    rest, merged = list(planned), list[Step]()
    if not any(step.zeroed_dials for step in still_open):
        # What is open came after a zero that is set again now.
        merged = list(takewhile(lambda step: step.zeroed_dials, rest))
        del rest[: len(merged)]
    for step in still_open:
        at = next((place for place, again in enumerate(rest) if _does_the_same(again, step)), None)
        if at is None:
            merged.append(step)
        else:
            merged += rest[: at + 1]
            del rest[: at + 1]
    return numbered([*merged, *rest], first_id)


def _does_the_same(again: Step, step: Step) -> bool:
    if step.zeroed_dials:
        return set(step.zeroed_dials) <= set(again.zeroed_dials)
    return again.text == step.text or (step.at.step is not None and step.at.step == again.at.step)
