"""The list of kept patterns, each with a small picture and a description.

Only the files of visible entries are read.
"""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NamedTuple

from textual.content import Content
from textual.geometry import Size
from textual.strip import Strip
from textual.visual import Visual

from core.jobs.kept_patterns import KeptPattern, read_kept
from core.lathe.lathe import Lathe
from core.operations.patterns.fitting import drawn_job, drawn_pattern
from core.operations.patterns.layers import PatternJob
from core.values.plain_text import clean, counted, wrapped
from tui.glyphs import glyphs_of
from tui.pattern.figures import cuts_text
from tui.terminal import terminal_of
from tui.themes import chosen_style
from tui.widgets.line_list import LineList
from tui.widgets.picture import painted_line
from tui.widgets.small_sketch import small_sketch

_ROWS, _ROWS_COARSE = 9, 12
"""The rows of one entry with fine dots and with coarse dots. Coarse dots need more rows."""
_COLUMNS_EACH_ROW = 2
_GAP = 2
_LONGEST = 400


class _Shown(NamedTuple):
    """One entry of the list as it is painted."""

    kept: KeptPattern
    picture: Sequence[Content]
    words: Sequence[str]


class KeptList(LineList):
    """A list of kept patterns, each in several rows. The Up and Down keys go from one pattern to the next."""

    def __init__(self, lathe: Callable[[], Lathe], *, id: str | None = None) -> None:
        """Make an empty list.

        `lathe`: a function that returns the lathe in use, because a pattern may name a cutter of that lathe.
        """
        super().__init__(id=id)
        self._lathe = lathe
        self._paths: Sequence[Path] = ()
        self._known: dict[tuple[Path, int], _Shown] = {}

    def show_files(self, paths: Sequence[Path]) -> None:
        """Show the kept patterns in the files `paths`."""
        self._paths = paths
        self._known.clear()
        self.set_count(len(paths))

    @property
    def path(self) -> Path | None:
        """The file of the selected pattern; None if the list is empty."""
        return self._paths[self.cursor] if self._paths else None

    @property
    def kept(self) -> KeptPattern | None:
        """The selected pattern; None if the list is empty.

        A pattern that cannot be read has the reason in `problem`.
        """
        return self._entry(self.cursor).kept if self._paths else None

    @property
    def rows_each(self) -> int:
        """The number of rows of one entry."""
        return _ROWS if terminal_of(self.app).dots in {"braille", "quadrant"} else _ROWS_COARSE

    def _entry(self, index: int) -> _Shown:
        """Return an entry of the list. The file is read and the picture drawn when the entry is first shown."""
        path, columns = self._paths[index], self.scrollable_content_region.width
        key = path, columns
        if key not in self._known:
            kept = read_kept(path)
            job = drawn_job(kept.parameters, self._lathe()) if kept.parameters else None
            picture = self._drawn(job) if job is not None else ()
            room = max(columns - _COLUMNS_EACH_ROW * self.rows_each - _GAP - 2, 1)
            words = wrapped(glyphs_of(self.app).text(clean(_about(kept, job), _LONGEST)), room)
            self._known[key] = _Shown(kept, picture, words[: self.rows_each - 2])
        return self._known[key]

    def _drawn(self, job: PatternJob) -> Sequence[Content]:
        rows, picture = self.rows_each - 1, drawn_pattern(job, self._lathe())
        if picture is None:
            return ()
        runs = small_sketch(picture, _COLUMNS_EACH_ROW * rows, rows, terminal_of(self.app).dots)
        return [painted_line(row) for row in runs]

    def _row(self, index: int, row: int) -> Content:
        """Return one row of an entry: that row of the picture, followed by that row of the name and description."""
        entry, wide, glyphs = self._entry(index), _COLUMNS_EACH_ROW * self.rows_each, glyphs_of(self.app)
        picture = entry.picture[row] if row < len(entry.picture) else Content("")
        is_pointed = index == self.cursor and self.has_focus
        pointer = glyphs["current"] if is_pointed and not row else " "
        words: str | tuple[str, str] = ""
        if row == 0:
            name = f" {glyphs.text(clean(entry.kept.name))} "
            words = (name, chosen_style(self.app) if is_pointed else "bold")
        elif row - 1 < len(entry.words):
            words = f" {entry.words[row - 1]}"
        return Content.assemble(f"{pointer} ", picture.pad_right(max(wide - picture.cell_length, 0)), words)

    # In this list one entry takes several rows.

    def render_line(self, y: int) -> Strip:
        """Return row `y` of the visible part of the list."""
        index, row = divmod(self.scroll_offset.y + y, self.rows_each)
        columns, style = self.scrollable_content_region.width, self.visual_style
        if index >= self.count or row == self.rows_each - 1:
            return Strip.blank(columns, style.rich_style)
        strips = Visual.to_strips(self, self._row(index, row), columns, 1, style, pad=True)
        return strips[0] if strips else Strip.blank(columns, style.rich_style)

    def keep_in_sight(self, index: int) -> None:
        """Scroll as little as needed to show an entry in full."""
        rows, top = self.scrollable_content_region.height, self.scroll_offset.y
        first, last = index * self.rows_each, (index + 1) * self.rows_each - 1
        if first < top:
            self.scroll_to(y=first, animate=False, force=True)
        elif rows and last > top + rows:
            self.scroll_to(y=max(last - rows, 0), animate=False, force=True)

    def action_page(self, pages: int) -> None:
        """Move the selection down by `pages` screens of entries; up if `pages` is negative."""
        self.cursor += pages * max(self.scrollable_content_region.height // self.rows_each, 1)

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """Return the number of rows that all entries take."""
        return self.count * self.rows_each

    def _resize(self) -> None:
        self.virtual_size = Size(self.scrollable_content_region.width, self.count * self.rows_each)


def _about(kept: KeptPattern, job: PatternJob | None) -> str:
    """Return the description of a kept pattern, or the reason why it cannot be opened.

    `job`: the pattern as read; None if its layers have errors.
    """
    if kept.problem:
        return kept.problem
    if job is None:
        return "The layers have errors. Open the pattern to see the errors in the form."
    blank = kept.parameters.get("blank_diameter")
    parts = [cuts_text(job), counted(len(job.layers), "layer"), f"blank of {blank}" if blank else "no blank entered"]
    cutters = list(dict.fromkeys(layer.cutter.name for layer in job.layers if layer.cutter))
    return (
        f"{', '.join(parts)}. {counted(len(cutters), 'cutter')}: {', '.join(cutters)}." if cutters else ", ".join(parts)
    )
