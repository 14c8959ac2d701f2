"""A step's place in the log: what is written comes back, and what earlier programs wrote is read."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.plan import Action, Expects, Step, step_as_data, steps_from_data
from core.step_place import PatternPosition, ReadingPosition, StepPlace, ThreadStart

WHOLE = st.integers(1, 5_000)
MAYBE = st.none() | WHOLE
POSITIONS = st.builds(PatternPosition, WHOLE, st.integers(-300, 300), MAYBE, MAYBE, MAYBE)
READINGS = st.builds(ReadingPosition, st.none() | st.floats(0, 359), MAYBE, MAYBE, st.integers(0, 9))


@given(place=st.none() | POSITIONS | READINGS | st.builds(ThreadStart, WHOLE))
def test_what_is_logged_of_a_place_comes_back(place: StepPlace | None) -> None:
    """With other figures of the step beside it, which stay apart from it."""
    action: Action = "read" if isinstance(place, ReadingPosition) else "set"
    expects = Expects.READING if action == "read" else Expects.NOTHING
    step = Step(action=action, text="it", place=place, expects=expects, extra={"error_arcsec": 1.5})
    assert steps_from_data([step_as_data(step)]) == (step,)


def logged(action: str, **extra: Any) -> dict[str, Any]:
    """Return a step as a log has it."""
    expects = {"expects": "reading"} if action == "read" else {}
    return {"id": 1, "action": action, "text": "it", "extra": extra, **expects}


def test_start_numbers_a_thread_where_nothing_else_has_one() -> None:
    """A cut of a thread has no number; those of a pattern have, and so has what is set up for it."""
    thread = steps_from_data([logged("cut"), logged("set", start=2), logged("cut")])
    assert [step.thread_start for step in thread] == [None, 2, None]
    pattern = steps_from_data([logged("set", start=2), logged("cut", start=3_000_007, position=4)])
    assert [step.place for step in pattern] == [PatternPosition(2), PatternPosition(7, 3, position=4)]


def test_a_turn_read_again_by_the_first_version() -> None:
    """It bears no number of the repeat, and counts as the first."""
    (step,) = steps_from_data([logged("read", again=True, angle_deg=90.0, must=True)])
    assert step.reading_at == ReadingPosition(90.0, repeat=1) and step.required


def test_a_figure_at_an_angle_is_no_reading() -> None:
    """A position of the table has an angle as well, which stays among its figures."""
    (step,) = steps_from_data([logged("index", position=2, of=6, angle_deg=60.0)])
    assert step.reading_at is None and step.at.where == (None, 2) and step.extra == {"angle_deg": 60.0}


@pytest.mark.parametrize("key", ["position", "layer", "of", "pattern_step", "shift_marks", "start"])
def test_a_garbled_place_is_refused(key: str) -> None:
    """A log that holds text for a number is not counted on."""
    with pytest.raises(TypeError, match=key):
        steps_from_data([logged("cut", **{key: "2"})])
