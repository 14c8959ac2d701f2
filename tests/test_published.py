"""The tables of published values name the source of each value, and are counted by it."""

import re
from pathlib import Path

import pytest

from tests.published.count import count_words, every_row

TABLE = """# Two kinds of sources, and a remark that is no row.
quantity,inputs,printed,tolerance,source
length,{},1.5,0.05,"Handbook, 2nd ed., Table 3"
length,{},2.5,0.05,"Handbook, from memory"
length,{},3.5,0.05,"ISO 1, from memory, exact"
"""


def test_every_published_value_names_its_source_or_is_marked_from_memory() -> None:
    """A source that says "by hand", "recalled" or "common practice" is not accepted."""
    rows = every_row()
    assert len(rows) > 400
    neither = ("by hand", "recalled", "no source", "common practice", "elementary")
    assert [row for row in rows if not row.source.strip() or any(words in row.source for words in neither)] == []


def test_published_and_remembered_values_are_counted(tmp_path: Path) -> None:
    """The rows of all tables are counted by what their source says."""
    (tmp_path / "one.csv").write_text(TABLE, encoding="utf-8")
    assert re.findall(r"\d+", count_words(tmp_path)) == ["1", "2"]
    (tmp_path / "two.csv").write_text(TABLE, encoding="utf-8")
    assert re.findall(r"\d+", count_words(tmp_path)) == ["2", "4"]


def test_the_count_is_shown_at_the_end_of_the_tests(request: pytest.FixtureRequest) -> None:
    """The hook that writes it is the one of this folder's conftest."""
    hooks = request.config.hook.pytest_terminal_summary.get_hookimpls()
    assert "tests.published.count" in {hook.function.__module__ for hook in hooks}
