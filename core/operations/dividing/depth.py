"""Plans the passes to a depth at every position of the rotary table, and corrects them after a depth is measured."""

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import islice, pairwise
from typing import TYPE_CHECKING, Literal, NamedTuple, Protocol

from core.cutting import Infeed, cut_steps
from core.lathe.lathe import Lathe, dial_words
from core.plan import Step, StepPlace
from core.questions import Asked, EnteredSize, SizeAsked, read_length
from core.replanning import Reached, nearest_mark
from core.values.dials import Setting
from core.values.errors import PlanError
from core.values.quantities import mm_text

if TYPE_CHECKING:
    from core.events.state import State

LEAST_ROOM_MM = 0.5
"""A measured depth may always differ by this much from the dial's depth [mm]; common practice, no source."""

Order = Literal["round", "position"]
ORDERS: tuple[Order, ...] = ("round", "position")


class DepthPasses(NamedTuple):
    """The passes that cut to a depth at every position, and the dial that sets their depth."""

    infeed: Infeed
    depth_mm: float
    """Final depth wanted [mm]."""
    marks: tuple[int, ...]
    """The dial reading after each pass, in marks from the dial's zero."""
    surface: Fraction = Fraction(0)
    """The dial's reading at the surface [marks]; not 0 if a measurement showed that the dial's zero was wrong."""
    planned: tuple[int, ...] = ()
    """The passes as planned before any measurement [marks]; () if no measurement has changed them."""

    def shift(self, level: int) -> int:
        """Return by how many marks corrections have moved a pass. `level`: the index of the pass, from 0."""
        return self.marks[level] - self.planned[level] if self.planned else 0

    def shifted(self, marks: int) -> "DepthPasses":
        """Return these passes, with the surface and every pass moved deeper by a number of dial marks."""
        if marks == 0:
            return self
        planned = self.planned or self.marks
        return self._replace(marks=tuple(mark + marks for mark in planned), surface=Fraction(marks), planned=planned)

    @property
    def last_exact_mm(self) -> float:
        """The wanted depth of the last pass [mm], not rounded to a mark, counted from the dial's zero instead of the
        surface.
        """
        return self.depth_mm + self.infeed.depth_mm(self.surface)

    def cuts(self) -> list[list[Step]]:
        """Return one list of steps for each pass. These steps do not name a position yet."""
        befores = (self.surface, *map(Fraction, self.marks))
        parts = [self.parts(before, mark) for before, mark in zip(befores, self.marks, strict=False)]
        steps = iter(self.cuts_from(self.surface, 0.0, [mark for part in parts for mark in part]))
        return [list(islice(steps, len(part))) for part in parts]

    def parts(self, before: Fraction, mark: int) -> list[int]:
        """Return the dial readings [marks] of the passes that lead from the reading `before` to the reading `mark`.

        No pass is deeper than the deepest planned pass plus half a mark. The half mark allows for a surface between two
        marks.
        """
        planned = pairwise((0, *(self.planned or self.marks)))
        deepest = max(after - shallower for shallower, after in planned)
        count = max(1, math.ceil((mark - before - Fraction(1, 2)) / deepest))
        return [round(before + (mark - before) * number / count) for number in range(1, count + 1)]

    def cuts_from(self, from_marks: Fraction, start_depth_mm: float, marks: Sequence[int]) -> list[Step]:
        """Return the passes that end at the readings `marks`. They start at the reading `from_marks`, where the cut
        already has a depth of `start_depth_mm` [mm].
        """
        return cut_steps(
            self.infeed,
            marks,
            name="",
            from_marks=from_marks,
            start_depth_mm=start_depth_mm,
            last_marks=self.marks[-1],
            last_exact_depth_mm=self.last_exact_mm,
        )


def depth_passes(lathe: Lathe, dial_name: str, depth_mm: float, cut_mm: float) -> DepthPasses:
    """Return equal passes to a depth [mm]. Each takes at most `cut_mm`, or one mark of the dial if a mark is deeper.

    Raises PlanError if the lathe does not have the dial, or if the depth is less than half a mark.
    """
    infeed = Infeed(dial=lathe.dial(dial_name))
    total, count = _marks_and_passes(infeed, lathe, depth_mm, cut_mm)
    marks = tuple(round(Fraction(total * number, count)) for number in range(1, count + 1))
    return DepthPasses(infeed=infeed, depth_mm=depth_mm, marks=marks)


def pass_count(lathe: Lathe, dial_name: str, depth_mm: float, cut_mm: float) -> int:
    """Return how many passes `depth_passes` would plan. Raises PlanError in the same cases."""
    return _marks_and_passes(Infeed(dial=lathe.dial(dial_name)), lathe, depth_mm, cut_mm)[1]


def _marks_and_passes(infeed: Infeed, lathe: Lathe, depth_mm: float, cut_mm: float) -> tuple[int, int]:
    """Return a depth [mm] in dial marks, and the number of passes that `depth_passes` plans for this depth."""
    total = infeed.marks(depth_mm)
    if total < 1:
        raise PlanError(
            f"{lathe.length_text(depth_mm)} is less than half a mark of the {dial_words(infeed.dial.name)}. "
            f"Enter at least one mark, {lathe.length_text(infeed.mark_mm)}.",
            field="depth",
        )
    if cut_mm >= depth_mm * (1 - 1e-9):
        # The mark nearest to the depth may lie deeper. That is rounding and needs no pass of its own.
        return total, 1
    deepest = max(1, math.floor(cut_mm / infeed.mark_mm + 1e-9))
    return total, math.ceil(total / deepest)


def carried_over(
    passes: DepthPasses, now: Fraction, measured_mm: float, level: int | None, *, cuts_alike: bool = True
) -> DepthPasses:
    """Return the passes at a position, corrected by a depth [mm] that was measured.

    - `now`: the dial reading of the measured pass [marks].
    - `level`: the index of the deepest pass that other positions have already had. Passes up to this index stay, so
      that all positions become equally deep, and deeper passes are corrected. With None or the index of the last pass,
      all passes are corrected, since no later pass could correct the depth.
    - `cuts_alike`: False for a position with a depth of its own. Its passes up to `level` stay as planned.
    """
    planned = passes.planned or passes.marks
    surface = now - passes.infeed.marks_deep(measured_mm)
    marks = [round(surface + mark) for mark in planned[:-1]]
    marks.append(nearest_mark(passes.infeed, Reached(now, measured_mm), passes.depth_mm))
    if level is not None and level < len(marks) - 1:
        marks[: level + 1] = [*planned[:level], round(now)] if cuts_alike else passes.marks[: level + 1]
    for deeper in range(1, len(marks)):
        marks[deeper] = max(marks[deeper], marks[deeper - 1])
    return passes._replace(marks=tuple(marks), surface=surface, planned=planned)


def refuse_impossible_depth(
    infeed: Infeed, wanted_mm: float, cut_mm: float, measured_mm: float, to_text: Callable[[float], str] = mm_text
) -> None:
    """Raise PlanError if a measured depth differs too much from the depth that the dial shows.

    The limit is the final depth, or LEAST_ROOM_MM if that is more, plus one mark of the dial. `wanted_mm`: the final
    depth [mm]. `cut_mm`: the present depth according to the dial [mm]. `to_text`: returns a length [mm] as text.
    """
    room_mm = max(wanted_mm, LEAST_ROOM_MM) + infeed.mark_mm
    if abs(measured_mm - cut_mm) > room_mm:
        raise PlanError(
            f"A depth of {to_text(measured_mm)} is not possible with the dial at a depth of {to_text(cut_mm)}. "
            f"Enter at most {to_text(cut_mm + room_mm)}, or check whether the dial is a whole turn off.",
            field="depth",
        )


def named(cut: Step, name: str, place: StepPlace | None) -> Step:
    """Return a pass with the name of its position as its title and at the start of its text.

    `place`: the layer and position to store in the pass, or None.
    """
    return replace(cut, title=name, text=f"{name}: {cut.text.removeprefix(': ')}", place=place)


_NOTHING_MM = 5e-7


class CutsToDepth(Protocol):
    """The checked parameters of an operation that cuts to a depth at positions of the rotary table."""

    def wanted_depth_mm(self, layer: int | None, position: int | None = None) -> float | None:
        """Return the final depth wanted at a position of a layer [mm]; None if the layer has no depth."""


def depth_question(job: CutsToDepth, lathe: Lathe, state: "State") -> Asked:
    """Return the question that asks for the measured depth."""
    return length_asked(
        "depth",
        "Enter the depth you measured",
        "How deep is the cut now?",
        lambda depth_mm: check_depth(job, lathe, state, depth_mm),
        lambda depth_mm: measured_depth_text(job, lathe, state, depth_mm),
        lathe,
    )


def length_asked(
    what: str, choice: str, question: str, check: Callable[[float], None], words: Callable[[float], str], lathe: Lathe
) -> SizeAsked:
    """Return a question that asks the user for one length [mm].

    `check`: raises CoreError if the length is impossible. `words`: returns the sentence that the log gets for the
    length. `what`: the name under which the answer is logged. `choice`: how the question appears in a list of
    questions.
    """

    def read(text: str) -> EnteredSize:
        reading = read_length(text, lathe.unit)
        check(reading.size_mm)
        return reading

    return SizeAsked(what, choice, question, read, words)


def measured_depth_text(job: CutsToDepth, lathe: Lathe, state: "State", measured_mm: float) -> str:
    """Return a sentence that compares a measured depth [mm] with the depth wanted after the pass.

    If the final depth is less than half a mark of the dial away, the sentence advises leaving the depth as it is.
    """
    cut, text = _last_cut(state), f"depth {lathe.length_text(measured_mm)}"
    setting = None if cut is None else _setting(cut)
    if cut is None or setting is None:
        return text
    wanted_mm, half_mm = _wanted_mm(job, cut), Infeed(dial=lathe.dial(setting.dial)).mark_mm / 2
    is_near = abs(wanted_mm - measured_mm) < half_mm - _NOTHING_MM
    aim_mm = wanted_mm if is_near or (cut.remaining_mm or 0.0) < _NOTHING_MM else cut.depth_mm or 0.0
    short_mm = aim_mm - measured_mm
    if abs(short_mm) < _NOTHING_MM:
        return f"{text}, as wanted"
    text += (
        f", {lathe.length_text(abs(short_mm))} {'too shallow' if short_mm > 0 else 'too deep'} "
        f"({lathe.length_text(aim_mm)} wanted)"
    )
    if is_near:
        return (
            f"{text}. Leave this depth. It is within half a mark of the {dial_words(setting.dial)} "
            f"({lathe.length_text(half_mm)})"
        )
    return text


def check_depth(job: CutsToDepth, lathe: Lathe, state: "State", measured_mm: float) -> None:
    """Raise PlanError if the last pass cannot have cut a measured depth [mm]."""
    cut = _last_cut(state)
    setting = None if cut is None else _setting(cut)
    if cut is not None and setting is not None:
        infeed = Infeed(dial=lathe.dial(setting.dial))
        refuse_impossible_depth(infeed, _wanted_mm(job, cut), cut.depth_mm or 0.0, measured_mm, lathe.length_text)


def _setting(cut: Step) -> Setting | None:
    return next((one for one in cut.settings if isinstance(one, Setting)), None)


def _last_cut(state: "State") -> Step | None:
    """Return the pass that was done most recently; None if no pass has been done."""
    done = (state.step(trace.results_before[0][0]) for trace in reversed(state.undo_stack) if trace.kind == "done")
    return next((step for step in done if step is not None and step.action == "cut"), None)


def _wanted_mm(job: CutsToDepth, cut: Step) -> float:
    """Return the final depth wanted at the position of a pass [mm], not rounded to a mark."""
    return job.wanted_depth_mm(cut.at.layer, cut.at.position) or 0.0
