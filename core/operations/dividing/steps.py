"""The steps of a pattern: every position with its passes, in the order the user chose, and the time they take.

Every step carries its number in the pattern, and by how many marks its dial was shifted since it was planned. Planning
again finds the remaining steps by these numbers and keeps the corrections that measurements have made.
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
from core.plan import ALONG, AnySetting, Expects, Step
from core.safety import STOP_FIRST
from core.step_place import PatternPosition
from core.values.angles import ARCSEC_PER_DEG
from core.values.dials import Setting
from core.values.quantities import length_text

MOUNTING = 0
"""The number of the step that mounts the dividing plate. Runs of older versions have no such step and count from 1."""

OpenSteps = Mapping[int, int]
"""The remaining steps: for each number in the pattern, the marks by which its dial is shifted."""


def open_numbers(steps: Iterable[Step]) -> dict[int, int]:
    """Return the number and shift of every remaining step that has a number."""
    return {step.at.step: step.at.shift_marks for step in steps if step.at.step is not None}


def open_steps(steps: list[Step], is_open: Container[int]) -> list[Step]:
    """Return the steps whose numbers remain to be done."""
    return [step for step in steps if step.at.step in is_open]


def unshifted(numbers: Iterable[int]) -> dict[int, int]:
    """Return these numbers with a shift of 0: steps as they were planned."""
    return dict.fromkeys(numbers, 0)


_Move = tuple[Position | None, int]
"""A move from one place of the table to a position, by its number; None: counted from zero."""

SET_UP_STEPS = 10
"""Steps to allow for before and after a pattern."""


GOES_SHORTER_WAY = "shorter_way"
"""Key in the extra of a position to which the table turns the shorter way, since the positions are in no order."""


class Groove(NamedTuple):
    """A groove from a position to another place: a slot by the slide, an arc by the table."""

    start: AnySetting
    """Setting of the slide or the table while the tool is fed in."""
    end: AnySetting
    table_end: Position | None
    """Where an arc ends; None for a slot."""
    seconds: float
    """Time to feed along at a sensible feed."""
    feed_in: str
    """How to feed in, added to the text of the pass."""
    along: str
    """How to feed along the groove."""
    cautions: tuple[str, ...] = ()
    """Cautions for feeding along."""
    figures: Mapping[str, float] = MappingProxyType({})
    """Figures of feeding along, such as the angle of an arc."""


class AtPosition(NamedTuple):
    """What is set at one position besides the table, and what is cut there."""

    held: tuple[Setting, ...] = ()
    passes: DepthPasses | None = None
    groove: Groove | None = None
    radius_mm: float | None = None
    """Radius at which the work is cut; it converts angle errors to lengths."""


WayWords = Callable[[Setting, Setting | None], str]
"""A function that says how to set a dial from its last setting; None means from its zero."""


def _no_words(setting: Setting, before: Setting | None) -> str:
    return ""


class _Visit(NamedTuple):
    """One visit to a position, at one depth."""

    level: int
    position: Position
    before: Position | None
    number: int
    moves: bool
    """True: the table turns to reach the position."""


@dataclass(frozen=True, kw_only=True)
class DividedCut:
    """Positions, depth and order of one layer of cuts."""

    dividing: Dividing
    order: Order = "round"
    passes: DepthPasses | None = None
    skip: frozenset[int] = frozenset()
    first_number: int = 1
    layer: int | None = None
    held: tuple[Setting, ...] = ()
    """Settings of other dials that stay while this pattern is cut."""
    radius_mm: float | None = None
    """Radius at which the work is cut; it converts angle errors to lengths."""
    held_shift: int = 0
    """Marks by which the last of the held settings was shifted since it was planned."""
    own: Mapping[int, AtPosition] = field(default_factory=dict)
    """What is set and cut at positions that differ from `held` and `passes`, by number of position."""
    way_words: WayWords = _no_words
    """Says how to set a dial that changes from position to position."""
    is_measured: bool = True
    """Whether the depth is measured while this pattern is cut."""
    cuts_a_pass: int = 1
    """2 for grooves: feed in, then feed along."""

    @property
    def head(self) -> str:
        """The start of every step's text, which names the layer."""
        return "" if self.layer is None else f"Layer {self.layer}, "

    @cached_property
    def positions(self) -> list[Position]:
        """The positions that are cut."""
        return [position for position in self.dividing.positions if position.number not in self.skip]

    @property
    def divided_cuts(self) -> Dividing:
        """The dividing, with only the positions that are cut."""
        return replace(self.dividing, positions=tuple(self.positions))

    def at(self, number: int) -> AtPosition:
        """Return what is set and cut at a position."""
        return self.own.get(number) or AtPosition(self.held, self.passes, radius_mm=self.radius_mm)

    def passes_at(self, number: int | None) -> DepthPasses | None:
        """Return the passes at a position; None: the deepest of the pattern."""
        return self.passes if number is None else self.at(number).passes

    @cached_property
    def levels(self) -> int:
        """The greatest number of passes at a position; 1 if the pattern has no depth."""
        return max((self.levels_at(position.number) for position in self.positions), default=1)

    def levels_at(self, number: int) -> int:
        """Return the number of passes at a position; 1 if the pattern has no depth."""
        passes = self.passes_at(number)
        return 1 if passes is None else len(passes.marks)

    @property
    def numbers_a_visit(self) -> int:
        """How many step numbers a visit has: the turn of the table, then each cut of the pass."""
        return 1 + self.cuts_a_pass

    @property
    def next_number(self) -> int:
        """The number after the last of this pattern."""
        return self.first_number + self.numbers_a_visit * self.levels * len(self.positions)

    @property
    def numbers_with_held(self) -> range:
        """The numbers of the steps that go to a position."""
        return range(self.first_number, self.next_number, self.numbers_a_visit)


def pattern_count(positions: int, passes: int | None, order: Order, cuts_a_pass: int = 1) -> int:
    """Return how many steps a pattern takes: turning to each position, its passes if it has any, a measurement.

    cuts_a_pass: 2 for grooves, which go back to their start before every pass [-].

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
    """Return the steps of a pattern; with `keep`, only the steps it lists, each with its shift.

    `restart`: the table's zero was found again. The first position is then counted from
    it, and has its own step even if only its depth remains. `stands`: what other dials show now, if that is not
    where the plan has them; the table is then counted from zero too.
    """
    steps: list[Step] = []
    from_zero, known, turns = restart or stands is not None, _KnownPasses(), dict[_Move, Step]()
    left_at: Position | None = None
    for visit in _visits(pattern):
        has_passes = pattern.passes_at(visit.position.number) is not None
        # A position may have remaining passes while another is cut once more before them.
        is_elsewhere = from_zero or (left_at is not None and left_at.number != visit.position.number)
        cuts = _cut_steps(pattern, visit, keep, known, feeds_in=is_elsewhere)
        # After a move the table is set once more even if it stood here before.
        moves = visit.moves if keep is None else visit.number in keep
        if has_passes and not cuts and (keep is None or visit.number + 1 in keep):
            # Nothing is left to cut here, so the table need not come here.
            continue
        if moves or (is_elsewhere and cuts):
            # Visits before this one may be missing, so the table comes from the last one that is made.
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
    """Return the remaining passes of a visit that take something off; [] if there are none.

    `feeds_in`: the tool is out of a groove that it was already fed into, so it must be fed in there once more.
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
    # Only the feed along the groove is left, at the depth of the last pass here.
    start, along = steps[-pattern.cuts_a_pass], steps[-1]
    return [replace(start, removed_mm=0.0), along] if feeds_in else [along]


def parts_of_pass(pattern: DividedCut, cut: Step, place: PatternPosition) -> list[Step]:
    """Return a pass of a position with its name and place: one step, or two for a groove."""
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
            # This position is done; the others go deeper.
            continue
        number = pattern.first_number + pattern.numbers_a_visit * index_of_visit
        groove = pattern.at(position.number).groove
        # From the end of a groove, table or slide go back to its start.
        yield _Visit(level, position, before, number, moves=before is not position or groove is not None)
        ends_at = position if groove is None else groove.table_end
        before = position if ends_at is None else ends_at


def last_visited(pattern: DividedCut) -> Position:
    """Return the position of the last pass of a pattern, with the table as that pass leaves it."""
    last = pattern.positions[-1]
    for visit in _visits(pattern):
        last = visit.position
    groove = pattern.at(last.number).groove
    return last if groove is None or groove.table_end is None else groove.table_end


class VisitNumbers(NamedTuple):
    """The numbers of one visit to a position."""

    position: int
    level: int
    """Which pass, from 0."""
    numbers: range
    """The turn of the table, if the visit has one, then its cuts."""


def visit_numbers(pattern: DividedCut) -> Iterator[VisitNumbers]:
    """Yield the numbers of every visit."""
    for visit in _visits(pattern):
        first, end = visit.number, visit.number + pattern.numbers_a_visit
        yield VisitNumbers(visit.position.number, visit.level, range(first if visit.moves else first + 1, end))


def without_idle_turns(pattern: DividedCut, is_open: OpenSteps, open_before: Container[int]) -> OpenSteps:
    """Return the open steps without turns to the position where the table already is, unless they were open before."""
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
    """Return the step that turns the table to a position, without a number; `known`: such steps of earlier rounds.

    `stands`: what other dials show now, if not what they do at the position before.
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
    """Return in words the other dials that change from the position before, or from where they stand; "" if none."""
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
    """Return what the other dials are set to after a pass at a position."""
    settings = [*at.held, *([] if at.groove is None else [at.groove.end])]
    return {setting.dial: setting for setting in settings if isinstance(setting, Setting)}


def _error_mm(radius_mm: float | None, position: Position) -> dict[str, float]:
    if radius_mm is None:
        return {}
    return {"error_mm": math.radians(position.error_deg) * radius_mm}


def _is_measured(pattern: DividedCut, visit: _Visit) -> bool:
    """Return whether the depth is measured after this visit.

    It is measured once, while later passes can still correct it: after the first round if there are several rounds,
    else after the first position.
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
        text=f"{STOP_FIRST} Measure the depth and enter it.{predicted} The passes to come allow for the difference",
        expects=Expects.DEPTH,
    )


SECONDS_PER_TURN = 1.5
"""Time for one turn of the table's handle, unhurried."""
SECONDS_PER_POSITION = 15.0
"""Time for unlocking, turning up to the reading and locking."""
SECONDS_PER_CUT = 15.0
"""Time for feeding in to a depth and back out."""
SECONDS_PER_OTHER_STEP = 60.0
"""Time for setting up, touching off or measuring."""
FEED_S = "feed_s"
"""Key in the extra of a pass along a groove: how long it takes at a sensible feed [s]."""


def estimated_time_s(steps: Iterable[Step], table: RotaryTable) -> float:
    """Return the time that the steps of a pattern take, roughly [s]."""
    seconds, angle_now = 0.0, None
    for step in steps:
        if step.action == "index":
            angle = table_angle_deg(step, table)
            if angle is not None and angle_now is not None:
                # Count the shorter way round: nobody turns nearly a whole circle back.
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
