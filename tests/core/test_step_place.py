"""The place of a step in the log is read back as it was written, even if an earlier version wrote it."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.plan import (
    Action,
    Expects,
    PatternPosition,
    ReadingPosition,
    Step,
    StepPlace,
    ThreadStart,
    step_as_data,
    steps_from_data,
)

WHOLE = st.integers(1, 5_000)
MAYBE = st.none() | WHOLE
POSITIONS = st.builds(PatternPosition, WHOLE, st.integers(-300, 300), MAYBE, MAYBE, MAYBE)
READINGS = st.builds(ReadingPosition, st.none() | st.floats(0, 359), MAYBE, MAYBE, st.integers(0, 9))


@given(place=st.none() | POSITIONS | READINGS | st.builds(ThreadStart, WHOLE))
def test_the_position_of_a_step_is_read_back_unchanged_from_the_log(place: StepPlace | None) -> None:
    """Other figures of the step stay separate from the place."""
    action: Action = "read" if isinstance(place, ReadingPosition) else "set"
    expects = Expects.READING if action == "read" else Expects.NOTHING
    step = Step(action=action, text="it", place=place, expects=expects, extra={"error_arcsec": 1.5})
    assert steps_from_data([step_as_data(step)]) == (step,)


def logged(action: str, **extra: Any) -> dict[str, Any]:
    """Return a step in the form of the log."""
    expects = {"expects": "reading"} if action == "read" else {}
    return {"id": 1, "action": action, "text": "it", "extra": extra, **expects}


def test_the_logged_key_start_is_read_as_a_thread_start_or_as_a_step_of_a_pattern() -> None:
    """In a pattern the key is the number of a step, in a thread the number of a start."""
    thread = steps_from_data([logged("cut"), logged("set", start=2), logged("cut")])
    assert [step.thread_start for step in thread] == [None, 2, None]
    pattern = steps_from_data([logged("set", start=2), logged("cut", start=3_000_007, position=4)])
    assert [step.place for step in pattern] == [PatternPosition(2), PatternPosition(7, 3, position=4)]


def test_a_repeated_turn_of_readings_logged_by_the_first_version_can_be_read() -> None:
    """The repeated turn has no number and counts as the first repeat."""
    (step,) = steps_from_data([logged("read", again=True, angle_deg=90.0, must=True)])
    assert step.reading_at == ReadingPosition(90.0, repeat=1) and step.required


def test_the_logged_angle_of_a_rotary_table_is_not_taken_for_the_mark_of_a_runout_reading() -> None:
    """The angle stays among the figures of its step."""
    (step,) = steps_from_data([logged("index", position=2, of=6, angle_deg=60.0)])
    assert step.reading_at is None and step.at.where == (None, 2) and step.extra == {"angle_deg": 60.0}


@pytest.mark.parametrize("key", ["position", "layer", "of", "pattern_step", "shift_marks", "start"])
def test_a_logged_step_position_with_a_text_instead_of_a_number_is_refused(key: str) -> None:
    """The place has text instead of a number."""
    with pytest.raises(TypeError, match=key):
        steps_from_data([logged("cut", **{key: "2"})])
