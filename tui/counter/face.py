"""The widget for the counter's body: title and progress, the big number with its dial, and the sentences below."""

from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import zip_longest
from typing import ClassVar, Literal, NamedTuple, get_args

from rich.cells import cell_len
from rich.segment import Segment
from rich.style import Style
from textual.color import Color
from textual.content import Content
from textual.filter import LineFilter
from textual.geometry import Region
from textual.strip import Strip
from textual.widget import Widget

from core.values.plain_text import wrapped
from tui.counter.big_number import PIXEL_ROWS, BigNumber, big_lines, pixel_size, turns_above
from tui.counter.face_words import FaceWords
from tui.glyphs import Glyphs, cut, glyphs_of
from tui.widgets.progress import progress_in

_TITLE_COLUMNS = 18
_BESIDE_COLUMNS = (22, 30, 40)
"""The widths of the text next to the number. A wider text takes fewer rows, but leaves less room for the number."""
_LEAST_NUMBER_COLUMNS = 5
_LEAST_NUMBER_ROWS = 5
_LEAST_LISTED = 3
"""The fewest coming steps that make a list. Fewer steps share one row."""
_MOST_STRIPS = 60
"""How many painted rows are kept for reuse, because digits and sentences repeat from pass to pass."""

Ink = Literal["plain", "strong", "caution", "logged"]
Row = tuple[tuple[str, Ink], ...]
"""One row of the screen: pieces of text from left to right, each with the name of its style."""


class Face(NamedTuple):
    """The counter's body, arranged in rows, with the pixel size of its big number."""

    rows: tuple[Row, ...]
    pixel: tuple[int, int] | None


class _Look(NamedTuple):
    """The width, glyphs and styles for painting rows, and the rows that are already painted with them."""

    columns: int
    inks: dict[Ink, Style]
    ground: Color
    filters: Sequence[LineFilter]
    strips: dict[Row, Strip]


class CounterFace(BigNumber):
    """The counter's body, painted as one widget: the big number and all text around it.

    Few rows change from one pass to the next. With a separate widget for each row, Textual would arrange the whole
    screen at every key press. The body fills its container. If the text needs more rows, the body grows and the
    container scrolls.
    """

    ALLOW_SELECT = False
    COMPONENT_CLASSES: ClassVar[set[str]] = {f"counter-face--{ink}" for ink in get_args(Ink)}
    DEFAULT_CSS = """
    CounterFace > .counter-face--strong { text-style: bold; }
    CounterFace > .counter-face--caution { color: $text-warning; }
    CounterFace > .counter-face--logged { color: $text-success; }
    """

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:
        super().__init__(id=id, classes=classes)
        self._words = FaceWords()
        self._face = Face((), None)
        self._look: _Look | None = None

    @property
    def rows_used(self) -> int:
        """The present height of the number in rows; 1 for plain text."""
        pixel = self._face.pixel
        return pixel[1] * PIXEL_ROWS if pixel else 1

    def show(self, words: FaceWords) -> None:
        """Show the text of a step. Only rows that have changed are painted again."""
        self._words = words
        self.set_reactive(CounterFace.number, self.validate_number(words.number))
        before = self._face.rows
        self._arrange()
        if len(before) > len(self._face.rows):
            self.refresh()
        elif changed := [y for y, row in enumerate(self._face.rows) if row != (before[y] if y < len(before) else None)]:
            self.refresh(*(Region(0, y, self.size.width, 1) for y in changed))

    def fits(self, words: FaceWords, columns: int) -> bool:
        """Return whether the text fits a width of `columns` without scrolling, with the number in large digits."""
        room = self.parent.size.height if isinstance(self.parent, Widget) else 0
        face = arranged(words, columns, room, glyphs_of(self.app))
        return len(face.rows) <= room and (face.pixel is not None or not words.number)

    def on_resize(self) -> None:
        """Arrange the text for the new size."""
        self._arrange()
        self.refresh()

    def render_lines(self, crop: Region) -> list[Strip]:
        """Return the painted rows of a region. Rows that are already painted are reused.

        Textual's own method paints row by row, which took a tenth of the time between a key press and the message
        "Logged".
        """
        strips = [self._painted(y) for y in crop.line_range]
        if crop.column_span == (0, self.size.width):
            return strips
        return [strip.crop(*crop.column_span) for strip in strips]

    def notify_style_update(self) -> None:
        """Paint every row again after a change of theme or style."""
        super().notify_style_update()
        self._look = None

    def render_line(self, y: int) -> Strip:
        """Return one painted row, before Textual applies its colour filters for the terminal."""
        look = self._look_now()
        strip = Strip([Segment(text, look.inks[ink]) for text, ink in self._row(y)])
        return strip.adjust_cell_length(self.size.width, look.inks["plain"])

    def _row(self, y: int) -> Row:
        return self._face.rows[y] if y < len(self._face.rows) else ()

    def _painted(self, y: int) -> Strip:
        look = self._look_now()
        row = self._row(y)
        strip = look.strips.get(row)
        if strip is None:
            if len(look.strips) >= _MOST_STRIPS:
                look.strips.clear()
            strip = self.render_line(y)
            for line_filter in look.filters:
                strip = strip.apply_filter(line_filter, look.ground)
            look.strips[row] = strip
        return strip

    def _look_now(self) -> _Look:
        columns = self.size.width
        if self._look is None or self._look.columns != columns:
            inks = {ink: self.get_component_rich_style(f"counter-face--{ink}") for ink in get_args(Ink)}
            self._look = _Look(columns, inks, self.background_colors[1], self.get_line_filters(), {})
        return self._look

    def _arrange(self) -> None:
        """Arrange the text in rows. If there are too many rows, make the widget higher than its container."""
        room = self.parent.size.height if isinstance(self.parent, Widget) else 0
        self._face = arranged(self._words, self.size.width, room, glyphs_of(self.app))
        needed = len(self._face.rows) if len(self._face.rows) > room else None
        least = self.styles.min_height
        if needed != (None if least is None else least.value):
            self.styles.min_height = needed


def arranged(words: FaceWords, columns: int, rows: int, glyphs: Glyphs) -> Face:
    """Return the text arranged in at least `rows` rows of at most `columns` columns. The number fills the free rows.

    The text next to the number is made wider if it would otherwise need too many rows.
    """
    if columns <= 0:
        return Face((), None)
    faces = (_arranged(words, columns, rows, glyphs, beside) for beside in _BESIDE_COLUMNS)
    usual = next(faces)
    if len(usual.rows) <= rows:
        return usual
    return next((face for face in faces if len(face.rows) <= rows and face.pixel is not None), usual)


def _arranged(words: FaceWords, columns: int, rows: int, glyphs: Glyphs, beside_columns: int) -> Face:
    top = [_title_row(words, columns, glyphs)]
    top += [((line, "strong"),) for line in _lines([words.text], columns, glyphs)]
    bottom = list(_below(words, columns, glyphs))
    beside_columns = max(min(beside_columns, columns - _LEAST_NUMBER_COLUMNS - 1), 1)
    beside = _lines(words.beside, beside_columns, glyphs)
    number_columns = max(columns - beside_columns - 1, 1)
    number_rows = max(rows - len(top) - len(bottom), _LEAST_NUMBER_ROWS, len(beside))
    large = turns_above(words.number, number_columns, number_rows)
    pixel = pixel_size(large, number_columns, number_rows)
    number = big_lines(large, pixel, glyphs["full"]) if pixel else [glyphs.text(words.number)]
    listed = _listed(words, columns, number_rows - max(len(number), len(beside)), glyphs)
    if listed:
        bottom = list(_below(words._replace(coming=()), columns, glyphs))
        number_rows = max(rows - len(top) - len(bottom) - len(listed), len(number), len(beside))
    middle = zip_longest(number, beside, [""] * number_rows, fillvalue="")
    for left, right, _ in middle:
        top.append(((f"{left[:number_columns]:<{number_columns}} {right}".rstrip(), "strong"),))
    return Face((*top, *listed, *bottom), pixel)


def _listed(words: FaceWords, columns: int, spare: int, glyphs: Glyphs) -> list[Row]:
    """Return the rows that list the next steps, after a blank row; [] if `spare` rows are not enough for the list."""
    lines = [cut(glyphs.text(line), columns - 2, glyphs["ellipsis"]) for line in words.listed]
    lines = lines[: max(spare - 3, 0)]
    if len(lines) < min(_LEAST_LISTED, len(words.listed)) or not lines:
        return []
    return [(("", "plain"),), (("Next:", "plain"),), *(((f"  {line}", "plain"),) for line in lines), (("", "plain"),)]


def _title_row(words: FaceWords, columns: int, glyphs: Glyphs) -> Row:
    # In a narrow column the count comes right after the title.
    least = _TITLE_COLUMNS if columns >= 2 * _TITLE_COLUMNS else 0
    title = f"{glyphs.text(words.title):<{least}}  "
    return (title, "strong"), (progress_in(words.done, words.total, columns - len(title), glyphs), "plain")


def _below(words: FaceWords, columns: int, glyphs: Glyphs) -> Iterator[Row]:
    """Yield the rows below the number: findings, instructions, cautions and the last logged step."""
    for line in _lines(words.findings, columns, glyphs):
        yield ((line, "strong"),)
    lines = [line for line in (*words.below, _passing(words), words.movements) if line]
    for line in _lines(lines, columns, glyphs):
        yield ((line, "plain"),)
    mark = f"{glyphs['caution']} "
    for caution in words.cautions:
        for line in wrapped(glyphs.text(caution), columns, first=mark, others="  "):
            yield ((line, "caution"),)
    for line in _lines([words.logged], columns, glyphs):
        yield ((line, "logged"),)


def _passing(words: FaceWords) -> str:
    """Return one row of text with the previous reading and the next readings."""
    parts = [f"before: {words.before}"] if words.before else []
    parts += ["next: " + ", ".join(words.coming)] if words.coming else []
    return "   ".join(parts)


def _lines(sentences: Sequence[str], columns: int, glyphs: Glyphs) -> list[str]:
    """Return the sentences, wrapped to `columns` terminal cells; [] if all sentences are empty."""
    if not any(sentences):
        return []
    return [line for sentence in sentences for line in _wrapped_sentence(glyphs.text(sentence), columns)]


@lru_cache(maxsize=64)
def _wrapped_sentence(sentence: str, columns: int) -> list[str]:
    """Return a sentence, wrapped to `columns` terminal cells. Some letters are two cells wide.

    Most sentences are the same as at the previous pass, so the results are cached.
    """
    if sentence.isprintable() and cell_len(sentence) <= columns:
        return [sentence]
    return [line.plain for line in Content(sentence).wrap(columns)]
