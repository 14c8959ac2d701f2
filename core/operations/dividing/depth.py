"""Depth at every position: one dial, in equal passes, and the difference of a measurement carried over."""

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import islice, pairwise
from typing import Literal, NamedTuple

from core.cutting import Infeed, cut_steps
from core.lathe.lathe import Lathe, dial_words
from core.plan import Step
from core.replanning import Reached, nearest_mark
from core.step_place import StepPlace
from core.values.errors import PlanError
from core.values.quantities import mm_text

LEAST_ROOM_MM = 0.5
"""So far off a depth may be measured, however shallow it is to be; common practice, no source."""

Order = Literal["round", "position"]
ORDERS: tuple[Order, ...] = ("round", "position")


class DepthPasses(NamedTuple):
    """The passes of every position on the dial that sets their depth."""

    infeed: Infeed
    depth_mm: float
    """Wanted in the end."""
    marks: tuple[int, ...]
    """What the dial shows after each pass, in marks from its zero."""
    surface: Fraction = Fraction(0)
    """Where the surface lies on the dial [marks]; not 0 once a measurement has said so."""
    planned: tuple[int, ...] = ()
    """The marks before any measurement; () where they are the same."""

    def shift(self, level: int) -> int:
        """Return by how many marks a pass has been shifted since it was planned."""
        return self.marks[level] - self.planned[level] if self.planned else 0

    def shifted(self, marks: int) -> "DepthPasses":
        """Return the planned passes with everything, the surface too, so many marks deeper on the dial."""
        if marks == 0:
            return self
        planned = self.planned or self.marks
        return self._replace(marks=tuple(mark + marks for mark in planned), surface=Fraction(marks), planned=planned)

    @property
    def last_exact_mm(self) -> float:
        """The wanted depth counted from the dial's zero, not from the surface [mm]."""
        return self.depth_mm + self.infeed.depth_mm(self.surface)

    def cuts(self) -> list[list[Step]]:
        """Return the passes of one position, depth by depth, without a name yet."""
        befores = (self.surface, *map(Fraction, self.marks))
        parts = [self.parts(before, mark) for before, mark in zip(befores, self.marks, strict=False)]
        steps = iter(self.cuts_from(self.surface, 0.0, [mark for part in parts for mark in part]))
        return [list(islice(steps, len(part))) for part in parts]

    def parts(self, before: Fraction, mark: int) -> list[int]:
        """Return the marks to cut to on the way to `mark`, no pass of them deeper than the deepest of the plan.

        Half a mark more is rounding: a surface may lie between two marks.
        """
        planned = pairwise((0, *(self.planned or self.marks)))
        deepest = max(after - shallower for shallower, after in planned)
        count = max(1, math.ceil((mark - before - Fraction(1, 2)) / deepest))
        return [round(before + (mark - before) * number / count) for number in range(1, count + 1)]

    def cuts_from(self, from_marks: Fraction, start_depth_mm: float, marks: Sequence[int]) -> list[Step]:
        """Return passes to `marks` from where the dial stands and how deep the cut is [mm]."""
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
    """Return equal passes to a depth, none deeper than `cut_mm` (one mark at least).

    Raises PlanError where the lathe has not the dial, or the depth is less than
    half a mark of it.
    """
    infeed = Infeed(dial=lathe.dial(dial_name))
    total, count = _marks_and_passes(infeed, lathe, depth_mm, cut_mm)
    marks = tuple(round(Fraction(total * number, count)) for number in range(1, count + 1))
    return DepthPasses(infeed=infeed, depth_mm=depth_mm, marks=marks)


def pass_count(lathe: Lathe, dial_name: str, depth_mm: float, cut_mm: float) -> int:
    """Return how many passes `depth_passes` gives, without making them; raises PlanError as it does."""
    return _marks_and_passes(Infeed(dial=lathe.dial(dial_name)), lathe, depth_mm, cut_mm)[1]


def _marks_and_passes(infeed: Infeed, lathe: Lathe, depth_mm: float, cut_mm: float) -> tuple[int, int]:
    """Return a depth in marks, and in how many passes it is cut."""
    total = infeed.marks(depth_mm)
    if total < 1:
        raise PlanError(
            f"found {lathe.length_text(depth_mm)}, less than half a mark of the {dial_words(infeed.dial.name)} "
            f"({lathe.length_text(infeed.mark_mm)}); accepted is at least one mark",
            field="depth",
        )
    if cut_mm >= depth_mm * (1 - 1e-9):
        # The mark nearest to the depth may lie past it: that is rounding, not another pass.
        return total, 1
    deepest = max(1, math.floor(cut_mm / infeed.mark_mm + 1e-9))
    return total, math.ceil(total / deepest)


def carried_over(passes: DepthPasses, now: Fraction, measured_mm: float, level: int | None) -> DepthPasses:
    """Return the passes with the difference of a measured depth carried over.

    `now` is where the dial stood at the pass that was measured [marks]. `level`:
    going round, the pass that others have had at this depth; it and those before
    stay, so that all circles come out alike, and deeper ones change. None: all change,
    as they do at the last pass, behind which none could make up for it.
    """
    planned = passes.planned or passes.marks
    surface = now - passes.infeed.marks_deep(measured_mm)
    marks = [round(surface + mark) for mark in planned[:-1]]
    marks.append(nearest_mark(passes.infeed, Reached(now, measured_mm), passes.depth_mm))
    if level is not None and level < len(marks) - 1:
        marks[: level + 1] = [*planned[:level], round(now)]
    for deeper in range(1, len(marks)):
        marks[deeper] = max(marks[deeper], marks[deeper - 1])
    return passes._replace(marks=tuple(marks), surface=surface, planned=planned)


def refuse_impossible_depth(
    infeed: Infeed, wanted_mm: float, cut_mm: float, measured_mm: float, say: Callable[[float], str] = mm_text
) -> None:
    """Refuse a depth that the dial did not cut: a slip of the hand must not shift all that is still to be cut.

    `wanted_mm`: in the end; `cut_mm`: by the dial, so far. However it was touched off,
    more than the whole depth is never made up for. `say` words a length [mm].
    Raises PlanError.
    """
    room_mm = max(wanted_mm, LEAST_ROOM_MM) + infeed.mark_mm
    if abs(measured_mm - cut_mm) > room_mm:
        raise PlanError(
            f"found a depth of {say(measured_mm)} where the dial has gone in {say(cut_mm)}; accepted is up to "
            f"{say(cut_mm + room_mm)}: look at the number, or at whether the dial is a turn off",
            field="depth",
        )


def named(cut: Step, name: str, place: StepPlace | None) -> Step:
    """Return a pass with the name of its position before its text, and its place."""
    return replace(cut, title=name, text=f"{name}: {cut.text.removeprefix(': ')}", place=place)
