"""The counter's display for slots, arcs and changing offsets, and the movements of each pass."""

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

from core.events.event import Event, as_read_back
from core.events.replay import apply
from core.events.state import State
from core.operations.patterns.feeding import groove_movements
from core.operations.patterns.layers import Layer, PatternJob
from core.operations.patterns.operation import PATTERN, plan_pattern
from core.operations.registry import PlanInput
from core.plan import Plan, Step, plan_as_data
from core.run.counter_view import CounterView, Movements, counter_view
from core.run.table_reading import other_dials
from core.values.dials import ZeroedDials
from tests.core.figures import figures
from tests.core.operations.dividing.rotary import lathe_with

LATHE = lathe_with()


class Shown:
    """A run counted in memory up to a certain step."""

    def __init__(self, job: PatternJob) -> None:
        self.job = job
        body = {"schema": 1, "program": "test", "origin": None, "kind": "pattern", "parameters": {}, "material": None}
        body |= {"lathe": {}, "lathe_name": "bench", "stand_in": False}
        self.state: State = apply(None, self._event(0, "begun", {**body, "plan": plan_as_data(self.plan)}))

    @property
    def plan(self) -> Plan:
        """The plan of the pattern."""
        return plan_pattern(self.job, LATHE, None)

    def _event(self, seq: int, kind: str, body: dict[str, object]) -> Event:
        wall = "2026-11-25T10:00:00+01:00"
        return Event(seq=seq, kind=kind, body=as_read_back(body), wall=wall, session="s", monotonic_ms=seq)

    def to(self, wanted: Callable[[Step], bool]) -> CounterView:
        """Do steps up to the first wanted step, and return the counter's display of it."""
        while not wanted(self.step):
            self.state = apply(self.state, self._event(self.state.last_seq + 1, "done", {"step": self.step.id}))
        return counter_view(LATHE, self.state, Movements(PlanInput("pattern", {}, LATHE, None)))

    @property
    def step(self) -> Step:
        """The current step."""
        assert self.state.cursor is not None
        return self.state.cursor


def arc(through: int, **keys: object) -> PatternJob:
    """Return a layer of arcs at 42 mm through an angle."""
    layer = {"number": 1, "shape": "arcs", "count": 1, "offset_mm": 42.0, "depths_mm": (0.4,)}
    return PatternJob(layers=(Layer(**{**layer, "through_deg": Fraction(through), **keys}),))  # type: ignore[arg-type]


def test_a_full_turn_of_a_table_with_ratio_72_is_shown_as_72_turns_of_the_handle() -> None:
    """A full turn of a 72:1 table is 72 turns of the handle, not none. The depth dial is named as well."""
    run = Shown(arc(360))
    view = run.to(lambda step: step.feeds_along)
    assert view.dial is not None and view.dial.name == "rotary table"
    assert figures(view.dial.turns) == {"72"} and view.dial.number == "0°00'"
    assert any("carriage" in words for words in view.also)


def test_the_counter_shows_the_depth_dial_at_the_pass_that_feeds_in() -> None:
    """At the pass that feeds in, the large number is the depth."""
    run = Shown(arc(200))
    view = run.to(lambda step: step.action == "cut")
    assert view.dial is not None and (view.dial.name, view.dial.number) == ("carriage", "0.4")


def test_the_table_move_to_the_next_arc_counts_from_the_end_of_the_previous_arc() -> None:
    """Two arcs of 30 deg start 180 deg apart. From 30 to 180 deg the handle needs 30 turns of 5 deg, not 36."""
    run = Shown(arc(30, count=2))
    view = run.to(lambda step: step.action == "index" and step.at.position == 2)
    assert view.dial is not None and figures(view.dial.turns) == {"30"}


def test_the_counter_shows_the_slide_reading_at_the_end_of_a_slot() -> None:
    """From 30 to 36 mm on a dial of 4 mm a turn that reads diameter: 72 mm is 18 turns."""
    layer = Layer(number=1, shape="slots", count=2, offset_mm=30, to_offset_mm=36, depths_mm=(0.4,))
    view = Shown(PatternJob(layers=(layer,))).to(lambda step: step.feeds_along)
    assert view.dial is not None and view.dial.name == "cross-slide"
    assert figures(view.dial.turns) == {"18"} and "away" in view.dial.direction and "past it" not in view.dial.direction


def test_the_counter_shows_each_new_slide_setting_with_the_direction_of_the_move() -> None:
    """Dots at 20, 19 and 18 mm: towards the table's axis, past the reading and back.

    The user can enter another setting.
    """
    layer = Layer(number=1, shape="dots", count=3, offset_mm=20, offset_step_mm=-1, depths_mm=(0.4,))
    run = Shown(PatternJob(layers=(layer,)))
    view = run.to(lambda step: step.action == "index" and step.at.position == 2)
    (slide,) = [words for words in view.also if "cross-slide" in words]
    assert "towards" in slide and "past it" in slide and "9" in figures(slide)
    assert other_dials(LATHE, run.state, run.step) == ["rotary_table", "cross_slide"]


def test_the_counter_does_not_ask_for_an_unchanged_slide_setting() -> None:
    """At a position, only the table can then be set to another reading."""
    layer = Layer(number=1, shape="dots", count=3, offset_mm=20, depths_mm=(0.4,))
    run = Shown(PatternJob(layers=(layer,)))
    run.to(lambda step: step.action == "index" and step.at.position == 2)
    assert other_dials(LATHE, run.state, run.step) == []


def test_the_movement_list_for_an_arc_mentions_the_table_handle_and_the_clamp() -> None:
    """The clamp drags during the feed in.

    The hand stays on the handle during the feed along, with a given time per turn.
    """
    job = arc(360)
    fed_in, along = [step for step in Shown(job).plan.steps if step.action == "cut"]
    first, second = (" ".join(groove_movements(job, step)) for step in (fed_in, along))
    assert "clamp drag" in first and "Backlash" in first and "lock it" not in first + second
    # 5 deg at 42 mm are 3.67 mm, at 1 mm a second.
    assert "never on the work" in second and "4" in figures(second)


def test_the_movement_list_for_a_circle_locks_every_slide_except_the_feeding_slide() -> None:
    """The step before has turned the table. The carriage feeds, so it stays unlocked.

    Another depth dial does the same.
    """
    for depth_dial, offset_dial, feeds, stays in (
        ("carriage", "cross_slide", "carriage", "cross-slide"),
        ("compound", "carriage", "compound", "carriage"),
    ):
        layer = Layer(number=1, count=3, offset_mm=20, circle_radius_mm=8, depths_mm=(0.4,))
        job = PatternJob(layers=(layer,), depth_dial=depth_dial, offset_dial=offset_dial)
        run = Shown(job)
        of_step = PATTERN.movements(job, LATHE) if PATTERN.movements else None
        assert of_step is not None
        run.to(lambda step: step.action == "index")
        assert any("Unlock the table" in line for line in of_step(run.step, ZeroedDials(LATHE.dials, {}), (1, 1)))
        passing = run.to(lambda step: step.action == "cut")
        movements = " ".join(passing.movements)
        assert passing.movements == of_step(run.step, ZeroedDials(LATHE.dials, {}), (1, 1))
        assert f"feed the {feeds} in" in movements and f"Lock the table and the {stays}" in movements
        assert "turn" not in movements and "Unlock" not in movements
        (caution,) = passing.cautions
        assert stays in caution and feeds not in caution


def test_the_general_cautions_cover_only_the_cutter_holders_that_the_pattern_uses() -> None:
    """A collet cuts dots, the boring head cuts circles. A pattern with both has the cautions of both."""
    circles = Layer(number=1, count=3, offset_mm=20, circle_radius_mm=8, depths_mm=(0.4,))
    dots = Layer(number=2, shape="dots", count=3, offset_mm=30, depths_mm=(0.4,))
    for layers, holders in (((circles,), {"head"}), ((replace(dots, number=1),), {"collet"}), ((circles, dots), None)):
        general = " ".join(plan_pattern(PatternJob(layers=layers), LATHE, None).general)
        found = {word for word in ("head", "collet") if word in general}
        assert found == (holders or {"head", "collet"})
