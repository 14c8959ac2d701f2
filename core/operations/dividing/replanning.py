"""Plans the remaining steps of a divided cut again, after a depth is measured or a dial is set to another reading than
planned.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import partial
from itertools import dropwhile, groupby, takewhile
from typing import Any

from core.cutting import Infeed, Progress
from core.lathe.lathe import Lathe
from core.operations.dividing.depth import DepthPasses, carried_over, named, refuse_impossible_depth
from core.operations.dividing.division import Dividing, whole_and_holes
from core.operations.dividing.handle_dial import TABLE, dial_setting, table_dial
from core.operations.dividing.steps import (
    DividedCut,
    OpenSteps,
    open_numbers,
    parts_of_pass,
    pattern_steps,
    unshifted,
)
from core.operations.dividing.words import arc_mm, holes_text, notches_text, off_text, overshoot_words, reading_words
from core.plan import AnySetting, PlateSetting, Step
from core.replanning import Follows, Reached, cut_as_set, what_is_left
from core.values.angles import ARCSEC_PER_DEG
from core.values.errors import PlanError
from core.values.quantities import length_text, mm_text

_SET_SO = ", as set"
"""End of the name of a step whose dial was set differently than planned. Logs of all versions contain this text."""
_NOT_CUT = "Not cut yet?"
AS_SET = "as_set"
"""Key in the `extra` of a step whose position was set differently than planned."""


def circle_in_use(steps: Iterable[Step], layer: int | None = None) -> tuple[str, int | None] | None:
    """Return the means by which the steps set the table, and the number of holes or notches in use (None for the dial).

    `layer`: the layer to search; None for steps without a layer. Return None if no such step turns the table to a
    position.
    """
    for step in steps:
        if step.action == "index" and "way" in step.extra and step.at.layer == layer:
            plate = next((one for one in step.settings if isinstance(one, PlateSetting)), None)
            return step.extra["way"], None if plate is None else plate.circle
    return None


def open_pattern_steps(progress: Progress) -> list[Step]:
    """Return the remaining steps of a divided cut unchanged, including passes that a measurement has split."""
    return [step for step in progress.open_steps if step.at.step is not None or step.action == "measure"]


_SAME_MM = 1e-6

NOT_ALIKE = (
    "The depth is corrected from here on, but not at the positions already cut. Cut those positions again with "
    "Repeat, at these settings."
)


def measured_depth(pattern: DividedCut, progress: Progress, measured_mm: float, is_open: OpenSteps) -> list[Step]:
    """Return the remaining steps of a divided cut, corrected by a measured depth [mm].

    Raises PlanError if the cut has no depth, if no pass has been done at this position, or if the measured depth is
    impossible.
    """
    last = _last_position(progress)
    passes = pattern.passes_at(last if last in pattern.own else None)
    if passes is None or passes.infeed.dial.name not in progress.positions:
        raise PlanError("No pass has been done at this position yet. Measure the depth after a pass.", field="depth")
    to_text = partial(length_text, unit=passes.infeed.dial.unit)
    refuse_impossible_depth(passes.infeed, passes.depth_mm, progress.depth_mm, measured_mm, to_text)
    now = progress.marks(passes.infeed)
    is_under_way = pattern.first_number not in is_open
    level = _level(passes, progress.depth_mm) if pattern.order == "round" and is_under_way else None
    carried = carried_pattern(pattern, now, measured_mm, level, last)
    steps = pattern_steps(carried, unshifted(is_open))
    at_hand = carried.passes_at(last if last in pattern.own else None) or passes
    along, steps = _feeds_along_first(steps)
    remaining = what_is_left(CutAtPosition(at_hand, steps, to_text, carried), Reached(now, measured_mm), "measurement")
    if level is not None and level == len(passes.marks) - 1 and at_hand.marks[-1] != now and remaining:
        remaining[0] = replace(remaining[0], findings=(NOT_ALIKE,))
    return [*along, *remaining]


def _last_position(progress: Progress) -> int | None:
    cuts = (step for step in reversed(progress.done_steps) if step.action == "cut")
    return next((step.at.position for step in cuts), None)


def _feeds_along_first(steps: list[Step]) -> tuple[list[Step], list[Step]]:
    """Return the steps in two parts: the feed along a groove if the tool is in that groove now (otherwise []), and the
    rest.
    """
    at = 1 if steps and steps[0].feeds_along else 0
    return steps[:at], steps[at:]


def carried_pattern(
    pattern: DividedCut, now: Fraction, measured_mm: float, level: int | None, at_hand: int | None = None
) -> DividedCut:
    """Return a divided cut, corrected by a measured depth [mm]. Positions with a depth of their own are corrected too.

    `now`: the dial reading of the measured pass [marks]. `level`: the index of the deepest pass that other positions
    have already had; None to correct every pass. `at_hand`: the number of the measured position.
    """
    if pattern.passes is None:
        return pattern
    known: dict[tuple[DepthPasses, bool], DepthPasses] = {}

    def carry(passes: DepthPasses, is_measured: bool) -> DepthPasses:
        if (passes, is_measured) not in known:
            known[passes, is_measured] = carried_over(passes, now, measured_mm, level, cuts_alike=is_measured)
        return known[passes, is_measured]

    measured = pattern.passes_at(at_hand if at_hand in pattern.own else None)
    own = {
        number: at._replace(passes=at.passes and carry(at.passes, at.passes == measured))
        for number, at in pattern.own.items()
    }
    return replace(pattern, passes=carry(pattern.passes, pattern.passes == measured or not own), own=own)


def _level(passes: DepthPasses, depth_mm: float) -> int:
    """Return the index of the pass whose planned depth is nearest to a depth [mm]."""
    depths = [passes.infeed.depth_mm(mark) for mark in passes.marks]
    return min(range(len(depths)), key=lambda level: abs(depths[level] - depth_mm))


@dataclass(frozen=True)
class CutAtPosition:
    """The remaining passes at the current position and the steps after them, with the methods that plan them again."""

    depths: DepthPasses
    steps: list[Step]
    """The remaining steps. Those at the current position come first."""
    to_text: Callable[[float], str]
    """Returns a length [mm] as text."""
    pattern: DividedCut

    @property
    def infeed(self) -> Infeed:
        """The dial that sets the depth."""
        return self.depths.infeed

    def last_mark(self, reached: Reached) -> int:
        """Return the mark of the last pass, which is the same at every position.

        `reached`: the dial position and the depth reached so far.
        """
        return self.depths.marks[-1]

    def passes(self, reached: Reached, last: int, follows: Follows = "") -> list[Step]:
        """Return the remaining passes at the current position, counted from the current dial reading.

        `reached`: the dial position and the depth reached so far. `follows`: what comes directly before, a measurement
        or a pass; "" for neither. `last` and `follows` make no difference.
        """
        before, targets = reached.marks, list[tuple[Step, int]]()
        for step in takewhile(_cuts, self.steps):
            if not step.feeds_along and (mark := _mark(self.depths, step)) > reached.marks:
                targets += [(step, part) for part in self.depths.parts(before, mark)]
                before = Fraction(mark)
        counted = self.depths.cuts_from(reached.marks, reached.depth_mm, [mark for _, mark in targets])
        return [
            part
            for cut, (step, _) in zip(counted, targets, strict=True)
            for part in parts_of_pass(self.pattern, named(cut, step.name, None), step.at)
        ]

    def ended(self, passes: list[Step], reached: Reached, last: int) -> list[Step]:
        """Return these passes, followed by the steps after this position.

        `reached`: the dial position and the depth before the passes. `last`: the last mark.
        """
        return [*passes, *dropwhile(_cuts, self.steps)]

    def nothing_left(self, reached: Reached) -> list[Step]:
        """Return the steps after this position, where no pass is left. `reached`: the dial position and the depth so
        far.
        """
        return self.ended([], reached, self.depths.marks[-1])

    def amount_text(self, depth_mm: float) -> str:
        """Return a difference of depth [mm] as text."""
        return self.to_text(depth_mm)


def _cuts(step: Step) -> bool:
    return step.action == "cut"


PatternOf = Callable[[Step], DividedCut]
"""Returns the divided cut that a step belongs to."""


def from_depth_cut(pattern_of: PatternOf, open_before: Iterable[Step], steps: Iterable[Step]) -> list[Step]:
    """Return planned steps in which the first pass at every position starts from the depth already cut there.

    After a measurement, a position may have a depth at which no planned pass ends. A new plan alone would start from
    the planned depth above it, and its first pass would be deeper than allowed. `pattern_of`: returns the divided cut
    to which a step belongs. `open_before`: the steps that were open before. Each pass among them states the depth from
    which it starts.
    """
    reached: dict[tuple[Any, ...], float] = {}
    for step in open_before:
        if step.action == "cut" and step.depth_mm is not None:
            reached.setdefault(_place_of(step), step.depth_mm - (step.removed_mm or 0.0))
    steps_again: list[Step] = []
    for is_cut, group in groupby(steps, _cuts):
        run = list(group)
        if not is_cut:
            steps_again += run
            continue
        again = _from_depth(pattern_of(run[0]), run, reached.get(_place_of(run[0])))
        steps_again += again or _only_along(run, reached)
    return steps_again


def _only_along(cuts: list[Step], reached: Mapping[tuple[Any, ...], float]) -> list[Step]:
    """Return the steps for a groove that already has its depth: feed the tool in once more, then along. Return []
    otherwise.
    """
    along = next((step for step in cuts if step.feeds_along), None)
    if along is None or reached.get(_place_of(along), 0.0) > (along.depth_mm or 0.0) - _SAME_MM:
        return []
    return [replace(cuts[0], removed_mm=0.0), along] if not cuts[0].feeds_along else [along]


def _from_depth(pattern: DividedCut, cuts: list[Step], reached_mm: float | None) -> list[Step]:
    """Return the passes of one position, starting from the depth already cut there [mm].

    If that depth is None, return the planned passes unchanged.
    """
    first, passes = cuts[0], pattern.passes_at(cuts[0].at.position)
    if passes is None or reached_mm is None or first.depth_mm is None:
        return cuts
    if abs(first.depth_mm - (first.removed_mm or 0.0) - reached_mm) < _SAME_MM:
        return cuts
    shifted = passes.shifted(first.at.shift_marks)
    reached = Reached(shifted.surface + passes.infeed.marks_deep(reached_mm), reached_mm)
    return CutAtPosition(shifted, cuts, mm_text, pattern).passes(reached, shifted.marks[-1])


def _place_of(step: Step) -> tuple[Any, ...]:
    return step.at.step, *step.at.where


def _mark(passes: DepthPasses, step: Step) -> int:
    setting = step.setting(passes.infeed.dial.name)
    position = Fraction(0) if setting is None else setting.position
    return round(passes.infeed.marks_at(position))


def set_differently(
    pattern: DividedCut, lathe: Lathe, steps: list[Step], position: Fraction, radius_mm: float | None
) -> list[Step]:
    """Return the remaining steps, of which the first has the dial reading that the user really set.

    `position` is in the dial's unit, or in degrees for the table. `radius_mm`: the radius of the work [mm], which gives
    the error as a length; None if it is unknown. Raises PlanError if the first open step sets neither a depth nor the
    table.
    """
    if steps and steps[0].action == "cut" and pattern.passes is not None:
        planned = _as_if_not_set(pattern, steps) if steps[0].name.endswith(_SET_SO) else steps
        return _cut_as_set(pattern, lathe, steps[0], planned, position)
    if steps and steps[0].action == "index":
        return [_index_as_set(pattern.dividing, lathe, steps[0], position, radius_mm), *steps[1:]]
    raise PlanError(
        "The next step sets neither a depth nor the table. Wait for a step that sets one of them.",
        field="position",
    )


def _as_if_not_set(pattern: DividedCut, steps: list[Step]) -> list[Step]:
    """Return the remaining steps as if the user's last dial reading had not been entered, because that reading was
    wrong.
    """
    first = steps[0]
    later = [at for at, step in enumerate(steps) if (step.at.step or 0) >= pattern.next_number]
    own, others = (steps[: later[0]], steps[later[0] :]) if later else (steps, [])
    elsewhere = [step for step in own if step.at.where != first.at.where]
    planned = from_depth_cut(lambda step: pattern, elsewhere, pattern_steps(pattern, open_numbers(own)))
    here = list(takewhile(_cuts, planned))
    reached_mm = (first.depth_mm or 0.0) - (first.removed_mm or 0.0)
    return [*_from_depth(pattern, here, reached_mm), *planned[len(here) :], *others]


def _cut_as_set(
    pattern: DividedCut, lathe: Lathe, at_hand: Step, planned: list[Step], position: Fraction
) -> list[Step]:
    """Return the current pass with the dial reading that the user really set, and the steps after that pass.

    `at_hand`: the current pass. `planned`: the remaining steps as planned, which have no pass at this position if it is
    already cut deeper.
    """
    cuts = list(takewhile(_cuts, planned)) or [replace(at_hand, cautions=())]
    first = cuts[0]
    passes = pattern.passes_at(first.at.position)
    if passes is None:
        return planned
    passes = passes.shifted(first.at.shift_marks)
    # A pass set clear of the work takes nothing off. Such a pass does not show where the surface is.
    taking = next((step for step in cuts if step.removed_mm), first)
    removed_mm = taking.removed_mm or 0.0
    before = _mark(passes, taking) - passes.infeed.marks_deep(removed_mm)
    reached = Reached(before, (taking.depth_mm or 0.0) - removed_mm)
    cut = CutAtPosition(passes, planned, lathe.length_text, pattern)
    as_set, *following = cut_as_set(cut, reached, position, first.name.removesuffix(_SET_SO) + _SET_SO)
    as_set = replace(as_set, place=first.place, cautions=(*as_set.cautions, *first.cautions))
    groove, along = pattern.at(first.at.position or 0).groove, list[Step]()
    if groove is not None:
        along = parts_of_pass(pattern, as_set, first.at)[1:]
        as_set = replace(as_set, text=f"{as_set.text}, {groove.feed_in}", settings=(*as_set.settings, groove.start))
    return list(_from_the_deepest([as_set, *along, *following]))


def _from_the_deepest(steps: Iterable[Step]) -> Iterator[Step]:
    """Yield the steps. Each pass states only the metal that it still takes off, since its position may already be
    deeper.
    """
    reached_mm: dict[tuple[Any, Any], float] = {}
    for step in steps:
        if step.action == "cut" and step.depth_mm is not None and not step.feeds_along:
            place = step.at.where
            deepest_mm = max(step.depth_mm, reached_mm.get(place, step.depth_mm))
            if place in reached_mm:
                removed_mm = min(step.removed_mm or 0.0, deepest_mm - reached_mm[place])
                step = replace(step, depth_mm=deepest_mm, removed_mm=removed_mm)
            reached_mm[place] = deepest_mm
        yield step


def _index_as_set(dividing: Dividing, lathe: Lathe, step: Step, position: Fraction, radius_mm: float | None) -> Step:
    wanted = dividing.positions[(step.at.position or 1) - 1].wanted_deg
    setting, shown, error = _place_as_set(dividing, position, wanted)
    off = off_text(dividing.table, dividing.means, dividing.circle, error)
    if radius_mm is not None:
        at_work = f"{lathe.length_text(arc_mm(abs(error), radius_mm))} at the work"
        off = f"{at_work} ({off})" if dividing.means == "dial" else f"{off}, {at_work}"
    others = tuple(setting for setting in step.settings if setting.dial != TABLE)
    is_past = error != 0 and (error > 0) != dividing.falling
    undo = (f"{_NOT_CUT} {_too_far_words(dividing, error)}",) if is_past else ()
    # A position that was set wrongly before already has this ending. Its caution may say how to turn back.
    kept = tuple(caution for caution in step.cautions if not caution.startswith(_NOT_CUT))
    name = step.name.removesuffix(_SET_SO) + _SET_SO
    finding = f"This position is off by {off}. The other positions are counted from zero, so they are not affected."
    return replace(
        step,
        title=step.title and name,
        text=f"{name}: {shown}",
        settings=(setting, *others),
        findings=(finding,) if error else (),
        cautions=undo or kept,
        extra={**step.extra, "error_arcsec": float(error * ARCSEC_PER_DEG), AS_SET: True},
    )


def _too_far_words(dividing: Dividing, error: Fraction) -> str:
    if dividing.means != "direct":
        return overshoot_words(dividing.table, dividing.falling)
    # A pin in a notch needs no backlash taken up.
    notches = int(abs(error) * (dividing.circle or 1) / 360)
    return f"Lift the pin and turn {notches_text(notches)} {'on' if dividing.falling else 'back'}."


def _place_as_set(dividing: Dividing, position: Fraction, wanted: Fraction) -> tuple[AnySetting, str, Fraction]:
    """Return the mark, hole or notch nearest to a table angle [deg]: its setting, its words, and its error [deg]."""
    if dividing.means == "dial":
        dial = table_dial(dividing.table)
        set_deg = round(position / dial.graduation) * dial.graduation
        return dial_setting(dial, set_deg, wanted), reading_words(dividing.table, set_deg), set_deg - wanted
    circle = dividing.circle or 1
    place = Fraction(round(dividing.place_turns(position) * circle), circle)
    turns, holes = whole_and_holes(place, circle)
    setting = PlateSetting(dial=TABLE, turns=turns, holes=holes, circle=circle)
    whole_deg = Fraction(360) if dividing.means == "direct" else Fraction(360) / dividing.table.ratio
    words = f"notch {holes} of {circle}"
    if dividing.means == "plate":
        words = f"{holes_text(place, circle)} from zero in the {circle} circle"
    return setting, words, place * whole_deg - wanted
