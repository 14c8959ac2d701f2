"""Work put back on the table: every later plan uses the new position of the work until the entry is undone."""

import cmath
import math

import pytest

from core.inputs import Moved, PutBack
from core.run.event_words import event_words
from tests.core.counted import TABLE, Counted, table_lathe
from tests.core.figures import figures
from tests.core.operations.dividing.rotary import pattern_keys

LAYER = {"count": 6, "offset": "20 mm", "circle_radius": "5 mm"}
SHIFT, TURN = (0.5, -0.25), 12.0


def places(run: Counted) -> list[complex]:
    """Return the settings of slide and table for the open positions, on the table [mm]."""
    found = []
    for step in run.state.open_steps():
        if step.action == "index":
            table, slide = step.setting("rotary_table"), step.setting("cross_slide")
            assert table is not None and slide is not None
            # The slide's dial reads diameter.
            found.append(float(slide.position) / 2 * cmath.exp(1j * math.radians(float(table.position))))
    return found


def run_of() -> Counted:
    """Return a run at the fourth of six circles."""
    run = Counted(table_lathe(), "pattern", **pattern_keys(LAYER))
    run.to_position(4)
    return run


def moved() -> list[complex]:
    """Return the expected settings of the last three circles: 180, 240, 300 deg at 20 mm, turned and shifted."""
    on_work = [20 * cmath.exp(1j * math.radians(angle)) for angle in (180, 240, 300)]
    return [place * cmath.exp(1j * math.radians(TURN)) + complex(*SHIFT) for place in on_work]


def test_the_settings_of_the_remaining_positions_fit_the_work_as_it_was_put_back() -> None:
    """Every setting agrees within half a mark of slide (0.0125 mm) and table (1 minute of arc)."""
    run = run_of()
    run.tell(PutBack(SHIFT, TURN))
    assert [abs(one - other) < 0.02 for one, other in zip(places(run), moved(), strict=True)] == [True] * 3


def test_later_plans_apply_the_shift_of_put_back_work_until_the_put_back_is_undone() -> None:
    """After a move the settings stay. After both entries are undone, the settings are those of the plan."""
    run = run_of()
    before = places(run)
    run.tell(PutBack(SHIFT, TURN))
    after = places(run)
    run.tell(Moved())
    assert places(run) == pytest.approx(after)
    run.undo()
    run.undo()
    assert places(run) == before


def test_the_log_states_how_far_put_back_work_was_shifted_and_turned() -> None:
    """The words of the event hold shift and turn."""
    run = run_of()
    run.tell(PutBack(SHIFT, TURN))
    words = event_words(run.state.last, run.state, run.lathe)
    assert {"0.5", "12"} <= figures(words) and "0.25" in words


def test_after_work_is_put_back_the_next_step_states_the_table_angle_of_the_works_zero() -> None:
    """The work's 0 is at 12 deg of the table. On a table whose numbers rise the other way, it is at 348 deg."""
    run = run_of()
    run.tell(PutBack(SHIFT, TURN))
    (finding,) = run.cursor.findings
    assert "12°" in figures(finding)
    run = Counted(table_lathe(**TABLE, numbers_rise="anticlockwise"), "pattern", **pattern_keys(LAYER))
    run.to_position(4)
    run.tell(PutBack(SHIFT, TURN))
    assert "348°" in figures(run.cursor.findings[0])
