"""Draws a number as large as the available space allows, so that the user can read it from two metres away."""

from textual.content import Content
from textual.reactive import reactive
from textual.widget import Widget

from core.values.plain_text import clean
from tui.glyphs import glyphs_of

PIXEL_ROWS = 5

_PIXELS = {
    "0": ("###", "# #", "# #", "# #", "###"),
    "1": (" # ", "## ", " # ", " # ", "###"),
    "2": ("###", "  #", "###", "#  ", "###"),
    "3": ("###", "  #", "###", "  #", "###"),
    "4": ("# #", "# #", "###", "  #", "  #"),
    "5": ("###", "#  ", "###", "  #", "###"),
    "6": ("###", "#  ", "###", "# #", "###"),
    "7": ("###", "  #", "  #", "  #", "  #"),
    "8": ("###", "# #", "###", "# #", "###"),
    "9": ("###", "# #", "###", "  #", "###"),
    ".": (" ", " ", " ", " ", "#"),
    "-": ("  ", "  ", "##", "  ", "  "),
    "+": ("   ", " # ", "###", " # ", "   "),
    "/": ("  #", "  #", " # ", "#  ", "#  "),
    "°": ("##", "##", "  ", "  ", "  "),
    "'": ("#", "#", " ", " ", " "),
    '"': ("# #", "# #", "   ", "   ", "   "),
    ":": (" ", "#", " ", "#", " "),
    " ": (" ", " ", " ", " ", " "),
    "n": ("   ", "###", "# #", "# #", "# #"),
    "r": ("  ", "##", "# ", "# ", "# "),
    "s": ("  ", "##", "# ", " #", "##"),
    "t": ("# ", "##", "# ", "# ", "##"),
    "u": ("   ", "# #", "# #", "# #", "###"),
}
_NARROWEST = 1.5
"""The smallest width of a pixel, in columns for each row. A terminal cell is twice as high as wide: 2 is a square."""


def pixel_size(text: str, columns: int, rows: int) -> tuple[int, int] | None:
    """Return the width and height [columns, rows] of the largest pixel with which a text fits a box.

    One blank row separates two lines of the text. Return None if the text does not fit, or if one of its characters
    cannot be drawn.

    >>> pixel_size("0.42", 60, 12), pixel_size("3 turns\\n3°00'", 57, 12)
    ((4, 2), (2, 1))
    """
    lines = text.split("\n")
    if not text or any(character not in _PIXELS for line in lines for character in line):
        return None
    pixels = max(sum(len(_PIXELS[character][0]) + 1 for character in line) - 1 for line in lines)
    for height in range((rows - len(lines) + 1) // (PIXEL_ROWS * len(lines)), 0, -1):
        width = min(2 * height, columns // pixels)
        if width >= (_NARROWEST * height if height > 1 else 1):
            return width, height
    return None


def turns_above(text: str, columns: int, rows: int) -> str:
    """Return the text with its whole turns on a line above the reading, if this makes the digits larger.

    >>> turns_above("3 turns 3°00'", 57, 12), turns_above("3 turns 3°00'", 57, 9)
    ("3 turns\\n3°00'", "3 turns 3°00'")
    """
    two_lines = text.replace("turns ", "turns\n").replace("turn ", "turn\n")
    return max(text, two_lines, key=lambda lines: pixel_size(lines, columns, rows) or (0, 0))


def big_lines(text: str, size: tuple[int, int], ink: str = "█") -> list[str]:
    """Return the rows of characters that draw a text. The rows of a single line of text are equally long.

    `size`: the width and the height of a pixel [columns, rows].
    """
    width, height = size
    drawn = list[str]()
    for line in text.split("\n"):
        drawn += [""] if drawn else []
        for row in range(PIXEL_ROWS):
            pixels = " ".join(_PIXELS[character][row] for character in line)
            drawn += ["".join((ink if pixel == "#" else " ") * width for pixel in pixels)] * height
    return drawn


class BigNumber(Widget):
    """A number in large digits made of blocks, or in plain text if there is too little room for large digits."""

    number = reactive("")

    def __init__(self, number: str = "", *, id: str | None = None, classes: str | None = None) -> None:
        super().__init__(id=id, classes=classes)
        self.set_reactive(BigNumber.number, clean(number, 40))

    def validate_number(self, number: str) -> str:
        """Return the number without control characters."""
        return clean(number, 40)

    @property
    def rows_used(self) -> int:
        """The present height of the number in rows; 1 for plain text."""
        size = pixel_size(self.number, self.size.width, self.size.height)
        return size[1] * PIXEL_ROWS if size else 1

    def render(self) -> Content:
        """Return the number, drawn for the present size of the widget."""
        size = pixel_size(self.number, self.size.width, self.size.height)
        glyphs = glyphs_of(self.app)
        if size is None:
            return Content(glyphs.text(self.number))
        return Content("\n".join(big_lines(self.number, size, glyphs["full"])))
