"""What all screens share; the program makes it, and it knows none of them."""

from collections.abc import Callable, Coroutine
from os import urandom
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol, cast, runtime_checkable

from textual.app import App
from textual.dom import DOMNode
from textual.geometry import Size
from textual.screen import Screen, ScreenResultType
from textual.signal import Signal

from core.lathe.lathe import Lathe
from core.values.errors import CoreError
from core.values.plain_text import clean
from tui.faults import FaultFile
from tui.glyphs import Glyphs
from tui.log_access import LogAccess
from tui.paths import Paths
from tui.presses import Presses
from tui.terminal import Terminal, TimeSource

if TYPE_CHECKING:
    from core.jobs.job import Job
    from core.operations.registry import PlanInput
    from core.plan import Plan


class Keys(Protocol):
    """The keys that wait until their screen is there; see tui.key_queue."""

    def hold(self) -> None:
        """Let no key in until `release`."""

    def release(self) -> None:
        """Let keys in again."""

    def after_refresh(self, screen: Screen[Any], act: Callable[[], object]) -> None:
        """Do something once what was typed has been judged; the keys behind it come after that."""

    async def ask_in_turn(self, questions: Coroutine[Any, Any, object]) -> None:
        """Do what asks questions; only while one is on top keys are let in."""


@runtime_checkable
class _Speaking(Protocol):
    """A screen with a line for a sentence."""

    def say(self, sentence: str) -> None:
        """Show a sentence."""


class AppContext:
    """Paths, clock, terminal, log, faults, keys; the lathe in use and the open job; the way to other screens."""

    def __init__(
        self,
        app: App[None],
        keys: Keys,
        *,
        paths: Paths,
        clock: TimeSource,
        terminal: Terminal,
        presses: Presses,
        lathe: Lathe,
        lathe_path: Path | None = None,
        job: "Job | None" = None,
        start_run: "Callable[[PlanInput, Plan], None]",
    ) -> None:
        """`lathe_path`: the file of --lathe. `start_run` starts a run that no job file holds."""
        self._app, self.keys, self.start_run = app, keys, start_run
        self.paths, self.clock, self.terminal, self.presses = paths, clock, terminal, presses
        self.glyphs = Glyphs(terminal.charset, half_blocks=terminal.dots == "half")
        self.faults = FaultFile(paths.data, clock)
        self.log = LogAccess(paths.data, self._say_repairing)
        self.session = urandom(16).hex()
        self.job, self.lathe_path, self._lathe = job, lathe_path, lathe
        self.lathe_changed: Signal[Lathe] = Signal(app, "lathe changed")
        self.log_changed: Signal[None] = Signal(app, "log changed")
        """A run has begun or ended: for screens that list runs."""
        self.log_repaired: Signal[None] = Signal(app, "log repaired")

    @property
    def lathe(self) -> Lathe:
        """The lathe all numbers are for; a job may bring its own."""
        return self._lathe

    @lathe.setter
    def lathe(self, lathe: Lathe) -> None:
        if lathe != self._lathe:
            self._lathe = lathe
            self.lathe_changed.publish(lathe)

    @property
    def size(self) -> Size:
        """Columns and rows of the terminal."""
        return self._app.size

    # Other screens.

    def push_screen(
        self, screen: Screen[ScreenResultType], then: Callable[[ScreenResultType | None], None] | None = None
    ) -> None:
        """Show another screen; `then` is called with what it was closed with."""
        self._app.push_screen(screen, then)

    def switch_screen(self, screen: Screen[Any]) -> None:
        """Show another screen in the place of the one on top."""
        self._app.switch_screen(screen)

    async def ask(self, question: Screen[ScreenResultType]) -> ScreenResultType:
        """Ask a question, and return its answer; inside `ask_in_turn` only."""
        return await self._app.push_screen_wait(question)

    def ask_in_turn(self, questions: Coroutine[Any, Any, object]) -> None:
        """Do what asks questions with `ask`; no other screen comes before they are asked and answered."""
        self.keys.hold()
        self._app.run_worker(self.keys.ask_in_turn(questions))

    def call_later(self, act: Callable[..., object], *arguments: object) -> None:
        """Do something in the program's own turn; may be called from any thread."""
        self._app.call_later(act, *arguments)

    def after_this_screen(self, act: Callable[..., object], *arguments: object) -> None:
        """Do something once the screen on top by then has come back."""
        self._app.screen.call_later(act, *arguments)

    # Sentences.

    def say(self, sentence: str) -> None:
        """Let the topmost screen that can show a sentence show one."""
        shown = [screen for screen in self._app.screen_stack if isinstance(screen, _Speaking)]
        if shown:
            shown[-1].say(sentence)

    def say_at_once(self, sentence: str) -> None:
        """Show a sentence in the last row while the program is about to be busy; the screen comes back after that."""
        if self._app._driver is not None:
            columns, rows = self._app.size
            shown = clean(sentence, columns).ljust(columns)
            self._app._driver.write(f"\x1b7\x1b[{rows};1H\x1b[7m{shown}\x1b[27m\x1b8")
            self._app._driver.flush()
            self._app.call_later(self._app.refresh, layout=True)

    def say_failure(self, error: CoreError) -> None:
        """Say why something could not be done, after what the log has to say: it may have been repaired on the way."""
        notices = self.log.new_notices()
        self.say(f"{notices} {error.message}".lstrip())
        if notices:
            self.log_has_changed()

    def log_has_changed(self) -> None:
        """Let the screens that list runs look at the log again."""
        self.log_changed.publish(None)

    def _say_repairing(self) -> None:
        self.say_at_once("The log is damaged and is being repaired. Wait; keys are answered after that.")


class _WithContext(Protocol):
    context: AppContext


def context_of(node: DOMNode) -> AppContext:
    """Return what the program gives to all of its screens and widgets."""
    return cast(_WithContext, node.app).context
