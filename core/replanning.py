"""Planning the rest of a cut to a depth again, from what was measured, set, moved or edited: one engine for every kind.

A deviation changes where the planned passes continue, never how hard they cut. Depths in mm, as the kind counts them.
"""

import math
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from typing import Literal, NamedTuple, Protocol

from core.cutting import Infeed, Progress, cut_steps, takes_nothing
from core.inputs import Edited, Measured, Moved, RunInput, SetTo, nothing_planned_from
from core.plan import Step
from core.safety import FIND_AGAIN
from core.set_up_steps import dials_to_zero

Follows = Literal["measurement", "pass", ""]
"""What the passes planned again come straight after; "" for neither."""
_TIE = 1e-6
"""A depth so near to the middle between two marks [marks] is taken as the middle."""


class Reached(NamedTuple):
    """How far a cut has come."""

    marks: Fraction
    """Where the dial of the infeed stands, counted from its zero."""
    depth_mm: float
    """How deep the work is there; what was measured counts before what the dial says."""

    def further(self, infeed: Infeed, marks: int) -> "Reached":
        """Return the same after a pass at a mark; one set no deeper than the work leaves it as it is."""
        deepest = max(self.marks, Fraction(marks))
        return Reached(deepest, self.depth_mm + infeed.depth_mm(deepest - self.marks))


def _nothing_first(reached: Reached) -> list[Step]:
    return []


class Measurement(NamedTuple):
    """What a measurement says of a cut."""

    depth_mm: float
    findings: tuple[str, ...] = ()
    first: Callable[[Reached], list[Step]] = _nothing_first
    """Returns what is done before anything more is cut."""
    ended: Step | None = None
    """The step that ends the cut, whatever mark is left; None where the marks decide."""


class TouchedOff(NamedTuple):
    """How the dial gets its zero again."""

    steps: list[Step]
    marks: Fraction
    """Where the work as it is cut lies, counted from that zero; 0 where it is touched itself."""


class CutToDepth(Protocol):
    """A cut to a depth on one dial, as its kind describes it."""

    @property
    def infeed(self) -> Infeed:
        """The dial that sets the depth."""

    def last_mark(self, reached: Reached) -> int:
        """Return the mark that the cut ends on."""

    def passes(self, reached: Reached, last: int, follows: Follows) -> list[Step]:
        """Return the passes from there to the last mark, with what is measured between them."""

    def ended(self, passes: list[Step], reached: Reached, last: int) -> list[Step]:
        """Return passes to a last mark with what ends them; `reached`: before the first of them."""

    def nothing_left(self, reached: Reached) -> list[Step]:
        """Return what follows where no mark is left to cut to."""

    def amount_text(self, depth_mm: float) -> str:
        """Say a difference of depth in the size that is measured."""


class MeasuredCut(CutToDepth, Protocol):
    """A cut whose depth is known from a size of the work."""

    def measured(self, size: Measured, progress: Progress) -> Measurement:
        """Return what a size says; raises PlanError for one that this work cannot have."""

    def touched_off(self, depth_mm: float) -> TouchedOff:
        """Return how the dial gets its zero on work cut so deep."""


def replan_cut(cut: MeasuredCut, progress: Progress, entered: RunInput) -> list[Step]:
    """Return the steps that replace the open ones of a cut; raises PlanError."""
    reached = reached_by(progress, cut.infeed)
    match entered:
        case Measured():
            return after_measuring(cut, progress, cut.measured(entered, progress))
        case Moved(size=Measured() as size):
            depth_mm = cut.measured(size, progress).depth_mm
            first, *rest = from_zero(cut, depth_mm, "measurement")
            return [replace(first, text=f"{FIND_AGAIN} {first.text}"), *rest]
        case SetTo():
            return cut_as_set(cut, reached, entered.position)
        case Edited() if cut.infeed.dial.name in progress.positions:
            return what_is_left(cut, reached, "")
        case Edited():
            return from_zero(cut, reached.depth_mm, "")
    raise nothing_planned_from(entered)


def reached_by(progress: Progress, infeed: Infeed) -> Reached:
    """Return how far a run has cut."""
    return Reached(progress.marks(infeed), progress.depth_at_dial_mm(infeed))


def nearest_mark(infeed: Infeed, reached: Reached, wanted_mm: float) -> int:
    """Return the mark nearest to a depth; of two alike the one before it, for a little too little can still be cut."""
    further = Fraction((wanted_mm - reached.depth_mm) / infeed.mark_mm - _TIE)
    return math.ceil(reached.marks + further - Fraction(1, 2))


def what_is_left(cut: CutToDepth, reached: Reached, follows: Follows) -> list[Step]:
    """Return the passes that are left, and what ends them."""
    last = cut.last_mark(reached)
    if last <= reached.marks:
        return cut.nothing_left(reached)
    return cut.ended(cut.passes(reached, last, follows), reached, last)


def from_zero(cut: MeasuredCut, depth_mm: float, follows: Follows) -> list[Step]:
    """Return how the dial gets its zero on work cut so deep, then what is left from there."""
    zero = cut.touched_off(depth_mm)
    return [*zero.steps, *what_is_left(cut, Reached(zero.marks, depth_mm), follows)]


def after_measuring(cut: MeasuredCut, progress: Progress, found: Measurement) -> list[Step]:
    """Return what is left at a measured depth, the findings at the first of it."""
    reached, zero = reached_by(progress, cut.infeed)._replace(depth_mm=found.depth_mm), list[Step]()
    if cut.infeed.dial.name in dials_to_zero(progress.open_steps):
        # The dial will count from where the tool is yet to touch.
        zero, marks = cut.touched_off(found.depth_mm)
        reached = reached._replace(marks=marks)
    left = [found.ended] if found.ended else what_is_left(cut, reached, "measurement")
    first, *rest = *found.first(reached), *left
    return [*zero, replace(first, findings=found.findings), *rest]


def unexpected_words(
    cut: CutToDepth,
    progress: Progress,
    depth_mm: float,
    most_off_mm: float,
    size_text: Callable[[float], str],
    hint: str = "",
) -> tuple[str, ...]:
    """Say so where a measured depth is off what the dial has cut by more than `most_off_mm`.

    size_text: says the size at a depth [mm]; hint: what else may have gone wrong.
    """
    by_dial_mm = progress.depth_at_dial_mm(cut.infeed)
    if cut.infeed.dial.name not in progress.positions or abs(depth_mm - by_dial_mm) <= most_off_mm + 1e-9:
        return ()
    sizes = f"the dial predicts {size_text(by_dial_mm)}, you entered {size_text(depth_mm)}"
    return (f"{sizes}, off by {cut.amount_text(abs(depth_mm - by_dial_mm))}: measure again before you cut{hint}",)


def cut_as_set(cut: CutToDepth, reached: Reached, position: Fraction, name: str = "As set") -> list[Step]:
    """Return the pass at the mark that was really set, then the rest as far as it still goes."""
    infeed = cut.infeed
    last, here = cut.last_mark(reached), round(infeed.marks_at(position))
    (as_set,) = cut_steps(
        infeed,
        [here],
        name=name,
        from_marks=reached.marks,
        start_depth_mm=reached.depth_mm,
        last_marks=max(last, here),
    )
    if takes_nothing(as_set):
        words = "no deeper than the work is cut already: this pass takes nothing. Check the reading"
        as_set = replace(as_set, findings=(words,))
    if here > last:
        over = cut.amount_text(infeed.depth_mm(here - last))
        as_set = replace(as_set, cautions=(f"This is {over} deeper than planned: wind back if it is not cut yet.",))
    rest = list[Step]()
    if here < last:
        follows: Follows = "pass" if here > reached.marks else ""
        rest = cut.passes(reached.further(infeed, here), last, follows)
    return cut.ended([as_set, *rest], reached, max(last, here))
