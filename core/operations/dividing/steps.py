"""The steps of a divided cut: every position with its passes in the chosen order, and the estimated time.

Every step has a number. It also has a shift, which is the number of marks by which measurements have moved its dial
reading. When the remaining steps are planned again, they are found by their numbers and keep their shifts.
"""

import math
from collections.abc import Callable, Container, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from types import MappingProxyType
from typing import NamedTuple

from core.lathe.lathe import RotaryTable
from core.operations.dividing.depth import DepthPasses, Order, named
from core.operations.dividing.division import Dividing, Position, setting_of
from core.operations.dividing.find_position import table_angle_deg
from core.operations.dividing.movement import position_words
from core.plan import ALONG, AnySetting, Expects, PatternPosition, Step
from core.safety import STOP_FIRST
from core.values.angles import ARCSEC_PER_DEG
from core.values.dials import Setting
from core.values.quantities import length_text

MOUNTING = 0
"""The number of the step that mounts the dividing plate. Runs of older versions have no such step and count from 1."""

OpenSteps = Mapping[int, int]
"""The remaining steps: for each step number, the marks by which the step's dial is shifted."""


def open_numbers(steps: Iterable[Step]) -> dict[int, int]:
    """Return the shift [marks] of every step that has a number, by step number."""
    return {step.at.step: step.at.shift_marks for step in steps if step.at.step is not None}


def open_steps(steps: list[Step], is_open: Container[int]) -> list[Step]:
    """Return those steps whose numbers are in `is_open`."""
    return [step for step in steps if step.at.step in is_open]


def unshifted(numbers: Iterable[int]) -> dict[int, int]:
    """Return a shift of 0 for each step number, as for steps that no measurement has moved."""
    return dict.fromkeys(numbers, 0)


_Move = tuple[Position | None, int]
"""A move from one position (None: from zero) to another, which is given by its number."""

SET_UP_STEPS = 10
"""Number of steps to allow before and after a divided cut."""


GOES_SHORTER_WAY = "shorter_way"
"""Key in the `extra` of a step whose turn goes in the shorter direction, since the positions are in no order."""


class Groove(NamedTuple):
    """A groove that starts at a position: a slot cut by moving the slide, or an arc cut by turning the table."""

    start: AnySetting
    """Setting of the slide or the table while the tool is fed in."""
    end: AnySetting
    table_end: Position | None
    """The position of the table at the end of an arc. None for a slot."""
    seconds: float
    """Time to feed along the groove at a sensible feed [s]."""
    feed_in: str
    """Words for feeding in, which are added to the text of the pass."""
    along: str
    """Words for feeding along the groove."""
    cautions: tuple[str, ...] = ()
    """Cautions for feeding along."""
    figures: Mapping[str, float] = MappingProxyType({})
    """Figures for feeding along, such as the angle of an arc."""


class AtPosition(NamedTuple):
    """What is set and cut at one position: the settings of the dials other than the table's, and the passes or the
    groove.
    """

    held: tuple[Setting, ...] = ()
    passes: DepthPasses | None = None
    groove: Groove | None = None
    radius_mm: float | None = None
    """Radius at which the work is cut [mm]. It converts angle errors to lengths."""


WayWords = Callable[[Setting, Setting | None], str]
"""A function that says how to set a dial from its last setting. None: from its zero."""


def _no_words(setting: Setting, before: Setting | None) -> str:
    return ""


class _Visit(NamedTuple):
    """One stop of the rotary table at a position, with the cuts made there before the table turns on."""

    level: int
    position: Position
    before: Position | None
    number: int
    moves: bool
    """True if the table turns to reach the position."""


@dataclass(frozen=True, kw_only=True)
class DividedCut:
    """Cuts at positions of the rotary table: the positions of one layer, their depth, and the order in which they are
    cut.
    """

    dividing: Dividing
    order: Order = "round"
    passes: DepthPasses | None = None
    skip: frozenset[int] = frozenset()
    first_number: int = 1
    layer: int | None = None
    held: tuple[Setting, ...] = ()
    """Settings of dials other than the table's that stay the same during this cut."""
    radius_mm: float | None = None
    """Radius at which the work is cut [mm]. It converts angle errors to lengths."""
    held_shift: int = 0
    """Marks by which the last of the held settings was shifted since it was planned."""
    own: Mapping[int, AtPosition] = field(default_factory=dict)
    """Settings and passes at positions that differ from `held` and `passes`, by number of the position."""
    way_words: WayWords = _no_words
    """Says how to set a dial that changes from position to position."""
    is_measured: bool = True
    """True if the depth is measured during this cut."""
    cuts_a_pass: int = 1
    """2 for grooves: feed in, then feed along."""

    @property
    def head(self) -> str:
        """The words that name the layer at the start of every step's text; "" if the cut has no layers."""
        return "" if self.layer is None else f"Layer {self.layer}, "

    @cached_property
    def positions(self) -> list[Position]:
        """The positions that are cut, without the skipped ones."""
        return [position for position in self.dividing.positions if position.number not in self.skip]

    @property
    def divided_cuts(self) -> Dividing:
        """The division of the table, with only those positions that are cut."""
        return replace(self.dividing, positions=tuple(self.positions))

    def at(self, number: int) -> AtPosition:
        """Return what is set and cut at a position: the settings of the dials other than the table's, and the cuts."""
        return self.own.get(number) or AtPosition(self.held, self.passes, radius_mm=self.radius_mm)

    def passes_at(self, number: int | None) -> DepthPasses | None:
        """Return the passes at a position; None if no depth is set.

        If `number` is None, return the deepest passes.
        """
        return self.passes if number is None else self.at(number).passes

    @cached_property
    def levels(self) -> int:
        """The greatest number of passes at any position; 1 if no depth is set."""
        return max((self.levels_at(position.number) for position in self.positions), default=1)

    def levels_at(self, number: int) -> int:
        """Return the number of passes at a position; 1 if no depth is set."""
        passes = self.passes_at(number)
        return 1 if passes is None else len(passes.marks)

    @property
    def numbers_a_visit(self) -> int:
        """How many step numbers one stop of the table at a position takes: one for the turn, and one for each cut of
        the pass.
        """
        return 1 + self.cuts_a_pass

    @property
    def next_number(self) -> int:
        """The first step number after this divided cut."""
        return self.first_number + self.numbers_a_visit * self.levels * len(self.positions)

    @property
    def numbers_with_held(self) -> range:
        """The numbers of those steps that turn the table to a position."""
        return range(self.first_number, self.next_number, self.numbers_a_visit)


def pattern_count(positions: int, passes: int | None, order: Order, cuts_a_pass: int = 1) -> int:
    """Return how many steps a divided cut has: the turns to positions, the passes, and at most one measurement of the
    depth.

    `passes`: the number of passes; None if nothing is cut. `order`: "round" if the table goes round once for each pass,
    "position" if all passes are cut at one position before the next. `cuts_a_pass`: 1, or 2 for grooves, where the tool
    goes back to the start of the groove before every pass.

    >>> pattern_count(6, 3, "round"), pattern_count(6, 3, "position"), pattern_count(6, None, "round")
    (37, 25, 6)
    """
    if passes is None:
        return positions
    is_left = order == "round" and positions > 1
    turns = positions * passes if is_left or cuts_a_pass > 1 else positions
    return turns + positions * passes * cuts_a_pass + (positions > 1)


def pattern_steps(
    pattern: DividedCut,
    keep: OpenSteps | None = None,
    restart: bool = False,
    stands: Mapping[str, Setting] | None = None,
) -> list[Step]:
    """Return the steps of a divided cut. With `keep`, return only the steps listed there, each with its shift.

    `restart`: True if the table's zero was found again. The first position is then counted from zero, and has a step of
    its own even if only its depth remains. `stands`: the current settings of the dials other than the table's, if they
    differ from the plan; otherwise None. With `stands`, the first position is counted from zero too.
    """
    steps: list[Step] = []
    from_zero, known, turns = restart or stands is not None, _KnownPasses(), dict[_Move, Step]()
    left_at: Position | None = None
    for visit in _visits(pattern):
        has_passes = pattern.passes_at(visit.position.number) is not None
        # A position may have remaining passes while another position is cut once more before them.
        is_elsewhere = from_zero or (left_at is not None and left_at.number != visit.position.number)
        cuts = _cut_steps(pattern, visit, keep, known, feeds_in=is_elsewhere)
        # After a move the table is set once more, even if it was at this position before.
        moves = visit.moves if keep is None else visit.number in keep
        if has_passes and not cuts and (keep is None or visit.number + 1 in keep):
            # No pass remains at this position, so the table need not turn to it.
            continue
        if moves or (is_elsewhere and cuts):
            # Earlier visits may be missing from the plan, so count from the last visit that is in it.
            before = None if from_zero else left_at or visit.before
            turn = _turn_to(pattern, visit.position, before, turns, stands)
            steps.append(replace(turn, place=turn.at._replace(step=visit.number, shift_marks=pattern.held_shift)))
            from_zero, stands = False, None
        if moves or cuts:
            groove = pattern.at(visit.position.number).groove
            ends_at = None if groove is None or not cuts else groove.table_end
            left_at = visit.position if ends_at is None else ends_at
        steps += cuts
        if cuts and _is_measured(pattern, visit):
            steps.append(_measure_step(cuts[-1].depth_mm, pattern.passes))
    return steps


_KnownPasses = dict[tuple[float, int], list[list[Step]]]
"""The passes of one position by its depth and shift, so that they are calculated only once."""


def _cut_steps(
    pattern: DividedCut, visit: _Visit, keep: OpenSteps | None, known: _KnownPasses, feeds_in: bool
) -> list[Step]:
    """Return the passes still to do while the table stops at a position, without passes that take nothing off.

    `keep`: the steps still to do; None for all steps. `known`: passes made earlier, which can be used again.
    `feeds_in`: True if the tool is out of a groove that already has its depth. The tool is then fed in once more.
    """
    at, number = pattern.at(visit.position.number), visit.number + 1
    is_open = [keep is None or number + part in keep for part in range(pattern.cuts_a_pass)]
    if at.passes is None or not any(is_open):
        return []
    shift = 0 if keep is None else next(keep[number + part] for part, is_kept in enumerate(is_open) if is_kept)
    passes = at.passes.shifted(shift)
    if (passes.depth_mm, shift) not in known:
        known[passes.depth_mm, shift] = passes.cuts()
    place = PatternPosition(number, passes.shift(visit.level), visit.position.number, layer=pattern.layer)
    cuts = [cut for cut in known[passes.depth_mm, shift][visit.level] if (cut.removed_mm or 0.0) > 0]
    steps = [part for cut in cuts for part in parts_of_pass(pattern, cut, place)]
    if is_open[0]:
        return steps
    # Only the feed along the groove remains, at the depth of the last pass.
    start, along = steps[-pattern.cuts_a_pass], steps[-1]
    return [replace(start, removed_mm=0.0), along] if feeds_in else [along]


def parts_of_pass(pattern: DividedCut, cut: Step, place: PatternPosition) -> list[Step]:
    """Return a pass, named after its position, as one step, or for a groove as two steps: feed in, then feed along."""
    groove = pattern.at(place.position or 0).groove
    name = f"{pattern.head}{place.position} of {pattern.dividing.count}"
    step = named(cut, name, place)
    if groove is None:
        return [step]
    start = replace(step, text=f"{step.text}, {groove.feed_in}", settings=(*step.settings, groove.start))
    along = replace(
        step,
        title=f"{name}, along",
        text=f"{name}: {groove.along}",
        settings=(*step.settings, groove.end),
        place=place._replace(step=(place.step or 0) + 1),
        cautions=groove.cautions,
        extra={**step.extra, ALONG: True, FEED_S: groove.seconds, **groove.figures},
    )
    return [start, along]


def _visits(pattern: DividedCut) -> Iterator[_Visit]:
    positions, levels = pattern.positions, range(pattern.levels)
    if pattern.order == "position":
        order = [(level, index) for index in range(len(positions)) for level in levels]
    else:
        order = [(level, index) for level in levels for index in range(len(positions))]
    before: Position | None = None
    for index_of_visit, (level, index) in enumerate(order):
        position = positions[index]
        if level >= pattern.levels_at(position.number):
            # This position has its full depth. Other positions go deeper.
            continue
        number = pattern.first_number + pattern.numbers_a_visit * index_of_visit
        groove = pattern.at(position.number).groove
        # From the end of a groove, the table or the slide goes back to the start of the groove.
        yield _Visit(level, position, before, number, moves=before is not position or groove is not None)
        ends_at = position if groove is None else groove.table_end
        before = position if ends_at is None else ends_at


def last_visited(pattern: DividedCut) -> Position:
    """Return the position at which the table stands after the last pass of a divided cut."""
    last = pattern.positions[-1]
    for visit in _visits(pattern):
        last = visit.position
    groove = pattern.at(last.number).groove
    return last if groove is None or groove.table_end is None else groove.table_end


class VisitNumbers(NamedTuple):
    """The step numbers of one stop of the table at a position: of the turn to the position, and of the cuts there."""

    position: int
    level: int
    """The index of the pass, counted from 0."""
    numbers: range
    """The number of the turn of the table, if the visit has one, then the numbers of its cuts."""


def visit_numbers(pattern: DividedCut) -> Iterator[VisitNumbers]:
    """Yield the step numbers of every stop of the table at a position, in the order of cutting."""
    for visit in _visits(pattern):
        first, end = visit.number, visit.number + pattern.numbers_a_visit
        yield VisitNumbers(visit.position.number, visit.level, range(first if visit.moves else first + 1, end))


def without_idle_turns(pattern: DividedCut, is_open: OpenSteps, open_before: Container[int]) -> OpenSteps:
    """Return the remaining steps, without turns of the table to the position at which it already is.

    Such turns stay if they were open before.
    """
    with_turns = {number for visit in visit_numbers(pattern) for number in visit.numbers}
    turns = set(pattern.numbers_with_held) - with_turns
    return {number: shift for number, shift in is_open.items() if number not in turns or number in open_before}


def _turn_to(
    pattern: DividedCut,
    position: Position,
    before: Position | None,
    known: dict[_Move, Step],
    stands: Mapping[str, Setting] | None,
) -> Step:
    """Return the step that turns the table to a position. The step has no number yet.

    `known`: the steps already made for the same moves. `stands`: the current settings of the dials other than the
    table's, if they differ from those at the position before; otherwise None.
    """
    move = before, position.number
    if move not in known or stands is not None:
        others = _others_words(pattern, position, before, stands)
        at, dividing = pattern.at(position.number), pattern.dividing
        shorter = {GOES_SHORTER_WAY: True} if dividing.goes_shorter_way else {}
        known[move] = Step(
            action="index",
            title=f"{pattern.head}{position.number} of {dividing.count}",
            text=pattern.head + position_words(dividing, position, before) + others,
            settings=(setting_of(dividing, position, before), *at.held),
            place=PatternPosition(position=position.number, of=dividing.count, layer=pattern.layer),
            extra={
                "way": dividing.means,
                "angle_deg": float(position.wanted_deg),
                "error_arcsec": float(position.error_deg * ARCSEC_PER_DEG),
                **_error_mm(at.radius_mm, position),
                **shorter,
            },
        )
    return known[move]


def _others_words(
    pattern: DividedCut, position: Position, before: Position | None, stands: Mapping[str, Setting] | None
) -> str:
    """Return in words how the dials other than the table's must change at a position; "" if none of them changes.

    Their settings are compared with those at the position before, or with `stands`.
    """
    if not pattern.own and stands is None:
        return ""
    # Before the first position the other dials are set for the whole layer.
    held = {setting.dial: setting for setting in pattern.held}
    if stands is None:
        stands = held if before is None else dials_after(pattern.at(before.number))
    changed = [
        pattern.way_words(setting, stands.get(setting.dial))
        for setting in pattern.at(position.number).held
        if setting.dial not in stands or setting.position != stands[setting.dial].position
    ]
    return "".join(f". {words}" for words in changed)


def dials_after(at: AtPosition) -> dict[str, Setting]:
    """Return the settings, by dial name, of the dials other than the table's after a pass at a position."""
    settings = [*at.held, *([] if at.groove is None else [at.groove.end])]
    return {setting.dial: setting for setting in settings if isinstance(setting, Setting)}


def _error_mm(radius_mm: float | None, position: Position) -> dict[str, float]:
    if radius_mm is None:
        return {}
    return {"error_mm": math.radians(position.error_deg) * radius_mm}


def _is_measured(pattern: DividedCut, visit: _Visit) -> bool:
    """Return whether the depth is measured after the table's stop at this position.

    The depth is measured once, while later passes can still correct it. If the table goes round several times, the
    depth is measured after the first round; otherwise it is measured after the first position.
    """
    if pattern.passes is None or not pattern.is_measured or len(pattern.positions) == 1:
        return False
    if pattern.order == "round" and pattern.levels > 1:
        return visit.level == 0 and visit.position is pattern.positions[-1]
    return visit.position is pattern.positions[0] and visit.level == pattern.levels_at(visit.position.number) - 1


def _measure_step(depth_mm: float | None, passes: DepthPasses | None) -> Step:
    predicted = ""
    if depth_mm is not None and passes is not None:
        predicted = f" The dial predicts {length_text(depth_mm, passes.infeed.dial.unit)}."
    return Step(
        action="measure",
        title="Measure the depth",
        text=f"{STOP_FIRST} Measure the depth and enter it.{predicted} Later passes correct the difference",
        expects=Expects.DEPTH,
    )


SECONDS_PER_TURN = 1.5
"""Time for one turn of the table's handle, without hurry [s]."""
SECONDS_PER_POSITION = 15.0
"""Time for unlocking, turning to the reading and locking [s]."""
SECONDS_PER_CUT = 15.0
"""Time for feeding in to a depth and back out [s]."""
SECONDS_PER_OTHER_STEP = 60.0
"""Time for setting up, touching off or measuring [s]."""
FEED_S = "feed_s"
"""Key in the `extra` of a pass along a groove: its duration at a sensible feed [s]."""


class Pace(NamedTuple):
    """How long a user usually takes, according to the log, for one pass and for turning the table to the next
    position.
    """

    pass_s: float
    """Time for one pass that is fed in to its depth and out again [s]."""
    position_s: float
    """Time for turning the table to the next position [s]."""
    passes: int
    """The number of passes of which `pass_s` is the median."""


def estimated_time_s(steps: Iterable[Step], table: RotaryTable, pace: Pace | None = None) -> float:
    """Return the estimated time for the steps of a divided cut [s].

    `pace`: the user's own pace; None if it is not known, and usual times are then taken.
    """
    seconds, angle_now = 0.0, None
    for step in steps:
        if pace is not None and step.action == "index":
            seconds += pace.position_s
        elif pace is not None and step.action == "cut" and FEED_S not in step.extra:
            seconds += pace.pass_s
        elif step.action == "index":
            angle = table_angle_deg(step, table)
            if angle is not None and angle_now is not None:
                # Count the shorter direction. Nobody turns the table back by nearly a full turn.
                turned = min((angle - angle_now) % 360, (angle_now - angle) % 360)
                seconds += float(turned * table.ratio / 360) * SECONDS_PER_TURN
            angle_now = angle
            seconds += SECONDS_PER_POSITION
        elif step.action == "cut":
            seconds += SECONDS_PER_CUT + float(step.extra.get(FEED_S, 0.0))
            angle_now = table_angle_deg(step, table) or angle_now
        else:
            seconds += SECONDS_PER_OTHER_STEP
    return seconds
