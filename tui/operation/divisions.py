"""A page about dividing with the rotary table: exact numbers of divisions, settings for any number, whole degrees."""

from collections.abc import Sequence
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.reactive import reactive
from textual.widgets import Static

from core.lathe.lathe import RotaryTable, how_to_add
from core.operations.dividing.division_tables import (
    DivisionAnswer,
    NumberRow,
    WholeDegreeRow,
    division_answers,
    exact_divisions,
    exact_step_and_means,
    number_rows,
    read_divisions,
    whole_degree_rows,
)
from core.operations.form import Figure
from core.values.errors import QuantityError
from core.values.plain_text import sentence
from tui.widgets.base_screen import BaseScreen
from tui.widgets.column_table import Column, ColumnTable
from tui.widgets.figure_list import FigureList
from tui.widgets.line_list import LineList
from tui.widgets.quantity_field import QuantityField

_MEANS = ("by the dial", "by a plate", "notches")
_WAYS = {"dial": "By the dial", "plate": "By a plate", "direct": "By notches"}
_EXACT_COLUMNS = (
    Column("into", 4),
    Column("to the next", 18, rank=2, align="left"),
    Column("exact with", 14, rank=1, align="left"),
)
_PAGES = ("exact", "every", "degrees")


class DivisionsScreen(BaseScreen[int | None]):
    """Shows the setting for the typed or selected number of divisions.

    Enter closes the page and returns this number. Esc returns None.
    """

    TITLE = "What divides exactly"
    HELP = (
        "This page shows which numbers your rotary table divides exactly, and how to set any other number. Type a "
        "number, or press F6 for another list and select one. Press Enter to put the number into the form."
    )
    TERMS = ("rotary table", "position", "arc second", "dividing plate", "sector arms", "notches")
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "take", "Use it", priority=True, tooltip="Put this number into the form."),
        Binding("f6", "turn", "Other list", tooltip="Show exact numbers, all numbers, or degrees."),
        Binding("down", "go(1)", "Line down", show=False, priority=True, tooltip="Go down into the list."),
        Binding("up", "go(-1)", "Line up", show=False, priority=True, tooltip="Go up to the field."),
        Binding("escape", "close", "Close", tooltip="Close this page without a number."),
    ]
    DEFAULT_CSS = """
    DivisionsScreen #divisions-page { height: 1fr; }
    DivisionsScreen #answer { margin: 0 0 1 0; }
    DivisionsScreen.-low #answer { margin: 0; }
    DivisionsScreen #which { height: 1; color: $text-primary; }
    """

    page = reactive("exact")
    """The list that is shown."""

    def __init__(self, typed: str = "") -> None:
        """Make the page. `typed`: the initial text of the number field."""
        super().__init__()
        self._exact: list[int] = []
        self._every: list[NumberRow] = []
        self._degrees: list[WholeDegreeRow] = []
        self._field = QuantityField("Divisions", read_divisions, text=typed, hint="any number", id="number")

    def compose_body(self) -> ComposeResult:
        """Yield the number field, the settings for the number, and the three lists."""
        with Vertical(id="divisions-page"):
            yield self._field
            yield FigureList(id="answer")
            yield Static(id="which", markup=False)
            # The field above already finds any number, so a search is not needed.
            yield ColumnTable(_EXACT_COLUMNS, id="exact", can_search=False)
            yield ColumnTable((), id="every", can_search=False)
            yield ColumnTable((), id="degrees", can_search=False)

    def on_mount(self) -> None:
        """Fill the lists for the rotary table of the lathe in use."""
        self._field.focus()
        self._answer()
        self.follow_lathe(self._answer)
        self._show_page()

    def on_resize(self) -> None:
        """Show as much of the settings for the number as the new size of the screen has room for."""
        self._show_answer()

    @property
    def _table(self) -> RotaryTable | None:
        return self.context.lathe.rotary_table

    def _answer(self) -> None:
        table = self._table
        if table is None:
            lathe = self.context.lathe.name
            self.show_message(f"This lathe ({lathe}) has no rotary table. {sentence(how_to_add('[rotary_table]'))}")
            return
        self._exact, self._every = list(exact_divisions(table)), number_rows(table)
        self._degrees = whole_degree_rows(table)
        self._shown("exact").show_rows(len(self._exact), self._exact_row)
        by_both = [(row.by_dial, row.by_plate) for row in self._every]
        every = (Column("into", 4), *_means_columns(by_both))
        self._shown("every").show_rows(len(self._every), lambda index: _cells(self._every[index]), every)
        by_all = [(row.by_dial, row.by_plate, row.direct) for row in self._degrees]
        degrees = (Column("into", 4), Column("step", 5), *_means_columns(by_all))
        self._shown("degrees").show_rows(len(self._degrees), lambda index: _cells(self._degrees[index]), degrees)
        self._show_answer()

    def _exact_row(self, index: int) -> tuple[str, ...]:
        divisions, table = self._exact[index], self._table
        return ("", "", "") if table is None else (str(divisions), *exact_step_and_means(table, divisions))

    def _shown(self, page: str) -> ColumnTable:
        return self.query_one(f"#{page}", ColumnTable)

    def watch_page(self) -> None:
        """Show the list that `page` names. If the previous list had the focus, move the focus to the new list."""
        if not self.is_mounted:
            return
        in_list = isinstance(self.focused, LineList)
        self._show_page()
        if in_list:
            self._shown(self.page).lines.focus()

    def _show_page(self) -> None:
        for page in _PAGES:
            self._shown(page).display = page == self.page
        words = [f"[{page.upper()}]" if page == self.page else f" {page.upper()} " for page in _PAGES]
        self.query_one("#which", Static).update(Content(f"{' '.join(words)} F6"))
        self._show_answer()

    # The answer.

    @property
    def number(self) -> int | None:
        """The typed number of divisions; the selected number if nothing is typed; None if the text is not valid."""
        if self._field.text.strip():
            return self._field.value
        index = self._shown(self.page).lines.cursor
        if self.page == "exact":
            return self._exact[index] if self._exact else None
        rows = self._every if self.page == "every" else self._degrees
        return max(rows[index].divisions, 2) if rows else None

    @on(QuantityField.Changed)
    @on(LineList.Moved)
    def _changed(self) -> None:
        self.work_out(self._show_answer, self._field.text)

    def _show_answer(self) -> None:
        table, number = self._table, self.number
        figures: list[Figure] = []
        if table is not None and number is not None:
            for answer in division_answers(table, number):
                figures += _answer_figures(answer, brief=self.has_class("-low"))
        self.query_one("#answer", FigureList).show(figures)

    # Keys.

    def action_turn(self) -> None:
        self.page = _PAGES[(_PAGES.index(self.page) + 1) % len(_PAGES)]

    def action_go(self, step: int) -> None:
        """Move the focus between the number field and the list, or move the selection in the list.

        `step`: 1 to move down, -1 to move up.
        """
        lines = self._shown(self.page).lines
        if not lines.has_focus:
            if step > 0:
                self._field.text = ""
                lines.focus()
                self._show_answer()
        elif step < 0 and lines.cursor == 0:
            self._field.focus()
        else:
            lines.action_move(step)

    def action_scroll_body(self, pages: int) -> None:
        """Scroll the list by `pages` pages, even while the number field has the focus."""
        self._shown(self.page).lines.action_page(pages)

    def action_take(self) -> None:
        """Close the page and return the number of divisions that is shown."""
        try:
            number = self.number if not self._field.text.strip() else read_divisions(self._field.text)
        except QuantityError as error:
            self.show_message(error.message)
            return
        self.dismiss(number)

    def action_close(self) -> None:
        """Close the page without a number."""
        self.dismiss(None)


def _answer_figures(answer: DivisionAnswer, *, brief: bool) -> list[Figure]:
    """Return the rows that describe one method of setting a number of divisions.

    With `brief`, return only the movements.
    """
    step = f"{answer.step}, {answer.worst}" if answer.worst else answer.step
    lines = [Figure(_WAYS[answer.means], step, "" if brief else answer.plate_text)]
    if answer.arms and not brief:
        lines.append(Figure("Sector arms", answer.arms))
    if answer.both_circles:
        lines.append(Figure("Both circles", answer.both_circles, "" if brief else "exact: pin first, then plate"))
    return lines


def _cells(row: NumberRow | WholeDegreeRow) -> list[str]:
    return [str(cell) for cell in row]


def _means_columns(cells: Sequence[Sequence[str]]) -> list[Column]:
    """Return a column for each method, as wide as its widest cell. A column without any text gets no width."""
    columns = []
    for rank, title in enumerate(_MEANS[: len(cells[0]) if cells else 0], start=1):
        widest = max(len(row[rank - 1]) for row in cells)
        shown = title if widest else ""
        columns.append(Column(shown, max(widest, len(shown)), rank=rank, align="left"))
    return columns
