"""The page of one logged run: every event in words, with its step, dial readings and time."""

from collections.abc import Iterator, Sequence
from itertools import islice
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.reactive import reactive

from core.events.event import Event, run_time_ms
from core.events.state import RunSummary
from core.pages.log_export import clock_remark
from core.run.counter_view import hours_and_minutes
from core.run.event_words import EventLine, event_lines_as_read, notes_of, run_names, wall_parts
from core.values.errors import CoreError
from core.values.plain_text import clean, sentence, wrapped
from tui.glyphs import glyphs_of, shortened
from tui.widgets.base_screen import BaseScreen
from tui.widgets.line_list import LineList
from tui.widgets.pager import Pager

_LEAST_FOR_DATE, _LEAST_FOR_STEP = 76, 60
_AT_ONCE = 250
"""How many events are put in words before the program handles the next key."""


class EventList(LineList):
    """The list of a run's events, one in each row, shortened to the width of the screen. Undone events are grey."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._events: Sequence[EventLine] = ()

    def show_events(self, events: Sequence[EventLine]) -> None:
        """Show these events in place of those shown so far."""
        self._events = events
        self.set_count(len(events))

    @property
    def event_line(self) -> EventLine | None:
        """The event under the cursor; None if the list is empty."""
        return self._events[self.cursor] if self._events else None

    def search_text(self, index: int) -> str:
        """Return the text of an event that a search looks through: its time, its step and its words."""
        event, step, words, undone = self._events[index]
        return glyphs_of(self.app).text(f"{' '.join(wall_parts(event.wall))} {step} {'(undone) ' * undone}{words}")

    def line(self, index: int, columns: int) -> Content:
        """Return the row of the event at `index`, `columns` characters wide, as it is painted."""
        glyphs = glyphs_of(self.app)
        event, step, words, taken_back = self._events[index]
        date, time = wall_parts(event.wall)
        head = f"{date} {time}  " if columns >= _LEAST_FOR_DATE else f"{time[:5]} "
        if columns >= _LEAST_FOR_STEP:
            widest = max(len(line.step) for line in (self._events[0], self._events[-1], self._events[index]))
            head += f"{step:<{max(widest, 8)}}  "
        if taken_back:
            words = f"(undone) {words}"
        text = head + shortened(glyphs.text(words), columns - len(head))
        return Content.styled(text, "$text-muted" if taken_back else "")


class RunLogScreen(BaseScreen[None]):
    """Shows the events of a run as they were logged. The selected event is shown in full below the list."""

    AUTO_FOCUS = "#events"
    HELP = (
        "This page shows the events of one run, the oldest first, each with its time, step and action. "
        "Choose an event with the arrow keys to read the whole event below, and press Tab to scroll a long event. "
        "Every reading is as the dial showed it, and an undone event stays in the log, marked as undone."
    )
    TERMS = ("run", "event", "step", "reading", "undo", "abandoned")
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,asterisk,multiply", "close", "Close", key_display="Esc", tooltip="Close this page."),
        Binding("n", "notes", "Notes", tooltip="Show only the notes, or all events again."),
        Binding("s", "summary", "Summary", tooltip="Show a summary of this run: sizes, passes, time and notes."),
        Binding("x", "export", "Export", tooltip="Save this run in a file: text, CSV or JSON."),
        Binding("g", "continue", "Continue", tooltip="Continue this run at the step where it was closed."),
        Binding("delete", "abandon", "Abandon", tooltip="Abandon this unfinished run. The log keeps it."),
        Binding("plus,add", "move(1)", "Next", show=False, tooltip="Go to the next event (same as the Down key)."),
        Binding(
            "minus,subtract",
            "move(-1)",
            "Previous",
            show=False,
            tooltip="Go to the previous event (same as the Up key).",
        ),
    ]

    notes_only = reactive(False, init=False)

    def __init__(self, info: RunSummary) -> None:
        super().__init__()
        name, job = run_names(info)
        self.title = f"{name}, {job}" if job else name
        self._info = info
        self._complete = False
        self._lines: list[EventLine] = []
        self._took_ms: int | None = None
        self._pending: Iterator[EventLine] = iter(())
        self._painted = False

    def compose_body(self) -> ComposeResult:
        """Yield the list of events, and below it the selected event in full."""
        yield EventList(id="events")
        full = Pager(self._full_lines, id="full")
        full.can_search = False
        yield full

    def on_screen_resume(self) -> None:
        """Read the run each time this page comes to the front, because it may have been continued meanwhile."""
        self.read_run()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Return True to show an action's key, or None to dim it.

        Only an open run can be continued or abandoned. A run can be exported or summed up only after it has been read.
        """
        if action in {"continue", "abandon"}:
            return True if self._info.status == "running" else None
        if action in {"export", "summary"}:
            return True if self._lines else None
        return True

    def read_run(self) -> None:
        """Read the events of the run page by page. If they cannot be read, show the reason."""
        try:
            self._info = self.context.log.logbook().run(self._info.uid) or self._info
        except CoreError as error:
            self.context.show_failure(error)
            return
        self._took_ms = None
        self._lines, self._pending = [], event_lines_as_read(self._events())
        self._read_on()
        self.refresh_bindings()

    def _events(self) -> Iterator[Event]:
        """Yield the events of the run, read from the log page by page.

        Raises LogbookError if the log cannot be read.
        """
        first = 0
        while page := self.context.log.logbook().events_from(self._info.uid, first, _AT_ONCE):
            yield from page
            first += len(page)

    def _read_on(self) -> None:
        """Show the next page of events in words, and let the program handle keys before the page after it."""
        try:
            some = list(islice(self._pending, _AT_ONCE))
        except CoreError as error:
            self.context.show_failure(error)
            return
        self._lines += some
        for line in some:
            self._mute_what_it_takes_back(line.event)
        self._complete = len(some) < _AT_ONCE
        self._show_lines()
        if not self._complete and self.is_attached:
            self.call_later(self._read_on)

    def _mute_what_it_takes_back(self, event: Event) -> None:
        seq = event.body.get("seq") if event.kind == "undone" else None
        if isinstance(seq, int) and 0 <= seq < len(self._lines):
            self._lines[seq] = self._lines[seq]._replace(undone=True)

    def watch_notes_only(self) -> None:
        """Show either all events or only the notes, after `notes_only` has changed."""
        self._show_lines()

    def _show_lines(self) -> None:
        shown = notes_of(self._lines) if self.notes_only else self._lines
        events = self.query_one(EventList)
        events.show_events(shown)
        if self._complete and not self._painted:
            # Users look for the latest event.
            events.cursor = events.cursor or len(shown) - 1
            self._painted = True
        self.query_one("#full", Pager).show(self._full_lines)
        if not self._complete:
            self.show_message(f"Read so far: {len(self._lines)} of {self._info.last_seq + 1} events.")
        else:
            self.show_message("This run has no notes." if self.notes_only and not shown else "")

    @on(LineList.Moved, "#events")
    def _moved(self, event: LineList.Moved) -> None:
        event.stop()
        self.query_one("#full", Pager).show(self._full_lines)

    def _full_lines(self, columns: int) -> list[Content]:
        """Return the selected event in full, with any remark on a wrong clock, and the duration of the run."""
        line = self.query_one(EventList).event_line
        if line is None:
            return []
        date, time = wall_parts(line.event.wall)
        head = f"{date} {time}" + (f", step {line.step}" if line.step else "")
        sentences = [f"{head}: {line.words}" + ("; undone later" if line.undone else "")]
        before = self._lines[line.event.seq - 1].event if line.event.seq else None
        remark = clock_remark(before, line.event) if before else ""
        sentences += [sentence(f"the clock: {remark}")] if remark else []
        sentences.append(f"Event {line.event.seq + 1} of {self._info.last_seq + 1}{self._took()}.")
        spell = glyphs_of(self.app).text
        return [Content(text) for sentence in sentences for text in wrapped(spell(clean(sentence, 900)), columns)]

    def _took(self) -> str:
        """Return the duration of the run in words; "" until all events have been read."""
        if not self._complete:
            return ""
        if self._took_ms is None:
            self._took_ms = run_time_ms(line.event for line in self._lines)
        return f"; the run took {hours_and_minutes(self._took_ms)}"

    # Keys

    def action_move(self, step: int) -> None:
        """Move the cursor down by `step` events, or up if `step` is negative."""
        self.query_one(EventList).action_move(step)

    def action_close(self) -> None:
        """Close this page."""
        self.dismiss()

    def action_notes(self) -> None:
        """Switch between all events and only the notes."""
        self.notes_only = not self.notes_only

    def action_summary(self) -> None:
        """Show the closing summary of this run."""
        from tui.reports.closing import ClosingScreen

        self.app.push_screen(ClosingScreen(self._info))

    def action_continue(self) -> None:
        """Continue this run on the screen that leads through its steps."""
        from tui.runs import resume_run

        resume_run(self.context, self._info.uid)

    def action_abandon(self) -> None:
        """Ask whether to abandon this run, and abandon it if the user agrees."""
        from tui.runs import abandon_run

        abandon_run(self.context, self._info, self.read_run)

    def action_export(self) -> None:
        """Ask for a format and a file name, and export this run to the file."""
        from tui.history.export import export

        logbook, info = self.context.log.logbook(), self._info
        export(self, f"halfnut-run-{info.number}", lambda: [(info, logbook.events(info.uid))])
