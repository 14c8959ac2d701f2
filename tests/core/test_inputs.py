"""Each input is read back from the log as it was entered. Data that cannot be an input are refused in a sentence."""

from typing import Any, get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.events.event import as_read_back
from core.inputs import (
    DiametersMeasured,
    Edited,
    ExtraSpringPass,
    Fit,
    GaugeTried,
    Measured,
    Moved,
    MovedPart,
    PickedUp,
    PositionCutWrong,
    PutBack,
    ReadingsTaken,
    RunInput,
    SetTo,
    TurnAgain,
    TurnRead,
    input_as_data,
    input_from_data,
)
from core.values.errors import EventError

WHAT = (
    "size",
    "to go",
    "free end",
    "depth",
    "circle",
    "crest",
    "pitch diameter",
    "over wires",
    "over one wire",
)
SIZES = st.floats(-1e6, 1e6)
MAYBE = st.none() | SIZES
MEASURED = st.builds(
    Measured,
    what=st.sampled_from(WHAT),
    size_mm=SIZES,
    free_end_mm=MAYBE,
    wire_mm=MAYBE,
    major_mm=MAYBE,
    reading_error_mm=MAYBE,
    edges_mm=st.none() | st.tuples(SIZES, SIZES),
)


@st.composite
def rounds(draw: st.DrawFn) -> ReadingsTaken:
    """Make readings of one plane or two, read once or several times. The last time may stop after the first plane."""
    planes, times = draw(st.integers(1, 2)), draw(st.integers(1, 4))
    turns = [(plane, repeat) for repeat in range(times) for plane in range(1, planes + 1)]
    if times > 1 and draw(st.booleans()):
        turns = turns[: len(turns) - planes + 1]
    readings = st.lists(SIZES, min_size=1, max_size=6).map(tuple)
    return ReadingsTaken(turns=tuple(TurnRead(draw(readings), draw(MAYBE), *turn) for turn in turns))


INPUTS: dict[type[RunInput], st.SearchStrategy[RunInput]] = {
    Measured: MEASURED,
    DiametersMeasured: st.builds(
        DiametersMeasured, at_mm=st.tuples(SIZES, SIZES), diameters_mm=st.tuples(SIZES, SIZES)
    ),
    GaugeTried: st.builds(GaugeTried, fit=st.sampled_from(get_args(Fit))),
    SetTo: st.builds(SetTo, dial=st.text(max_size=10), position=st.fractions(), shown=st.text(max_size=10)),
    PositionCutWrong: st.builds(
        PositionCutWrong,
        layer=st.integers(1, 12),
        position=st.integers(1, 360),
        slide=st.fractions(),
        table_deg=st.fractions(),
        cut_again=st.booleans(),
        shown=st.text(max_size=10),
    ),
    PutBack: st.builds(PutBack, shift_mm=st.tuples(SIZES, SIZES), turn_deg=SIZES),
    ExtraSpringPass: st.just(ExtraSpringPass()),
    Moved: st.builds(Moved, size=st.none() | MEASURED),
    PickedUp: st.builds(PickedUp, moved=st.sampled_from(get_args(MovedPart))),
    ReadingsTaken: rounds() | st.just(ReadingsTaken(turns=())),
    TurnAgain: st.just(TurnAgain()),
    Edited: st.builds(
        Edited,
        plan_input=st.fixed_dictionaries(
            {}, optional={"kind": st.text(max_size=5), "answered": st.dictionaries(st.text(max_size=5), SIZES)}
        ),
        readings=rounds() | st.sampled_from(["under way", "none yet", None]),
    ),
}


@pytest.mark.parametrize("kind", get_args(RunInput), ids=lambda kind: str(kind.__name__))
@given(data=st.data())
def test_every_input_to_a_run_is_read_back_unchanged_from_the_log(kind: type[RunInput], data: st.DataObject) -> None:
    """The input is written in the form of the log, and read back."""
    entered = data.draw(INPUTS[kind])
    cause, found = input_as_data(entered)
    assert input_from_data(cause, as_read_back(found)) == entered


@pytest.mark.parametrize(
    ("cause", "found"),
    [
        ([], {}),
        ("bored", {}),
        ("measured", []),
        ("measured", {}),
        ("measured", {"size_mm": 10**400}),
        ("measured", {"size_mm": {}}),
        ("measured", {"readings_mm": 3}),
        ("measured", {"readings_mm": [0.1, 0.2], "closing_mm": "x"}),
        ("set", {"position": "1"}),
        ("set", {"dial": ["compound"], "position": "1"}),
        ("set", {"dial": "compound", "position": "1/0"}),
        ("fit", {"fit": ["tight"]}),
        ("cut wrong", {"layer": 1, "position": "2", "slide": "1", "table_deg": "3"}),
        ("cut wrong", {"layer": 1, "position": 2, "slide": "1/0", "table_deg": "3"}),
        ("put back", {"shift_mm": [1], "turn_deg": 0}),
        ("put back", {"shift_mm": [1, "2"], "turn_deg": 0}),
        ("picked up", {"moved": "the lot"}),
        ("picked up", {"moved": ["tool"]}),
    ],
)
def test_an_unknown_or_damaged_input_in_the_log_is_refused(cause: Any, found: Any) -> None:
    """The refusal is an EventError, not a traceback."""
    with pytest.raises(EventError):
        input_from_data(cause, found)
