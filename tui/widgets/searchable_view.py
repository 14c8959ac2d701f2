"""The base class of lists and pages that open the search field with the / key."""

from typing import TYPE_CHECKING, cast

from textual.binding import Binding
from textual.scroll_view import ScrollView

if TYPE_CHECKING:
    from tui.widgets.search_line import Searchable, Sought


class SearchableView(ScrollView, can_focus=True):
    """Rows of text that the user can search. Subclasses also provide the members of `Searchable`."""

    BINDINGS = [
        Binding(
            "slash,divide",
            "search",
            "Search",
            key_display="/",
            tooltip="Search this page. Enter goes to the next match.",
        ),
    ]

    can_search = True
    """False for rows that are too few to need a search."""

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:
        super().__init__(id=id, classes=classes)
        self.last_search = ""
        """The text of the last search."""
        self._sought: Sought | None = None
        """The words that the user searches for; None without a search."""

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Disable the search key if these rows cannot be searched or a question is open."""
        return action != "search" or (self.can_search and not self.screen.is_modal)

    def action_search(self) -> None:
        """Open the search field."""
        from tui.widgets.search_line import open_search

        self.read_all()
        open_search(self.screen, cast("Searchable", self))

    def read_all(self) -> None:
        """Load the rows that have not been loaded yet, because a search needs all rows.

        Subclasses that load rows as needed override this method.
        """
