"""What the log of one run shows about the lathe: sizes compared with dials, spring passes, tapers and times.

A difference is the measured amount that came off minus the amount by the dial. If the cut changes a diameter, the
difference is a difference in diameter. All lengths are in mm.
"""

from collections.abc import Generator, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from fractions import Fraction
from itertools import pairwise
from typing import Any, NamedTuple

from core.cutting import Progress, takes_nothing
from core.events.event import Event, time_between_ms
from core.events.replay import replay_each
from core.events.state import LoggedPlanInput, State
from core.inputs import Edited, Measured, Moved, PickedUp, input_from_data
from core.operations.dividing.steps import FEED_S
from core.operations.registry import PlanInput, kind_of, operation_of, parameters_of
from core.plan import Step
from core.replanning import ComparedCut
from core.run.revising import plan_input_of
from core.set_up_steps import dials_to_zero
from core.values.errors import CoreError

HEAD = "boring_head"
_AT_ONCE = 250
"""The number of events that are followed before a pause."""


class CutKind(NamedTuple):
    """A kind of cut: the dial that sets the depth, the kind of operation, and whether the cut is inside the work."""

    dial: str
    kind: str
    """The kind of operation."""
    inside: bool = False

    @property
    def on_diameter(self) -> bool:
        """Return True if the differences of this cut are differences in diameter."""
        line = kind_of(self.kind)
        return self.dial == HEAD or (line is not None and line.on_radius)


class DialDifference(NamedTuple):
    """The difference between one measurement and the dial's prediction."""

    cut: CutKind
    wall: str
    """The time of the measurement, by the computer's clock."""
    difference_mm: float
    """How much more came off than the dial says [mm]."""
    travel_mm: float | None
    """How much came off by the dial since the touch-off or the previous measurement [mm]; None if not known."""
    after_touch_off: bool
    """True if the dial was set to zero on the work since the last measurement. The difference then includes that error.
    """
    mm_per_unit: Fraction
    """The slide travel for one unit of the dial's numbers [mm], from the lathe file of that time."""


class SpringYield(NamedTuple):
    """How much metal spring passes took off, found from the measurements before and after them."""

    cut: CutKind
    wall: str
    each_mm: float
    """The average amount that one spring pass took off [mm]."""


class EndTaper(NamedTuple):
    """How much larger a turned piece was at its free end than at its shoulder."""

    cut: CutKind
    wall: str
    larger_mm: float


class PassTime(NamedTuple):
    """The time for one pass, or for turning the rotary table to one position.

    The time runs from the key press that ends the step before to the key press that ends this step.
    """

    kind: str
    action: str
    """"cut", "spring" or "index"."""
    seconds: float


class RunObservations(NamedTuple):
    """What one run shows about the lathe on which it was made."""

    lathe_name: str
    differences: tuple[DialDifference, ...] = ()
    springs: tuple[SpringYield, ...] = ()
    tapers: tuple[EndTaper, ...] = ()
    times: tuple[PassTime, ...] = ()


def observe(events: Sequence[Event], of_lathe: str | None = None) -> RunObservations:
    """Return what a run shows about its lathe. An impossible event and all events after it are ignored.

    `of_lathe`: the lathe that matters; for a run on any other lathe, only the lathe's name is returned. None for any
    lathe.
    """
    observing = observe_in_parts(events, of_lathe)
    while True:
        try:
            next(observing)
        except StopIteration as end:
            observations: RunObservations = end.value
            return observations


def observe_in_parts(events: Sequence[Event], of_lathe: str | None = None) -> Generator[None, None, RunObservations]:
    """Do the same as `observe`, but yield after every 250 events, so that a screen can handle keys meanwhile.

    `of_lathe`: the lathe that matters; for a run on any other lathe, only the lathe's name is returned. None for any
    lathe.
    """
    lathe_name = str(events[0].body.get("lathe_name", "")) if events else ""
    if of_lathe not in {None, lathe_name}:
        return RunObservations(lathe_name)
    times = tuple(pass_times(events))
    if not any(event.kind == "revised" and event.body.get("cause") == "measured" for event in events):
        # The run has no measurements, so its events need not be followed.
        return RunObservations(lathe_name, times=times)
    follower = _Follower(_undone(events))
    with suppress(CoreError):
        for state, event in replay_each(events):
            if event.kind != "begun":
                follower.see(state, event)
            if event.seq % _AT_ONCE == _AT_ONCE - 1:
                yield
    return RunObservations(
        lathe_name, tuple(follower.differences), tuple(follower.springs), tuple(follower.tapers), times
    )


def _undone(events: Iterable[Event]) -> frozenset[Any]:
    """Return the numbers of the events that were undone."""
    return frozenset(event.body.get("seq") for event in events if event.kind == "undone")


def pass_times(events: Sequence[Event]) -> Iterator[PassTime]:
    """Yield the time of each pass, and of each turn of the rotary table, that directly follows another step.

    `events`: the first event of a run, then later events in order. Some events in between may be missing.
    """
    undone = _undone(events)
    steps: dict[int, Mapping[str, Any]] = {}
    for event in events:
        planned = event.body.get("plan", {}).get("steps", ()) if event.kind == "begun" else event.body.get("steps", ())
        if event.kind in {"begun", "revised"}:
            steps |= {step["id"]: step for step in planned if isinstance(step, Mapping) and "id" in step}
    kind = str(events[0].body.get("kind", "")) if events else ""
    for earlier, later in pairwise(events):
        is_counted = earlier.kind == later.kind == "done" and not undone & {earlier.seq, later.seq}
        step = steps.get(later.body.get("step", 0)) if is_counted else None
        if step is None or step.get("action") not in {"cut", "spring", "index"} or FEED_S in step.get("extra", ()):
            continue
        if time_ms := time_between_ms(earlier, later):
            yield PassTime(kind, step["action"], time_ms / 1000)


class _Follower:
    """Goes through a run event by event, and collects what the measurements show about the lathe."""

    def __init__(self, undone: frozenset[Any]) -> None:
        self.differences: list[DialDifference] = []
        self.springs: list[SpringYield] = []
        self.tapers: list[EndTaper] = []
        self._undone = undone
        self._logged: LoggedPlanInput | None = None
        self._input: PlanInput | None = None
        self._parameters: Any = None
        self._cut: ComparedCut | None = None
        self._depth_dial = ""
        self._zeroed = False
        """True just after a touch-off. The next state gives the depth of the touch-off."""
        self._start_mm: float | None = 0.0
        """The depth at the touch-off or at the last measurement [mm]; None if it is not known."""
        self._after_touch_off = True
        self._measured_mm: float | None = None
        """The depth at the last measurement [mm]; None if no measurement is valid any more."""
        self._predicted_mm: float | None = None
        """The depth by the dial at the last difference [mm]; None if a pass was cut since."""
        self._latest = 0
        """The index of that difference. A trial circle may have added another one since."""
        self._cuts = self._spring_passes = 0
        """The numbers of cuts and of spring passes since the last measurement or touch-off."""
        self._head_at = Fraction(0)
        self._circle: tuple[float, Fraction] | None = None
        """The last trial circle [mm across], and the position of the head's dial."""

    def see(self, state: State, event: Event) -> None:
        """Add what an event shows about the lathe. `state`: the state of the run just before the event."""
        self._read_input(state)
        if self._zeroed:
            self._zeroed = False
            self._start_mm = self._depth_by_dial_mm(state)
        if event.seq in self._undone:
            return
        if event.kind == "done" and state.cursor is not None:
            self._done(state.cursor)
        elif event.kind == "revised":
            entered = input_from_data(event.body.get("cause"), event.body.get("given"))
            match entered:
                case Measured(what="circle"):
                    self._circle_measured(entered, event)
                case Measured():
                    self._measured(entered, state, event)
                case Moved() | PickedUp() | Edited():
                    self._start_mm = self._measured_mm = self._predicted_mm = None
                    self._circle = None

    def _read_input(self, state: State) -> None:
        if state.plan_input is self._logged:
            return
        self._logged = state.plan_input
        self._input = plan_input_of(state.plan_input)
        self._parameters, operation = parameters_of(self._input), operation_of(self._input.kind)
        measured_cut, depth_dial = operation.measured_cut, operation.depth_dial
        lathe, material = self._input.lathe, self._input.material
        self._cut = measured_cut and measured_cut(self._parameters, lathe, material)
        self._depth_dial = self._cut.infeed.dial.name if self._cut else depth_dial(self._parameters)

    def _done(self, step: Step) -> None:
        if self._depth_dial in step.zeroed_dials or step.thread_start:
            self._zeroed = self._after_touch_off = True
            self._measured_mm, self._cuts, self._spring_passes = None, 0, 0
        if step.action in {"cut", "spring"} or step.zeroed_dials:
            self._predicted_mm = None
        if step.action == "spring":
            self._spring_passes += 1
        elif step.action == "cut" and not takes_nothing(step):
            self._cuts += 1
        if HEAD in step.zeroed_dials:
            if self._circle is not None:
                self._circle = (self._circle[0], self._circle[1] - self._head_at)
            self._head_at = Fraction(0)
        elif (setting := step.setting(HEAD)) is not None:
            self._head_at = setting.position

    def _depth_by_dial_mm(self, state: State) -> float | None:
        if self._cut is None:
            return 0.0
        return _known(state).depth_at_dial_mm(self._cut.infeed)

    def _measured(self, size: Measured, state: State, event: Event) -> None:
        assert self._input is not None
        progress = _known(state)
        if self._cut is not None:
            try:
                depth_mm = self._cut.measured(size, progress).depth_mm
            except CoreError:
                # The size was measured before the run was edited, or this version no longer accepts the size.
                return
            by_dial_mm: float | None = progress.depth_at_dial_mm(self._cut.infeed)
        elif size.what == "depth":
            depth_mm, by_dial_mm = size.size_mm, state.depth_mm
        else:
            return
        cut = CutKind(self._depth_dial, self._input.kind, self._cut is not None and self._cut.infeed.outwards)
        twice = 2 if cut.on_diameter else 1
        if size.free_end_mm is not None:
            self.tapers.append(EndTaper(cut, event.wall, size.free_end_mm - size.size_mm))
        if self._cuts and by_dial_mm is not None:
            self._predicted_mm = by_dial_mm
            self._add(cut, event, twice * (depth_mm - by_dial_mm), self._travel_mm(by_dial_mm, twice))
        elif not self._cuts and not self._spring_passes and self._predicted_mm is not None:
            # The size was measured again with nothing cut. The first measurement was a slip, or less exact.
            again_mm = twice * (depth_mm - self._predicted_mm)
            latest = self.differences[self._latest]
            self.differences[self._latest] = latest._replace(wall=event.wall, difference_mm=again_mm)
        elif self._spring_passes and self._measured_mm is not None:
            each_mm = twice * (depth_mm - self._measured_mm) / self._spring_passes
            self.springs.append(SpringYield(cut, event.wall, each_mm))
        if self._cuts:
            self._after_touch_off = False
        self._start_mm = self._measured_mm = depth_mm
        self._cuts = self._spring_passes = 0

    def _travel_mm(self, by_dial_mm: float, twice: int) -> float | None:
        """Return the amount that came off by the dial since the touch-off or the last measurement [mm].

        `by_dial_mm`: the depth by the dial now. `twice`: 2 if the cut changes a diameter, otherwise 1. Return None if
        the depth at the start is not known. In a pattern, it is known only for the first measurement after a touch-off.
        """
        if self._start_mm is None or (self._cut is None and not self._after_touch_off):
            return None
        return twice * (by_dial_mm - self._start_mm)

    def _circle_measured(self, circle: Measured, event: Event) -> None:
        """Add the difference between the change of a trial circle as measured and as shown by the boring head's dial.

        `circle`: the measured circle, which is compared with the previous one.
        """
        assert self._input is not None
        dial, before = self._input.lathe.dials.get(HEAD), self._circle
        if dial is not None and before is not None and self._head_at != before[1]:
            travel_mm = 2 * float(dial.marks_at(self._head_at - before[1])) * dial.mark_mm
            sense = 1 if travel_mm > 0 else -1
            difference_mm = sense * (circle.size_mm - before[0] - travel_mm)
            cut = CutKind(HEAD, self._input.kind)
            more = DialDifference(cut, event.wall, difference_mm, abs(travel_mm), False, dial.mm_per_unit)
            self.differences.append(more)
        self._circle = (circle.size_mm, self._head_at)

    def _add(self, cut: CutKind, event: Event, difference_mm: float, travel_mm: float | None) -> None:
        assert self._input is not None
        dial = self._input.lathe.dials.get(cut.dial)
        if dial is None:
            self._predicted_mm = None
        else:
            self._latest = len(self.differences)
            self.differences.append(
                DialDifference(cut, event.wall, difference_mm, travel_mm, self._after_touch_off, dial.mm_per_unit)
            )


def _known(state: State) -> Progress:
    """Return the progress of a run without the positions of dials that must still be set to zero."""
    return state.progress.zeroed(dials_to_zero(state.progress.open_steps))


def all_times(observed: Iterable[RunObservations]) -> Iterator[PassTime]:
    """Yield the pass times of several runs, one after another."""
    for run in observed:
        yield from run.times
