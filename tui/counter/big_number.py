"""A number drawn as large as its box allows, so that it can be read from two metres."""

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
}
_NARROWEST = 1.5
"""How many columns a pixel has at least for each of its rows. A cell is twice as high as wide, so 2 makes a square."""


def pixel_size(text: str, columns: int, rows: int) -> tuple[int, int] | None:
    """Return (columns, rows) of the largest pixel in which `text` fits the box; None if it does not fit in any.

    >>> pixel_size("0.42", 60, 12)
    (4, 2)
    """
    if not text or any(character not in _PIXELS for character in text):
        return None
    pixels = sum(len(_PIXELS[character][0]) + 1 for character in text) - 1
    for height in range(rows // PIXEL_ROWS, 0, -1):
        width = min(2 * height, columns // pixels)
        if width >= (_NARROWEST * height if height > 1 else 1):
            return width, height
    return None


def big_lines(text: str, size: tuple[int, int], ink: str = "█") -> list[str]:
    """Return `text` drawn in pixels of `size` (columns, rows), as lines of equal length."""
    width, height = size
    lines = []
    for row in range(PIXEL_ROWS):
        pixels = " ".join(_PIXELS[character][row] for character in text)
        line = "".join((ink if pixel == "#" else " ") * width for pixel in pixels)
        lines += [line] * height
    return lines


class BigNumber(Widget):
    """A number in digits of blocks, as large as they fit; as plain text if they do not."""

    number = reactive("")

    def __init__(self, number: str = "", *, id: str | None = None, classes: str | None = None) -> None:
        super().__init__(id=id, classes=classes)
        self.set_reactive(BigNumber.number, clean(number, 40))

    def validate_number(self, number: str) -> str:
        """Remove control characters from the number."""
        return clean(number, 40)

    @property
    def rows_used(self) -> int:
        """How many rows the digits take now; 1 if they are plain text."""
        size = pixel_size(self.number, self.size.width, self.size.height)
        return size[1] * PIXEL_ROWS if size else 1

    def render(self) -> Content:
        """Return the digits at the present size."""
        size = pixel_size(self.number, self.size.width, self.size.height)
        glyphs = glyphs_of(self.app)
        if size is None:
            return Content(glyphs.text(self.number))
        return Content("\n".join(big_lines(self.number, size, glyphs["full"])))
