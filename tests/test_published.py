"""Every published value names its source, and values from memory are counted."""

import re
from pathlib import Path

import pytest

from tests.published.count import count_words, every_row

TABLE = """# Two kinds of sources, and a remark that is not a row.
quantity,inputs,printed,tolerance,source
length,{},1.5,0.05,"Handbook, 2nd ed., Table 3"
length,{},2.5,0.05,"Handbook, from memory"
length,{},3.5,0.05,"ISO 1, from memory, exact"
"""


def test_every_published_value_has_a_source_or_is_marked_from_memory() -> None:
    """ "By hand", "recalled" and "common practice" do not count as sources."""
    rows = every_row()
    assert len(rows) > 400
    neither = ("by hand", "recalled", "no source", "common practice", "elementary")
    assert [row for row in rows if not row.source.strip() or any(words in row.source for words in neither)] == []


def test_values_from_memory_are_counted_separately_from_values_with_a_printed_source(tmp_path: Path) -> None:
    """A file with one printed value and two from memory counts 1 and 2. Two such files count 2 and 4."""
    (tmp_path / "one.csv").write_text(TABLE, encoding="utf-8")
    assert re.findall(r"\d+", count_words(tmp_path)) == ["1", "2"]
    (tmp_path / "two.csv").write_text(TABLE, encoding="utf-8")
    assert re.findall(r"\d+", count_words(tmp_path)) == ["2", "4"]


def test_the_counts_of_values_by_source_are_printed_after_the_tests(request: pytest.FixtureRequest) -> None:
    """tests/conftest.py registers the hook that prints the counts."""
    hooks = request.config.hook.pytest_terminal_summary.get_hookimpls()
    assert "tests.published.count" in {hook.function.__module__ for hook in hooks}
