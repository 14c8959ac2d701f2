"""The base class of all screens, with a header, a body, one message, a key bar and a help page."""

from collections.abc import Callable
from importlib import import_module
from typing import TYPE_CHECKING, Any, ClassVar, cast

from textual._styles_cache import StylesCache
from textual.app import ComposeResult
from textual.await_complete import AwaitComplete
from textual.binding import Binding, BindingType
from textual.containers import ScrollableContainer
from textual.screen import Screen, ScreenResultType

from tui.context import AppContext, context_of
from tui.widgets.header_line import HeaderLine
from tui.widgets.key_bar import KeyBar
from tui.widgets.message_line import MessageLine

if TYPE_CHECKING:
    from core.lathe.lathe import Lathe


WIDTHS = [(0, "-narrow"), (60, "-normal"), (100, "-wide")]
"""The fewest columns of a screen for each style class. A screen has only the class for its width."""
HEIGHTS = [(0, "-low"), (16, "-medium"), (30, "-high")]
"""The fewest rows of a screen for each style class."""


Opening = Callable[[], Screen[Any]]


def later(module: str, name: str) -> Opening:
    """Return a function that makes a screen of the class `name` in `module`.

    The module is imported only when that function is called.
    """

    def screen() -> Screen[Any]:
        return cast(Screen[Any], getattr(import_module(module), name)())

    return screen


def take_size(screen: Screen[Any]) -> None:
    """Give a screen the style classes for its size, before its widgets are made.

    Otherwise the widgets would be styled twice.
    """
    columns, rows = screen.app.size
    for size, steps in ((columns, WIDTHS), (rows, HEIGHTS)):
        screen.add_class([name for least, name in steps if size >= least][-1], update=False)


class Body(ScrollableContainer, can_focus=False):
    """The part of a screen between the header and the message. It scrolls if it does not fit on a small terminal."""


class BaseScreen(Screen[ScreenResultType]):
    """The base class of halfnut's screens.

    Subclasses define TITLE (or set `title`), HELP, TERMS, and BINDINGS with a tooltip for each key. They yield their
    widgets in `compose_body`. A screen without fields sets AUTO_FOCUS = "".
    """

    HELP: ClassVar[str] = ""
    """The purpose of the screen and the user's next action, in at most three sentences, for the help page."""
    MORE_HELP: ClassVar[str] = ""
    """Further explanations for the help page, shown below the keys. Blank rows separate paragraphs."""
    TERMS: ClassVar[tuple[str, ...]] = ()
    """The terms that the screen's help page explains; see tui.glossary."""
    HORIZONTAL_BREAKPOINTS = WIDTHS
    VERTICAL_BREAKPOINTS = HEIGHTS
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("pageup", "scroll_body(-1)", "Page up", show=False),
        Binding("pagedown", "scroll_body(1)", "Page down", show=False),
    ]

    @property
    def help_text(self) -> str:
        """The purpose of this screen and the user's next action, for the help page.

        Subclasses may override this text.
        """
        return self.HELP

    @property
    def more_help(self) -> str:
        """Further explanations for the help page, shown below the keys. Subclasses may override this text."""
        return self.MORE_HELP

    @property
    def terms(self) -> tuple[str, ...]:
        """The terms that the help page of this screen explains."""
        return self.TERMS

    def is_useful(self, action: str) -> bool:
        """Return True if the key bar shows the key of `action` now.

        The key of the main screen to which this page belongs is not shown, because Esc returns to that screen. A hidden
        key still works, for example to explain why it does nothing.
        """
        return action != f"mode('{self.app.current_mode}')"

    @property
    def is_searching(self) -> bool:
        """True while the user searches on this screen. Enter and the arrow keys then belong to the search."""
        return bool(self.query("SearchLine"))

    @property
    def context(self) -> AppContext:
        """The shared state of all screens: lathe, job, log, paths, clock."""
        return context_of(self)

    @property
    def lathe_shown(self) -> "Lathe":
        """The lathe to which the numbers on this screen apply."""
        return self.context.lathe

    def compose(self) -> ComposeResult:
        """Yield the header, the body, the message and the key bar."""
        take_size(self)
        yield HeaderLine(lambda: self.lathe_shown)
        with Body(id="body"):
            yield from self.compose_body()
        yield MessageLine()
        yield KeyBar()

    def compose_body(self) -> ComposeResult:
        """Yield the widgets between the header and the message."""
        yield from ()

    def dismiss(self, result: ScreenResultType | None = None) -> AwaitComplete:
        """Close this page with `result`. If another page is on top of this page, close neither of them."""
        return super().dismiss(result) if self.app.screen is self else AwaitComplete()

    def on_unmount(self) -> None:
        """Free the memory that Textual keeps for this closed screen, and stop following the lathe and the log."""
        StylesCache.get_inner_outer.cache_clear()
        self.context.lathe_changed.unsubscribe(self)
        self.context.log_changed.unsubscribe(self)

    def follow_lathe(self, changed: Callable[[], object]) -> None:
        """Call `changed` whenever the lathe in use changes, until this screen closes.

        A subscription that did not end would keep the closed screen in memory.
        """
        self.context.lathe_changed.subscribe(self, lambda _: changed())

    def follow_log(self, changed: Callable[[], object]) -> None:
        """Call `changed` whenever a run starts or ends, until this screen closes."""
        self.context.log_changed.subscribe(self, lambda _: changed())

    def show_message(self, sentence: str) -> None:
        """Show a message above the keys until another message replaces it.

        If this screen is still opening, the message is shown as soon as it is open.
        """
        if lines := self.query(MessageLine):
            lines.first().show_message(sentence)
        elif not self.is_mounted:
            self.call_later(self.show_message, sentence)

    def work_out(self, work: Callable[[], object], typed: object = "") -> None:
        """Run `work`, a calculation with text that the user typed, and show an unexpected error as a message.

        The details of the error and `typed`, the user's text, are saved in the fault file.
        """
        if said := self.context.faults.guard(work, f"{type(self).__name__}: {typed}"):
            self.show_fault(said)

    def show_fault(self, sentence: str) -> None:
        """Show a sentence about an unexpected error that occurred while the user typed."""
        self.show_message(sentence)

    def action_scroll_body(self, pages: int) -> None:
        """Scroll the body by `pages` pages, if it does not fit on the terminal."""
        body = self.query_one("#body", Body)
        body.scroll_relative(y=pages * max(body.size.height - 1, 1), animate=False)
