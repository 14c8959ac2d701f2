"""The counter at the rotary table: told from where it stands, whatever was skipped, repeated or set otherwise."""

import re
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.errors import PlanError, QuantityError
from core.indexing.by_plate import COMMON_PLATES
from core.plan import INNER_KEYS
from core.table_reading import reading_example, set_place, sets_table, step_at_table, where_is_it
from tests.core.counted import Counted, table_lathe

PLATES: dict[str, Any] = {"ratio": 40, "plates": [list(plate) for plate in COMMON_PLATES], "direct": [24]}
DEEP = {"depth": "2 mm", "cut": "1 mm", "depth_dial": "cross_slide"}
_ANGLE = re.compile(r"(\d+)°(\d+)'(?:(\d+)\")?")
_TURNS = re.compile(r"(\d+) turns?")


def by_dial(divisions: int = 36, **keys: Any) -> Counted:
    """Return a run by the dial of a 72:1 table."""
    return Counted(table_lathe(), "index", divisions=divisions, **keys)


def by_plate(divisions: int, **keys: Any) -> Counted:
    """Return a run by the plates of a 40:1 head."""
    return Counted(table_lathe(**PLATES), "index", divisions=divisions, with_="plate", **keys)


def test_seventeen_of_thirty_six() -> None:
    """What matters is said first: turns from the last one, and the reading; the absolute place beside it."""
    run = by_dial()
    run.to_position(17)
    view = run.view
    assert view.title == "17 of 36"
    assert view.text == "17 of 36: 2 turns on from the last, stop at 0°00' (the 32nd turn, 160°00'), from below"
    assert view.dial is not None
    assert (view.dial.turns, view.dial.number, view.dial.unit) == ("2 turns on from the last, stop at", "0°00'", "")
    assert (view.dial.direction, view.dial.absolute) == ("from below", "the 32nd turn, 160°00'")
    assert view.before == "position 16 at 0°00'"
    assert view.coming[0] == "position 18 at 0°00'"


def test_a_position_left_out_counts_in_the_move() -> None:
    """5 is left out: from 4 to 6 it is four turns; the plan's own two would stop at the wrong turn of the handle."""
    run = by_dial()
    run.to_position(5)
    run.skip()
    assert run.view.text.startswith("6 of 36: 4 turns on from the last, stop at 0°00' (the 10th turn, 50°00')")


def test_a_position_repeated_and_the_way_back_from_it() -> None:
    """From 17 back to 3 it is 28 turns and more than the play; then on to 17 once more."""
    run = by_dial()
    run.to_position(17)
    run.again(3)
    assert run.view.text == (
        "3 of 36: back 26 turns and past it by more than the play (0°03'), then up to 0°00' (the 4th turn, 20°00'), "
        "from below"
    )
    run.done()
    assert run.view.text.startswith("17 of 36: 28 turns on from the last, stop at 0°00' (the 32nd turn")


def test_the_same_position_again_stays_as_it_is() -> None:
    """Repeated at once, nothing is turned."""
    run = by_dial(7)
    run.to_position(3)
    run.done()
    run.again(3)
    assert run.view.text.startswith("3 of 7: as it stands, at 2°52' (the 21st turn, 102°52')")


def test_taken_back_is_told_from_the_one_before() -> None:
    """17 taken back: it is reached from 16 once more."""
    run = by_dial()
    run.to_position(18)
    run.take_back()
    assert run.view.text.startswith("17 of 36: 2 turns on from the last")


def test_falling_goes_down_and_comes_from_above() -> None:
    """The other sense has its own side."""
    run = by_dial(36, sense="falling")
    assert run.view.dial is not None and run.view.dial.direction == "from above"
    run.to_position(3)
    assert run.view.text.startswith("3 of 36: 2 turns down from the last, stop at 0°00'")
    assert run.view.text.endswith("from above")


def test_the_zero_is_shown_as_a_zero() -> None:
    """The first step: 0°00', no turns, from below; by plate a hole of its circle."""
    view = by_dial().view
    assert view.title == "Table to zero"
    assert view.dial is not None and (view.dial.number, view.dial.turns) == ("0°00'", "")
    plate = by_plate(7).view
    assert plate.dial is not None and plate.dial.number == "0"


def test_by_plate_the_holes_from_the_last_are_the_number() -> None:
    """7 at 40:1 is 5 5/7 turns: 5 turns and 15 holes of 21 from one to the next."""
    run = by_plate(7)
    run.to_position(4)
    view = run.view
    assert view.text == (
        "4 of 7: 5 turns and 15 holes on from the last, in the 21 circle (17 turns and 3 holes from zero)"
    )
    assert view.dial is not None
    assert (view.dial.turns, view.dial.number) == ("5 turns on from the last, then", "15")
    assert view.dial.unit == "holes on in the 21 circle"
    assert view.dial.absolute == "17 turns and 3 holes from zero"


def test_whole_turns_by_plate_are_counted_as_turns() -> None:
    """8 at 40:1 is five whole turns; no hole is counted."""
    run = by_plate(8)
    run.to_position(2)
    assert run.view.dial is not None
    assert (run.view.dial.number, run.view.dial.unit.split(" in ")[0]) == ("5", "whole turns on")


def test_both_circles_together_after_a_position_left_out() -> None:
    """51 at 40:1: two steps at once are 80/51 turns, which two circles still give exactly."""
    run = by_plate(51)
    run.to_position(4)
    run.skip()
    found = re.search(r"exact with both circles: (.*)", run.view.text)
    assert found is not None
    parts = re.findall(r"(\d+) holes? (on|back) in the (\d+) circle", found[1])
    turns = re.search(r"(\d+) turn", found[1])
    total = Fraction(int(turns[1]) if turns else 0)
    for holes, way, circle in parts:
        total += Fraction(int(holes) * (1 if way == "on" else -1), int(circle))
    assert total == Fraction(80, 51)


def test_direct_counts_notches_from_the_last() -> None:
    """24 notches, 8 positions: three on; after one left out six."""
    run = Counted(table_lathe(**PLATES), "index", divisions=8, with_="direct")
    run.to_position(4)
    assert run.view.text == "4 of 8: notch 9 of 24 (135°00'), 3 from the last"
    assert run.view.dial is not None
    assert (run.view.dial.number, run.view.dial.unit) == ("3", "notches on from the last")
    run.skip()
    assert run.view.text == "5 of 8: notch 12 of 24 (180°00'), 6 from the last"


def test_a_cut_says_which_position_it_is_at() -> None:
    """The pass of a position has its number in the title, and the slide as its dial."""
    run = by_dial(3, **DEEP)
    run.to_position(2)
    run.done()
    assert run.view.title == "2 of 3, pass 2 of 6"
    assert run.view.dial is not None and run.view.dial.name == "cross-slide"


def test_a_ring_shows_what_holds_meanwhile() -> None:
    """The offset of the ring stands beside every position."""
    ring = {"count": 4, "offset": "20 mm", "cutter_radius": "3 mm", "depth": "0.5 mm"}
    run = Counted(table_lathe(), "rings", depth_dial="cross_slide", ring=[ring])
    run.to_position(2)
    assert run.view.title == "Ring 1: 2 of 4"
    assert run.view.text.startswith("Ring 1, 2 of 4: 18 turns on from the last")
    assert any(line.startswith("cross-slide at 10 turns") for line in run.view.also)


class Handle:
    """A handle that is turned as the words say, and the table that it turns: written without the program's own code."""

    def __init__(self, ratio: int) -> None:
        self.per_turn = Fraction(360, ratio)
        self.stands_deg = Fraction(0)

    def follow(self, words: str) -> None:
        """Turn as the words say; what stands in brackets is looked at only where all is told from zero."""
        said, _, absolute = words.partition(": ")[2].replace(" (0°03')", "").partition(" (")
        reading = angle_deg(said)
        turns = _TURNS.search(said)
        if turns is not None:
            whole = int(turns[1]) * self.per_turn
            self.stands_deg += -whole if said.startswith("back") else whole
        if said.startswith("up to"):
            turn = re.match(r"the (\d+)", absolute)
            self.stands_deg = (int(turn[1]) - 1) * self.per_turn if turn else Fraction(0)
            self.stands_deg += reading or (self.per_turn if turn else 0)
        elif said.startswith("back"):
            # Past it by more than the play, and up to it: the next such reading below.
            self.stands_deg -= (self.stands_deg - reading) % self.per_turn
        else:
            self.stands_deg += (reading - self.stands_deg) % self.per_turn


def angle_deg(words: str) -> Fraction:
    """Return the last angle in some words [deg]."""
    degrees, minutes, seconds = (int(part or 0) for part in _ANGLE.findall(words)[-1])
    return degrees + Fraction(minutes, 60) + Fraction(seconds, 3600)


@settings(deadline=None, max_examples=40, derandomize=True)
@given(st.sampled_from((36, 40, 72, 90)), st.integers(2, 40), st.data())
def test_a_handle_turned_as_told_stands_at_every_position(ratio: int, count: int, data: st.DataObject) -> None:
    """Positions are done, left out and repeated as it comes; the handle follows the words and the table is right."""
    run = Counted(table_lathe(ratio=ratio, dial_graduation="1 arcmin", backlash="3 arcmin"), "index", divisions=count)
    handle, gone = Handle(ratio), [0]
    run.done()
    for move in data.draw(st.lists(st.sampled_from(("done", "done", "done", "skip", "again")), max_size=25)):
        if run.cursor.action != "index":
            break
        number = run.cursor.extra["position"]
        if move == "again" and len(gone) > 1:
            chosen = data.draw(st.sampled_from(gone[1:]))
            if chosen != number:
                run.again(chosen)
        elif move == "skip":
            run.skip()
        else:
            handle.follow(run.view.text)
            off_deg = (handle.stands_deg - Fraction(360 * (number - 1), count) + 180) % 360 - 180
            assert abs(off_deg) <= Fraction(1, 120)
            run.done()
            gone.append(number)


def test_set_otherwise_on_the_dial() -> None:
    """17 was set to 0°06': kept as it is, said how far off, and the next move counts from there."""
    run = by_dial(radius="50 mm")
    run.to_position(17)
    position, shown = set_place(run.lathe, run.cursor, "0d6m")
    assert position == 160 + Fraction(1, 10)
    run.revise("set", dial="rotary_table", position=str(position), shown=shown)
    view = run.view
    assert view.text == "17 of 36, as set: 0°06'"
    assert view.title == "17 of 36"
    # 6 minutes are 0.0017453 radians: 0.087 mm at 50 mm.
    assert view.cautions[0] == (
        'This position is off by 360", 0.087 mm at the work. The others are counted from zero and stay right.'
    )
    assert view.cautions[1].startswith("Not cut yet? Gone past: go back by more than the play (0°03')")
    run.done()
    assert run.view.text.startswith("18 of 36: 1 turn on from the last, then on to 0°00' (the 34th turn, 170°00')")


def test_set_short_on_the_dial_needs_no_way_back() -> None:
    """Short of the reading nothing has to be taken back."""
    run = by_dial()
    run.to_position(17)
    position, shown = set_place(run.lathe, run.cursor, "4-54")
    assert position == 160 - Fraction(1, 10)
    run.revise("set", dial="rotary_table", position=str(position), shown=shown)
    assert not any("Gone past" in caution for caution in run.view.cautions)


def test_set_otherwise_by_plate() -> None:
    """One hole too far: kept, told, and the next move is one hole shorter; a hole of 21 is 1543 seconds at 40:1."""
    run = by_plate(7)
    run.to_position(4)
    position, shown = set_place(run.lathe, run.cursor, "4 holes")
    run.revise("set", dial="rotary_table", position=str(position), shown=shown)
    assert run.view.text == "4 of 7, as set: 17 turns and 4 holes from zero in the 21 circle"
    assert 'This position is off by 1542.9"' in run.view.cautions[0]
    run.done()
    assert run.view.text.startswith("5 of 7: 5 turns and 14 holes on from the last")


def test_set_otherwise_by_notches() -> None:
    """One notch too few."""
    run = Counted(table_lathe(**PLATES), "index", divisions=8, with_="direct")
    run.to_position(4)
    position, shown = set_place(run.lathe, run.cursor, "8")
    assert position == 120
    run.revise("set", dial="rotary_table", position=str(position), shown=shown)
    assert run.view.text == "4 of 8, as set: notch 8 of 24"
    run.done()
    assert run.view.text == "5 of 8: notch 12 of 24 (180°00'), 4 from the last"


def test_what_is_next_must_be_set_at_all() -> None:
    """Neither the table's zero nor the last look can be set differently."""
    run = by_dial()
    assert not sets_table(run.lathe, run.cursor)
    with pytest.raises(QuantityError, match="does not turn the table"):
        set_place(run.lathe, run.state.steps[-1], "0d6m")
    with pytest.raises(PlanError, match="sets neither a depth nor the table"):
        run.revise("set", dial="rotary_table", position="1", shown="1")


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("160-0", "that is position 17 of 36"),
        ("32 turns 0-0", "that is position 17 of 36"),
        ("32+0-0", "that is position 17 of 36"),
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
        ("0-4", "0°04' past positions 17, 16, 18"),
        (
            "355-0",
            "5°00' short of position 1 of 36. To position 17: 33 turns on from there, stop at 0°00' (the 32nd turn,"
            " 160°00'), from below.",
        ),
        ("0-0", "that is positions 17, 16, 18"),
    ],
)
def test_where_am_i_at_seventeen(typed: str, said: str) -> None:
    """The table's own degrees or turns from zero tell the position; the reading alone cannot, and says so."""
    run = by_dial()
    run.to_position(17)
    words = where_is_it(run.lathe, run.state, typed)
    assert words.startswith(said)
    assert ("type the whole turns too" in words) == (typed in {"0-0", "0-4"})


def test_where_am_i_while_cutting_by_plate() -> None:
    """At the pass of a position the table is still read by its holes."""
    run = by_plate(7, **DEEP)
    run.to_position(4)
    run.done()
    assert run.cursor.action == "cut"
    assert where_is_it(run.lathe, run.state, "17+3") == "that is position 4 of 7"
    way = "To position 4: 5 turns and 2 holes on from there, in the 21 circle (17 turns and 3 holes from zero)."
    assert where_is_it(run.lathe, run.state, "12+1").endswith(f"past position 3 of 7. {way}")
    # Less than a turn, and nothing is told of the play.
    way = "To position 4: back by more than the play, then up to 17 turns and 3 holes from zero."
    assert where_is_it(run.lathe, run.state, "17+1").endswith(f"short of position 4 of 7. {way}")
    assert "only the whole turns tell" in where_is_it(run.lathe, run.state, "9")
    table = run.lathe.rotary_table
    assert table is not None
    step = step_at_table(run.state, table)
    assert step is not None and "from 0 to 20" in reading_example(step, table)


@pytest.mark.parametrize("typed", ["", "3-60", "17+21 holes", "left"])
def test_readings_that_no_table_shows(typed: str) -> None:
    """Refused with what is accepted."""
    dial, plate = by_dial(), by_plate(7)
    for run in (dial, plate):
        with pytest.raises(QuantityError):
            where_is_it(run.lathe, run.state, typed)


@pytest.mark.parametrize("cause", ["moved", "measured", "set"])
def test_runs_whose_log_tells_number_and_shift_in_one_go_on(cause: str) -> None:
    """What is left is planned alike, whichever way the log tells the steps' numbers."""
    told = {"moved": {}, "measured": {"depth_mm": 0.9}, "set": {"position": "2.05"}}[cause]
    found = []
    for older in (False, True):
        run = by_dial(3, **DEEP)
        run.to_position(2)
        run.done()
        run.done()
        run.revise("measured", depth_mm=0.95)
        run.done()
        if older:
            run.as_an_older_program_logged_it()
        if cause == "measured":
            run.done()
        run.revise(cause, **told)
        found.append([(step.action, step.text, step.settings) for step in run.state.open_steps()])
    assert found[0] == found[1]
    assert len(found[0]) > 3


def test_numbers_within_a_pattern_are_not_printed() -> None:
    """They serve planning again only."""
    run = by_dial(3, **DEEP)
    inner = set().union(*(step.extra for step in run.state.steps)) & INNER_KEYS
    assert inner == {"pattern_step"}


def test_from_a_hole_taken_otherwise_no_movement_is_exact() -> None:
    """51 at 40:1 with one hole too many: from there two circles lead nowhere exactly, and nothing of them is said."""
    run = by_plate(51)
    run.to_position(4)
    assert "exact with both circles" in run.view.text
    position, shown = set_place(run.lathe, run.cursor, "2+18")
    run.revise("set", dial="rotary_table", position=str(position), shown=shown)
    run.done()
    assert run.view.text.startswith("5 of 51:") and "exact with both circles" not in run.view.text
    run.done()
    assert "exact with both circles" in run.view.text
