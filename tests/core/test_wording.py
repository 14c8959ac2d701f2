"""The sentences of core equal the saved ones: see tests.core.wording."""

import pytest

from tests.core.wording.pages import COMMAND, PAGES, kept_lines, kept_names, page_lines
from tests.golden.keeping import differences

MOST_SHOWN = 60


@pytest.mark.parametrize("name", PAGES)
def test_each_page_of_sentences_equals_its_saved_page(name: str) -> None:
    """A failure shows the rows that differ: saved rows with "-", present rows with "+"."""
    found = differences(kept_lines(name), page_lines(name))
    if found:
        more = [f"... and {len(found) - MOST_SHOWN} more"] if len(found) > MOST_SHOWN else []
        head = f"{name}: {len(found)} lines differ. If every one of them is meant, write the pages again: {COMMAND}"
        pytest.fail("\n".join([head, *found[:MOST_SHOWN], *more]), pytrace=False)


def test_every_saved_page_of_sentences_has_a_module_that_writes_it() -> None:
    """A page whose module is gone makes this test fail."""
    assert kept_names() == set(PAGES)
