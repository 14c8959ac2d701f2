"""The last thing that sees every painted line: lets only characters through that the terminal has."""

from rich.segment import Segment
from textual.color import Color
from textual.filter import LineFilter

from tui.glyphs import Glyphs


class PaintFilter(LineFilter):
    """Replaces control characters, and glyphs this kind of terminal lacks, cell for cell.

    Text from outside is cleaned where it comes in; this holds for what was forgotten
    there, and for the glyphs of borders and scroll bars.
    """

    def __init__(self, glyphs: Glyphs) -> None:
        super().__init__()
        self._painted = glyphs.painted

    def apply(self, segments: list[Segment], background: Color) -> list[Segment]:
        """Return the segments of one line as they may be painted."""
        painted = self._painted
        return [segment if segment.control else Segment(painted(segment.text), segment.style) for segment in segments]
