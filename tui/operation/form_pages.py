"""A screen for a form. It shows fields, figures, steps and pictures side by side, or one at a time if room is short."""

from typing import ClassVar

from textual.reactive import reactive
from textual.widget import Widget

from tui.operation.results import FIELDS, FIGURES, STEPS, OperationResults, VisiblePages, visible_pages
from tui.widgets.base_screen import BaseScreen
from tui.widgets.line_list import LineList
from tui.widgets.pager import Pager

_FIELD_COLUMNS = 57
"""The width of the fields when figures are beside them [columns]."""


class FormPages(BaseScreen[None]):
    """A screen with fields on the left (#left), and figures, steps and pictures on the right (OperationResults)."""

    PAGES: ClassVar[tuple[str, ...]] = (FIELDS, FIGURES, STEPS)

    page = reactive(FIELDS)
    """The selected page. It matters only if the screen cannot show all pages at once."""

    _field: Widget | None = None
    """The field that had the focus last."""

    def show_summary(self) -> None:
        """Show, in the last rows of the screen, a summary of the pages that are hidden."""

    def on_resize(self) -> None:
        """Show as many pages side by side as the new width has room for."""
        self._lay_out()

    def watch_page(self) -> None:
        """Show the page that `page` names, and move the focus to it."""
        if not self.is_mounted:
            return
        if self.focused is not None and self.query_one("#left") in self.focused.ancestors:
            self._field = self.focused
        self._lay_out()
        self._leave_the_fields()
        if FIELDS in self._visible.shown(self.page) and self._field is not None:
            self._field.focus()

    def on_screen_resume(self) -> None:
        """Remove the focus from a hidden field, because Textual gives the focus back to the field that had it last."""
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
        """Turn to the next page, or with a negative `step` to the previous page."""
        self.page = self._visible.after(self.page, step)

    def action_scroll_body(self, pages: int) -> None:
        """Scroll the selected page by `pages` screen heights."""
        page = self._visible.shown(self.page)[-1]
        target = self.query_one("#left") if page == FIELDS else self.query_one(OperationResults).page_widget(page)
        if isinstance(target, LineList | Pager):
            target.action_page(pages)
        else:
            target.scroll_relative(y=pages * max(target.size.height - 1, 1), animate=False)
