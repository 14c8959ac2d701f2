"""What all screens have in common: header line, body, one message, key bar, and a help page made from the keys."""

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
"""The fewest columns of a screen with each style class. A screen has only the class for its width."""
HEIGHTS = [(0, "-low"), (16, "-medium"), (30, "-high")]
"""The fewest rows of a screen with each style class."""


Opening = Callable[[], Screen[Any]]


def later(module: str, name: str) -> Opening:
    """Return a function that makes a screen, and imports the screen's module only when it is called."""

    def screen() -> Screen[Any]:
        return cast(Screen[Any], getattr(import_module(module), name)())

    return screen


def take_size(screen: Screen[Any]) -> None:
    """Give a screen the style classes of its size before its widgets are made; later, they would be styled twice."""
    columns, rows = screen.app.size
    for size, steps in ((columns, WIDTHS), (rows, HEIGHTS)):
        screen.add_class([name for least, name in steps if size >= least][-1], update=False)


class Body(ScrollableContainer, can_focus=False):
    """What is between the header and the keys. It scrolls if it does not fit on a small terminal."""


class BaseScreen(Screen[ScreenResultType]):
    """A screen of halfnut.

    Subclasses have TITLE (or set `title`), HELP, TERMS and BINDINGS with a tooltip each, and yield their widgets in
    `compose_body`. A screen without fields sets AUTO_FOCUS = "".
    """

    HELP: ClassVar[str] = ""
    """What the screen is for and what to do, in three sentences at most, for the top of its help page."""
    MORE_HELP: ClassVar[str] = ""
    """More about the screen, for the help page below the keys. Blank lines separate its paragraphs."""
    TERMS: ClassVar[tuple[str, ...]] = ()
    """The terms of the screen that its help page explains; see tui.glossary."""
    HORIZONTAL_BREAKPOINTS = WIDTHS
    VERTICAL_BREAKPOINTS = HEIGHTS
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("pageup", "scroll_body(-1)", "Page up", show=False),
        Binding("pagedown", "scroll_body(1)", "Page down", show=False),
    ]

    @property
    def help_text(self) -> str:
        """What this screen is for and what to do, as it is at present."""
        return self.HELP

    @property
    def more_help(self) -> str:
        """More about this screen, for the help page below the keys, as it is at present."""
        return self.MORE_HELP

    @property
    def terms(self) -> tuple[str, ...]:
        """The terms that the help page of this screen explains, as it is at present."""
        return self.TERMS

    def is_useful(self, action: str) -> bool:
        """Return whether the key bar shows a key now. A key that it does not show can still say why it does nothing.

        The key of the main screen that this one belongs to is not shown: Esc leads back to it.
        """
        return action != f"mode('{self.app.current_mode}')"

    def drawn_otherwise(self) -> None:
        """Say anew how the picture is drawn; called after another screen has changed that."""

    @property
    def is_searching(self) -> bool:
        """Whether the user is searching on this screen, so that Enter and the arrows belong to the search."""
        return bool(self.query("SearchLine"))

    @property
    def context(self) -> AppContext:
        """What all screens share: lathe, job, log, paths, clock."""
        return context_of(self)

    @property
    def lathe_shown(self) -> "Lathe":
        """The lathe to which the numbers on this screen belong."""
        return self.context.lathe

    def compose(self) -> ComposeResult:
        """Yield header, body, message and keys."""
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
        """Close this page. If another page is on top of it, close neither."""
        return super().dismiss(result) if self.app.screen is self else AwaitComplete()

    def on_unmount(self) -> None:
        """Free the painted rows. Textual keeps those of the last thousand widgets, even of closed screens."""
        StylesCache.get_inner_outer.cache_clear()
        self.context.lathe_changed.unsubscribe(self)
        self.context.log_changed.unsubscribe(self)

    def follow_lathe(self, changed: Callable[[], object]) -> None:
        """Call `changed` whenever the lathe in use changes, until this screen is closed.

        Without that end, the program would keep the screen for ever.
        """
        self.context.lathe_changed.subscribe(self, lambda _: changed())

    def follow_log(self, changed: Callable[[], object]) -> None:
        """Call `changed` whenever a run starts or ends."""
        self.context.log_changed.subscribe(self, lambda _: changed())

    def show_message(self, sentence: str) -> None:
        """Show a message above the keys until another one replaces it.

        A screen that is not ready yet shows it later.
        """
        if lines := self.query(MessageLine):
            lines.first().show_message(sentence)
        elif not self.is_mounted:
            self.call_later(self.show_message, sentence)

    def work_out(self, work: Callable[[], object], typed: object = "") -> None:
        """Do `work` on what the user types. If the program itself fails, show that and save the details."""
        if said := self.context.faults.guard(work, f"{type(self).__name__}: {typed}"):
            self.show_fault(said)

    def show_fault(self, sentence: str) -> None:
        """Show that the program itself failed on what the user typed."""
        self.show_message(sentence)

    def action_scroll_body(self, pages: int) -> None:
        """Scroll a body that does not fit on a small terminal."""
        body = self.query_one("#body", Body)
        body.scroll_relative(y=pages * max(body.size.height - 1, 1), animate=False)
