"""The choice among methods of setting the rotary table: exact methods first, each with its worst error."""

from pathlib import Path
from typing import Any

import pytest

from tests.conftest import MakeApp
from tests.core.operations.dividing.rotary import pattern_keys
from tests.tui.counters import press
from tests.tui.operation.test_divide_screen import opened
from tui.operation.divide import DivideScreen
from tui.operation.form import OperationForm
from tui.pattern.screen import PatternScreen

LATHE = """\
format = 1
name = "Bench"
[dial.cross_slide]
per_turn = "4 mm"
graduation = "0.05 mm"
reads = "travel"
[dial.boring_head]
per_turn = "1 mm"
graduation = "0.01 mm"
reads = "diameter"
[rotary_table]
ratio = 40
dial_graduation = "1 arcmin"
plates = [[15, 16, 17, 18, 19, 20], [21, 23, 27, 29, 31, 33]]
direct = [24]
"""


@pytest.fixture
def lathe(tmp_path: Path) -> Path:
    """Return a lathe whose rotary table has a dial, plates and notches."""
    path = tmp_path / "bench.toml"
    path.write_text(LATHE)
    return path


@pytest.mark.parametrize(
    ("screen", "table", "more"),
    [
        (DivideScreen, {"divisions": 7}, {"divisions": 8}),
        (PatternScreen, pattern_keys({"count": 7, "offset": "20 mm", "circle_radius": "5 mm"}), {}),
    ],
)
async def test_the_chosen_method_of_dividing_stays_chosen_when_the_order_of_methods_changes(
    make: MakeApp, lathe: Path, screen: Any, table: dict[str, Any], more: Any
) -> None:
    """A plate divides by seven exactly, so it comes before the dial. It stays selected when the order changes."""
    async with opened(make, screen(table), lathe=lathe) as (pilot, form_screen):
        form = form_screen.query_one(OperationForm)
        row, field = form.choices["with"]
        assert [value for _, value in row.options] == [None, "plate", "dial", "direct"]
        assert [words for words, _ in row.options] == list(field.words)
        assert "exact" in field.words[1] and '"' in field.words[2] and "no notch" in field.words[3]
        field.focus()
        await press(pilot, "right")
        assert form.table()["with"] == "plate" and form_screen.plan is not None
        count = form.entries["divisions" if "divisions" in table else "count"][1]
        count.focus()
        await press(pilot, "backspace", "8")
        row, field = form.choices["with"]
        assert [value for _, value in row.options] == [None, "dial", "plate", "direct"]
        assert form.table()["with"] == "plate"
        assert all("exact" in words for words in field.words[1:])
        assert form_screen.plan is not None
