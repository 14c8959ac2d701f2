"""A screen with a form and its figures, steps and pictures: side by side if there is room, else as pages."""

from typing import ClassVar

from textual.reactive import reactive
from textual.widget import Widget

from tui.operation.results import FIELDS, FIGURES, STEPS, OperationResults, VisiblePages, visible_pages
from tui.widgets.base_screen import BaseScreen
from tui.widgets.line_list import LineList
from tui.widgets.pager import Pager

_FIELD_COLUMNS = 57
"""The width of the fields beside figures [columns]."""


class FormPages(BaseScreen[None]):
    """A screen with a form on the left (#left) and an OperationResults on the right: figures, steps and pictures."""

    PAGES: ClassVar[tuple[str, ...]] = (FIELDS, FIGURES, STEPS)

    page = reactive(FIELDS)
    """The page that is shown if not all are in sight."""

    _field: Widget | None = None
    """The field that last had the focus."""

    def show_summary(self) -> None:
        """Say in the last lines what is on pages that are out of sight."""

    def on_resize(self) -> None:
        """Show as many pages side by side as fit."""
        self._lay_out()

    def watch_page(self) -> None:
        """Show another page and give it the focus, when `page` changes."""
        if not self.is_mounted:
            return
        if self.focused is not None and self.query_one("#left") in self.focused.ancestors:
            self._field = self.focused
        self._lay_out()
        self._leave_the_fields()
        if FIELDS in self._visible.shown(self.page) and self._field is not None:
            self._field.focus()

    def on_screen_resume(self) -> None:
        """Take the focus from the fields if they are out of sight, because Textual puts it there."""
        self.call_next(self._leave_the_fields)

    def _leave_the_fields(self) -> None:
        if FIELDS not in (shown := self._visible.shown(self.page)):
            widget = self.query_one(OperationResults).page_widget(shown[-1])
            self.set_focus(widget if widget.focusable else None)

    @property
    def _visible(self) -> VisiblePages:
        return visible_pages(self.PAGES, self.size.width)

    def _lay_out(self) -> None:
        results, left = self.query_one(OperationResults), self.query_one("#left")
        results.turn_to(self._visible, self.page)
        left.display = FIELDS in self._visible.shown(self.page)
        left.styles.width = _FIELD_COLUMNS if results.display else "100%"
        self.show_summary()

    def action_turn(self, step: int) -> None:
        """Go to another page."""
        self.page = self._visible.after(self.page, step)

    def action_scroll_body(self, pages: int) -> None:
        """Scroll the page that is shown."""
        page = self._visible.shown(self.page)[-1]
        target = self.query_one("#left") if page == FIELDS else self.query_one(OperationResults).page_widget(page)
        if isinstance(target, LineList | Pager):
            target.action_page(pages)
        else:
            target.scroll_relative(y=pages * max(target.size.height - 1, 1), animate=False)
