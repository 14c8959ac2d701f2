"""The objects that all screens share. The app creates them, and this module imports no screen."""

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
from tui.bell import Bell
from tui.controls import Controls, kept_controls
from tui.faults import FaultFile
from tui.log_access import REPAIRING, LogAccess
from tui.paths import Paths
from tui.presses import Presses
from tui.terminal import TimeSource

if TYPE_CHECKING:
    from core.jobs.job import Job
    from core.operations.registry import PlanInput
    from core.plan import Plan


class Keys(Protocol):
    """The methods of the key queue with which screens delay keys."""

    def hold(self) -> None:
        """Delay all keys until `release` is called."""

    def release(self) -> None:
        """Pass keys on again after `hold`."""

    def after_refresh(self, screen: Screen[Any], act: Callable[[], object]) -> None:
        """Call `act` after `screen` has handled the keys typed so far. Keys typed later wait until `act` has run."""

    async def ask_in_turn(self, questions: Coroutine[Any, Any, object]) -> None:
        """Run a coroutine that asks questions. Keys are passed on only while a question is the top screen."""


@runtime_checkable
class _Speaking(Protocol):
    """A screen that can show a message to the user."""

    def show_message(self, sentence: str) -> None:
        """Show `sentence` to the user as a message."""


class AppContext:
    """The shared state of all screens: paths, clock, log, faults, keys, the lathe in use and the open job.

    Screens also use it to open other screens, to ask questions and to show messages.
    """

    def __init__(
        self,
        app: App[None],
        keys: Keys,
        *,
        paths: Paths,
        clock: TimeSource,
        presses: Presses,
        lathe: Lathe,
        lathe_path: Path | None = None,
        job: "Job | None" = None,
        start_run: "Callable[[PlanInput, Plan], None]",
    ) -> None:
        """Make the shared state.

        `lathe_path` is the file given by --lathe; None without this option. `job` is the open job; None if no job is
        open. `start_run` starts a run that belongs to no job file.
        """
        self._app, self.keys, self.start_run = app, keys, start_run
        self.paths, self.clock, self.presses = paths, clock, presses
        self.controls: Controls
        """The present settings for pedals, instruments, the bell and the folder of jobs."""
        self.controls, self.controls_problem = kept_controls(paths.controls)
        self.bell = Bell(app.bell, lambda: self.controls.bell)
        self.faults = FaultFile(paths.data, clock)
        self.log = LogAccess(paths.data, self._show_repairing)
        self.session = urandom(16).hex()
        self.job, self.lathe_path, self._lathe = job, lathe_path, lathe
        self.shows_wood = True
        """True if patterns are shown shaded by depth like wood; False if they are drawn as lines."""
        self.lathe_changed: Signal[Lathe] = Signal(app, "lathe changed")
        self.log_changed: Signal[None] = Signal(app, "log changed")
        """A signal that is published when a run starts or ends. Screens that list runs subscribe to it."""
        self.log_repaired: Signal[None] = Signal(app, "log repaired")

    @property
    def lathe(self) -> Lathe:
        """The lathe whose dials the screens use. Setting another lathe publishes `lathe_changed`."""
        return self._lathe

    @lathe.setter
    def lathe(self, lathe: Lathe) -> None:
        if lathe != self._lathe:
            self._lathe = lathe
            self.lathe_changed.publish(lathe)

    @property
    def jobs_folder(self) -> Path:
        """The folder for the user's jobs and exports.

        It is the folder given by --jobs, or else the folder set on the settings page, or else the usual folder.
        """
        kept = self.controls.jobs
        return self.paths.jobs or (Path(kept) if kept else self.paths.documents)

    @property
    def size(self) -> Size:
        """The size of the terminal as (columns, rows)."""
        return self._app.size

    # Other screens.

    def push_screen(
        self, screen: Screen[ScreenResultType], then: Callable[[ScreenResultType | None], None] | None = None
    ) -> None:
        """Open `screen` on top of the other screens.

        If `then` is given, it is called with the result when `screen` closes.
        """
        self._app.push_screen(screen, then)

    def switch_screen(self, screen: Screen[Any]) -> None:
        """Replace the top screen with `screen`."""
        self._app.switch_screen(screen)

    async def ask(self, question: Screen[ScreenResultType]) -> ScreenResultType:
        """Show a question and return the user's answer. Call this only in a coroutine that `ask_in_turn` runs."""
        return await self._app.push_screen_wait(question)

    def ask_in_turn(self, questions: Coroutine[Any, Any, object]) -> None:
        """Start a coroutine that asks the user questions. No other screen opens until all of them are answered."""
        self.keys.hold()
        self._app.run_worker(self.keys.ask_in_turn(questions))

    def call_later(self, act: Callable[..., object], *arguments: object) -> None:
        """Call `act` in the program's main thread. Any thread may call this method."""
        self._app.call_later(act, *arguments)

    def after_this_screen(self, act: Callable[..., object], *arguments: object) -> None:
        """Call `act` with `arguments` after the top screen has handled the messages that already wait for it."""
        self._app.screen.call_later(act, *arguments)

    # Messages.

    def show_message(self, sentence: str) -> None:
        """Show a message on the topmost screen that can show messages."""
        shown = [screen for screen in self._app.screen_stack if isinstance(screen, _Speaking)]
        if shown:
            shown[-1].show_message(sentence)

    def show_message_at_once(self, sentence: str) -> None:
        """Write a message into the last row of the terminal at once, before work that delays painting.

        The screen is repainted after that work.
        """
        if self._app._driver is not None:
            columns, rows = self._app.size
            shown = clean(sentence, columns).ljust(columns)
            self._app._driver.write(f"\x1b7\x1b[{rows};1H\x1b[7m{shown}\x1b[27m\x1b8")
            self._app._driver.flush()
            self._app.call_later(self._app.refresh, layout=True)

    def show_failure(self, error: CoreError) -> None:
        """Show the message of an error.

        New notices of the log are shown before it, because the log may just have been repaired.
        """
        notices = self.log.new_notices()
        self.show_message(f"{notices} {error.message}".lstrip())
        if notices:
            self.log_has_changed()

    def log_has_changed(self) -> None:
        """Make every screen that lists runs read the log again."""
        self.log.forget_paces()
        self.log_changed.publish(None)

    def _show_repairing(self) -> None:
        self.show_message_at_once(REPAIRING)


class _WithContext(Protocol):
    context: AppContext


def context_of(node: DOMNode) -> AppContext:
    """Return the objects that all screens share. `node` is any widget or screen of the app."""
    return cast(_WithContext, node.app).context
