"""Plans the remaining passes of a cut again, after the user has measured, set, moved or edited something.

The input changes the mark from which the passes continue, but not the wanted depth. Depths are in mm. Each operation
has its own direction in which depths count.
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
"""What comes right before the passes that are planned now; "" if neither a measurement nor a pass comes before them."""
_TIE = 1e-6
"""How close to the middle between two marks a depth must be to count as the middle [marks]."""


class Reached(NamedTuple):
    """How far a cut has come: the position of its dial, and the depth to which the work has been cut."""

    marks: Fraction
    """The position of the infeed dial, counted from its zero [marks]."""
    depth_mm: float
    """The depth of the work at that position. A measured depth takes precedence over the dial's depth."""

    def further(self, infeed: Infeed, marks: int) -> "Reached":
        """Return the position and depth after a pass at a mark. If the pass removes no metal, both stay unchanged."""
        deepest = max(self.marks, Fraction(marks))
        return Reached(deepest, self.depth_mm + infeed.depth_mm(deepest - self.marks))


def _nothing_first(reached: Reached) -> list[Step]:
    return []


class Measurement(NamedTuple):
    """The depth of a cut as shown by a measurement, and the steps that follow from it."""

    depth_mm: float
    findings: tuple[str, ...] = ()
    first: Callable[[Reached], list[Step]] = _nothing_first
    """Returns the steps that come before the next cut."""
    ended: Step | None = None
    """The step that ends the cut, even if marks are left to cut; None if the marks decide."""


class TouchedOff(NamedTuple):
    """The steps that give the infeed dial a new zero, and the position of the work's surface from that zero."""

    steps: list[Step]
    marks: Fraction
    """The position of the surface cut so far, counted from the dial's new zero [marks].

    It is 0 if the tool touches that surface.
    """


class CutToDepth(Protocol):
    """The methods by which an operation describes a cut to a depth that is set on one dial."""

    @property
    def infeed(self) -> Infeed:
        """Return the dial that sets the depth, and the direction in which its slide moves."""

    def last_mark(self, reached: Reached) -> int:
        """Return the mark at which the cut ends. `reached`: the dial's position and the depth of cut now."""

    def passes(self, reached: Reached, last: int, follows: Follows) -> list[Step]:
        """Return the passes from the present depth to the mark `last`, with the measurements between them.

        `reached`: the dial's position and the depth of cut now. `follows`: whether these passes come right after a
        measurement or a pass; "" if after neither.
        """

    def ended(self, passes: list[Step], reached: Reached, last: int) -> list[Step]:
        """Return the passes up to the mark `last`, followed by the steps that end the cut.

        `reached`: the dial's position and the depth before these passes.
        """

    def nothing_left(self, reached: Reached) -> list[Step]:
        """Return the steps for a cut that has no mark left to cut to.

        `reached`: the dial's position and the depth of cut now.
        """

    def amount_text(self, depth_mm: float) -> str:
        """Return a difference in depth [mm] as text, stated as the difference that it makes in the measured size."""


class ComparedCut(Protocol):
    """The methods of a cut whose measured depth can be compared with the depth shown by its dial."""

    @property
    def infeed(self) -> Infeed:
        """Return the dial that sets the depth, and the direction in which its slide moves."""

    def measured(self, size: Measured, progress: Progress) -> Measurement:
        """Return the depth that a measured size shows. Raises PlanError for a size that this work cannot have."""


class MeasuredCut(CutToDepth, ComparedCut, Protocol):
    """The methods of a cut whose depth is calculated from a measured size of the work."""

    def touched_off(self, depth_mm: float) -> TouchedOff:
        """Return the steps that touch off on work already cut to a depth [mm], and where its surface then is."""


def replan_cut(cut: MeasuredCut, progress: Progress, entered: RunInput) -> list[Step]:
    """Return the steps that replace the open steps of a cut after an input of the user.

    Raises PlanError for an input that such a cut cannot use.
    """
    reached = reached_by(progress, cut.infeed)
    match entered:
        case Measured():
            return after_measuring(cut, progress, cut.measured(entered, progress))
        case Moved(size=Measured() as size):
            depth_mm = cut.measured(size, progress).depth_mm
            first, *others = from_zero(cut, depth_mm, "measurement")
            return [replace(first, text=f"{FIND_AGAIN} {first.text}"), *others]
        case SetTo():
            return cut_as_set(cut, reached, entered.position)
        case Edited() if cut.infeed.dial.name in progress.positions:
            return what_is_left(cut, reached, "")
        case Edited():
            return from_zero(cut, reached.depth_mm, "")
    raise nothing_planned_from(entered)


def reached_by(progress: Progress, infeed: Infeed) -> Reached:
    """Return how far the cut of a run has come: the position of the infeed dial, and the depth of cut."""
    return Reached(progress.marks(infeed), progress.depth_at_dial_mm(infeed))


def nearest_mark(infeed: Infeed, reached: Reached, wanted_mm: float) -> int:
    """Return the mark of the dial that is nearest to a wanted depth [mm].

    Half-way between two marks, return the shallower one, so that the work is not cut too deep.
    """
    further = Fraction((wanted_mm - reached.depth_mm) / infeed.mark_mm - _TIE)
    return math.ceil(reached.marks + further - Fraction(1, 2))


def what_is_left(cut: CutToDepth, reached: Reached, follows: Follows) -> list[Step]:
    """Return the remaining passes and the steps that end the cut.

    `reached`: the dial's position and the depth of cut now. `follows`: whether these steps come right after a
    measurement or a pass; "" if after neither.
    """
    last = cut.last_mark(reached)
    if last <= reached.marks:
        return cut.nothing_left(reached)
    return cut.ended(cut.passes(reached, last, follows), reached, last)


def from_zero(cut: MeasuredCut, depth_mm: float, follows: Follows) -> list[Step]:
    """Return the step that touches off on work that is already cut to a depth [mm], and the remaining steps after it.

    `follows`: whether the remaining steps come right after a measurement or a pass; "" if after neither.
    """
    zero = cut.touched_off(depth_mm)
    return [*zero.steps, *what_is_left(cut, Reached(zero.marks, depth_mm), follows)]


def after_measuring(cut: MeasuredCut, progress: Progress, measurement: Measurement) -> list[Step]:
    """Return the remaining steps after a measurement. The first of them shows what the measurement has found."""
    reached, zero = reached_by(progress, cut.infeed)._replace(depth_mm=measurement.depth_mm), list[Step]()
    if cut.infeed.dial.name in dials_to_zero(progress.open_steps):
        # The dial will count from a touch-off that the user has not done yet.
        zero, marks = cut.touched_off(measurement.depth_mm)
        reached = reached._replace(marks=marks)
    left = [measurement.ended] if measurement.ended else what_is_left(cut, reached, "measurement")
    first, *others = *measurement.first(reached), *left
    return [*zero, replace(first, findings=measurement.findings), *others]


def unexpected_words(
    cut: CutToDepth,
    progress: Progress,
    depth_mm: float,
    most_off_mm: float,
    size_text: Callable[[float], str],
    hint: str = "",
) -> tuple[str, ...]:
    """Return a finding if a measured depth differs too much from the depth by the dial; otherwise ().

    depth_mm: the measured depth [mm].
    most_off_mm: the largest difference that gives no finding [mm].
    size_text: returns the size of the work at a depth [mm] as text.
    hint: words that end the finding with a likely cause of the difference; "" for none.
    """
    by_dial_mm = progress.depth_at_dial_mm(cut.infeed)
    if cut.infeed.dial.name not in progress.positions or abs(depth_mm - by_dial_mm) <= most_off_mm + 1e-9:
        return ()
    sizes = f"The dial predicts {size_text(by_dial_mm)}; you entered {size_text(depth_mm)}"
    off = cut.amount_text(abs(depth_mm - by_dial_mm))
    return (f"{sizes}. The difference is {off}. Measure again before you cut{hint}.",)


def cut_as_set(cut: CutToDepth, reached: Reached, position: Fraction, name: str = "Cut as set") -> list[Step]:
    """Return the pass at the position to which the user set the dial, followed by the remaining passes.

    `reached`: the dial's position and the depth before that pass. `name`: the title of that pass.
    """
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
        words = "The work is already this deep, so the pass cuts nothing. Check the reading."
        as_set = replace(as_set, findings=(words,))
    if here > last:
        over = cut.amount_text(infeed.depth_mm(here - last))
        as_set = replace(
            as_set, cautions=(f"This setting is {over} deeper than planned. If you have not cut yet, wind back.",)
        )
    passes = list[Step]()
    if here < last:
        follows: Follows = "pass" if here > reached.marks else ""
        passes = cut.passes(reached.further(infeed, here), last, follows)
    return cut.ended([as_set, *passes], reached, max(last, here))
