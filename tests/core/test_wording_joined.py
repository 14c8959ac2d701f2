"""Sentences joined to sentences have one full stop and one blank between them, on every page of sentences."""

import re

import pytest

from core.values.plain_text import sentence
from tests.core.wording.pages import PAGES, page_lines

_QUOTED = re.compile(r'"[^"]*"')
"""Matches quoted text, and the " | " between the parts of a dial."""
_SLIPS = {
    "two full stops": re.compile(r"(?<!\.)\.\.(?!\.)"),
    "a stop behind another sign": re.compile(r"[?!:;,]\.(?!\d)"),
    "a blank before a stop or comma": re.compile(r"\w [.,;](?![\d.])"),
    "two blanks": re.compile(r"\S  +\S"),
}

_IN_COLUMNS = {"conversion", "record", "runs"}
"""Pages with columns next to sentences: answers, the printed log and reports. The columns are two blanks apart."""


def slips_in(text: str) -> list[str]:
    """Return the names of the faults in how a text is joined."""
    parts = [part.strip() for part in _QUOTED.sub("@", text).split(" | ")]
    return [name for name, slip in _SLIPS.items() if any(slip.search(part) for part in parts)]


@pytest.mark.parametrize("name", PAGES)
def test_no_two_sentences_of_a_page_are_joined_wrongly(name: str) -> None:
    """The sentences are made now, not read from the saved pages."""
    lines = [line for line in page_lines(name) if line.startswith("    ")]
    found = {line: set(slips_in(line)) - ({"two blanks"} if name in _IN_COLUMNS else set()) for line in lines}
    assert {line: slips for line, slips in found.items() if slips} == {}


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Nothing can be moved. Read again..", ["two full stops"]),
        ("Read it again.. Then stop.", ["two full stops"]),
        ("Is it locked?.", ["a stop behind another sign"]),
        ("Read it again .", ["a blank before a stop or comma"]),
        ("Read it  again.", ["two blanks"]),
        ("Take 0.5 mm off. Then .25 mm; and so on ...", []),
    ],
)
def test_the_check_finds_each_wrong_join_of_two_sentences(text: str, expected: list[str]) -> None:
    """The check finds each wrong join, and nothing in correct sentences."""
    assert slips_in(text) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [("read it", "Read it."), ("Read it.", "Read it."), ("Read it..", "Read it."), ("is it so?", "Is it so?")],
)
def test_a_sentence_ends_in_one_full_stop_after_any_number_of_joins(text: str, expected: str) -> None:
    """A text that is made a sentence twice stays the same."""
    assert sentence(text) == expected
    assert sentence(sentence(text)) == expected
