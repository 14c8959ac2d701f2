"""The Textual app: its screens, the keys that work on every screen, and its colours."""

import asyncio
import gc
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar, cast

from textual.app import App
from textual.binding import Binding, BindingType
from textual.driver import Driver
from textual.events import Event, InputEvent, Key, Paste
from textual.filter import LineFilter
from textual.screen import Screen, ScreenResultType
from textual.scrollbar import ScrollBar

from core.lathe.lathe import Lathe
from core.values.errors import CoreError
from core.values.plain_text import sentence
from tui.context import AppContext
from tui.glyphs import Glyphs
from tui.key_flood import KeyFlood, limited_driver
from tui.key_queue import KeyQueue, Settled
from tui.number_keys import NumberKeys
from tui.painting import PaintFilter, PlainScrollBar
from tui.paths import Paths
from tui.presses import Presses
from tui.terminal import StoppableDriver, Terminal, TimeSource, leave_on_signals, stop_and_continue
from tui.themes import CONSOLE, THEMES, keep_look, kept_look, next_theme
from tui.widgets.base_screen import BaseScreen, Opening, later

if TYPE_CHECKING:
    from core.jobs.job import Job
    from core.operations.registry import PlanInput
    from core.plan import Plan

START_S = 2.0
"""The longest time that a start takes [s], including a start that continues a run."""
_FIRST_MESSAGE_S = 0.5
"""The time after which the first screen has shown its own message [s]."""
_FULL_AFTER = 1
"""The number of partial garbage collections before a full one."""


class HalfnutApp(App[None], inherit_bindings=False):
    """The Textual app of halfnut.

    It opens the first screen, owns the objects that all screens share, and passes keys to screens.
    """

    CSS_PATH = "halfnut.tcss"
    ENABLE_COMMAND_PALETTE = False
    DEFAULT_MODE = "board"
    MODES: ClassVar[dict[str, str | Opening]] = {"history": later("tui.history.screen", "HistoryScreen")}
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f1", "help", "Help", priority=True, tooltip="Read about this screen and its keys."),
        Binding(
            "question_mark",
            "help",
            "Help",
            show=False,
            tooltip="Open the help. In a field, this key types a question mark.",
        ),
        Binding("f2", "mode('board')", "Job", tooltip="Go to the job and its operations."),
        Binding("f3", "mode('history')", "History", tooltip="Go to earlier runs and their logged events."),
        Binding("f12", "convert", "Convert", tooltip="Convert a size to other units and to readings of your dials."),
        Binding("ctrl+p", "palette", "Actions", tooltip="List the actions of this page."),
        Binding("f9", "look", "Colours", show=False, tooltip="Switch to daylight, dark or console colours."),
        Binding("ctrl+q", "quit", "Quit", priority=True, tooltip="Quit the program. Everything is saved."),
        Binding("ctrl+c", "help_quit", show=False),
    ]

    def __init__(
        self,
        *,
        paths: Paths,
        clock: TimeSource,
        terminal: Terminal,
        lathe: Lathe,
        lathe_path: Path | None = None,
        job: "Job | None" = None,
        opening: Opening | None = None,
        presses: Presses | None = None,
    ) -> None:
        self.key_flood = KeyFlood()
        self.ending_by_signal = False
        """True once a signal ends the program.

        A later failure is saved in a file and does not change the exit status.
        """
        # Without colours, only the terminal's own foreground and background may be used.
        super().__init__(ansi_color=True if terminal.no_colour else None)
        presses = presses or Presses()
        self.key_queue = KeyQueue(
            self,
            presses,
            self.key_flood,
            numbers=NumberKeys(
                self,
                presses,
                instrument_unit=lambda: self.context.controls.instrument_unit,
                lathe_unit=lambda: self.context.lathe.unit,
            ),
            pedal=lambda: self.context.controls.pedal,
            undo_pedal=lambda: self.context.controls.undo_pedal,
            pass_on=self.pass_on,
            show_message=lambda sentence: self.context.show_message(sentence),
        )
        self.context = AppContext(
            self,
            self.key_queue,
            paths=paths,
            clock=clock,
            presses=presses,
            lathe=lathe,
            lathe_path=lathe_path,
            job=job,
            start_run=self._start_run,
        )
        # Widgets read these attributes through glyphs_of and terminal_of, which also work in a plain App.
        self.glyphs, self.terminal = Glyphs(terminal.charset, half_blocks=terminal.dots == "half"), terminal
        self.add_mode(self.DEFAULT_MODE, opening or self._first_screen)
        self._paint_filter = PaintFilter(self.glyphs)
        ScrollBar.renderer = PlainScrollBar
        for theme in THEMES:
            self.register_theme(theme)
        self.theme = CONSOLE if terminal.one_look else kept_look(paths.theme)

    def _first_screen(self) -> BaseScreen[None]:
        from tui.board.first_screen import first_screen

        return first_screen(self.context)

    def _start_run(self, plan_input: "PlanInput", plan: "Plan") -> None:
        from tui.runs import start_without_job

        start_without_job(self.context, plan_input, plan)

    def get_driver_class(self) -> type[Driver]:
        """Return a terminal driver class that drops keys while too many keys are waiting."""
        return limited_driver(super().get_driver_class(), self.key_flood)

    def get_line_filters(self) -> list[LineFilter]:
        """Return the filters for every painted row. The last filter replaces characters that the terminal lacks."""
        return [*super().get_line_filters(), self._paint_filter]

    def on_load(self) -> None:
        """Make signals end the program cleanly from now on, even while the program is starting."""
        if not self.is_headless:
            leave_on_signals(self.end)

    def on_mount(self) -> None:
        """Start passing keys to screens, and repaint the screen whenever a suspended program continues."""
        self.app_resume_signal.subscribe(self, lambda _: self.refresh(layout=True))
        self.key_queue.open()
        if self.context.controls_problem:
            self.set_timer(_FIRST_MESSAGE_S, lambda: self.context.show_message(self.context.controls_problem))
        if self._driver is not None and not self.is_headless:
            stop_and_continue(cast(StoppableDriver, self._driver))
        if not gc.isenabled():
            self.set_timer(START_S, _collect_garbage_again)

    def end(self, status: int) -> None:
        """End the program with the exit status `status` after a signal. Keys that are still waiting are dropped."""
        waiting: list[Any] = [self._message_queue.get_nowait() for _ in range(self._message_queue.qsize())]
        for message in waiting:
            if not isinstance(message, InputEvent):
                self._message_queue.put_nowait(message)
        self.ending_by_signal = True
        self.key_queue.close(lambda: self.exit(return_code=status))

    def _handle_exception(self, error: Exception) -> None:
        """Show an unexpected error and end the program.

        If a signal is already ending the program, only save the error and keep the exit status of the signal. Such an
        error is harmless: a closing screen may look for a widget that no longer exists.
        """
        if self.ending_by_signal:
            self.context.faults.keep(error, "while the program was ending")
        else:
            super()._handle_exception(error)

    def refresh_css(self, animate: bool = True) -> None:
        """Apply the style sheet again after the user has switched to other colours.

        Before the first screen exists, only the colour variables are set.
        """
        if not self.screen_stack:
            self.stylesheet.set_variables(self.get_css_variables())
        elif self.screen_stack[0].is_mounted:
            super().refresh_css(animate)

    async def on_event(self, event: Event) -> None:
        """Pass keys and pasted texts to screens one at a time, through the key queue.

        A letter key runs the same action in upper and lower case.
        """
        if isinstance(event, Key | Paste) and not event.is_forwarded:
            await self.key_queue.take(event)
            return
        if isinstance(event, Key):
            event.key = event.key.lower() if len(event.key) == 1 else event.key
        await super().on_event(event)

    async def pass_on(self, event: Key | Paste) -> None:
        """Send a key or a pasted text to the top screen."""
        await super().on_event(event)

    async def on_settled(self, message: Settled) -> None:
        """Pass on the next key, because everything caused by the previous key is finished."""
        await self.key_queue.settled(message.lap)

    async def push_screen_wait(  # type: ignore[override]
        self, screen: Screen[ScreenResultType], *, mode: str | None = None
    ) -> ScreenResultType:
        """Show a question and return the user's answer.

        Call this method only in a coroutine that `context.ask_in_turn` runs. `mode` is Textual's own parameter.
        """
        answer = self.push_screen(screen, wait_for_dismiss=True, mode=mode)
        self.key_queue.release()
        answer.add_done_callback(lambda _: self.key_queue.hold())
        # The asking coroutine may have been cancelled. The question can still be answered.
        return await asyncio.shield(answer)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Disable the action of F9, which changes the colours, if the terminal has only one set of colours."""
        return None if action == "look" and self.terminal.one_look else True

    def action_help(self) -> None:
        """Open the help page of the top screen, or close the help page if it is open."""
        from tui.help import HelpScreen

        if isinstance(self.screen, HelpScreen):
            self.screen.dismiss()
        else:
            self.push_screen(HelpScreen(self.screen))

    def action_palette(self) -> None:
        """List all actions of the top screen, and run the action that the user chooses."""
        from tui.palette import open_palette

        open_palette(self)

    def action_convert(self) -> None:
        """Open the conversion page with the text of the focused field."""
        from tui.convert.from_field import ask_conversion

        ask_conversion(self)

    async def action_mode(self, mode: str) -> None:
        """Show the main screen `mode`, such as the board, as the user left it.

        If a page of that main screen is open, close the page instead.
        """
        if mode == self.current_mode:
            self.key_queue.put_first("escape")
        else:
            await self.switch_mode(mode)

    def action_look(self) -> None:
        """Switch to the next set of colours and save the choice for the next start."""
        self.theme = next_theme(self.theme)
        try:
            keep_look(self.context.paths.theme, self.theme)
        except CoreError as error:
            self.context.show_message(
                f"The new colours could not be saved for the next start. {sentence(error.message)}"
            )

    def action_help_quit(self) -> None:
        """Show a message that says how to quit.

        Many people press Ctrl+C by habit, so Ctrl+C must not end the program.
        """
        self.context.show_message("Press Ctrl+Q to quit. Everything is saved.")


def _collect_garbage_again() -> None:
    """Turn garbage collection on again, but only for objects created from now on.

    Most objects are created while the program starts and remain until it ends. Collections that skip these objects are
    quick, so they can be frequent and soon free the memory of closed screens.
    """
    gc.freeze()
    gc.set_threshold(*gc.get_threshold()[:2], _FULL_AFTER)
    gc.enable()
