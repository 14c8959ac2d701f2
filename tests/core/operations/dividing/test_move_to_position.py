"""The words for a move lead a simulated handle from the table's current angle to the position asked for."""

import re

import pytest

from core.run.table_reading import locate_table
from tests.core.counted import Counted, table_lathe
from tests.core.figures import figures
from tests.core.operations.dividing.test_table_counter import PLATES, by_dial


@pytest.mark.parametrize("sense", ["rising", "falling"])
@pytest.mark.parametrize("stands_deg", [0.0, 3.5, 72.1, 119.0, 161.9, 198.4, 284.5, 357.3])
def test_following_the_described_move_brings_the_table_to_the_position(sense: str, stands_deg: float) -> None:
    """A handle with 5° to one turn follows the words. The handle ends at the right angle with the backlash taken up."""
    run = by_dial(36, sense=sense)
    run.to_position(12)
    sign, wanted_deg = (-1, 250.0) if sense == "falling" else (1, 110.0)
    text = locate_table(run.lathe, run.state, f"{stands_deg:g} deg" if stands_deg >= 5 else f"0+{stands_deg:g} deg")
    way = text.words.partition("To position 12: ")[2]
    shown = re.search(r"to (\d+)°(\d+)'|stop at (\d+)°(\d+)'", way)
    assert way and shown
    degrees, minutes = (int(part) for part in shown.groups() if part is not None)
    reading_deg, turns = degrees + minutes / 60, re.search(r"(\d+) turns?\b", way)
    goes_on = " on " in way or " turn down " in way[:24]
    at_deg = stands_deg + sign * 5 * int(turns[1] if turns else 0) * (1 if goes_on else -1)
    if "past it" in way:
        at_deg = at_deg - 5 * sign
    # Turn on, or back up again, to the next angle at which the dial shows that reading.
    at_deg += sign * ((sign * (reading_deg - at_deg)) % 5)
    assert at_deg % 360 == pytest.approx(wanted_deg, abs=0.02)


def test_the_move_to_a_position_is_described_for_notches_and_for_dials_whose_numbers_fall() -> None:
    """Notches count from a full turn. On a falling dial a lower reading is past the position."""
    run = Counted(table_lathe(**PLATES), "divide", divisions=8, with_="direct")
    run.to_position(3)
    there, way = locate_table(run.lathe, run.state, "9").words.split(". ")
    assert figures(there) == {"4", "8"} and figures(way) == {"3", "6", "24", "90°00'"}
    falling = by_dial(36, sense="falling")
    falling.to_position(3)
    short, past = (locate_table(falling.lathe, falling.state, typed).words for typed in ("340-4", "339-56"))
    assert "short of" in short and figures(short.partition(". ")[0]) == {"0°04'", "3", "36"}
    assert "past position" in past and {"0°03'", "0°00'"} <= figures(past.partition(". ")[2])
