"""The special characters of each kind of terminal, by name, and the filter for everything that is painted.

`Glyphs.text` spells the program's own sentences. There, one character may become several ("±" becomes "+/-" in ASCII).
`Glyphs.painted` filters all painted text, because text from files and users may contain any character. It replaces a
character that the terminal lacks with one of equal width.
"""

import re
import unicodedata
from functools import lru_cache
from typing import Literal

Charset = Literal["braille", "blocks", "console", "ascii"]
CHARSETS: tuple[Charset, ...] = ("braille", "blocks", "console", "ascii")

_TABLE: dict[str, tuple[str, str, str, str]] = {
    # name             braille  blocks  console  ascii
    "full": ("█", "█", "█", "#"),
    "shade": ("░", "░", "░", "."),
    "done": ("■", "■", "■", "#"),
    "current": ("▶", "▶", "▶", ">"),
    "open": ("·", "·", "·", "."),
    "skipped": ("-", "-", "-", "-"),
    "caution": ("!", "!", "!", "!"),
    "bullet": ("•", "•", "•", "*"),
    "left": ("←", "←", "←", "<-"),
    "right": ("→", "→", "→", "->"),
    "up": ("↑", "↑", "↑", "^"),
    "down": ("↓", "↓", "↓", "v"),
    "more_above": ("▲", "▲", "▲", "^"),
    "more_below": ("▼", "▼", "▼", "v"),
    "horizontal": ("─", "─", "─", "-"),
    "vertical": ("│", "│", "│", "|"),
    "cross": ("┼", "┼", "┼", "+"),
    "long_mark": ("┼", "┼", "┼", "|"),
    "short_mark": ("┬", "┬", "┬", "'"),
    "ellipsis": ("…", "…", "...", "..."),
    "dash": ("–", "–", "-", "-"),
    "minus": ("−", "−", "-", "-"),
    "times": ("×", "×", "x", "x"),
    "divided": ("÷", "÷", "÷", "/"),
    "diameter": ("⌀", "⌀", "dia ", "dia "),
    "degree": ("°", "°", "°", " deg"),
    "minute": ("′", "′", "'", "'"),
    "second": ("″", "″", '"', '"'),
    "plus_minus": ("±", "±", "±", "+/-"),
    "micro": ("µ", "µ", "µ", "u"),
    "half": ("½", "½", "½", "1/2"),
    "quarter": ("¼", "¼", "¼", "1/4"),
    "squared": ("²", "²", "²", "^2"),
    "at_most": ("≤", "≤", "≤", "<="),
    "at_least": ("≥", "≥", "≥", ">="),
    "about": ("≈", "≈", "≈", "~"),
}

GLYPH_NAMES = tuple(_TABLE)

_CONSOLE_LETTERS = "ÇüéâäàåçêëèïîìÄÅÉæÆôöòûùÿÖÜñÑáíóúß"
CONSOLE_SAFE = frozenset(
    [chr(code) for code in range(0x20, 0x7F)]
    + list("°±²½¼µ·÷≤≥≈█■░▒─│┌┐└┘├┤┬┴┼═║╔╗╚╝╠╣╦╩╬←→↑↓▲▼▶◀•")
    + list(_CONSOLE_LETTERS)
)
"""Characters that the kernel's own font (CP437) and the Lat15 and Uni2 fonts all show correctly."""
HALF_BLOCKS = frozenset("▀▄")
ASCII_SAFE = frozenset(chr(code) for code in range(0x20, 0x7F))

_SUBSTITUTES: dict[str, str] = {
    **dict.fromkeys("–—−‐‑‒―━╴╶", "-"),
    **dict.fromkeys("‘’′‚ʹ`", "'"),
    **dict.fromkeys("“”″„ʺ", '"'),
    **dict.fromkeys("╭╮╰╯┏┓┗┛", "+"),
    **dict.fromkeys("┃╵╷", "|"),
    **dict.fromkeys("▀▄▌▐", "█"),
    **dict.fromkeys("●○◦", "•"),
    "×": "x",
    "⌀": "o",
    "Ø": "O",
    "ø": "o",
    "…": ".",
    "μ": "µ",
    "✓": "v",
    "\u00a0": " ",
}
"""For each character that a terminal may lack, the character that replaces it."""
_ASCII_SUBSTITUTES = {
    **dict.fromkeys("─═", "-"),
    **dict.fromkeys("│║", "|"),
    **dict.fromkeys("┌┐└┘├┤┬┴┼╔╗╚╝╠╣╦╩╬", "+"),
    **dict.fromkeys("█■", "#"),
    **dict.fromkeys("░▒·", "."),
    **dict.fromkeys("▲↑", "^"),
    **dict.fromkeys("▼↓", "v"),
    **dict.fromkeys("▶→", ">"),
    **dict.fromkeys("◀←", "<"),
    "•": "*",
    # Fields accept the same spelling: 12d30m15s.
    "°": "d",
    "±": "~",
    "µ": "u",
    "÷": "/",
    "≤": "<",
    "≥": ">",
    "≈": "~",
    "²": "2",
    "³": "3",
}


_DEGREES_BEFORE_MINUTES = re.compile(r"°(?=\d)")


class Glyphs:
    """The special characters that one kind of terminal can show."""

    def __init__(self, charset: Charset, *, half_blocks: bool = False) -> None:
        """Make the glyphs of one kind of terminal.

        `half_blocks` is True if the console's font has half-block characters. Most console fonts lack them, so only the
        user can switch them on.
        """
        self.charset: Charset = charset
        column = CHARSETS.index(charset)
        self._glyphs = {name: row[column] for name, row in _TABLE.items()}
        self._spelt = {
            ord(row[0]): row[column] for row in _TABLE.values() if row[column] != row[0] and len(row[0]) == 1
        }
        self._safe = {"console": CONSOLE_SAFE, "ascii": ASCII_SAFE}.get(charset)
        if self._safe and half_blocks:
            self._safe |= HALF_BLOCKS

    def __getitem__(self, name: str) -> str:
        """Return the glyph with this name. Raises KeyError for an unknown name."""
        return self._glyphs[name]

    def text(self, sentence: str) -> str:
        """Return a sentence with its special characters spelt in characters that this terminal has.

        >>> Glyphs("ascii").text("12° ±0.5, 7°30'")
        "12 deg +/-0.5, 7d30'"
        """
        if self.charset == "ascii":
            sentence = _DEGREES_BEFORE_MINUTES.sub("d", sentence)
        return sentence.translate(self._spelt) if self._spelt else sentence

    def painted(self, text: str) -> str:
        """Return `text` with every character that the terminal lacks replaced. Its width in cells does not change.

        >>> Glyphs("ascii").painted("é│\\x1b[2J")
        'e|[2J'
        """
        if text.isprintable() and (self._safe is None or self._safe.issuperset(text)):
            return text
        return _painted(text, self.charset, self._safe)


@lru_cache(maxsize=4096)
def _painted(text: str, charset: Charset, safe: frozenset[str] | None) -> str:
    return "".join(_painted_character(character, charset, safe) for character in text)


def _painted_character(character: str, charset: Charset, safe: frozenset[str] | None) -> str:
    # Few texts need this module, and a card is printed sooner without it.
    from rich.cells import cell_len

    width = cell_len(character)
    if not character.isprintable() and character != "\u00a0":
        # Control and format characters have no width, so no character may replace them.
        return ("?" if safe else "\ufffd") * width
    if safe is None or character in safe:
        return character
    without_accents = unicodedata.normalize("NFKD", character)[:1]
    for candidate in (character, without_accents):
        substitute = _SUBSTITUTES.get(candidate, candidate)
        if charset == "ascii":
            substitute = _ASCII_SUBSTITUTES.get(substitute, substitute)
        if substitute in safe and width == 1:
            return substitute
    return "?" * width


def glyphs_of(app: object) -> Glyphs:
    """Return the glyphs of an app. If the app has none, return the glyphs of a terminal that can show everything."""
    glyphs = getattr(app, "glyphs", None)
    return glyphs if isinstance(glyphs, Glyphs) else Glyphs("braille")


def shortened(text: str, columns: int) -> str:
    """Return `text`, shortened to at most `columns` characters.

    A text that is too long ends before a punctuation mark or a blank, if possible.

    >>> shortened("one turn 2 mm, marks 0.02 mm, travel", 30)
    'one turn 2 mm, marks 0.02 mm'
    """
    if len(text) <= columns:
        return text
    room = text[: max(columns, 0) + 1]
    end = max(room.rfind(mark) for mark in (". ", "; ", ", "))
    if end < columns // 3:
        end = max(room.rfind(": "), room.rfind(" "))
    return text[:end] if end > 0 else text[: max(columns, 0)]


def cut(text: str, columns: int, ellipsis: str = "...") -> str:
    """Return `text`, cut to at most `columns` characters. A text that is cut ends with `ellipsis` if there is room."""
    if len(text) <= columns:
        return text
    if columns <= len(ellipsis):
        return text[: max(columns, 0)]
    return text[: columns - len(ellipsis)].rstrip() + ellipsis
