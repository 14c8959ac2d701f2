"""The counter counts moves from the table's current angle, whatever was skipped or repeated."""

import re
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.operations.dividing.plates import COMMON_PLATES
from core.plan import INNER_KEYS, figures_as_data
from core.run.table_reading import read_table_setting, sets_table
from core.values.errors import PlanError, QuantityError
from tests.core.counted import Counted, table_lathe
from tests.core.figures import figures
from tests.core.operations.dividing.rotary import pattern_keys

PLATES: dict[str, Any] = {"ratio": 40, "plates": [list(plate) for plate in COMMON_PLATES], "direct": [24]}
DEEP = {"depth": "2 mm", "cut": "1 mm", "depth_dial": "cross_slide"}
_ANGLE = re.compile(r"(\d+)°(\d+)'(?:(\d+)\")?")
_TURNS = re.compile(r"(\d+) turns?")


def by_dial(divisions: int = 36, **keys: Any) -> Counted:
    """Return a run on a 72:1 table that is set by its dial."""
    return Counted(table_lathe(), "divide", divisions=divisions, **keys)


def by_plate(divisions: int, **keys: Any) -> Counted:
    """Return a run on a 40:1 dividing head that is set by its plates."""
    return Counted(table_lathe(**PLATES), "divide", divisions=divisions, with_="plate", **keys)


def test_the_counter_shows_the_turns_from_the_last_position_before_the_count_from_zero() -> None:
    """The turns from the last position and the reading come first. The count from zero is next to them."""
    run = by_dial()
    run.to_position(17)
    view = run.view
    assert view.title == "17 of 36"
    assert figures(view.text) == {"17", "36", "2", "0°00'", "32", "160°00'"}
    assert view.dial is not None
    assert (figures(view.dial.turns), view.dial.number, view.dial.unit) == ({"2"}, "0°00'", "")
    assert "below" in view.dial.direction and figures(view.dial.absolute) == {"32", "160°00'"}
    assert figures(view.before) == {"16", "0°00'"}
    assert figures(view.coming[0]) == {"18", "0°00'"}


def test_the_move_past_a_skipped_position_is_the_sum_of_the_two_planned_moves() -> None:
    """5 is skipped. From 4 to 6 the move is four turns, not the two turns of the plan."""
    run = by_dial()
    run.to_position(5)
    run.skip()
    assert figures(run.view.text) >= {"6", "36", "4", "0°00'", "10", "50°00'"}


def test_all_turns_are_counted_on_the_way_to_a_repeated_position_and_back() -> None:
    """From 17 back to 3 it is 28 turns and more than the backlash. Then the table turns on to 17 again."""
    run = by_dial()
    run.to_position(17)
    run.again(3)
    assert figures(run.view.text) == {"3", "36", "26", "0°03'", "0°00'", "4", "20°00'"}
    run.done()
    assert figures(run.view.text) >= {"17", "28", "0°00'", "32"}


def test_repeating_the_current_position_leaves_the_table_where_it_is() -> None:
    """The table is at the position already, so the handle stays where it is."""
    run = by_dial(7)
    run.to_position(3)
    run.done()
    run.again(3)
    assert run.view.dial is not None and not figures(run.view.dial.turns)
    assert figures(run.view.text) >= {"3", "7", "2°52'", "21", "102°52'"}


def test_after_undo_moves_are_counted_from_the_present_angle_of_the_table() -> None:
    """The table is at 6 and three positions are undone. Position 3 is 6 turns back from there."""
    run = by_dial()
    run.to_position(7)
    for _ in range(3):
        run.undo()
    assert figures(run.view.text) == {"4", "36", "0°03'", "0°00'", "6", "30°00'"}
    (caution,) = run.view.cautions
    assert figures(caution) >= {"6", "50°00'"}
    run.done()
    assert figures(run.view.text) >= {"5", "36", "2"}
    assert run.view.cautions == ()


def test_after_undo_the_counter_does_not_claim_whether_the_position_is_still_set() -> None:
    """17 is undone. The table may be there, or the key was pressed too early."""
    run = by_dial()
    run.to_position(18)
    run.undo()
    assert figures(run.view.text) == {"17", "36", "0°00'", "32", "160°00'"}
    assert run.view.dial is not None and not figures(run.view.dial.turns)
    assert figures(run.view.cautions[0]) >= {"17", "160°00'"}


def test_after_undo_moves_are_counted_in_holes_or_notches() -> None:
    """From position 4, three positions back are 17 turns 3 holes of 21, or 9 notches."""
    run = by_plate(7)
    run.to_position(5)
    for _ in range(4):
        run.undo()
    assert figures(run.view.text) >= {"1", "7", "17", "3", "4", "21"}
    notches = Counted(table_lathe(**PLATES), "divide", divisions=8, with_="direct")
    notches.to_position(5)
    for _ in range(4):
        notches.undo()
    assert figures(notches.view.text) == {"1", "8", "0", "24", "0°00'", "9", "4"}
    for found in (run, notches):
        assert "4" in figures(found.view.cautions[0])


def test_planning_again_after_undo_counts_moves_from_the_present_angle_of_the_table() -> None:
    """3 is repeated from 17 and undone, so the table is at 3. The new plan no longer has the repeated step of 3."""
    run = by_dial(**DEEP)
    run.to_position(17)
    run.again(3)
    run.done()
    run.undo()
    run.undo()
    assert figures(run.view.text) >= {"17", "36", "28", "3", "0°00'", "32"}
    assert figures(run.view.cautions[0]) >= {"3", "20°00'"}
    run.again(3)
    run.done()
    run.again(3)
    run.revise("edited")
    assert run.view.dial is not None and not figures(run.view.dial.turns)
    assert figures(run.view.text) >= {"3", "36", "0°00'", "4"}


def test_undoing_an_entered_setting_keeps_the_present_angle_of_the_table() -> None:
    """The user entered 0°06'. Undo plans the step again. The table stays at its angle."""
    run = by_dial()
    run.to_position(17)
    position, shown = read_table_setting(run.lathe, run.cursor, "0d6m")
    run.revise("set", dial="rotary_table", position=str(position), shown=shown)
    run.undo()
    assert figures(run.view.text) >= {"17", "36", "0°03'", "0°00'"}


def test_if_finding_the_zero_is_skipped_moves_are_counted_from_zero() -> None:
    """Something moved, and the zero was skipped. Moves count from zero, and a caution says so."""
    run = by_dial()
    run.to_position(7)
    run.revise("moved")
    run.skip()
    assert figures(run.view.text) == {"7", "36", "0°00'", "12", "60°00'"}
    assert "60°00'" in figures(run.view.cautions[0])


def test_a_table_dial_with_falling_numbers_is_approached_from_above() -> None:
    """The reading counts down, so the handle comes from the other side."""
    run = by_dial(36, sense="falling")
    assert run.view.dial is not None and "above" in run.view.dial.direction
    run.to_position(3)
    assert figures(run.view.text) >= {"3", "36", "2", "0°00'"}
    assert run.view.dial is not None and "above" in run.view.dial.direction


def test_the_first_position_is_shown_as_zero_without_turns() -> None:
    """By dial: 0°00', no turns, from below. By plate: a hole of the circle."""
    view = by_dial().view
    assert view.dial is not None and (view.dial.number, view.dial.turns) == ("0°00'", "")
    run = by_plate(7)
    run.done()
    plate = run.view
    assert plate.dial is not None and plate.dial.number == "0"


def test_for_a_dividing_plate_the_large_text_counts_holes_from_the_last_position() -> None:
    """7 at 40:1 is 5 5/7 turns, so each move is 5 turns and 15 holes of 21."""
    run = by_plate(7)
    run.to_position(4)
    view = run.view
    assert figures(view.text) == {"4", "7", "5", "15", "21", "17", "3"}
    assert view.dial is not None
    assert (figures(view.dial.turns), view.dial.number, figures(view.dial.unit)) == ({"5"}, "15", {"21"})
    assert figures(view.dial.absolute) == {"17", "3", "154°17'"}


def test_a_move_of_whole_turns_by_dividing_plate_shows_no_holes() -> None:
    """8 at 40:1 is five whole turns."""
    run = by_plate(8)
    run.to_position(2)
    assert run.view.dial is not None
    assert run.view.dial is not None and run.view.dial.number == "5" and not figures(run.view.dial.turns)


def test_the_move_past_a_skipped_position_is_also_exact_on_two_hole_circles() -> None:
    """For 51 at 40:1, two steps are 80/51 turns. Two circles still give them exactly."""
    run = by_plate(51)
    run.to_position(4)
    run.skip()
    found = re.search(r"both circles: (.*)", run.view.text)
    assert found is not None
    parts = re.findall(r"(\d+) holes? (on|back) in the (\d+) circle", found[1])
    turns = re.search(r"(\d+) turn", found[1])
    total = Fraction(int(turns[1]) if turns else 0)
    for holes, way, circle in parts:
        total += Fraction(int(holes) * (1 if way == "on" else -1), int(circle))
    assert total == Fraction(80, 51)


def test_for_a_direct_index_plate_the_large_text_counts_notches_from_the_last_position() -> None:
    """With 24 notches and 8 positions, a move is three notches. After a skipped position it is six."""
    run = Counted(table_lathe(**PLATES), "divide", divisions=8, with_="direct")
    run.to_position(4)
    assert figures(run.view.text) == {"4", "8", "9", "24", "135°00'", "3"}
    assert run.view.dial is not None and run.view.dial.number == "3"
    run.skip()
    assert figures(run.view.text) == {"5", "8", "12", "24", "180°00'", "6"}


def test_the_step_of_a_cut_shows_its_position_and_the_dial_for_the_depth() -> None:
    """The title of the pass has the number of the position. The dial is the slide's."""
    run = by_dial(3, **DEEP)
    run.to_position(2)
    run.done()
    assert figures(run.view.title) == {"2", "3", "6"}
    assert run.view.dial is not None and run.view.dial.name == "cross-slide"


def test_every_position_of_a_layer_is_shown_with_the_offset_of_the_layer() -> None:
    """The offset of the layer is shown next to every position."""
    layer = {"count": 4, "offset": "20 mm", "circle_radius": "3 mm", "depth": "0.5 mm"}
    run = Counted(table_lathe(), "pattern", **pattern_keys(layer))
    run.to_position(2)
    assert figures(run.view.title) == {"1", "2", "4"}
    assert figures(run.view.text) >= {"1", "2", "4", "18"}
    assert any("10" in figures(line) for line in run.view.also)


class Handle:
    """A simulated handle that follows the words and turns a table, written without the program's own code."""

    def __init__(self, ratio: int) -> None:
        self.per_turn = Fraction(360, ratio)
        self.stands_deg = Fraction(0)

    def follow(self, words: str) -> None:
        """Turn as the words say. The count in brackets matters only if a move counts from zero."""
        said, _, absolute = words.partition(": ")[2].replace(" (0°03')", "").partition(" (")
        reading = angle_deg(said)
        turns = _TURNS.search(said)
        if turns is not None:
            whole = int(turns[1]) * self.per_turn
            self.stands_deg += -whole if said.startswith("turn back") else whole
        if said.startswith("up to"):
            turn = re.match(r"the (\d+)", absolute)
            self.stands_deg = (int(turn[1]) - 1) * self.per_turn if turn else Fraction(0)
            self.stands_deg += reading or (self.per_turn if turn else 0)
        elif said.startswith("turn back"):
            # Go past the reading by more than the backlash, then up to it: the next such reading below.
            self.stands_deg -= (self.stands_deg - reading) % self.per_turn
        else:
            self.stands_deg += (reading - self.stands_deg) % self.per_turn


def angle_deg(words: str) -> Fraction:
    """Return the last angle in some words [deg]."""
    degrees, minutes, seconds = (int(part or 0) for part in _ANGLE.findall(words)[-1])
    return degrees + Fraction(minutes, 60) + Fraction(seconds, 3600)


@settings(deadline=None, max_examples=40, derandomize=True)
@given(st.sampled_from((36, 40, 72, 90)), st.integers(2, 40), st.data())
def test_a_handle_turned_as_the_steps_say_reaches_every_position(ratio: int, count: int, data: st.DataObject) -> None:
    """Positions are done, skipped and repeated at random. The simulated table is always at the right angle."""
    run = Counted(table_lathe(ratio=ratio, dial_graduation="1 arcmin", backlash="3 arcmin"), "divide", divisions=count)
    handle, gone = Handle(ratio), [0]
    run.done()
    for move in data.draw(st.lists(st.sampled_from(("done", "done", "done", "skip", "again")), max_size=25)):
        if run.cursor.action != "index":
            break
        number = run.cursor.at.position
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


def test_a_dial_setting_that_differs_from_the_plan_changes_only_the_next_move() -> None:
    """17 is set to 0°06'. The setting stays with its error shown. The next move counts from this setting."""
    run = by_dial(radius="50 mm")
    run.to_position(17)
    position, shown = read_table_setting(run.lathe, run.cursor, "0d6m")
    assert position == 160 + Fraction(1, 10)
    run.revise("set", dial="rotary_table", position=str(position), shown=shown)
    view = run.view
    assert figures(view.text) == {"17", "36", "0°06'"}
    assert figures(view.title) == {"17", "36"}
    # 6 minutes are 0.0017453 radians, or 0.087 mm at 50 mm.
    assert figures(view.findings[0]) == {"0°06'", "0.087"}
    assert "0°03'" in figures(view.cautions[0])
    run.done()
    assert figures(run.view.text) >= {"18", "36", "1", "0°00'", "34", "170°00'"}


def test_a_dial_set_short_of_the_reading_gets_no_advice_to_turn_back() -> None:
    """The handle goes on from a setting that is too low."""
    run = by_dial()
    run.to_position(17)
    position, shown = read_table_setting(run.lathe, run.cursor, "4-54")
    assert position == 160 - Fraction(1, 10)
    run.revise("set", dial="rotary_table", position=str(position), shown=shown)
    assert len(run.view.findings) == 1 and run.view.cautions == ()


def test_a_hole_that_differs_from_the_plan_changes_only_the_next_move() -> None:
    """One hole too far is kept and shown. The next move is one hole shorter. A hole of 21 is 25'43" at 40:1."""
    run = by_plate(7)
    run.to_position(4)
    position, shown = read_table_setting(run.lathe, run.cursor, "4 holes")
    run.revise("set", dial="rotary_table", position=str(position), shown=shown)
    assert figures(run.view.text) == {"4", "7", "17", "21"}
    assert figures(run.view.findings[0]) == {"1", "0°25'43\""}
    run.done()
    assert figures(run.view.text) >= {"5", "7", "14"}


def test_a_wrongly_entered_setting_can_be_corrected() -> None:
    """The user enters one hole too far, then the planned hole. The error and the advice to go back disappear."""
    run = by_plate(7)
    run.to_position(4)
    planned, _ = read_table_setting(run.lathe, run.cursor, "3 holes")
    for typed in ("4 holes", "3 holes"):
        position, shown = read_table_setting(run.lathe, run.cursor, typed)
        run.revise("set", dial="rotary_table", position=str(position), shown=shown)
    assert position == planned
    assert run.view.text.count("as set") == 1 and run.view.title.count("as set") <= 1
    assert run.view.findings == () and run.view.cautions == ()


def test_a_notch_that_differs_from_the_plan_changes_only_the_next_move() -> None:
    """The plate is set one notch short. The next move is one notch longer."""
    run = Counted(table_lathe(**PLATES), "divide", divisions=8, with_="direct")
    run.to_position(4)
    position, shown = read_table_setting(run.lathe, run.cursor, "8")
    assert position == 120
    run.revise("set", dial="rotary_table", position=str(position), shown=shown)
    assert figures(run.view.text) == {"4", "8", "24"}
    run.done()
    assert figures(run.view.text) == {"5", "8", "12", "24", "180°00'", "4"}


def test_a_step_without_a_setting_cannot_be_set_differently() -> None:
    """Neither the step of the table's zero nor the last check can be set differently."""
    run = by_dial()
    assert not sets_table(run.lathe, run.cursor)
    with pytest.raises(QuantityError):
        read_table_setting(run.lathe, run.state.steps[-1], "0d6m")
    with pytest.raises(PlanError):
        run.revise("set", dial="rotary_table", position="1", shown="1")


@pytest.mark.parametrize("cause", ["moved", "measured", "set"])
def test_old_runs_whose_log_holds_step_numbers_and_shifts_together_can_be_continued(cause: str) -> None:
    """The open steps are planned alike, whether the log holds numbers and shifts together or apart."""
    told = {"moved": {}, "measured": {"depth_mm": 0.9}, "set": {"dial": "cross_slide", "position": "2.05"}}[cause]
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


def test_the_number_of_a_step_is_the_only_figure_that_cards_hide() -> None:
    """Cards do not show this number. It serves planning again only."""
    run = by_dial(3, **DEEP)
    inner = set().union(*(figures_as_data(step) for step in run.state.steps)) & INNER_KEYS
    assert inner == {"pattern_step"}


def _with_both_circles(run: Counted) -> bool:
    """Return whether the counter gives a movement on two circles."""
    return len(set(re.findall(r"(\d+) circle", run.view.text))) > 1


def test_after_a_wrong_hole_no_movement_on_two_hole_circles_is_offered() -> None:
    """For 51 at 40:1 with one hole too many, no movement on two circles is exact."""
    run = by_plate(51)
    run.to_position(4)
    assert _with_both_circles(run)
    position, shown = read_table_setting(run.lathe, run.cursor, "2+18")
    run.revise("set", dial="rotary_table", position=str(position), shown=shown)
    run.done()
    assert figures(run.view.text) >= {"5", "51"} and not _with_both_circles(run)
    run.done()
    assert _with_both_circles(run)
