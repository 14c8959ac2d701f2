"""The steps in DEVELOPERS.md are enough to add an operation, a unit, a caution or a form of thread."""

from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from core.conversion import units
from core.conversion.answers import as_data
from core.conversion.convert import convert
from core.data import read_table
from core.jobs.job import read_job
from core.lathe.reader import example_lathe
from core.operations.registry import OPERATIONS, Kind
from core.operations.threads import designation
from core.operations.threads.profiles import Diameters, thread_of, whitworth_form
from core.operations.threads.thread import Thread
from core.pages.card_page import card_text
from tests.conftest import MakeApp
from tests.how_to_add.knurling import LIFT_FIRST
from tests.tui.counters import logged, press, read_and_start
from tests.tui.made_up import fill, opened
from tui.board.job_actions import screen_for
from tui.counter.screen import CounterScreen

KNURL = Kind("knurl", "Knurl", "pressed in by the cross-slide", "tests.how_to_add.knurling:KNURL", short="a knurl")
JOB = 'format = 1\ntitle = "Knob"\n[[operation]]\nkind = "knurl"\nname = "Grip"\ndepth = "0.4 mm"\npasses = 3\n'


@pytest.fixture(autouse=True)
def knurl(monkeypatch: pytest.MonkeyPatch) -> None:
    """Add the new operation to the registry for one test."""
    monkeypatch.setitem(OPERATIONS, "knurl", KNURL)  # type: ignore[arg-type]


def test_the_card_shows_the_figure_and_caution_of_a_newly_registered_operation(tmp_path: Path) -> None:
    """The operation needs only its module and an entry in the registry."""
    path = tmp_path / "job.toml"
    path.write_text(JOB)
    text = card_text(read_job(path))
    assert "Grip" in text and "depth of the knurl" in text
    assert text.count(LIFT_FIRST) == 1


async def test_a_newly_registered_operation_can_be_entered_and_counted_on_the_screen(make: MakeApp) -> None:
    """The form, the question before the run, the counter and the log use only the operation's declaration."""
    screen = screen_for("knurl")
    assert screen is not None
    async with opened(make, screen) as (pilot, _):
        await fill(pilot, "depth", "0.4")
        await fill(pilot, "passes", "3")
        screen.action_start()
        await read_and_start(pilot)
        assert isinstance(pilot.app.screen, CounterScreen)
        for _ in range(3):
            await press(pilot, "space")
        state = logged(pilot.app)
        assert [step.action for step in state.steps] == ["cut"] * 3 and state.cursor is None


def test_adding_a_row_to_the_table_of_units_adds_a_unit(monkeypatch: pytest.MonkeyPatch) -> None:
    """The unit is the barleycorn, a third of an inch (British customary measure, from memory)."""
    row = {"name": "barleycorn", "number": str(Fraction(254, 30)), "unit": "mm", "source": "from memory"}
    monkeypatch.setattr(units, "read_table", lambda name: [*read_table(name), row] if name == "units" else [])
    units._rows_by_name.cache_clear()
    try:
        assert as_data(convert("3 barleycorn", example_lathe()))["mm"] == 25.4
    finally:
        units._rows_by_name.cache_clear()


def test_adding_a_reader_of_thread_designations_adds_a_form_of_thread(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """The thread is the model engineers' 1/4 x 40.

    It has the Whitworth form (common practice, no source), so its depth is 0.640327 of the pitch.
    """

    def read_model(text: str, side: str | None) -> Thread | None:
        if text != "ME 1/4":
            return None
        pitch, major = Fraction(254, 400), Fraction(254, 40)
        depth = Fraction(640327, 10**6) * pitch
        return thread_of(
            whitworth_form(float(pitch)),
            Diameters(major, major - depth, major - 2 * depth),
            pitch=pitch,
            designation=text,
            system="whitworth",
            internal=side == "inside",
        )

    readers = designation._readers
    monkeypatch.setattr(designation, "_readers", lambda: iter((read_model, *readers())))
    path = tmp_path / "job.toml"
    path.write_text('format = 1\ntitle = "Valve"\n[[operation]]\nkind = "thread"\nname = "Gland"\nthread = "ME 1/4"\n')
    figures: dict[str, Any] = dict(read_job(path).operations[0].plan.figures)
    assert figures["pitch_mm"] == 0.635
    assert figures["depth_mm"] > 0.640327 * 0.635  # a sharp tool goes deeper than the rounded root
