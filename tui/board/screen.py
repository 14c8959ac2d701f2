"""The screen of the board: the open job's operations with their progress, or a list of what to open or start."""

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Container
from textual.events import ScreenResume
from textual.reactive import reactive

from core.jobs.job import Job
from core.operations.registry import OPERATIONS, errors_of, operation_of
from core.values.errors import CoreError
from core.values.plain_text import sentence
from tui.board.operation_detail import OperationDetail
from tui.board.operation_list import OperationList, Runs, next_operation
from tui.board.setup_offer import offer, open_setup
from tui.board.start_list import StartList
from tui.widgets.base_screen import BaseScreen
from tui.widgets.line_list import LineList

if TYPE_CHECKING:
    from core.events.state import RunSummary


LETTERS: Mapping[str, str] = {
    "thread": "t",
    "turn": "d",
    "face": "f",
    "groove": "g",
    "taper": "v",
    "drill": "j",
    "shoulders": "n",
    "runout": "u",
    "divide": "i",
    "holes": "b",
    "pattern": "r",
    "axes": "x",
    "square": "q",
    "grind": "z",
    "by_hand": "h",
}
"""The key that opens the empty form of each kind. No key of the page itself may be among them."""
_KEYS_OF_KINDS = tuple(
    Binding(
        LETTERS[kind],
        f"make('{kind}')",
        entry.title,
        show=False,
        tooltip=f"{sentence(entry.summary)} Open an empty form.",
    )
    for kind, entry in OPERATIONS.items()
    if kind in LETTERS
)


class BoardScreen(BaseScreen[None]):
    """Lists the operations of the open job. Without a job, or on request, lists what the user can open or start."""

    AUTO_FOCUS = ""
    HELP = (
        "This page lists the operations of your job with the progress of each. Choose an operation with the arrow "
        "keys and press Enter to start or continue it. If no job is open, choose a recent job, a sample, a file or "
        "a new operation."
    )
    MORE_HELP = (
        "You can start a new operation immediately or save it in the job first. The log records its steps in "
        "either case."
    )
    TERMS = ("job", "operation", "run", "step", "pass", "card", "abandoned")
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "start", "Start", tooltip="Start this operation."),
        Binding("enter", "continue", "Continue", tooltip="Continue this operation at the step where you closed it."),
        Binding("enter", "take", "Open", tooltip="Open or start the selected entry."),
        Binding("delete", "abandon", "Abandon", tooltip="Abandon this unfinished run. The log keeps it."),
        Binding("c", "card", "Card", tooltip="Read the figures, cautions and steps of this operation."),
        Binding("s", "summary", "Summary", tooltip="Show a summary of the newest run: sizes, passes, time and notes."),
        Binding("p,f10,ctrl+o", "view", "Picture", key_display="p", tooltip="Show the pattern on the whole screen."),
        Binding(
            "ctrl+d", "drawing", "Drawing", show=False, tooltip="Save the pattern at true size as an SVG file to print."
        ),
        Binding("a", "add", "Add", tooltip="Enter a new operation. Start it now or save it in the job."),
        Binding("e", "change", "Change", tooltip="Change, move or delete this operation, or set the material."),
        *_KEYS_OF_KINDS,
        Binding("l", "lathe", "Lathe", tooltip="Set up your lathe by answering questions about it."),
        Binding(
            "w",
            "lathe_record",
            "This lathe",
            show=False,
            tooltip="Compare the dials of this lathe with your measurements.",
        ),
        Binding(
            "k", "controls", "Pedal, bell", tooltip="Set up pedals, instruments, the bell and your folder of jobs."
        ),
        Binding("o", "choose_job", "Other job", tooltip="Open a recent job, a sample or a file, or make a new job."),
        Binding("escape", "close_choices", "Close", tooltip="Close this list and show the open job."),
        Binding("plus,add", "move(1)", "Next", show=False, tooltip="Go to the next row (same as the Down key)."),
        Binding(
            "minus,subtract", "move(-1)", "Previous", show=False, tooltip="Go to the previous row (same as the Up key)."
        ),
    ]

    choosing = reactive(False, bindings=True)
    """True while the list of what to open or start is shown instead of the job."""

    def __init__(self, said: str = "") -> None:
        """Make the board. `said`: a message to show when the board appears; "" for no message."""
        super().__init__()
        self._said = said
        self._job: Job | None = None
        self._runs: Runs | None = None
        self._log_is_read = False

    def compose_body(self) -> ComposeResult:
        """Yield the two lists, of operations and of what to open or start, and the selected operation's details."""
        with Container(id="board"):
            yield OperationList(id="operations")
            yield OperationDetail(id="detail")
        yield StartList(id="start")

    def on_mount(self) -> None:
        """Show the job, then read the log after the first paint."""
        self.show_job()
        self.show_message(self._said or offer(self.context))
        self.call_after_refresh(self.read_log)
        self.follow_log(self._log_changed)

    @on(ScreenResume)
    def _come_back(self) -> None:
        """Show what has changed while another screen was in front, such as finished passes or another open job."""
        if self.context.job is not self._job:
            self.show_job()
        if self._log_is_read:
            self.read_log()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Return True to show an action's key, or False to hide it if it does not suit the list that is shown."""
        if action in {"start", "continue"}:
            return not self.choosing and (action == "continue") == self._is_open
        if action in {"card", "change", "choose_job"}:
            return not self.choosing
        if action == "summary":
            return not self.choosing and self._latest_run is not None
        if action in {"view", "drawing"}:
            return not self.choosing and self._has_pattern
        if action == "abandon":
            return self.choosing and self.run_at_cursor is not None
        if action == "take":
            return self.choosing
        if action == "close_choices":
            return self.choosing and self.context.job is not None
        return True

    @property
    def _has_pattern(self) -> bool:
        """True if the selected operation has a pattern."""
        operation = self.query_one(OperationList).operation if self.is_mounted else None
        return operation is not None and operation_of(operation.kind).pattern is not None

    @property
    def _latest_run(self) -> "RunSummary | None":
        """The newest run of the selected operation; None if the operation has no run."""
        operation = self.query_one(OperationList).operation if self.is_mounted else None
        return (self._runs or {}).get(operation.name) if operation else None

    @property
    def _is_open(self) -> bool:
        """True if the newest run of the selected operation can be continued."""
        info = self._latest_run
        return info is not None and info.status == "running"

    @property
    def run_at_cursor(self) -> "RunSummary | None":
        """The unfinished run under the cursor in the list of what to open or start; None on any other entry."""
        entry = self.query_one(StartList).entry if self.is_mounted else None
        return entry.run if entry else None

    @on(LineList.Moved, "#start")
    def _pointed_at_entry(self, event: LineList.Moved) -> None:
        event.stop()
        self.refresh_bindings()

    # The job

    def open(self, path: Path) -> None:
        """Open a job file and show its job. If the file has errors, show them and keep the job that was open."""
        from tui.widgets.path_question import open_job

        if open_job(self.context, path) is not None:
            self.show_job()
            self.read_log()

    def show_job(self) -> None:
        """Show the open job from its first operation. If no job is open, list what to open or start."""
        self._job = self.context.job
        self._runs = None
        self.choosing = self._job is None
        self._show_operations()
        self._show_start_or_say()
        self._lay_out()

    def watch_choosing(self) -> None:
        """Show either the job or the list of what to open or start, after `choosing` has changed."""
        if self.is_mounted:
            self._lay_out()
            self._show_start_or_say()

    def _lay_out(self) -> None:
        self.title = self._job.title if self._job and not self.choosing else "Which job?"
        self.query_one("#board").display = not self.choosing
        start = self.query_one(StartList)
        start.display = self.choosing
        self.set_focus(start if self.choosing else self.query_one(OperationList))

    def point_at(self, name: str) -> None:
        """Move the cursor to the operation called `name`. If the job has no such operation, do nothing."""
        names = [operation.name for operation in self._job.operations] if self._job else []
        if name in names:
            self.query_one(OperationList).cursor = names.index(name)

    def _show_operations(self) -> None:
        operations = self._job.operations if self._job else ()
        self.query_one(OperationList).show_operations(operations, self._runs)
        self._show_detail()

    @on(LineList.Moved, "#operations")
    def _pointed(self, event: LineList.Moved) -> None:
        event.stop()
        self._show_detail()

    def _show_detail(self) -> None:
        operation, runs = self.query_one(OperationList).operation, self._runs
        info = runs.get(operation.name) if operation and runs else None
        self.query_one(OperationDetail).show_operation(operation, info, log_is_read=runs is not None)
        self.refresh_bindings()

    # The log

    def _log_changed(self) -> None:
        if self.is_current:
            self.read_log()

    def read_log(self) -> None:
        """Read the progress of all operations from the log, and move the cursor to the next operation to do.

        If the log cannot be read, the board still works.
        """
        from tui.board.known_jobs import note_opened
        from tui.log_check import check_log

        if not self.is_attached:
            # The user quit the program before the first paint.
            return
        first = not self._log_is_read
        self._log_is_read = True
        try:
            logbook = self.context.log.logbook()
            if self._job is not None:
                note_opened(self.context.paths.data, self._job)
                path = str(self._job.path.resolve())
                newest = [logbook.newest_run(path, operation.name) for operation in self._job.operations]
                latest = self.context.log.unfinished_operation(self.context.job)
                runs = {info.origin.op_name: info for info in newest if info and info.origin}
                self._show_runs(runs, latest.name if latest else None)
            self._show_start()
            if first:
                # Write-ahead entries of earlier starts go into the log file now, not while passes are counted.
                logbook.checkpoint()
                check_log(self.context)
            if notices := self.context.log.new_notices():
                self.show_message(notices)
        except CoreError as error:
            self._runs = None
            self._show_operations()
            self._show_no_log(error)

    def _show_runs(self, runs: Runs, opened_last: str | None) -> None:
        assert self._job is not None
        changed = self._runs != runs
        self._runs = runs
        self._show_operations()
        if changed:
            self.query_one(OperationList).cursor = next_operation(self._job.operations, runs, opened_last)

    def _show_start(self) -> None:
        if self.choosing:
            from tui.board import job_actions as making

            self.query_one(StartList).show_entries(making.start_entries(self))

    def _show_start_or_say(self) -> None:
        try:
            self._show_start()
        except CoreError as error:
            self._show_no_log(error)

    def _show_no_log(self, error: CoreError) -> None:
        self.show_message(f"{sentence(error.message)} Nothing can be logged yet. Press Enter to try again.")

    # Keys

    def action_move(self, step: int) -> None:
        """Move the cursor down by `step` rows, or up if `step` is negative."""
        (self.query_one(StartList) if self.choosing else self.query_one(OperationList)).action_move(step)

    def action_summary(self) -> None:
        """Show the closing summary of the selected operation's newest run."""
        info = self._latest_run
        if info is not None:
            from tui.reports.closing import ClosingScreen

            self.app.push_screen(ClosingScreen(info))

    def action_lathe_record(self) -> None:
        """Show the record of the lathe in use: how its dials compare with measurements."""
        from tui.reports.lathe_record import LatheRecordScreen

        self.app.push_screen(LatheRecordScreen())

    def action_start(self) -> None:
        """Start a run of the selected operation, or continue its unfinished run."""
        self.action_continue()

    def action_continue(self) -> None:
        """Continue the unfinished run of the selected operation. If there is none, start a run."""
        operation = self.query_one(OperationList).operation
        if operation is not None:
            from tui.runs import open_run

            self.show_message("")
            open_run(self.context, operation)

    def action_take(self) -> None:
        """Open or start what the selected entry of the list stands for."""
        entry = self.query_one(StartList).entry
        if entry is not None:
            self.show_message("")
            entry.act()

    def action_abandon(self) -> None:
        """Ask whether to abandon the unfinished run under the cursor, and abandon it if the user agrees."""
        if self.run_at_cursor is not None:
            from tui.runs import abandon_run

            abandon_run(self.context, self.run_at_cursor, self.read_log)

    def action_card(self) -> None:
        """Show the card of the selected operation."""
        operation = self.query_one(OperationList).operation
        if operation is not None and self._job is not None:
            from tui.board.card import CardScreen

            self.app.push_screen(CardScreen(operation, self._job))

    def action_view(self) -> None:
        """Show the pattern of the selected operation alone on the whole screen."""
        operation = self.query_one(OperationList).operation
        picture = None if operation is None else operation.picture
        if operation is not None and picture is not None:
            from tui.widgets.picture_keys import show_picture

            show_picture(self, operation.name, picture, errors=errors_of(operation.plan_input))

    def action_drawing(self) -> None:
        """Save the pattern of the selected operation as an SVG file at true size."""
        operation = self.query_one(OperationList).operation
        if operation is not None:
            from tui.widgets.drawing_file import save_drawing

            save_drawing(self, operation.name, operation.picture)

    def action_make(self, kind: str) -> None:
        """Show an empty form for a kind of operation."""
        from tui.board import job_actions as making

        making.make(self, kind)

    def action_add(self) -> None:
        """Ask for a kind of operation, and show an empty form for it."""
        from tui.board import job_actions as making

        making.add(self)

    def action_change(self) -> None:
        """Ask what to change in the selected operation, and make the change."""
        operation = self.query_one(OperationList).operation
        if operation is not None:
            from tui.board import job_actions as making

            making.change(self, operation)

    def action_lathe(self) -> None:
        """Open the set-up of the lathe."""
        open_setup(self)

    def action_controls(self) -> None:
        """Open the page with the settings for the pedal, the instruments and the bell."""
        from tui.controls_screen import ControlsScreen

        self.app.push_screen(ControlsScreen())

    def action_choose_job(self) -> None:
        """Show the list of what the user can open or start."""
        self.show_message("")
        self.choosing = True

    def action_close_choices(self) -> None:
        """Close the list of what to open or start, and show the job."""
        self.show_message("")
        self.choosing = False
