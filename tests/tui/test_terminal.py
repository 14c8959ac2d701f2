"""What is found out about a terminal, and the looks that it gets."""

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
def test_terminal_and_locale_decide_the_characters(
    environment: dict[str, str], asked: Asked, charset: Charset, dots: Dots
) -> None:
    """The console gets what its fonts have, locales without UTF-8 get ASCII, and --charset decides over both."""
    found = detect(environment, asked)
    assert (found.charset, found.dots) == (charset, dots)


def test_utf8_set_by_python_itself_is_ignored() -> None:
    """In the C locale Python sets LC_CTYPE to UTF-8 for itself; the terminal knows nothing of it."""
    assert detect({"LANG": "C", "LC_CTYPE": "C.UTF-8"}, utf8_forced=True).charset == "ascii"


def test_terminal_and_no_color_decide_the_colours() -> None:
    """The bare console gets sixteen colours, and none are used if NO_COLOR is set (no-color.org)."""
    assert detect({"TERM": "linux", **UTF8}).sixteen_colours
    assert detect({"NO_COLOR": "1", **UTF8}).no_colour
    assert not detect(UTF8).one_look


class _Tty(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_the_refusal_names_the_stream_that_is_no_terminal() -> None:
    """A stream that is closed or not a terminal is named. A real terminal gives no complaint."""
    assert complaint({"standard input": _Tty()}, {"TERM": "xterm"}) == ""
    assert complaint({"standard input": _Tty(), "standard output": io.StringIO()}, {}).startswith("Standard output")
    assert complaint({"standard input": None}, {}).startswith("Standard input is not a terminal")
    assert "TERM=dumb" in complaint({"standard input": _Tty()}, {"TERM": "dumb"})


def test_text_of_every_look_has_a_contrast_of_seven_to_one() -> None:
    """WCAG 2.1, success criterion 1.4.6 (enhanced contrast), asks for 7 to 1; each colour of text is checked."""
    from rich.style import Style
    from textual.color import Color

    for theme in THEMES:
        ground = Color.parse(theme.background or "")
        for name, colour in theme.variables.items():
            if name.startswith("text"):
                style = Style(color=Color.parse(colour).rich_color, bgcolor=ground.rich_color)
                assert contrast(style) >= 7, (theme.name, name, contrast(style))


def test_the_chosen_look_is_saved(tmp_path: Path) -> None:
    """The look chosen last is found again. A missing or unreadable file gives daylight."""
    kept = tmp_path / "new" / "theme"
    assert kept_look(kept) == DAYLIGHT
    keep_look(kept, DARK)
    assert kept_look(kept) == DARK
    kept.write_bytes(b"\xff\xfe dark")
    assert kept_look(kept) == DAYLIGHT


def test_an_unknown_terminal_has_all_characters() -> None:
    """A terminal of which nothing is known has all characters."""
    assert Terminal() == detect(UTF8)
