"""The program's sets of colours: daylight, dark, and console for the sixteen colours of the bare Linux console.

All text has a contrast of at least 7 to 1 to its background (WCAG 2.1, success criterion 1.4.6). No meaning is carried
by colour alone, so the console colours also serve users who ask for no colour (NO_COLOR).
"""

from pathlib import Path

from textual.app import App
from textual.theme import Theme

from core.values.errors import FileError
from core.values.files import name_of, read_text, write_text
from core.values.plain_text import clean

DAYLIGHT = "daylight"
DARK = "dark"
CONSOLE = "console"


def _variables(**colours: str) -> dict[str, str]:
    """Return the style variables that halfnut.tcss and the widgets use, made from a few named colours."""
    return {
        "ansi-background": colours["ground"],
        "ansi-foreground": colours["text"],
        "text": colours["text"],
        "text-muted": colours["quiet"],
        "text-disabled": colours["quiet"],
        "text-primary": colours["heading"],
        "text-secondary": colours["reference"],
        "text-accent": colours["measured"],
        "text-warning": colours["caution"],
        "text-error": colours["wrong"],
        "text-success": colours["good"],
        "border": colours["heading"],
        "border-blurred": colours["quiet"],
        "scrollbar": colours["quiet"],
        "scrollbar-hover": colours["text"],
        "scrollbar-active": colours["text"],
        "scrollbar-background": colours["ground"],
        "scrollbar-background-hover": colours["ground"],
        "scrollbar-background-active": colours["ground"],
        "scrollbar-corner-color": colours["ground"],
        "input-cursor-foreground": colours["text"],
        "input-cursor-background": colours["ground"],
        "input-cursor-text-style": "reverse",
        "input-selection-foreground": colours["ground"],
        "input-selection-background": colours["quiet"],
        "screen-selection-foreground": colours["ground"],
        "screen-selection-background": colours["quiet"],
    }


def _theme(name: str, *, dark: bool, ansi: bool = False, **colours: str) -> Theme:
    return Theme(
        name=name,
        dark=dark,
        ansi=ansi,
        primary=colours["heading"],
        secondary=colours["reference"],
        accent=colours["measured"],
        warning=colours["caution"],
        error=colours["wrong"],
        success=colours["good"],
        foreground=colours["text"],
        background=colours["ground"],
        surface=colours["ground"],
        panel=colours["ground"],
        boost=colours["ground"],
        variables=_variables(**colours),
    )


# Every colour is one of the 256 standard colours, so terminals without true colour show the same colour.
THEMES = (
    _theme(
        DAYLIGHT,
        dark=False,
        ground="#ffffff",
        text="#000000",
        quiet="#444444",
        heading="#000087",
        reference="#005f5f",
        measured="#870087",
        caution="#5f0000",
        wrong="#af0000",
        good="#005f00",
    ),
    _theme(
        DARK,
        dark=True,
        ground="#000000",
        text="#ffffff",
        quiet="#bcbcbc",
        heading="#87d7ff",
        reference="#87d7d7",
        measured="#ffafff",
        caution="#ffd75f",
        wrong="#ff8787",
        good="#87ff87",
    ),
    # The console has bright colours for text only, and its blue and red are hardly visible on black.
    _theme(
        CONSOLE,
        dark=True,
        ansi=True,
        ground="ansi_black",
        text="ansi_bright_white",
        quiet="ansi_white",
        heading="ansi_bright_cyan",
        reference="ansi_white",
        measured="ansi_bright_magenta",
        caution="ansi_bright_yellow",
        wrong="ansi_bright_yellow",
        good="ansi_bright_green",
    ),
)
WOOD_TONES = (
    "#d0d0d0", "#a8a8a8", "#949494", "#808080", "#6c6c6c", "#585858", "#444444", "#303030", "#1c1c1c",
)  # fmt: skip
"""The greys of shaded patterns: uncut wood first, the deepest groove last. They suit bright and dark backgrounds."""
WOOD_LINE, WOOD_LETTER = "#875f00", "#870000"
"""The colours of outlines of uncut grooves, and of letters, on shaded wood."""
THEME_NAMES = tuple(theme.name for theme in THEMES)


def chosen_style(app: App[object]) -> str:
    """Return the style for the selected word or row."""
    return "reverse" if app.no_color else "$background on $text-muted"


def next_theme(name: str) -> str:
    """Return the name of the set of colours that follows `name`. The first set follows the last."""
    return THEME_NAMES[(THEME_NAMES.index(name) + 1) % len(THEME_NAMES)]


def kept_look(path: Path) -> str:
    """Return the name of the set of colours saved in the file `path`; daylight if none is saved there."""
    try:
        kept = read_text(path).strip()
    except FileError:
        return DAYLIGHT
    return kept if kept in THEME_NAMES else DAYLIGHT


def keep_look(path: Path, name: str) -> None:
    """Save the name of a set of colours in the file `path`, for the next start.

    Raises FileError if the file cannot be written.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        reason = clean(error.strerror or "unknown reason")
        raise FileError([f"The folder {name_of(path.parent)} cannot be created ({reason})."]) from None
    write_text(path, name + "\n")
