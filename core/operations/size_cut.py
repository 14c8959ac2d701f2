"""Turning, facing, grooving: equal roughing cuts, then a semi-finishing cut as deep as the finishing cut.

The order is common practice: rough, measure, a semi-finishing cut of the same
depth as the finishing cut (so that the tool springs alike in both), measure,
carry the difference over, finish.
"""

import math
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from itertools import accumulate
from typing import TYPE_CHECKING, Literal, NamedTuple

from core import safety
from core.cutting import Infeed, cut_steps, rounding_note, touch_off_step
from core.lathe.lathe import NEVER_ALONG_THE_BED, Lathe, dial_words
from core.plan import Expects, Plan, Step, StepCount, numbered
from core.values.errors import PlanError
from core.values.fields import Table
from core.values.wanted_size import WantedSize

if TYPE_CHECKING:
    pass

USUAL_FINISH_MM = 0.15
"""Depth of a finishing cut where none is given; common practice, no source."""

_TOUCH_OFF_AND_CHECK = 2

MeasuredAs = Literal["diameter", "length", "left", "depth", "place"]
"""What is measured in the course of it; "left": how much is still to come off."""


ALONG_THE_BED = frozenset({"carriage", "tailstock"})
"""Dials whose slide moves along the bed, however the compound is swung."""
TO_CHUCK = "towards the chuck"


class OwnSteps(NamedTuple):
    """The steps of a kind that touches off and measures otherwise than a plain diameter, face or groove."""

    touch_off: Callable[[Lathe, float], Step]
    """From the size that is there [mm]."""
    measure: Callable[[Lathe, float], Step]
    """Between passes, from the depth that the dial predicts [mm]."""
    measure_last: Callable[[Lathe, str], Step]
    """After the last pass, from what the dial says of it, "" for nothing."""


class SizeCut(NamedTuple):
    """From one size to another along one dial, in passes. Lengths in mm."""

    dial: str
    from_mm: float
    to_mm: float
    cut_mm: float
    finish_mm: float
    measured: MeasuredAs
    """In what `from_mm` and `to_mm` count."""
    outwards: bool
    """The slide goes out for a deeper cut: in a bore."""
    direction: str = ""
    """Which way the cut goes, in words: "towards the chuck"; "" where in and out say it."""
    round_movement: tuple[str, ...] = ()
    """The movements of every pass, in order; () for the usual ones."""
    set_up: tuple[Step, ...] = ()
    """What is prepared before the touch-off."""
    wanted: WantedSize | None = None
    """The size wanted, where it was given with limits: `to_mm` is their middle."""
    own: OwnSteps | None = None

    @property
    def on_diameter(self) -> bool:
        """True: from and to are diameters, depths are on the radius."""
        return self.measured == "diameter"

    @property
    def total_mm(self) -> float:
        """Depth to take off altogether [mm], on the radius where a diameter is cut."""
        return abs(self.from_mm - self.to_mm) / (2 if self.on_diameter else 1)

    @property
    def in_a_bore(self) -> bool:
        """True where a bore is cut: a diameter that grows, or a groove away from the axis."""
        return self.outwards and self.measured != "place"

    def remaining_mm(self, measured_mm: float) -> float:
        """Return what is left to cut at a measured size [mm]; below 0 where it has gone too far."""
        sense = 1 if self.from_mm > self.to_mm else -1
        return sense * (measured_mm - self.to_mm) / (2 if self.on_diameter else 1)

    def size_mm(self, depth_mm: float) -> float:
        """Return the size [mm] at a depth from the start [mm], on the radius where a diameter is cut."""
        sense = 1 if self.to_mm > self.from_mm else -1
        return self.from_mm + sense * depth_mm * (2 if self.on_diameter else 1)

    def is_past(self, size_mm: float) -> bool:
        """Tell whether a size [mm] has gone past its limits, where nothing can be put back."""
        if self.wanted is None or self.wanted.holds(size_mm):
            return False
        return (size_mm < self.wanted.lower_mm) == (self.from_mm > self.to_mm)

    def entered_mm(self, size_mm: float) -> float:
        """Return what is entered for a size [mm]: itself, or what is then still to come off."""
        return self.to_mm - size_mm if self.measured == "left" else size_mm

    def wanted_words(self, lathe: Lathe) -> str:
        """Return the size wanted, with its limits where it has any."""
        return self.wanted.words(lathe.unit) if self.wanted else lathe.length_text(self.to_mm)

    def infeed(self, lathe: Lathe) -> Infeed:
        """Return the infeed on this lathe; raises PlanError where the dial is missing."""
        return Infeed(dial=lathe.dial(self.dial), outwards=self.outwards, direction=self.direction)


def read_pass_depths(table: Table, lathe: Lathe) -> tuple[float, float] | None:
    """Return the deepest cut and the finishing cut [mm]; None where the first is missing or wrong."""
    cut = table.length("cut", required=True, above=0)
    finish = table.length("finish", above=0)
    if cut is None:
        return None
    if finish is not None and finish > cut:
        found = f"found {lathe.length_text(finish)}, deeper than cut {lathe.length_text(cut)}"
        table.problem("finish", f"{found}; accepted is at most that")
    return cut, finish if finish is not None else min(cut, USUAL_FINISH_MM)


def count_size_cut(cutting: SizeCut, lathe: Lathe, material: str | None) -> StepCount:
    """Return how many steps turning, facing or grooving takes; raises PlanError as `plan_cutting` does."""
    infeed = cutting.infeed(lathe)
    parts = _parts(_total_marks(cutting, infeed, lathe), _sizes(cutting, infeed))
    measured = bool(parts.rough_cuts) + bool(parts.semi)
    cuts = parts.rough_cuts + bool(parts.semi) + 1
    return StepCount(len(cutting.set_up) + _TOUCH_OFF_AND_CHECK + cuts + measured, "cut", "a deeper cut")


def plan_size_cut(cutting: SizeCut, lathe: Lathe, material: str | None) -> Plan:
    """Return the plan of turning, facing or grooving.

    Raises PlanError where the lathe has not the dial, or its marks are coarser
    than the whole cut.
    """
    infeed = cutting.infeed(lathe)
    total = _total_marks(cutting, infeed, lathe)
    note = last_mark_note(cutting, lathe, infeed, total, cutting.total_mm)
    sizes = _sizes(cutting, infeed)
    steps = [
        *cutting.set_up,
        touch_off(cutting, lathe, infeed, cutting.from_mm),
        *with_caution_at_last(passes(cutting, lathe, infeed, sizes, (Fraction(0), total), 0.0, cutting.total_mm), note),
        last_check(cutting, lathe, note),
    ]
    return Plan(
        figures={
            "from_mm": cutting.from_mm,
            "to_mm": cutting.to_mm,
            "measured": cutting.measured,
            **_limit_figures(cutting),
            "passes": sum(step.action == "cut" for step in steps),
        },
        cautions=tuple(_cautions(infeed, cutting, lathe, total, note)),
        general=safety.general(material, *safety.in_the_chuck(lathe)),
        movements=cutting.round_movement or _round_movement(infeed),
        steps=numbered(steps),
    )


def _total_marks(cutting: SizeCut, infeed: Infeed, lathe: Lathe) -> int:
    """Return the whole cut in marks, none past a limit; raises PlanError where it is less than one."""
    total = infeed.marks(cutting.total_mm)
    if cutting.is_past(cutting.size_mm(infeed.depth_mm(total))):
        total -= 1
    if total < 1:
        raise PlanError(
            f"found {lathe.length_text(cutting.total_mm)} to cut, less than one mark of the "
            f"{dial_words(cutting.dial)} ({lathe.length_text(infeed.mark_mm)}); accepted is at least one mark",
            field="to",
        )
    return total


class PassLimitMarks(NamedTuple):
    """The most that cuts may take [marks]: any of them, and the last two."""

    deepest: int
    finish: int


def depth_before_measuring_mm(cutting: SizeCut, lathe: Lathe) -> float:
    """Return how deep the first passes go together [mm], before anything is measured; raises PlanError as planning."""
    infeed = cutting.infeed(lathe)
    parts = _parts(_total_marks(cutting, infeed, lathe), _sizes(cutting, infeed))
    return infeed.depth_mm(parts.rough if parts.rough_cuts else parts.semi or parts.finish)


def planned_pass_limits(cutting: SizeCut, infeed: Infeed) -> PassLimitMarks:
    """Return the deepest cut and the finishing cut of the plan: what is planned again cuts no harder."""
    sizes = _sizes(cutting, infeed)
    groups = _split(max(1, infeed.marks(cutting.total_mm)), sizes)
    return PassLimitMarks(deepest=max(max(group, default=0) for group in groups), finish=groups[-1][-1])


def passes(
    cutting: SizeCut,
    lathe: Lathe,
    infeed: Infeed,
    sizes: PassLimitMarks,
    between: tuple[Fraction, int],
    depth_mm: float,
    exact_mm: float,
    after_a_cut: bool = False,
) -> list[Step]:
    """Return rough, measure, semi-finish, measure, finish, `between` where the dial is and the last mark.

    `after_a_cut`: a cut comes before them; it is measured first, as in the plan, where no roughing cut follows.
    """
    now, last = between
    rough, semi, finish = _split(round(last - now), sizes)
    groups = [("Rough", rough), ("Semi-finish", semi), ("Finish", finish)]
    steps: list[Step] = []
    reached = now
    for name, cuts in groups:
        if not cuts:
            continue
        start_depth_mm = depth_mm + infeed.depth_mm(reached - now)
        if steps or (after_a_cut and name != "Rough"):
            steps.append(_measure(cutting, lathe, start_depth_mm))
        marks = [round(reached + marks) for marks in accumulate(cuts)]
        steps += cut_steps(
            infeed,
            marks,
            name=name,
            from_marks=reached,
            start_depth_mm=start_depth_mm,
            last_marks=last,
            last_exact_depth_mm=exact_mm,
        )
        reached = Fraction(marks[-1])
    return steps


class _Parts(NamedTuple):
    """How a cut is split [marks]: into so many roughing cuts, alike, then a semi-finishing and a finishing cut."""

    rough: int
    rough_cuts: int
    semi: int
    finish: int


def _parts(total: int, sizes: PassLimitMarks) -> _Parts:
    """Split whole marks into roughing cuts (none too deep), a semi-finishing and a finishing cut.

    Up to half a finishing cut left for roughing is no cut of its own, it would only
    rub: the semi-finishing cut takes it too, where it may be that deep.
    """
    deepest, finish = sizes
    if total <= finish:
        return _Parts(0, 0, 0, total)
    if total <= 2 * finish:
        return _Parts(0, 0, total - total // 2, total // 2)
    rough = total - 2 * finish
    if 2 * rough <= finish and finish + rough <= deepest:
        return _Parts(0, 0, finish + rough, finish)
    return _Parts(rough, math.ceil(Fraction(rough, deepest)), finish, finish)


def _split(total: int, sizes: PassLimitMarks) -> tuple[list[int], list[int], list[int]]:
    """Return the roughing cuts, the semi-finishing and the finishing cut [marks], [] where there is none."""
    rough, count, semi, finish = _parts(total, sizes)
    ends = [round(Fraction(rough * (number + 1), count)) for number in range(count)]
    return [end - start for start, end in zip([0, *ends], ends, strict=False)], [semi] if semi else [], [finish]


def _sizes(cutting: SizeCut, infeed: Infeed) -> PassLimitMarks:
    return PassLimitMarks(deepest=_deepest_marks(cutting, infeed), finish=_finish_marks(cutting, infeed))


def _deepest_marks(cutting: SizeCut, infeed: Infeed) -> int:
    return max(1, math.floor(cutting.cut_mm / infeed.mark_mm + 1e-9))


def _finish_marks(cutting: SizeCut, infeed: Infeed) -> int:
    """Return the finishing cut in marks; rounding must not make it deeper than a cut may be."""
    return max(1, min(infeed.marks(cutting.finish_mm), _deepest_marks(cutting, infeed)))


def last_mark_note(cutting: SizeCut, lathe: Lathe, infeed: Infeed, last: int, exact_mm: float) -> str:
    """Say what the last mark leaves against the wanted size; past it, what a mark less would leave."""
    note = rounding_note(infeed, last, exact_mm, cutting.on_diameter, lathe.length_text)
    past_mm = infeed.depth_mm(last) - exact_mm
    if past_mm < infeed.mark_mm / 4 or last < 2:
        return note
    short_mm = (infeed.mark_mm - past_mm) * (2 if cutting.on_diameter else 1)
    return f"{note}; one mark less ends {lathe.length_text(short_mm)} short of it"


def with_caution_at_last(steps: list[Step], note: str) -> list[Step]:
    """Return the passes with the note at the last of them, before it is cut."""
    return [*steps[:-1], replace(steps[-1], cautions=(*steps[-1].cautions, note))] if note else steps


def touch_off(cutting: SizeCut, lathe: Lathe, infeed: Infeed, size_mm: float) -> Step:
    """Return the touching-off on what is there now: the blank, or what was measured when the place is found again."""
    if cutting.own:
        return cutting.own.touch_off(lathe, size_mm)
    backlash = f" ({infeed.dial.reading_text(infeed.dial.backlash)})" if infeed.dial.backlash else ""
    # A slide comes to every mark the way it cuts: in a bore outwards, or its backlash is cut as well.
    way = cutting.direction or ("outwards" if cutting.outwards else "inwards")
    text = (
        f"{dial_words(infeed.dial.name).capitalize()}: {way}, its backlash{backlash} taken up, until the tool just "
        f"touches {_touched(cutting, lathe, size_mm)}"
    )
    return touch_off_step(infeed.dial, text, size_mm if cutting.on_diameter else None)


def _touched(cutting: SizeCut, lathe: Lathe, size_mm: float) -> str:
    if cutting.direction:
        return touched_words(cutting, lathe, size_mm)
    if cutting.on_diameter:
        return f"{'the bore' if cutting.in_a_bore else 'the work'} at {lathe.length_text(size_mm)}"
    return (
        "where the cut starts" if size_mm == cutting.from_mm else f"the ground reached, at {lathe.length_text(size_mm)}"
    )


def _measure(cutting: SizeCut, lathe: Lathe, depth_mm: float) -> Step:
    if cutting.own:
        return cutting.own.measure(lathe, depth_mm)
    predicted = lathe.length_text(cutting.entered_mm(cutting.size_mm(depth_mm)))
    return Step(
        action="measure",
        title="Measure",
        text=f"{safety.STOP_FIRST} {_MEASURE[cutting.measured]}: the difference is carried over. "
        f"The dial predicts {predicted}",
        expects=Expects.SIZE,
        cautions=(safety.BORE,) if cutting.in_a_bore else (),
    )


_MEASURE: dict[MeasuredAs, str] = {
    "diameter": "Measure the diameter and enter it",
    "length": "Measure the length and enter it",
    "left": "Measure, and enter how much is still to come off",
    "depth": "Measure the depth and enter it",
    "place": "Measure which place it has come to and enter it",
}


def last_check(cutting: SizeCut, lathe: Lathe, note: str) -> Step:
    """Return the measurement at the end, with what the dial says of it, "" for nothing."""
    if cutting.own:
        return cutting.own.measure_last(lathe, note)
    wanted = f"{cutting.wanted_words(lathe)} is wanted"
    if cutting.measured == "left":
        wanted = f"{lathe.length_text(cutting.total_mm)} is to have come off in all"
    text = (
        f"Measure: stop the spindle, isolate its drive. {wanted[0].upper()}{wanted[1:]}; then break the edges by hand"
    )
    text = f"{text}. By the dial {note}" if note else text
    if cutting.wanted:
        # What is measured last is judged by the limits.
        return Step(action="measure", title="Measure", text=text, expects=Expects.SIZE)
    return Step(action="check", title="Measure", text=text)


def _limit_figures(cutting: SizeCut) -> dict[str, float]:
    if cutting.wanted is None:
        return {}
    return {"to_min_mm": float(cutting.wanted.lower_mm), "to_max_mm": float(cutting.wanted.upper_mm)}


def _cautions(infeed: Infeed, cutting: SizeCut, lathe: Lathe, last: int, note: str) -> list[str]:
    found = []
    if infeed.mark_mm > cutting.cut_mm * (1 + 1e-9):
        found.append(
            f"one mark of the {dial_words(infeed.dial.name)} is {lathe.length_text(infeed.mark_mm)} deep, "
            f"more than the cut of {lathe.length_text(cutting.cut_mm)} allowed"
        )
    if note:
        found.append(note)
    if outside := no_mark_inside(cutting, lathe, cutting.size_mm(infeed.depth_mm(last))):
        found.append(outside)
    return found


def no_mark_inside(cutting: SizeCut, lathe: Lathe, last_mm: float) -> str:
    """Say so where the last mark ends at a size [mm] outside the limits, short of them, "" where it does not."""
    if cutting.wanted is None or cutting.wanted.holds(last_mm):
        return ""
    return (
        f"no mark of the {dial_words(cutting.dial)} lies inside {cutting.wanted_words(lathe)}: the last one before "
        f"them ends at {lathe.length_text(last_mm)}; from there set the dial between two marks, and measure"
    )


def _round_movement(infeed: Infeed) -> tuple[str, ...]:
    name = dial_words(infeed.dial.name)
    # In a bore the slide comes to its reading outwards, and clear of the wall inwards.
    cuts, clears = ("out", " inwards") if infeed.outwards else ("in", "")
    return (
        f"{name.capitalize()} {cuts} to its reading",
        "Cut",
        f"Withdraw the tool{clears}, back to the start",
        "Then the key",
    )


def face_dials(lathe: Lathe) -> list[str]:
    """Return the dials of a lathe that a face can be cut with, the carriage first."""
    fitting = [name for name in lathe.dials if name not in NEVER_ALONG_THE_BED]
    return sorted(fitting, key=lambda name: name not in ALONG_THE_BED)


def touched_words(cutting: SizeCut, lathe: Lathe, size_mm: float) -> str:
    """Say what the tool touches: what is there at first, or what was measured when it is found again."""
    what = "the face" if cutting.direction == TO_CHUCK else "the work"
    if cutting.on_diameter:
        return f"{what} at {lathe.length_text(size_mm)}"
    return what if size_mm == cutting.from_mm else f"{what} as it is cut now"
