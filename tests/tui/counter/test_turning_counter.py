"""The counter's questions about turning and facing, by real keys: the numbers in which a size is measured."""

from pathlib import Path

import pytest

from tests.conftest import MakeApp
from tests.tui.counters import Opening, at_first_measurement, logged, press
from tests.tui.painted import painted

FACING = """format = 1
title = "Plate of the dial"
[[operation]]
kind = "face"
name = "Face to length"
dial = "carriage"
from = "{start}"
to = "{end}"
cut = "2 mm"
finish = "0.5 mm"
"""


@pytest.mark.parametrize(
    ("start", "end", "typed", "left_mm"),
    [("5 mm", "9 mm", "7", 2.0), ("4 mm", "0 mm", "0.5", 0.5), ("1 mm", "-1 mm", "-.4", 0.6)],
)
async def test_a_measured_length_is_counted_from_the_same_zero_as_the_lengths_in_the_job(
    make: MakeApp, tmp_path: Path, start: str, end: str, typed: str, left_mm: float
) -> None:
    """With a face from 5 to 9 mm, the measurement 7 leaves 2 mm. A length may also be 0 or negative."""
    job = tmp_path / "job.toml"
    job.write_text(FACING.format(start=start, end=end), encoding="utf-8")
    async with make(job=job, opening=Opening).run_test(size=(80, 24)) as pilot:
        app = pilot.app
        await at_first_measurement(pilot, 0)
        await press(pilot, "m")
        shown = " ".join(painted(app).split())
        assert f" {start}" in shown and f" {end}" in shown
        await press(pilot, *typed, "enter")
        cuts = [step for step in logged(app).open_steps() if step.action == "cut"]
        assert sum(step.removed_mm or 0.0 for step in cuts) == pytest.approx(left_mm)
