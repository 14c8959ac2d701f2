"""A cut to a size in passes, as in turning, facing, grooving and taper turning: its values, its passes and its plan.

The order is common practice: equal roughing cuts, a measurement, a semi-finishing cut as deep as the finishing cut, a
second measurement, a correction, and the finishing cut. Because the last two cuts have the same depth, the tool springs
by the same amount in both.
"""

import math
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from itertools import accumulate
from typing import Literal, NamedTuple

from core import safety
from core.cutting import Infeed, backlash_words, cut_steps, rounding_note, touch_off_step
from core.lathe.lathe import ALONG_THE_BED, NEVER_ALONG_THE_BED, Lathe, dial_words
from core.operations.fine_infeed import FineInfeed
from core.operations.lengths import (
    DIAL,
    CutLength,
    before_finishing_mm,
    length_cautions,
    length_figures,
    length_steps,
    with_ends,
)
from core.plan import Expects, Plan, Step, StepCount, numbered
from core.values.errors import PlanError
from core.values.fields import Table
from core.values.wanted_size import WantedSize

USUAL_FINISH_MM = 0.15
"""Depth of a finishing cut if the user enters none [mm]; common practice, no source."""

_TOUCH_OFF_AND_CHECK = 2

MeasuredAs = Literal["diameter", "length", "left", "depth", "place"]
"""The quantity that the user measures between passes. "left" is the amount still to come off."""


TO_CHUCK = "towards the chuck"


BREAK_EDGES = "Stop the spindle, then break the edges by hand"
"""The instruction after the last measurement of a cut."""


class OwnSteps(NamedTuple):
    """The functions of an operation that touches off and measures differently from a plain cut. Each returns a step."""

    touch_off: Callable[[Lathe, float], Step]
    """Returns the step that touches off. Its second argument is the current size [mm]."""
    measure: Callable[[Lathe, float], Step]
    """Returns the step that measures between passes. Its second argument is the predicted depth [mm]."""
    measure_last: Callable[[Lathe, str], Step]
    """Returns the step that measures after the last pass. Its second argument is a note on the last mark."""


class SizeCut(NamedTuple):
    """A cut from one size to another, made in passes whose depth is set on one dial. Lengths are in mm."""

    dial: str
    from_mm: float
    to_mm: float
    cut_mm: float
    finish_mm: float
    measured: MeasuredAs
    """The quantity that `from_mm` and `to_mm` measure."""
    outwards: bool
    """True if the slide moves out for a deeper cut, as in a bore."""
    direction: str = ""
    """The cutting direction in words, such as "towards the chuck"; "" if "in" or "out" is clear enough."""
    pass_movements: tuple[str, ...] = ()
    """The movements of every pass, in order; () for the usual movements."""
    set_up: tuple[Step, ...] = ()
    """The steps before the touch-off."""
    after_touch_off: tuple[Step, ...] = ()
    """The steps between the touch-off on the blank and the first pass."""
    wanted: WantedSize | None = None
    """The wanted size with its limits, of which `to_mm` is the middle; None if the size has no limits."""
    own: OwnSteps | None = None
    along: CutLength | None = None
    """Where the cut starts and ends along the axis; None if the job does not say."""
    label: str = ""
    """Text after the name of each pass, such as " 36 mm"; "" if the work has only one size."""
    ending: str = BREAK_EDGES
    """The instruction after the last measurement."""
    fine: FineInfeed | None = None
    """The angle of the compound for a fine infeed; None for a slide that moves straight to the depth."""
    size_key: str = "to"
    """The key of the wanted size in the operation's table. A problem with the size is shown there."""

    @property
    def on_diameter(self) -> bool:
        """True if `from_mm` and `to_mm` are diameters. Depths are then on the radius."""
        return self.measured == "diameter"

    @property
    def total_mm(self) -> float:
        """The depth of the whole cut [mm]. If a diameter is cut, this depth is on the radius."""
        return abs(self.from_mm - self.to_mm) / (2 if self.on_diameter else 1)

    @property
    def in_a_bore(self) -> bool:
        """True for a cut in a bore: a diameter that grows, or a groove that goes away from the axis."""
        return self.outwards and self.measured != "place"

    def remaining_mm(self, measured_mm: float) -> float:
        """Return the depth still to cut [mm] at a measured size [mm]; below 0 if too much has been cut."""
        sense = 1 if self.from_mm > self.to_mm else -1
        return sense * (measured_mm - self.to_mm) / (2 if self.on_diameter else 1)

    def size_mm(self, depth_mm: float) -> float:
        """Return the size [mm] that results from a depth of cut [mm]. For a diameter, the depth is on the radius."""
        sense = 1 if self.to_mm > self.from_mm else -1
        return self.from_mm + sense * depth_mm * (2 if self.on_diameter else 1)

    def is_past(self, size_mm: float) -> bool:
        """Return whether a size [mm] is so far past its limits that no further cut can save the work. False without
        limits.
        """
        if self.wanted is None or self.wanted.holds(size_mm):
            return False
        return (size_mm < self.wanted.lower_mm) == (self.from_mm > self.to_mm)

    def entered_mm(self, size_mm: float) -> float:
        """Return the number that the user enters for a size [mm]: the size itself, or the amount still to come off."""
        return self.to_mm - size_mm if self.measured == "left" else size_mm

    def wanted_words(self, lathe: Lathe) -> str:
        """Return the wanted size in words, with its limits if it has any."""
        return self.wanted.words(lathe.unit) if self.wanted else lathe.length_text(self.to_mm)

    def infeed(self, lathe: Lathe) -> Infeed:
        """Return the dial that sets the depth and its direction. Raises PlanError if the lathe lacks the dial."""
        if self.fine:
            return self.fine.infeed(lathe)
        return Infeed(dial=lathe.dial(self.dial), outwards=self.outwards, direction=self.direction)


def read_pass_depths(table: Table, lathe: Lathe) -> tuple[float, float] | None:
    """Return the greatest allowed depth of a cut and the depth of the finishing cut [mm].

    Return None if the greatest depth is missing or wrong.
    """
    cut = table.length("cut", required=True, above=0)
    finish = table.length("finish", above=0)
    if cut is None:
        return None
    if finish is not None and finish > cut:
        words = f"{lathe.length_text(finish)} is deeper than the deepest cut"
        table.problem("finish", f"{words}. Enter at most {lathe.length_text(cut)}.")
    return cut, finish if finish is not None else min(cut, USUAL_FINISH_MM)


def count_size_cut(cutting: SizeCut, lathe: Lathe, material: str | None) -> StepCount:
    """Return how many steps a plan of a cut to a size has. Raises PlanError if the lathe cannot make the cut."""
    infeed = cutting.infeed(lathe)
    own = count_passes(_total_marks(cutting, infeed, lathe), pass_limits(cutting, infeed))
    set_up = len(cutting.set_up) + len(length_set_up(cutting, lathe)) + len(cutting.after_touch_off)
    return StepCount(set_up + _TOUCH_OFF_AND_CHECK + own, "cut", "a deeper cut")


def plan_size_cut(cutting: SizeCut, lathe: Lathe, material: str | None) -> Plan:
    """Return the plan of a cut to a size.

    Raises PlanError if the lathe lacks the dial that sets the depth, or if the whole cut is shallower than one mark of
    it.
    """
    infeed = cutting.infeed(lathe)
    total = _total_marks(cutting, infeed, lathe)
    note = last_mark_note(cutting, lathe, infeed, total, cutting.total_mm)
    sizes = pass_limits(cutting, infeed)
    cuts = passes(cutting, lathe, infeed, sizes, (Fraction(0), total), 0.0, cutting.total_mm)
    steps = [
        *cutting.set_up,
        *length_set_up(cutting, lathe),
        touch_off(cutting, lathe, infeed, cutting.from_mm),
        *cutting.after_touch_off,
        *with_caution_at_last(cuts, note),
        last_check(cutting, lathe, note),
    ]
    if cutting.along:
        steps = with_ends(steps, cutting.along, lathe)
    return Plan(
        figures={
            "from_mm": cutting.from_mm,
            "to_mm": cutting.to_mm,
            "measured": cutting.measured,
            **_limit_figures(cutting),
            **length_figures(cutting.along),
            **(cutting.fine.figures(infeed.depth_mm(total)) if cutting.fine else {}),
            "passes": sum(step.action == "cut" for step in steps),
        },
        cautions=tuple(_cautions(infeed, cutting, lathe, total, note)),
        general=safety.general(material, *safety.in_the_chuck(lathe)),
        # With a length each pass has movements of its own.
        movements=() if cutting.along else cutting.pass_movements or _usual_movements(infeed),
        steps=numbered(steps),
    )


def length_set_up(cutting: SizeCut, lathe: Lathe) -> list[Step]:
    """Return the steps that set up the length of a cut along the axis; [] if the job states no such length."""
    return length_steps([cutting.along], lathe) if cutting.along else []


def _total_marks(cutting: SizeCut, infeed: Infeed, lathe: Lathe) -> int:
    """Return the depth of the whole cut in dial marks, rounded so that the size stays inside its limits.

    Raises PlanError if the cut is shallower than one mark.
    """
    total = infeed.marks(cutting.total_mm)
    if cutting.fine:
        cutting.fine.check_travel(infeed.depth_mm(total), lathe)
    if cutting.is_past(cutting.size_mm(infeed.depth_mm(total))):
        total -= 1
    if total < 1:
        raise PlanError(
            f"The cut of {lathe.length_text(cutting.total_mm)} is less than one mark of the "
            f"{dial_words(cutting.dial)}. Enter a cut of at least {lathe.length_text(infeed.mark_mm)}.",
            field=cutting.size_key,
        )
    return total


class PassLimitMarks(NamedTuple):
    """The greatest depths of one cut, in dial marks: `deepest` for any cut, `finish` for semi-finishing and
    finishing.
    """

    deepest: int
    finish: int


def depth_before_measuring_mm(cutting: SizeCut, lathe: Lathe) -> float:
    """Return the total depth of the passes before the first measurement [mm].

    Raises PlanError in the same cases as `plan_size_cut`.
    """
    infeed = cutting.infeed(lathe)
    parts = _parts(_total_marks(cutting, infeed, lathe), pass_limits(cutting, infeed))
    return infeed.depth_mm(parts.rough if parts.rough_cuts else parts.semi or parts.finish)


def planned_pass_limits(cutting: SizeCut, infeed: Infeed) -> PassLimitMarks:
    """Return the greatest depths among the planned passes. Passes that are planned again later must not be deeper."""
    sizes = pass_limits(cutting, infeed)
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
    """Return the steps from the dial's present position to the last mark: rough, measure, semi-finish, measure, finish.

    `sizes`: the greatest depths of the cuts. `between`: the dial's present position and the last mark, both in marks.
    `depth_mm`: the depth cut so far. `exact_mm`: the wanted depth, not rounded to a mark. `after_a_cut`: True if a cut
    comes directly before these steps. The user measures this cut first, unless a roughing cut comes next.
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
            name=f"{name}{cutting.label}",
            from_marks=reached,
            start_depth_mm=start_depth_mm,
            last_marks=last,
            last_exact_depth_mm=exact_mm,
        )
        reached = Fraction(marks[-1])
    return steps


class _Parts(NamedTuple):
    """How a cut is split, in dial marks: all roughing cuts together, their number, the semi-finish and the finish."""

    rough: int
    rough_cuts: int
    semi: int
    finish: int


def _parts(total: int, sizes: PassLimitMarks) -> _Parts:
    """Split a cut of `total` marks into roughing cuts within the limit, a semi-finishing cut and a finishing cut.

    A roughing cut of at most half a finishing cut would only rub. The semi-finishing cut takes this metal too, unless
    it would then be deeper than allowed.
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


def count_passes(total: int, sizes: PassLimitMarks) -> int:
    """Return how many steps `passes` returns for a cut of `total` marks: the passes and the measurements
    between them.
    """
    parts = _parts(total, sizes)
    return parts.rough_cuts + bool(parts.rough_cuts) + 2 * bool(parts.semi) + 1


def _split(total: int, sizes: PassLimitMarks) -> tuple[list[int], list[int], list[int]]:
    """Return the depths [marks] of the roughing, semi-finishing and finishing cuts for a cut of `total` marks.

    A list is empty if no cut of its kind is needed.
    """
    rough, count, semi, finish = _parts(total, sizes)
    ends = [round(Fraction(rough * (number + 1), count)) for number in range(count)]
    return [end - start for start, end in zip([0, *ends], ends, strict=False)], [semi] if semi else [], [finish]


def pass_limits(cutting: SizeCut, infeed: Infeed) -> PassLimitMarks:
    """Return the greatest depths of cuts that the job allows [marks]."""
    return PassLimitMarks(deepest=_deepest_marks(cutting, infeed), finish=_finish_marks(cutting, infeed))


def _deepest_marks(cutting: SizeCut, infeed: Infeed) -> int:
    return max(1, math.floor(cutting.cut_mm / infeed.mark_mm + 1e-9))


def _finish_marks(cutting: SizeCut, infeed: Infeed) -> int:
    return max(1, min(infeed.marks(cutting.finish_mm), _deepest_marks(cutting, infeed)))


def last_mark_note(cutting: SizeCut, lathe: Lathe, infeed: Infeed, last: int, exact_mm: float) -> str:
    """Return a sentence on how much the last mark leaves uncut or cuts too deep; "" for less than 0.0005 mm.

    If the last mark is too deep by a quarter of a mark or more, a second sentence says how much stopping one mark
    earlier would leave uncut. `exact_mm`: the wanted depth [mm].
    """
    note = rounding_note(infeed, last, exact_mm, cutting.on_diameter, lathe.length_text)
    past_mm = infeed.depth_mm(last) - exact_mm
    if past_mm < infeed.mark_mm / 4 or last < 2:
        return note
    short_mm = (infeed.mark_mm - past_mm) * (2 if cutting.on_diameter else 1)
    return f"{note} Stopping one mark earlier leaves {lathe.length_text(short_mm)} uncut."


def with_caution_at_last(steps: list[Step], caution: str) -> list[Step]:
    """Return the passes, with the caution added to the last one. If the caution is empty, they stay unchanged."""
    return [*steps[:-1], replace(steps[-1], cautions=(*steps[-1].cautions, caution))] if caution else steps


def touch_off(cutting: SizeCut, lathe: Lathe, infeed: Infeed, size_mm: float) -> Step:
    """Return the step that touches off on the present surface of the work. `size_mm`: the size at this surface [mm]."""
    if cutting.own:
        return cutting.own.touch_off(lathe, size_mm)
    if cutting.fine:
        return cutting.fine.touch_off(lathe, _touched(cutting, lathe, size_mm))
    # The slide must reach every mark in its cutting direction, or the backlash changes the depth.
    direction = cutting.direction or ("outwards" if cutting.outwards else "inwards")
    slide, over = dial_words(infeed.dial.name), _over_the_work(cutting, lathe, size_mm)
    take_up = f"{over}. Take up the {slide}'s" if over else "take up its"
    text = (
        f"{slide.capitalize()}: {take_up} backlash{backlash_words(infeed.dial)} {direction}. Wind on until the tool "
        f"just touches {_touched(cutting, lathe, size_mm)}"
    )
    return touch_off_step(infeed.dial, text, size_mm if cutting.on_diameter else None)


def _over_the_work(cutting: SizeCut, lathe: Lathe, size_mm: float) -> str:
    """Return in words how to bring the tool from the face over the surface; "" if the tool was not touched off on the
    face.
    """
    if cutting.along is None or cutting.along.by != DIAL:
        return ""
    if cutting.in_a_bore:
        return "bring the tool inwards, clear of the bore, then wind the carriage until the tool is inside"
    past = f"past {lathe.length_text(size_mm)}" if cutting.on_diameter else "clear of the work"
    return f"withdraw the tool {past}, then wind the carriage until the tool is over the work"


def _touched(cutting: SizeCut, lathe: Lathe, size_mm: float) -> str:
    if cutting.direction:
        return touched_words(cutting, lathe, size_mm)
    if cutting.on_diameter:
        return f"{'the bore' if cutting.in_a_bore else 'the work'} at {lathe.length_text(size_mm)}"
    return (
        "where the cut starts"
        if size_mm == cutting.from_mm
        else f"the bottom of the cut, at {lathe.length_text(size_mm)}"
    )


def _measure(cutting: SizeCut, lathe: Lathe, depth_mm: float) -> Step:
    if cutting.own:
        return cutting.own.measure(lathe, depth_mm)
    predicted = lathe.length_text(cutting.entered_mm(cutting.size_mm(depth_mm)))
    if cutting.along:
        about = lathe.length_text(before_finishing_mm(cutting.along, lathe))
        predicted += f". You can also enter the measured length to {cutting.along.face}, about {about}"
    return Step(
        action="measure",
        title="Measure",
        text=f"{safety.STOP_FIRST} {_MEASURE[cutting.measured]}. Your answer corrects the later passes. "
        f"The dial predicts {predicted}",
        expects=Expects.SIZE,
        cautions=(safety.BORE,) if cutting.in_a_bore else (),
    )


_MEASURE: dict[MeasuredAs, str] = {
    "diameter": "Measure the diameter and enter it",
    "length": "Measure the length and enter it",
    "left": "Measure, and enter the amount still to come off",
    "depth": "Measure the depth and enter it",
    "place": "Measure the position of the cut and enter it",
}


def _after_measuring(cutting: SizeCut) -> str:
    return "Then break the edges by hand" if cutting.ending == BREAK_EDGES else cutting.ending


def last_check(cutting: SizeCut, lathe: Lathe, note: str) -> Step:
    """Return the step that measures after the last pass.

    `note`: a sentence about the last mark to add; "" for none.
    """
    if cutting.own:
        return cutting.own.measure_last(lathe, note)
    wanted = f"Wanted: {cutting.wanted_words(lathe)}"
    if cutting.measured == "left":
        wanted = f"Wanted: {lathe.length_text(cutting.total_mm)} off in all"
    if cutting.along:
        wanted += f", {lathe.length_text(cutting.along.ends_mm)} from {cutting.along.face}"
    text = f"Measure: stop the spindle and isolate its drive. {wanted}. {_after_measuring(cutting)}"
    text = f"{text}. {note.removesuffix('.')}" if note else text
    if cutting.wanted or cutting.ending != BREAK_EDGES:
        # The last measurement is compared with the limits, and corrects any further cut.
        return Step(action="measure", title="Measure", text=text, expects=Expects.SIZE)
    # Nothing needs this measurement, but a number may be entered: it is logged, and the rest is planned from it.
    return Step(action="check", title="Measure", text=text, expects=Expects.SIZE)


def _limit_figures(cutting: SizeCut) -> dict[str, float]:
    if cutting.wanted is None:
        return {}
    return {"to_min_mm": float(cutting.wanted.lower_mm), "to_max_mm": float(cutting.wanted.upper_mm)}


def _cautions(infeed: Infeed, cutting: SizeCut, lathe: Lathe, last: int, note: str) -> list[str]:
    cautions = []
    if infeed.mark_mm > cutting.cut_mm * (1 + 1e-9):
        cautions.append(
            f"One mark of the {dial_words(infeed.dial.name)} cuts {lathe.length_text(infeed.mark_mm)} deep. This is "
            f"more than the deepest cut entered, {lathe.length_text(cutting.cut_mm)}."
        )
    if note:
        cautions.append(note)
    if cutting.fine:
        cautions.append(cutting.fine.caution(infeed.depth_mm(last), lathe))
    if outside := no_mark_inside(cutting, lathe, cutting.size_mm(infeed.depth_mm(last))):
        cautions.append(outside)
    return [*cautions, *(length_cautions(cutting.along, lathe) if cutting.along else ())]


def no_mark_inside(cutting: SizeCut, lathe: Lathe, last_mm: float) -> str:
    """Return a caution if the size at the last mark is outside the limits; "" if it is inside, or if there are no
    limits.

    `last_mm`: the size at the last mark [mm].
    """
    if cutting.wanted is None or cutting.wanted.holds(last_mm):
        return ""
    return (
        f"No mark of the {dial_words(cutting.dial)} cuts within {cutting.wanted_words(lathe)}. The nearest mark "
        f"before gives {lathe.length_text(last_mm)}. Set the dial between two marks, then measure."
    )


def _usual_movements(infeed: Infeed) -> tuple[str, ...]:
    name = dial_words(infeed.dial.name)
    # In a bore the slide goes out to its reading, and in to clear the wall.
    cuts, clears = ("out", " inwards") if infeed.outwards else ("in", "")
    return (
        f"{name.capitalize()} {cuts} to its reading",
        "Cut",
        f"Withdraw the tool{clears}, back to the start",
        "Then the key",
    )


def face_dials(lathe: Lathe) -> list[str]:
    """Return the names of the dials with which a lathe can cut a face, those of slides along the bed first."""
    names = [name for name in lathe.dials if name not in NEVER_ALONG_THE_BED]
    return sorted(names, key=lambda name: name not in ALONG_THE_BED)


def touched_words(cutting: SizeCut, lathe: Lathe, size_mm: float) -> str:
    """Return in words the surface that the tool touches: the face, or the work with its size if the size is known."""
    what = "the face" if cutting.direction == TO_CHUCK else "the work"
    if cutting.on_diameter:
        return f"{what} at {lathe.length_text(size_mm)}"
    return what if size_mm == cutting.from_mm else f"{what} as it is now"
