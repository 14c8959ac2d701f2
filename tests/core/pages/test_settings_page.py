"""All settings in one list on the card: every position of a count or a layer, below the settings that never change."""

from fractions import Fraction
from pathlib import Path

import pytest

from core.jobs.job import read_job
from core.pages.card_page import card_markdown, card_text
from core.pages.settings_page import settings_of, table_lines, title_of

SAMPLES = Path(__file__).parents[3] / "sample_jobs"


def test_the_list_of_settings_for_an_operation_has_a_row_for_every_position() -> None:
    """24 hours on a table of 90 turns: 15 deg is 3 turns and 3 deg, because 90 / 24 = 3 + 3/4 turns of 4 deg."""
    job = read_job(SAMPLES / "hour_lines.toml")
    (table,) = settings_of(job.operations[0])
    assert table.columns[:3] == ("no.", "angle", "set to, from zero")
    ratio = Fraction(90)
    for number, row in enumerate(table.rows):
        turns, part = divmod(ratio * number / len(table.rows), 1)
        degrees = part * 360 / ratio
        reading = f"{int(degrees)}°{int(degrees % 1 * 60):02}'"
        assert row[2] == (f"{turns} turn{'s' * (turns != 1)} {reading}" if turns else reading)
    assert ("error", "exact") in table.same


def test_every_layer_of_a_pattern_has_its_own_list_of_settings() -> None:
    """Every position of the layer is in its list. The slide's constant setting is given once, above the list."""
    job = read_job(SAMPLES / "sundial_lid.toml")
    fine, wide = sorted(settings_of(job.operations[0]), key=lambda table: table.title)
    assert (fine.title, wide.title) == ("Layer 1", "Layer 2")
    assert [row[0] for row in fine.rows] == [str(number) for number in range(1, 49)]
    assert "slide" in fine.columns and "slide" not in wide.columns
    assert dict(wide.same)["slide"] == "4 turns and 1.00 mm"
    assert "slide always 4 turns and 1.00 mm" in title_of(wide)


@pytest.mark.parametrize("columns", [40, 60, 80])
def test_a_list_of_settings_on_a_narrow_page_loses_no_cell(columns: int) -> None:
    """On a narrow page the rows are wrapped."""
    for name in ("sundial_lid", "gnomon_plate", "hour_lines"):
        for table in settings_of(read_job(SAMPLES / f"{name}.toml").operations[0]):
            lines = list(table_lines(table, columns))
            assert max(map(len, lines)) <= columns
            words = " ".join(lines).split()
            for row in table.rows:
                assert set(" ".join(row).split()) <= set(words)


def test_text_and_markdown_cards_contain_the_list_of_settings() -> None:
    """Both cards list each position of each layer."""
    job = read_job(SAMPLES / "gnomon_plate.toml")
    text, markdown = card_text(job), card_markdown(job)
    rows = [row for table in settings_of(job.operations[0]) for row in table.rows]
    assert len(rows) == 24 + 24 + 1 + 2
    assert all(f"| {' | '.join(row)} |" in markdown for row in rows)
    assert text.count("Settings of every position, layer") == 4
