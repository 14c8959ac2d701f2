"""The screens use no forbidden words, explain themselves in three sentences, and explain terms in one row."""

import ast
import re
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path

import pytest

from tui.glossary import OF_EVERY_FORM, OF_KIND, TERMS
from tui.widgets.base_screen import BaseScreen

ROOT = Path(__file__).parents[2]
NEVER = (
    "saddle", "packing", "chasing dial", "stand-in", "cutter head", "FIM", "gone on", "anew", "afresh", "reckon",
    "mend", "mended", "parted by", "told", "stands", "made up", "begun", "given up", "left out", "is to be",
    "are to be", "go on", "goes on", "accepted",
)  # fmt: skip
"""Words that a turner has to read twice. Common practice of this project, no source."""
ONE_LINE = 78


def _strings(source: Path) -> Iterator[tuple[int, str]]:
    """Yield (row number, text) for each string that is neither a docstring nor a comment below a name."""
    tree = ast.parse(source.read_text(encoding="utf-8"))
    notes = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in notes:
            yield node.lineno, node.value


def test_no_sentence_in_the_code_of_the_screens_contains_a_forbidden_word() -> None:
    """Only strings with a blank are checked. Sentences contain blanks, while keys and style sheets do not."""
    words = re.compile(r"\b(" + "|".join(NEVER) + r")\b", re.IGNORECASE)
    said = [
        f"{source.relative_to(ROOT)}:{line}: {text}"
        for source in sorted((ROOT / "tui").rglob("*.py"))
        for line, text in _strings(source)
        if " " in text.strip() and words.search(text)
    ]
    assert not said, "\n".join(said)


def _screens() -> list[type[BaseScreen[object]]]:
    for source in sorted((ROOT / "tui").rglob("*.py")):
        if "__main__" not in source.name:
            import_module(".".join(source.relative_to(ROOT).with_suffix("").parts))
    found: list[type[BaseScreen[object]]] = []
    waiting = [BaseScreen]
    while waiting:
        screen = waiting.pop()
        waiting += screen.__subclasses__()
        if screen.__module__.startswith("tui.") and "HELP" in vars(screen) and screen.HELP:
            found.append(screen)
    return found


@pytest.mark.parametrize("screen", _screens(), ids=lambda screen: screen.__name__)
def test_the_help_explains_each_screen_in_at_most_three_sentences(screen: type[BaseScreen[object]]) -> None:
    """The glossary explains every term that the help page of the screen lists."""
    sentences = re.split(r"(?<=[.?!]) (?=[A-Z])", screen.HELP)
    assert 1 <= len(sentences) <= 3, sentences
    assert set(screen.TERMS) <= TERMS.keys()
    assert screen.TERMS


def test_each_explanation_of_a_term_fits_on_one_row() -> None:
    """Each explanation fits beside the longest term on a screen of 80 columns."""
    longest = max(map(len, TERMS))
    assert [term for term, words in TERMS.items() if longest + 2 + len(words) > ONE_LINE] == []
    assert {*OF_EVERY_FORM, *(term for terms in OF_KIND.values() for term in terms)} <= TERMS.keys()
