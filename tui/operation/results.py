"""The pages of results that a form shows next to its fields: figures with cautions, steps, and pictures."""

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from textual import on
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Static

from core.lathe.lathe import Lathe
from core.operations.form import Figure
from core.plan import Step
from core.values.plain_text import clean, wrapped
from tui.glyphs import Glyphs, glyphs_of
from tui.operation.plan_table import PlanTable
from tui.widgets.caution_list import CautionList
from tui.widgets.column_table import ColumnTable
from tui.widgets.figure_list import figure_contents
from tui.widgets.line_list import LineList
from tui.widgets.pager import Pager

FIELDS, FIGURES, STEPS, PICTURES = "fields", "figures", "steps", "pictures"
SETTINGS = "settings"
"""The name of the page that lists settings, for operations that have such a page."""
_BESIDE, _THREE = 100, 150
"""The fewest columns for showing figures beside the fields, and for showing a third page beside both."""
_LONGEST = 600


class VisiblePages(NamedTuple):
    """The pages of a form: those that are always visible, and those that are shown one at a time."""

    always: tuple[str, ...]
    turned: tuple[str, ...]

    def shown(self, page: str) -> tuple[str, ...]:
        """Return the visible pages while `page` is selected. The pages that are always visible come first."""
        return (*self.always, page if page in self.turned else self.turned[0])

    def after(self, page: str, step: int) -> str:
        """Return the page that F6 shows after `page`. A negative `step` returns the page before `page`."""
        here = self.turned.index(self.shown(page)[-1])
        return self.turned[(here + step) % len(self.turned)]


def visible_pages(pages: Sequence[str], columns: int) -> VisiblePages:
    """Return which of a form's pages a screen of `columns` columns always shows, and which it shows one at a time.

    >>> visible_pages(("fields", "figures", "steps"), 120).shown("steps")
    ('fields', 'steps')
    """
    always: tuple[str, ...] = ()
    if columns >= _BESIDE:
        always = (FIELDS, FIGURES) if columns >= _THREE else (FIELDS,)
    return VisiblePages(always, tuple(page for page in pages if page not in always))


class Figures(NamedTuple):
    """The contents of the page of figures, from top to bottom."""

    first: Iterable[Figure]
    """The most important figures."""
    own_cautions: Sequence[str]
    further: Iterable[Figure]
    usual_cautions: Sequence[str]


class OperationResults(Vertical):
    """The pages of results, below a row with the pages' names."""

    def __init__(
        self, pictures: Sequence[Widget], tables: Sequence[ColumnTable] = (), *, id: str | None = None
    ) -> None:
        """Make the pages.

        `pictures`: the widgets on the page of pictures. `tables`: further pages; the id of each table is the name of
        its page.
        """
        super().__init__(id=id)
        self._pictures, self._tables = pictures, {str(table.id): table for table in tables}

    def compose(self) -> ComposeResult:
        """Yield the row of page names, then the pages side by side."""
        yield Static(id="pages", markup=False)
        with Horizontal():
            yield Pager(lambda columns: (), id=FIGURES)
            with Vertical(id=STEPS):
                yield PlanTable(id="table")
                yield Static(id="step", markup=False)
                yield CautionList(id="step-cautions")
            with Vertical(id=PICTURES):
                yield from self._pictures
            yield from self._tables.values()

    def turn_to(self, sight: VisiblePages, page: str) -> None:
        """Show the pages that `sight` makes visible while `page` is selected.

        The row of page names marks `page`.
        """
        shown = sight.shown(page)
        for name in (FIGURES, STEPS, PICTURES, *self._tables):
            self.query_one(f"#{name}").display = name in shown
        self.display = shown != (FIELDS,)
        names = [f"[{name.upper()}]" if name == shown[-1] else f" {name.upper()} " for name in sight.turned]
        self.query_one("#pages", Static).update(Content(f"{' '.join(names)} F6"))

    def page_widget(self, page: str) -> Widget:
        """Return the widget of a page that scrolls and can have the focus."""
        if page in self._tables:
            return self._tables[page].lines
        return self.query_one({STEPS: "#table"}.get(page, f"#{page}"))

    def show(self, figures: Figures | None, steps: Sequence[Step], lathe: Lathe, instead: str) -> None:
        """Show figures and steps.

        If `figures` is None, show the text `instead`, which says why there is no plan.
        """
        glyphs = glyphs_of(self.app)
        self.query_one(Pager).show(lambda columns: [Content(instead)])
        if figures is not None:
            first, further = _under_each_other(figures.first, figures.further)
            self.query_one(Pager).show(
                lambda columns: [
                    *figure_contents(first, columns, glyphs),
                    *_caution_lines(figures.own_cautions, columns, glyphs),
                    *figure_contents(further, columns, glyphs),
                    *_caution_lines(figures.usual_cautions, columns, glyphs),
                ]
            )
        self.query_one(PlanTable).show_plan(steps, lathe)
        self._show_step()

    @on(LineList.Moved, "#table")
    def _show_step(self) -> None:
        step = self.query_one(PlanTable).step
        self.query_one("#step", Static).update(Content(glyphs_of(self.app).text(step.text if step else "")))
        self.query_one("#step-cautions", CautionList).show(step.cautions if step else ())


def _under_each_other(*parts: Iterable[Figure]) -> list[list[Figure]]:
    """Return the given lists of figures, with all names padded to the same width so that values are aligned."""
    lists = [list(part) for part in parts]
    widest = max((len(figure.name) for part in lists for figure in part), default=0)
    return [[figure._replace(name=figure.name.ljust(widest)) for figure in part] for part in lists]


def _caution_lines(cautions: Sequence[str], columns: int, glyphs: Glyphs) -> list[Content]:
    return [
        Content.styled(line, "$text-warning")
        for caution in cautions
        for line in wrapped(glyphs.text(clean(caution, _LONGEST)), columns, first=f"{glyphs['caution']} ", others="  ")
    ]
