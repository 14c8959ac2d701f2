"""Events that a run refuses: kinds that are not legal, and events that are impossible or cannot be logged."""

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

import pytest

from core.events.event import KINDS, Event, canonical
from core.events.replay import LEGAL, apply, replay
from core.plan import Plan, Step
from core.values.errors import EventError
from tests.core.events.events_made import begun, done, event, revised, run_of, sample_body

# Written from the design of the log, not copied from the table under test.
LEGAL_AS_DESIGNED: dict[str, set[str]] = {
    "not begun": {"begun"},
    "running": {"done", "skipped", "reopened", "revised", "note", "finished", "abandoned", "undone"},
    "finished": {"note", "undone"},
    "abandoned": {"note", "undone"},
}


# Refusals.


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("status", ["not begun", "running", "finished", "abandoned"])
def test_a_run_accepts_only_the_kinds_of_event_that_are_legal_in_its_status(status: str, kind: str) -> None:
    """An event of any other kind is refused with a sentence and changes nothing."""
    state, seq = None, 0
    if status != "not begun":
        ended = [(status, sample_body(status))] if status != "running" else []
        state = run_of(*done(1), *ended)
        seq = state.last_seq + 1
    body = dict(sample_body(kind)) | ({"step": 2} if kind == "done" else {})
    body |= {"steps": [2]} if kind == "skipped" else {}
    body |= {"seq": seq - 1} if kind == "undone" else {}
    if kind in LEGAL_AS_DESIGNED[status]:
        assert apply(state, event(seq, kind, body)).last_seq == seq
        return
    before = repr(state)
    with pytest.raises(EventError):
        apply(state, event(seq, kind, body))
    assert repr(state) == before


def test_the_table_of_legal_events_contains_exactly_the_designed_kinds() -> None:
    """The design, KINDS and the table list the same kinds."""
    table = {status or "not begun": set(kinds) for status, kinds in LEGAL.items()}
    assert table == LEGAL_AS_DESIGNED
    assert set().union(*table.values()) == set(KINDS)


BAD_MOVES: list[tuple[str, Mapping[str, Any]]] = [
    ("done", {}),
    ("done", {"step": 3}),
    ("done", {"step": True}),
    ("done", {"step": "2"}),
    ("skipped", {"steps": [], "reason": "x"}),
    ("skipped", {"steps": [1], "reason": "x"}),
    ("skipped", {"steps": [99], "reason": "x"}),
    ("skipped", {"steps": [2, 2], "reason": "x"}),
    ("skipped", {"steps": ["2"], "reason": "x"}),
    ("skipped", {"steps": [2]}),
    ("reopened", {"steps": [2]}),
    ("reopened", {"steps": [99]}),
    ("reopened", {"steps": None}),
    ("revised", {"cause": "bored", "given": {}, "steps": []}),
    ("revised", {"cause": "measured", "given": None, "steps": []}),
    ("revised", {"cause": "moved", "given": {}, "steps": [{"id": 8}]}),
    ("revised", {"cause": "moved", "given": {}, "steps": ["x"]}),
    ("revised", {"cause": "moved", "given": {}, "steps": None}),
    ("revised", {"cause": "measured", "given": {"depth_mm": "deep"}, "steps": []}),
    ("revised", {"cause": "set", "given": {"position": 3}, "steps": []}),
    ("revised", {"cause": "edited", "given": {"parameters": 3}, "steps": []}),
    revised(7, 1),
    ("note", {}),
    ("note", {"text": 3}),
    ("finished", {}),
    ("abandoned", {}),
    ("undone", {}),
    ("undone", {"seq": 0}),
    ("undone", {"seq": 2}),
    ("undone", {"seq": True}),
]


@pytest.mark.parametrize(("kind", "body"), BAD_MOVES)
def test_an_impossible_event_is_refused_without_changing_the_run(kind: str, body: Mapping[str, Any]) -> None:
    """The refusal is a sentence, and the state is the same object afterwards."""
    state = run_of(*done(1))
    before = repr(state)
    with pytest.raises(EventError):
        apply(state, event(2, kind, body))
    assert repr(state) == before


def test_an_event_out_of_sequence_is_refused() -> None:
    """An event after a gap, or with a number used before, is refused."""
    state = run_of(*done(1))
    for seq in (1, 3):
        with pytest.raises(EventError):
            apply(state, event(seq, "done", {"step": 2}))
    with pytest.raises(EventError):
        apply(None, event(1, "begun", begun().body))
    with pytest.raises(EventError):
        replay([])


@pytest.mark.parametrize("lost", ["plan", "origin", "kind", "parameters", "lathe", "stand_in", "program"])
def test_a_run_cannot_start_if_its_first_event_lacks_a_required_key(lost: str) -> None:
    """The sentence gives the missing key."""
    body = {name: value for name, value in begun().body.items() if name != lost}
    with pytest.raises(EventError, match=lost):
        apply(None, event(0, "begun", body))


def test_a_run_whose_step_ids_do_not_count_up_from_1_cannot_start() -> None:
    """The run is refused with a sentence."""
    plan = Plan(steps=(Step(action="cut", text="a"), Step(action="cut", text="b")))
    with pytest.raises(EventError):
        run_of(plan=plan)


@pytest.mark.parametrize(
    "wrong",
    [
        {"kind": "eaten"},
        {"seq": -1},
        {"seq": True},
        {"seq": 2**63},
        {"monotonic_ms": 1.5},
        {"wall": "\ud800"},
        {"session": 3},
        {"body": [1]},
    ],
)
def test_an_event_with_a_value_that_cannot_be_logged_is_refused(wrong: dict[str, Any]) -> None:
    """The refusal comes when the event is made, not only when it is logged."""
    fields: dict[str, Any] = {
        "seq": 0,
        "kind": "note",
        "body": {},
        "wall": "",
        "session": "",
        "monotonic_ms": 0,
    }
    with pytest.raises(EventError):
        Event(**fields | wrong)


@pytest.mark.parametrize("data", [float("nan"), float("inf"), {1, 2}, {"a": 1, 2: 3}, b"x", Fraction(1, 2)])
def test_event_values_that_json_cannot_represent_are_refused(data: object) -> None:
    """Each value is refused with a sentence."""
    with pytest.raises(EventError):
        canonical({"value": data})


def test_an_event_value_that_is_nested_too_deeply_is_refused() -> None:
    """The refusal is a sentence instead of a crash."""
    data: list[Any] = []
    for _ in range(100_000):
        data = [data]
    with pytest.raises(EventError):
        canonical(data)
