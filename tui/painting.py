"""Limits everything that is painted to characters that the terminal has, and draws plain scroll bars."""

from rich.color import Color
from rich.segment import Segment, Segments
from rich.style import Style
from textual.color import Color as AnyColor
from textual.filter import LineFilter
from textual.scrollbar import ScrollBarRender

from tui.glyphs import Glyphs

_THUMB = "█"
_TRACK = "│"
_FRONT = Color.parse("white")
_GROUND = Color.parse("black")


class PlainScrollBar(ScrollBarRender):
    """A scroll bar made of characters in the text colour, because some terminals have no bright backgrounds."""

    @classmethod
    def render_bar(
        cls,
        size: int = 25,
        virtual_size: float = 50,
        window_size: float = 20,
        position: float = 0,
        thickness: int = 1,
        vertical: bool = True,
        back_color: Color = _GROUND,
        bar_color: Color = _FRONT,
    ) -> Segments:
        """Return a scroll bar that is `size` cells long and `thickness` cells wide.

        The bar shows where a window of `window_size` rows lies, which starts at row `position` of `virtual_size` rows.
        If `vertical` is False, columns are meant instead of rows.
        """
        first, length = 0, 0
        if window_size and virtual_size > window_size:
            length = max(1, round(size * window_size / virtual_size))
            first = round((size - length) * position / (virtual_size - window_size))
        segments = []
        for cell in range(int(size)):
            on_thumb = first <= cell < first + length
            grip = "grab" if on_thumb else "scroll_up" if cell < first else "scroll_down"
            style = Style(color=bar_color, bgcolor=back_color, meta={"@mouse.down": grip})
            segments.append(Segment((_THUMB if on_thumb else _TRACK) * (thickness if vertical else 1), style))
        if vertical:
            return Segments(segments, new_lines=True)
        return Segments([*segments, Segment.line()] * thickness)


class PaintFilter(LineFilter):
    """Replaces control characters and characters that the terminal lacks, each with one of equal width.

    Text from files and users is already cleaned when it is read. This filter is a second safeguard, and it also
    replaces characters of borders and scroll bars.
    """

    def __init__(self, glyphs: Glyphs) -> None:
        super().__init__()
        self._painted = glyphs.painted

    def apply(self, segments: list[Segment], background: AnyColor) -> list[Segment]:
        """Return a painted row with every character that the terminal lacks replaced."""
        painted = self._painted
        return [segment if segment.control else Segment(painted(segment.text), segment.style) for segment in segments]
