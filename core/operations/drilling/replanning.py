"""Plans the remaining steps of a hole again after the user's input, and asks for the hole's measured depth."""

from dataclasses import replace
from functools import partial

from core.cutting import Progress, progress_of
from core.events.state import State
from core.inputs import Edited, Measured, Moved, PickedUp, RunInput
from core.lathe.lathe import Lathe
from core.operations.drilling.hole import Hole
from core.operations.drilling.planning import tap_steps, tool_cuts
from core.operations.drilling.tool_cut import MEASURED, TOOL, ToolCut
from core.plan import Step, numbered
from core.questions import Asked, SizeAsked, read_length
from core.replanning import Measurement, from_zero, replan_cut
from core.safety import FIND_AGAIN


def replan_drilling(
    hole: Hole, lathe: Lathe, material: str | None, progress: Progress, entered: RunInput
) -> tuple[Step, ...]:
    """Return the steps that replace the remaining steps of a hole after the user's input.

    The current tool is planned again. The tools after it get the same steps as in a new plan. Raise PlanError for an
    input that the hole cannot use.
    """
    if isinstance(entered, Moved | PickedUp) and not any(step.action == "cut" for step in progress.open_steps):
        # No drilling remains, so no zero is needed.
        return numbered(progress.open_steps, progress.next_id)
    cut, own = _at_work(hole, lathe, progress)
    match entered:
        case Edited() if not own.done_steps and not own.open_steps:
            steps = cut.steps()
        case Moved(size=None) | PickedUp():
            first, *others = from_zero(cut, own.depth_at_dial_mm(cut.infeed), "")
            steps = [replace(first, text=f"{FIND_AGAIN} {first.text}"), *others]
        case _:
            steps = replan_cut(cut, own, entered)
    later = [step for after in tool_cuts(hole, lathe, cut.place + 1) for step in after.steps()]
    return numbered([*cut.of_tool(steps), *later, *tap_steps(hole, lathe)], progress.next_id)


class DrilledHole:
    """A hole treated as one cut, whichever tool drills it. `core.record` compares measured depths of the hole with the
    dial.
    """

    def __init__(self, hole: Hole, lathe: Lathe) -> None:
        self._hole, self._lathe = hole, lathe
        self.infeed = ToolCut(hole, lathe, 0).infeed

    def measured(self, size: Measured, progress: Progress) -> Measurement:
        """Return the depth of the current tool's tip that follows from a measured depth. Raise PlanError for an
        impossible depth.
        """
        cut, own = _at_work(self._hole, self._lathe, progress)
        return cut.measured(size, own)


def wanted_depth_mm(hole: Hole, cut: Step, measured: Measured) -> tuple[float, float] | None:
    """Return the wanted depth of the hole after a peck [mm] as both limits, because the depth has no tolerance.

    Return None for a hole through the work, or if the hole no longer has the tool of the peck.
    """
    place = hole.place_of(str(cut.extra.get(TOOL, "")))
    if place is None or hole.through_mm is not None:
        return None
    tool = hole.tools[place]
    depth_mm = tool.depth_mm if hole.depth_to == "point" else tool.full_mm
    return depth_mm, depth_mm


def drilling_questions(hole: Hole, lathe: Lathe, state: State) -> tuple[Asked, ...]:
    """Return the question for the hole's measured depth; () if the current step is neither a cut nor a measurement."""
    if state.cursor is None or state.cursor.action not in {"cut", "spring", "measure"}:
        return ()
    return (_depth_asked(_at_work(hole, lathe, state.progress)[0]),)


def drilling_moved(hole: Hole, lathe: Lathe, state: State) -> Asked | None:
    """Return the question for the hole's depth after a part of the set-up was moved.

    Return None if no tool has drilled yet, or if no cut remains.
    """
    cut, own = _at_work(hole, lathe, state.progress)
    is_open = any(step.action == "cut" for step in state.open_steps())
    return _depth_asked(cut) if own.last_id and is_open else None


def _at_work(hole: Hole, lathe: Lathe, progress: Progress) -> tuple[ToolCut, Progress]:
    """Return the current tool, and the part of the progress that belongs to this tool.

    If the tool of the next step has already drilled, it is the current tool. Otherwise the current tool is the one
    after the tools that have drilled, because an edited job may have a new tool. If no tool has steps left, the current
    tool is the last one that has drilled.
    """
    drilled = [str(step.extra.get(TOOL, "")) for step in progress.done_steps if step.action == "cut"]
    following = next((str(step.extra[TOOL]) for step in progress.open_steps if TOOL in step.extra), None)
    places = [place for place, tool in enumerate(hole.tools) if tool.key in drilled]
    if following in drilled and hole.place_of(following) is not None:
        place = hole.place_of(following) or 0
    elif following is None:
        place = places[-1] if places else len(hole.tools) - 1
    else:
        place = min(places[-1] + 1 if places else 0, len(hole.tools) - 1)
    cut = ToolCut(hole, lathe, place)
    done = [step for step in progress.done_steps if step.extra.get(TOOL) == cut.tool.key]
    still_open = [step for step in progress.open_steps if step.extra.get(TOOL) == cut.tool.key]
    own = progress_of(done, still_open, progress.next_id)
    if hole.dial not in progress.positions:
        # The turner must set the dial to zero again before the next cut.
        own = own.zeroed([hole.dial])
    return cut, own


def _depth_asked(cut: ToolCut) -> SizeAsked:
    question, wanted = cut.question_words()
    return SizeAsked(
        MEASURED,
        "Enter a measured depth",
        question,
        partial(read_length, unit=cut.lathe.unit),
        lambda size_mm: f"measured {cut.lathe.length_text(size_mm)} deep",
        (wanted,),
    )
