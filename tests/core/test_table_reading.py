"""Where is the table? Told from what its dial, its holes or its own scale show."""

import re
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.errors import QuantityError
from core.table_reading import reading_example, set_place, step_at_table, where_is_it
from tests.core.counted import Counted, table_lathe
from tests.core.test_indexing_counter import DEEP, by_dial, by_plate


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("160-0", "That is position 17 of 36."),
        ("32 turns 0-0", "That is position 17 of 36."),
        ("32+0-0", "That is position 17 of 36."),
        (
            "160d4m",
            "0°04' past position 17 of 36. To position 17: back and past it by more than the play (0°03'), then up to"
            " 0°00' (the 32nd turn, 160°00'), from below.",
        ),
        (
            "159-58",
            "0°02' short of position 17 of 36. To position 17: back by more than the play (0°03'), then up to 0°00'"
            " (the 32nd turn, 160°00').",
        ),
        (
            "12 turns 0-4",
            "0°04' past position 7 of 36. To position 17: 19 turns on from there, then on to 0°00' (the 32nd turn,"
            " 160°00'), from below.",
        ),
        (
            "355-0",
            "5°00' short of position 1 of 36. To position 17: 33 turns on from there, stop at 0°00' (the 32nd turn,"
            " 160°00'), from below.",
        ),
    ],
)
def test_where_am_i_at_seventeen(typed: str, said: str) -> None:
    """The table's own degrees or turns from zero tell the position, and nothing more is said."""
    run = by_dial()
    run.to_position(17)
    assert where_is_it(run.lathe, run.state, typed) == (said, ())


@settings(deadline=None, max_examples=60, derandomize=True)
@given(st.sampled_from((36, 40, 72, 90)), st.integers(2, 30), st.data())
def test_a_reading_alone_names_all_that_fit_it(ratio: int, count: int, data: st.DataObject) -> None:
    """Against every turn of the handle tried: the positions with that reading, their turns, and the nearest place."""
    lathe = table_lathe(ratio=ratio, dial_graduation="1 arcmin")
    run = Counted(lathe, "index", divisions=count)
    last = data.draw(st.integers(1, count))
    run.to_position(last)
    run.done()
    minutes = 21_600 // ratio
    at = [round(Fraction(21_600 * place, count) - Fraction(1, 1000)) for place in range(count)]
    shows = at[data.draw(st.integers(0, count - 1))] % minutes
    found = where_is_it(lathe, run.state, f"{shows // 60}d{shows % 60}m")
    fitting = [(number, set_at // minutes) for number, set_at in enumerate(at, start=1) if set_at % minutes == shows]
    words = " ".join(found.more).partition("zero: ")[2]
    named = [(int(one), int(turns)) for one, turns in re.findall(r"(\d+) \((\d+) turns?\)", words)]
    assert len(named) == min(len(fitting), 8) and set(named) <= set(fitting)
    assert (f"and {len(fitting) - 8} more" in words) == (len(fitting) > 8)
    stood = at[last - 1]
    nearest = min((turn * minutes + shows for turn in range(-1, ratio + 1)), key=lambda place: abs(place - stood))
    if 2 * abs(nearest - stood) != minutes:
        assert f"Likeliest is {nearest % 21_600 // 60}°{nearest % 60:02}', " in found.words


def test_a_turn_too_few_by_dial() -> None:
    """24 at 72:1 are three turns each: set to 6 and asked, 5 turns fewer or more are no positions, 3 turns on is 7."""
    run = by_dial(24)
    run.to_position(7)
    found = where_is_it(run.lathe, run.state, "0-0")
    assert found.words == (
        "0°00' comes once in every turn of the handle. Likeliest is 75°00', position 6 of 24, where the table was "
        "set last."
    )
    assert (
        found.more[0]
        == "One turn too few shows the same, at 70°00' of the table; one too many, at 80°00' of the table."
    )
    assert "6 (15 turns)" in found.more[1] and "and 16 more" in found.more[1]
    assert found.more[2].startswith("From 75°00', if it is there: to position 7: 3 turns on from there, stop at 0°00'")
    assert "degree scale (75°00')" in found.more[3] and "count the turns" in found.more[3]
    run.take_back()
    assert "was set last before the undo" in where_is_it(run.lathe, run.state, "0-0").words


def test_where_before_anything_was_set() -> None:
    """Nothing is likeliest before the table was set at all; what fits is said all the same."""
    run = by_dial()
    found = where_is_it(run.lathe, run.state, "0-0")
    assert "does not tell where the table is" in found.words and "Likeliest" not in found.words
    assert found.more[0].startswith("Positions that fit it, with the whole turns from zero: 1 (0 turns), 2 (2 turns)")


def test_where_am_i_while_cutting_by_plate() -> None:
    """At the pass of a position the table is still read by its holes."""
    run = by_plate(7, **DEEP)
    run.to_position(4)
    run.done()
    assert run.cursor.action == "cut"
    assert where_is_it(run.lathe, run.state, "17+3").words == "That is position 4 of 7."
    way = "To position 4: 5 turns and 2 holes on from there, in the 21 circle (17 turns and 3 holes from zero)."
    assert where_is_it(run.lathe, run.state, "12+1").words.endswith(f"past position 3 of 7. {way}")
    # Less than a turn, and nothing is told of the play.
    way = (
        "To position 4: back 1 turn, more than the play, then 1 turn and 2 holes on, in the 21 circle (17 turns and 3 "
        "holes from zero, 154°17')."
    )
    assert where_is_it(run.lathe, run.state, "17+1").words.endswith(f"short of position 4 of 7. {way}")
    table = run.lathe.rotary_table
    assert table is not None
    step = step_at_table(run.state, table)
    assert step is not None and "from 0 to 20" in reading_example(step, table)


def test_a_turn_too_few_by_plate() -> None:
    """Hole 3 of 21 is position 4 or any other turn; a turn is 9 degrees of the table's scale, and that tells."""
    run = by_plate(7)
    run.to_position(5)
    found = where_is_it(run.lathe, run.state, "3")
    assert found.words == (
        "Hole 3 of 21 comes once in every turn of the handle. Likeliest is 154°17', position 4 of 7, where the table "
        "was set last."
    )
    assert found.more[0] == (
        "One turn too few shows the same, at 145°17' of the table; one too many, at 163°17' of the table."
    )
    assert found.more[1] == "One position fits it, with the whole turns from zero: 4 (17 turns)."
    assert "as 3 holes at 154 deg" in found.more[-1]
    assert where_is_it(run.lathe, run.state, "3 holes at 154 deg").words.startswith("That is position 4 of 7. To posi")
    short = where_is_it(run.lathe, run.state, "3 holes at 145 deg").words
    assert short.startswith("9°00' short of position 4 of 7. To position 5: 6 turns and 15 holes on from there")
    run.take_back()
    short = where_is_it(run.lathe, run.state, "3 holes at 145 deg").words
    assert short.startswith("9°00' short of position 4 of 7. To position 4: 1 turn on from there, in the 21 circle")
    run.done()
    assert where_is_it(run.lathe, run.state, "145 deg").words.startswith("9°17'09\" short of position 4 of 7. The ")
    assert where_is_it(run.lathe, run.state, "206 deg").words == "That is position 5 of 7."
    with pytest.raises(QuantityError, match="enter the hole"):
        set_place(run.lathe, run.cursor, "205 deg")


@pytest.mark.parametrize("typed", ["", "3-60", "17+21 holes", "left"])
def test_readings_that_no_table_shows(typed: str) -> None:
    """Refused with what is accepted."""
    dial, plate = by_dial(), by_plate(7)
    for run in (dial, plate):
        with pytest.raises(QuantityError):
            where_is_it(run.lathe, run.state, typed)
