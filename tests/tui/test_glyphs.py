"""The characters that the program uses on each kind of terminal."""

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from tui.glyphs import ASCII_SAFE, CHARSETS, CONSOLE_SAFE, GLYPH_NAMES, Charset, Glyphs


def test_the_glyphs_for_ascii_terminals_consist_of_ascii_characters() -> None:
    glyphs = Glyphs("ascii")
    assert all(glyphs[name].isascii() for name in GLYPH_NAMES)


def test_the_glyphs_for_the_console_are_in_code_page_437() -> None:
    """Python's codec provides code page 437, which the kernel's own font follows."""
    glyphs = Glyphs("console")
    arrows_and_more = set("←→↑↓▲▼▶◀•")  # code page 437 shows these for its control codes, which the codec leaves out
    for name in GLYPH_NAMES:
        for character in set(glyphs[name]) - arrows_and_more:
            character.encode("cp437")


def test_the_characters_considered_safe_for_the_console_are_in_code_page_437() -> None:
    """Python's codec provides code page 437."""
    beside = set("←→↑↓▲▼▶◀•")
    for character in CONSOLE_SAFE - beside:
        character.encode("cp437")


@pytest.mark.parametrize("absent", "⌀′″×…–—▀▄✓●⠿▘Ø")
def test_characters_missing_from_a_common_console_font_are_not_considered_safe(absent: str) -> None:
    """No character that a common console font lacks or shows differently is in the safe set."""
    assert absent not in CONSOLE_SAFE


@pytest.mark.parametrize("charset", ["console", "ascii"])
@given(text=st.text(max_size=60))
def test_painting_a_text_replaces_unsafe_characters_without_changing_its_width(charset: Charset, text: str) -> None:
    """Any text is painted in safe characters only, and each row keeps its width in cells."""
    painted = Glyphs(charset).painted(text)
    assert set(painted) <= (CONSOLE_SAFE if charset == "console" else ASCII_SAFE)
    assert cell_len(painted) == cell_len(text)


@pytest.mark.parametrize("charset", CHARSETS)
@given(text=st.text(max_size=60))
def test_no_control_character_is_ever_painted(charset: Charset, text: str) -> None:
    """C0 and C1 controls and format characters, such as bidirectional marks, are removed."""
    categories = {unicodedata.category(character) for character in Glyphs(charset).painted(text)}
    assert not categories & {"Cc", "Cf", "Cs"}


def test_text_for_a_terminal_that_has_all_characters_is_unchanged() -> None:
    """Letters, signs and braille stay unchanged."""
    text = "Öse ⌀ 30 … ⠿ 漢字"
    assert Glyphs("braille").painted(text) == text


def test_signs_that_the_terminal_lacks_are_spelt_out_in_sentences() -> None:
    """One sign may become several characters, because sentences are spelt before they are arranged in rows."""
    assert Glyphs("ascii").text("⌀30 ±0.02 at 29.5°, 7°30'") == "dia 30 +/-0.02 at 29.5 deg, 7d30'"
    assert Glyphs("console").text("⌀30 ±0.02 at 29.5°…") == "dia 30 ±0.02 at 29.5°..."


def test_the_console_uses_half_block_characters_only_if_the_user_asks_for_them() -> None:
    """The user must state that the console font has half blocks."""
    assert Glyphs("console").painted("▀") == "█"
    assert Glyphs("console", half_blocks=True).painted("▀") == "▀"


def test_asking_for_an_unknown_glyph_name_raises_an_error() -> None:
    """A misspelt name raises KeyError."""
    with pytest.raises(KeyError):
        Glyphs("ascii")["diametre"]
