"""Sentences joined to sentences: one full stop, one blank between them, in every sentence that the pages hold."""

import re

import pytest

from core.values.plain_text import sentence
from tests.core.wording.pages import PAGES, page_lines

_QUOTED = re.compile(r'"[^"]*"')
"""Matches what is quoted as typed, and the " | " between the parts of a dial."""
_SLIPS = {
    "two full stops": re.compile(r"(?<!\.)\.\.(?!\.)"),
    "a stop behind another sign": re.compile(r"[?!:;,]\.(?!\d)"),
    "a blank before a stop or comma": re.compile(r"\w [.,;](?![\d.])"),
    "two blanks": re.compile(r"\S  +\S"),
}

_IN_COLUMNS = {"conversion", "record", "runs"}
"""Pages that hold tables beside sentences: answers, the printed log and reports, whose columns lie two blanks apart."""


def slips_in(text: str) -> list[str]:
    """Return what is wrong with how a text is joined, by its name."""
    parts = [part.strip() for part in _QUOTED.sub("@", text).split(" | ")]
    return [name for name, slip in _SLIPS.items() if any(slip.search(part) for part in parts)]


@pytest.mark.parametrize("name", PAGES)
def test_no_sentence_of_a_page_is_joined_wrongly(name: str) -> None:
    """Every line as it is made now, not only as kept."""
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
def test_wrong_joins_are_found(text: str, expected: list[str]) -> None:
    """The check finds each wrong join and nothing in correct sentences."""
    assert slips_in(text) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [("read it", "Read it."), ("Read it.", "Read it."), ("Read it..", "Read it."), ("is it so?", "Is it so?")],
)
def test_a_sentence_ends_in_one_stop_however_often_it_is_joined(text: str, expected: str) -> None:
    """Made a sentence twice it is the same."""
    assert sentence(text) == expected
    assert sentence(sentence(text)) == expected
