"""Finding the position of the rotary table from its dial, its holes or its own scale."""

import re
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.run.table_reading import locate_table, read_table_setting, reading_example, step_at_table
from core.values.errors import QuantityError
from tests.core.counted import Counted, table_lathe
from tests.core.figures import figures
from tests.core.operations.dividing.test_table_counter import DEEP, by_dial, by_plate

THERE = {"17", "36"}
WAY = {"17", "36", "0°00'", "32", "160°00'"}


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("160-0", THERE),
        ("32 turns 0-0", THERE),
        ("32+0-0", THERE),
        ("160d4m", WAY | {"0°04'", "0°03'"}),
        ("159-58", WAY | {"0°02'", "0°03'"}),
        ("12 turns 0-4", WAY | {"0°04'", "7", "19"}),
        ("355-0", WAY | {"5°00'", "1", "33"}),
    ],
)
def test_a_degree_scale_reading_or_a_count_of_turns_gives_a_single_table_position(typed: str, said: set[str]) -> None:
    """The table's own degrees, or turns from zero, give a single position."""
    run = by_dial()
    run.to_position(17)
    found = locate_table(run.lathe, run.state, typed)
    assert figures(found.words) == said and found.more == ()


@settings(deadline=None, max_examples=60, derandomize=True)
@given(st.sampled_from((36, 40, 72, 90)), st.integers(2, 30), st.data())
def test_a_dial_reading_without_turns_gives_all_table_positions_that_fit(
    ratio: int, count: int, data: st.DataObject
) -> None:
    """The answer has the same positions as a trial of every turn of the handle. It names the nearest position."""
    lathe = table_lathe(ratio=ratio, dial_graduation="1 arcmin")
    run = Counted(lathe, "divide", divisions=count)
    last = data.draw(st.integers(1, count))
    run.to_position(last)
    run.done()
    minutes = 21_600 // ratio
    at = [round(Fraction(21_600 * place, count) - Fraction(1, 1000)) for place in range(count)]
    shows = at[data.draw(st.integers(0, count - 1))] % minutes
    found = locate_table(lathe, run.state, f"{shows // 60}d{shows % 60}m")
    fitting = [(number, set_at // minutes) for number, set_at in enumerate(at, start=1) if set_at % minutes == shows]
    words = next((line for line in found.more if re.search(r"\d \(\d", line)), "")
    named = [(int(one), int(turns)) for one, turns in re.findall(r"(\d+) \((\d+) turns?\)", words)]
    assert len(named) == min(len(fitting), 8) and set(named) <= set(fitting)
    assert (f"{len(fitting) - 8} more" in words) == (len(fitting) > 8)
    stood = at[last - 1]
    nearest = min((turn * minutes + shows for turn in range(-1, ratio + 1)), key=lambda place: abs(place - stood))
    if 2 * abs(nearest - stood) != minutes:
        assert f"{nearest % 21_600 // 60}°{nearest % 60:02}'" in figures(found.words)


def test_the_table_angles_one_dial_turn_short_of_and_past_the_position_are_shown() -> None:
    """24 divisions at 72:1 are three turns each. Five turns too few or too many fit no position.

    Three turns on is position 7.
    """
    run = by_dial(24)
    run.to_position(7)
    found = locate_table(run.lathe, run.state, "0-0")
    assert figures(found.words) == {"0°00'", "75°00'", "6", "24"}
    assert figures(found.more[0]) == {"70°00'", "80°00'"}
    assert {"6", "15", "16"} <= figures(found.more[1])
    assert {"75°00'", "7", "3", "0°00'"} <= figures(found.more[2])
    assert "75°00'" in figures(found.more[3])
    before = found.words
    run.undo()
    found = locate_table(run.lathe, run.state, "0-0")
    assert found.words != before and figures(found.words) == figures(before)


def test_no_table_position_is_called_the_likeliest_before_the_first_setting() -> None:
    """Before the table is set, all positions that fit are shown, and none is called the likeliest."""
    run = by_dial()
    found = locate_table(run.lathe, run.state, "0-0")
    assert figures(found.words) == {"0°00'"}
    assert {"1", "0", "2"} <= figures(found.more[0])


def test_a_rotary_table_with_a_dividing_plate_is_read_by_holes_during_a_cut() -> None:
    """At the pass of a position the table is still read by its holes."""
    run = by_plate(7, **DEEP)
    run.to_position(4)
    run.done()
    assert run.cursor.action == "cut"
    assert figures(locate_table(run.lathe, run.state, "17+3").words) == {"4", "7"}
    past, short = (locate_table(run.lathe, run.state, typed).words.partition(". ") for typed in ("12+1", "17+1"))
    assert "past" in past[0] and {"3", "7"} <= figures(past[0])
    assert figures(past[2]) == {"4", "5", "2", "21", "17", "3"}
    # The move is less than a turn, and the backlash is unknown.
    assert "short of" in short[0] and {"4", "7"} <= figures(short[0])
    assert figures(short[2]) == {"4", "1", "2", "21", "17", "3", "154°17'"}
    table = run.lathe.rotary_table
    assert table is not None
    step = step_at_table(run.state, table)
    assert step is not None and {"0", "20"} <= figures(reading_example(step, table))


def test_a_table_one_plate_turn_off_its_position_is_recognized_from_its_degree_scale() -> None:
    """Hole 3 of 21 is position 4 or any other turn. One turn is 9 degrees on the table's scale, which decides."""
    run = by_plate(7)
    run.to_position(5)
    found = locate_table(run.lathe, run.state, "3")
    assert figures(found.words) == {"3", "21", "154°17'", "4", "7"}
    assert figures(found.more[0]) == {"145°17'", "163°17'"}
    assert figures(found.more[1]) == {"4", "17"}
    assert {"3", "154"} <= figures(found.more[-1])
    assert figures(locate_table(run.lathe, run.state, "3 holes at 154 deg").words.partition(". ")[0]) == {"4", "7"}
    there, _, way = locate_table(run.lathe, run.state, "3 holes at 145 deg").words.partition(". ")
    assert "short of" in there and figures(there) == {"9°00'", "4", "7"} and {"5", "6", "15"} <= figures(way)
    run.undo()
    there, _, way = locate_table(run.lathe, run.state, "3 holes at 145 deg").words.partition(". ")
    assert "short of" in there and figures(there) == {"9°00'", "4", "7"} and {"4", "1", "21"} <= figures(way)
    run.done()
    there = locate_table(run.lathe, run.state, "145 deg").words.partition(". ")[0]
    assert "short of" in there and figures(there) == {"9°17'09\"", "4", "7"}
    assert figures(locate_table(run.lathe, run.state, "206 deg").words) == {"5", "7"}
    with pytest.raises(QuantityError):
        read_table_setting(run.lathe, run.cursor, "205 deg")


@pytest.mark.parametrize("typed", ["", "3-60", "17+21 holes", "left"])
def test_an_impossible_reading_of_the_rotary_table_is_refused(typed: str) -> None:
    """The refusal says what to enter instead."""
    dial, plate = by_dial(), by_plate(7)
    for run in (dial, plate):
        with pytest.raises(QuantityError):
            locate_table(run.lathe, run.state, typed)
