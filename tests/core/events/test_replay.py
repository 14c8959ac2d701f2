"""Replaying runs: legal events, undo and step numbers. All routes to a state give the same state."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.events.event import KINDS, Event, digest, run_time_ms
from core.events.replay import apply, from_another_session, replay, replay_until_refused
from core.events.state import State
from core.inputs import Measured
from core.plan import Plan, Step, numbered
from core.values.errors import EventError
from tests.core.events.events_made import begun, cursor_id, done, event, revised, run_of, sample_body
from tests.core.logbook.run_samples import BASIS, JOB, sample_plan

# Properties of a run.


def test_the_current_step_of_a_new_run_is_its_first_step() -> None:
    """No step is done, and the plan input is the one at the start."""
    state = run_of()
    assert (state.status, cursor_id(state), state.steps_done, state.steps_open) == ("running", 1, 0, 7)
    assert state.run == "ab" * 16
    assert (state.plan_input, state.origin) == (BASIS, JOB)
    assert state.plan == sample_plan()


def test_the_pass_number_counts_only_cuts() -> None:
    """The touch-off before the cuts is not counted."""
    state = run_of(*done(*range(1, 8)), plan=sample_plan(20))
    assert (state.pass_number, state.pass_count) == (7, 20)
    assert state.last_done is not None
    assert (state.last_done.text, state.depth_mm) == ("Cut 6", 0.6)
    assert [step.text for step in state.upcoming(3)] == ["Cut 8", "Cut 9", "Cut 10"]


def test_a_spring_pass_does_not_increase_the_pass_number() -> None:
    """After the fourth of four cuts the number stays at four."""
    state = run_of(*done(1, 2, 3, 4, 5))
    assert state.cursor is not None
    assert (state.cursor.action, state.pass_number, state.pass_count) == ("spring", 4, 4)


def test_only_the_current_step_can_be_marked_as_done() -> None:
    """The refusal names the step at the cursor and the one asked for."""
    with pytest.raises(EventError, match=r"\b3\b.*\b2\b"):
        run_of(*done(1, 3))


def test_later_steps_stay_done_after_an_earlier_step_is_repeated() -> None:
    """After step 3 is repeated, step 4 stays done and step 5 is next."""
    state = run_of(*done(1, 2, 3, 4), ("reopened", {"steps": [3]}))
    assert (cursor_id(state), state.status_of(4), state.pass_number) == (3, "done", 2)
    again = apply(state, event(state.last_seq + 1, "done", {"step": 3}))
    assert cursor_id(again) == 5


def test_skipped_cuts_are_not_counted_as_passes() -> None:
    """If two of four cuts are skipped, two passes remain."""
    state = run_of(*done(1, 2), ("skipped", {"steps": [3, 5], "reason": "deep enough"}))
    assert (cursor_id(state), state.status_of(3), state.pass_count) == (4, "skipped", 2)
    assert cursor_id(apply(state, event(state.last_seq + 1, "done", {"step": 4}))) == 6


def test_a_revision_of_the_plan_replaces_every_open_step() -> None:
    """Done steps stay. The new steps have the next free ids."""
    state = run_of(*done(1, 2), revised(8, 2, "measured", mean_mm=19.1))
    assert [step.id for step in state.steps] == [1, 2, 8, 9]
    assert (cursor_id(state), state.next_step_id) == (8, 10)
    assert state.revisions[0].entered == Measured(what="mean", size_mm=19.1)


def test_a_revision_of_the_plan_can_leave_a_run_without_open_steps() -> None:
    """A measurement may show that all is cut. The run can then be finished."""
    state = run_of(*done(1, 2), revised(8, 0), ("finished", {}))
    assert (state.status, state.cursor) == ("finished", None)


def test_step_ids_of_an_undone_revision_are_never_reused() -> None:
    """Undoing a revision restores the old steps. The next revision gets higher ids."""
    state = run_of(*done(1, 2), revised(8, 2), ("undone", {"seq": 3}))
    assert [step.id for step in state.steps] == [1, 2, 3, 4, 5, 6, 7]
    with pytest.raises(EventError, match=r"\b8\b.*\b10\b"):
        kind, body = revised(8, 1)
        apply(state, event(state.last_seq + 1, kind, body))


def test_after_an_edit_a_run_holds_the_edited_parameters_and_material() -> None:
    """The edit changes parameters and material. The lathe stays the same."""
    state = run_of(revised(8, 1, "edited", parameters={"passes": 9}, material="steel"))
    assert state.plan_input.parameters == {"passes": 9}
    assert (state.plan_input.material, state.plan_input.lathe) == ("steel", BASIS.lathe)
    assert state.plan_input.digest == digest({"passes": 9}, BASIS.lathe) != BASIS.digest


def test_undoing_a_step_keeps_the_notes() -> None:
    """The note stays, and the pass before it is undone."""
    state = run_of(*done(1, 2), ("note", {"text": "chips blue"}), ("undone", {"seq": 2}))
    assert (cursor_id(state), [note.text for note in state.notes]) == (2, ["chips blue"])


@pytest.mark.parametrize("end", [("finished", {"early": True}), ("abandoned", {"reason": "scrapped"})])
def test_undoing_the_end_of_a_run_reopens_the_run(end: tuple[str, Mapping[str, Any]]) -> None:
    """The run continues at the step at which it ended."""
    state = run_of(*done(1, 2), end)
    assert state.status == end[0]
    opened = apply(state, event(state.last_seq + 1, "undone", {"seq": 3}))
    assert (opened.status, cursor_id(opened)) == ("running", 3)


def test_a_run_with_open_steps_can_be_finished_only_if_marked_as_early() -> None:
    """Without "early" a run can be finished only when no step is open."""
    with pytest.raises(EventError, match=r"\b7\b"):
        run_of(("finished", {}))
    assert run_of(("finished", {"early": True})).status == "finished"


# Zeros and depth.


@pytest.mark.parametrize(
    ("value", "zero"), [(None, Fraction(0)), (0.1, Fraction(1, 10)), (3, Fraction(3)), ("1/64", Fraction(1, 64))]
)
def test_the_dial_reading_entered_at_touch_off_is_kept_exactly(value: Any, zero: Fraction) -> None:
    """0.1 is exactly one tenth, not the nearest float."""
    body = {"step": 1} if value is None else {"step": 1, "value": value}
    assert run_of(("done", body)).zeros == {"compound": zero}


@pytest.mark.parametrize("value", [True, "x", "1e9", "1/0", [1], float(10**15), {"compound": None}])
def test_an_invalid_dial_reading_at_touch_off_is_refused(value: Any) -> None:
    """The refusal is a sentence, also for huge exponents."""
    with pytest.raises(EventError):
        run_of(("done", {"step": 1, "value": value}))


def test_a_single_reading_for_two_dials_touched_off_together_is_refused() -> None:
    """Each reading needs the name of its dial. A dial without a reading was set to 0."""
    plan = Plan(steps=numbered([Step(action="set", text="Touch off", zeroed_dials=("compound", "cross_slide"))]))
    with pytest.raises(EventError):
        run_of(("done", {"step": 1, "value": 0.5}), plan=plan)
    state = run_of(("done", {"step": 1, "value": {"compound": 0.5}}), plan=plan)
    assert state.zeros == {"compound": Fraction(1, 2), "cross_slide": Fraction(0)}


def test_the_depth_of_cut_is_unknown_after_a_thread_is_picked_up() -> None:
    """The depth must be measured. Undo restores the counted depth."""
    counted = [("done", {"step": 1, "value": 0.25}), *done(2, 3)]
    state = run_of(*counted, revised(8, 1, "picked up"))
    assert (state.zeros, state.depth_mm) == ({"compound": Fraction(1, 4)}, None)
    back = apply(state, event(state.last_seq + 1, "undone", {"seq": state.last_seq}))
    assert (back.zeros, back.depth_mm) == ({"compound": Fraction(1, 4)}, 0.2)
    measured = apply(state, event(state.last_seq + 1, *revised(9, 1, "measured", depth_mm=0.18)))
    assert measured.depth_mm == 0.18


# Time and sessions.


def test_the_run_time_includes_only_time_within_sessions() -> None:
    """Two sessions of 5 s and 3 s make 8 s, however long the time between them is."""
    events = [begun()]
    for seq, session, ms in [(1, "s", 5000), (2, "t", 90_000_000), (3, "t", 90_003_000)]:
        events.append(event(seq, "note", {"text": "x"}, session, ms))
    assert run_time_ms(events) == replay(events).run_time_ms == 8000


def test_a_run_last_logged_in_another_session_counts_as_interrupted() -> None:
    """The last event is from another session."""
    state = run_of(*done(1))
    assert (from_another_session(state, "s"), from_another_session(state, "later")) == (False, True)


# Any sequence of events, compared with a model that is slow and simple.


@dataclass
class Model:
    """A run as its list of effective events. Every question is answered from the start of this list."""

    effective: list[Event] = field(default_factory=list)

    def take(self, taken: Event) -> None:
        """Add an event to the list. For an undo, remove the last one. A note changes nothing."""
        if taken.kind == "undone":
            self.effective.pop()
        elif taken.kind != "note":
            self.effective.append(taken)

    def steps(self) -> dict[int, str]:
        """Return the status of every step."""
        found: dict[int, str] = {}
        for taken in self.effective:
            body = taken.body
            if taken.kind == "begun":
                found = {step["id"]: "open" for step in body["plan"]["steps"]}
            elif taken.kind == "done":
                found[body["step"]] = "done"
            elif taken.kind == "skipped":
                found |= dict.fromkeys(body["steps"], "skipped")
            elif taken.kind == "reopened":
                found |= dict.fromkeys(body["steps"], "open")
            elif taken.kind == "revised":
                found = {step_id: status for step_id, status in found.items() if status != "open"}
                found |= {step["id"]: "open" for step in body["steps"]}
        return found

    def status(self) -> str:
        """Return the status of the run."""
        last = self.effective[-1].kind
        return last if last in ("finished", "abandoned") else "running"

    def check(self, state: State) -> None:
        """Compare all values with the state of the program."""
        steps = self.steps()
        opened = [step_id for step_id, status in steps.items() if status == "open"]
        assert {step.id: state.status_of(step.id) for step in state.steps} == steps
        assert cursor_id(state) == (opened[0] if opened else None)
        assert [step.id for step in state.open_steps()] == opened
        assert (state.status, state.steps_open) == (self.status(), len(opened))
        assert state.steps_done == len(state.done_steps) == list(steps.values()).count("done")


def next_move(state: State, choose: st.DataObject) -> tuple[str, Mapping[str, Any]]:
    """Draw an event that is often possible, but not always."""
    some_ids = st.lists(st.sampled_from([step.id for step in state.steps] or [0]), min_size=1, max_size=3)
    kind = choose.draw(st.sampled_from(["done"] * 5 + ["undone"] * 3 + list(KINDS)))
    if kind == "done":
        value = choose.draw(st.sampled_from([None, 0.25, "1/8"]))
        return kind, {"step": cursor_id(state) or 1} | ({} if value is None else {"value": value})
    if kind in ("skipped", "reopened"):
        return kind, {"steps": choose.draw(some_ids), "reason": "any"}
    if kind == "revised":
        cause = choose.draw(st.sampled_from(["moved", "picked up", "edited"]))
        first = state.next_step_id - choose.draw(st.sampled_from([0, 0, 0, 1]))
        given = {"parameters": {"first": first}} if cause == "edited" else {}
        return revised(first, choose.draw(st.integers(0, 3)), cause, **given)
    if kind == "undone":
        wrong = choose.draw(st.sampled_from([0, 0, 0, 0, 1]))
        return kind, {"seq": (state.undoable.seq if state.undoable else 0) + wrong}
    return kind, sample_body(kind)


@settings(max_examples=80, deadline=None)
@given(choose=st.data(), count=st.integers(0, 25))
def test_replaying_a_log_gives_the_same_state_as_applying_each_event(choose: st.DataObject, count: int) -> None:
    """After any events, including refused ones, the state equals that of the model and of a replay."""
    events, model = [begun()], Model()
    model.take(events[0])
    state = apply(None, events[0])
    for _ in range(count):
        kind, body = next_move(state, choose)
        taken = event(state.last_seq + 1, kind, body)
        before, shown = state, repr(state)
        try:
            state = apply(state, taken)
        except EventError:
            assert repr(state) == shown
            assert replay_until_refused([*events, taken]) == before
            with pytest.raises(EventError):
                replay([*events, taken])
            continue
        assert repr(before) == shown
        events.append(taken)
        model.take(taken)
        model.check(state)
    assert replay(events) == state


@settings(max_examples=60, deadline=None)
@given(choose=st.data(), count=st.integers(0, 15))
def test_undoing_an_event_restores_the_state_before_that_event(choose: st.DataObject, count: int) -> None:
    """The state after the undo equals the earlier state, for any sequence of events."""
    state = run_of()
    for _ in range(count):
        kind, body = next_move(state, choose)
        try:
            after = apply(state, event(state.last_seq + 1, kind, body))
        except EventError:
            continue
        if kind not in ("note", "undone"):
            back = apply(after, event(after.last_seq + 1, "undone", {"seq": after.last_seq}))
            assert (back.snapshot, back.undo_stack) == (state.snapshot, state.undo_stack)
            assert dict(back.results) == dict(state.results)
        state = after


def test_replaying_twenty_thousand_steps_looks_up_each_step_only_a_few_times() -> None:
    """Looks are counted instead of time.

    Their number must grow with the length of the run, not with its square.
    """
    looked = 0

    class Counted(int):
        """A step id that counts how often it is looked up."""

        def __hash__(self) -> int:
            nonlocal looked
            looked += 1
            return int.__hash__(self)

    count = 20_000
    plan = Plan(steps=numbered([Step(action="cut", text="", depth_mm=0.1)] * count))
    events = [begun(plan)] + [event(n, "done", {"step": n}) for n in range(1, count + 1)]
    state = replay(events)
    assert (state.cursor, state.steps_done) == (None, count)
    half = replay(events[: count // 2])
    steps = tuple(Step(id=Counted(step.id), action="cut", text="") for step in half.steps)
    counted = replace(half, snapshot=half.snapshot._replace(steps=steps))
    walked = apply(counted, event(count // 2, "done", {"step": count // 2}))
    assert cursor_id(walked) == count // 2 + 1
    assert 0 < looked < 20
