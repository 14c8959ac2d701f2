"""The detected abilities of a terminal, and its colours."""

import io
from pathlib import Path

import pytest

from tests.tui.painted import contrast
from tui.glyphs import Charset
from tui.terminal import Asked, Dots, Terminal, complaint, detect
from tui.themes import DARK, DAYLIGHT, THEMES, keep_look, kept_look

UTF8 = {"LANG": "en_GB.UTF-8"}


@pytest.mark.parametrize(
    ("environment", "asked", "charset", "dots"),
    [
        (UTF8, "auto", "braille", "braille"),
        ({"LC_CTYPE": "UTF-8"}, "auto", "braille", "braille"),
        ({"LANG": "de_DE.ISO-8859-1"}, "auto", "ascii", "ascii"),
        ({"LANG": "C"}, "auto", "ascii", "ascii"),
        ({}, "auto", "ascii", "ascii"),
        ({"LC_ALL": "C", **UTF8}, "auto", "ascii", "ascii"),
        ({"TERM": "linux", **UTF8}, "auto", "console", "ascii"),
        ({"TERM": "linux", **UTF8}, "blocks", "console", "half"),
        ({"TERM": "linux", **UTF8}, "braille", "braille", "braille"),
        (UTF8, "blocks", "blocks", "quadrant"),
        (UTF8, "ascii", "ascii", "ascii"),
        ({"LANG": "C"}, "braille", "braille", "braille"),
    ],
)
def test_the_characters_used_depend_on_terminal_locale_and_charset_option(
    environment: dict[str, str], asked: Asked, charset: Charset, dots: Dots
) -> None:
    """The console gets the characters of its fonts, locales without UTF-8 get ASCII, and --charset overrides both."""
    found = detect(environment, asked)
    assert (found.charset, found.dots) == (charset, dots)


def test_a_locale_set_by_python_itself_is_ignored() -> None:
    """In the C locale Python itself sets LC_CTYPE to UTF-8, but the terminal does not change."""
    assert detect({"LANG": "C", "LC_CTYPE": "C.UTF-8"}, utf8_forced=True).charset == "ascii"


def test_the_colours_used_depend_on_the_terminal_and_the_no_color_variable() -> None:
    """The bare console gets sixteen colours. With NO_COLOR no colours are used (no-color.org)."""
    assert detect({"TERM": "linux", **UTF8}).sixteen_colours
    assert detect({"NO_COLOR": "1", **UTF8}).no_colour
    assert not detect(UTF8).one_look


class _Tty(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_the_refusal_to_start_names_the_stream_that_is_not_a_terminal() -> None:
    """A closed stream is named too. A real terminal causes no refusal."""
    assert complaint({"standard input": _Tty()}, {"TERM": "xterm"}) == ""
    assert complaint({"standard input": _Tty(), "standard output": io.StringIO()}, {}).startswith("Standard output")
    assert complaint({"standard input": None}, {}).startswith("Standard input is not a terminal")
    assert "TERM=dumb" in complaint({"standard input": _Tty()}, {"TERM": "dumb"})


def test_every_text_colour_has_a_contrast_of_at_least_seven_to_one() -> None:
    """WCAG 2.1, success criterion 1.4.6 (enhanced contrast), requires a contrast of 7 to 1."""
    from rich.style import Style
    from textual.color import Color

    for theme in THEMES:
        ground = Color.parse(theme.background or "")
        for name, colour in theme.variables.items():
            if name.startswith("text"):
                style = Style(color=Color.parse(colour).rich_color, bgcolor=ground.rich_color)
                assert contrast(style) >= 7, (theme.name, name, contrast(style))


def test_the_chosen_set_of_colours_is_saved(tmp_path: Path) -> None:
    """The next start uses the colours chosen last. A missing or unreadable file gives daylight."""
    kept = tmp_path / "new" / "theme"
    assert kept_look(kept) == DAYLIGHT
    keep_look(kept, DARK)
    assert kept_look(kept) == DARK
    kept.write_bytes(b"\xff\xfe dark")
    assert kept_look(kept) == DAYLIGHT


def test_the_default_terminal_settings_are_those_of_a_utf_8_terminal() -> None:
    assert Terminal() == detect(UTF8)
