"""The record of a lathe on screen: dials compared with measurements, and the user's notes and adjustments."""

from collections.abc import Callable, Iterator
from typing import Any, ClassVar

from textual.binding import Binding, BindingType

from core.lathe.lathe import dial_words
from core.logbook.logbook import Logbook
from core.pages.record_page import note_line, record_data, record_report
from core.record.lathe_notes import LatheNote, LatheNotes, new_note, note_text, notes_about, read_when
from core.record.lathe_record import LatheRecord, lathe_record
from core.record.observations import RunObservations, observe_in_parts
from core.values.errors import CoreError
from tui.reports.report_screen import ReportScreen, events_in_parts
from tui.widgets.question import OneOf, Typed, YesNo

_PAGE = 100
_KINDS = ("An adjustment, which separates earlier from later measurements", "A note")


class LatheRecordScreen(ReportScreen):
    """Shows the record of the lathe in use. Nothing on this screen changes the lathe file or a plan."""

    TITLE = "What this lathe does"
    HELP = (
        "This page compares your dials with your measurements, over all runs of this lathe. "
        "Press A to add a note or an adjustment with its date, such as an adjusted gib. "
        "The page then lists the measurements before and after an adjustment separately."
    )
    MORE_HELP = (
        "The number after ± shows how uncertain a mean is. The fewer the measurements, the larger the number. If all "
        "measurements are alike, the page says so instead. With fewer than four measurements, the page draws no "
        "conclusion. The page advises only after at least six measurements, and only on a trend that chance alone "
        "would cause in at most one case in a hundred.\n\n"
        "Right after a touch-off, the difference includes the error of the touch-off. After another measurement, the "
        "difference is the error of the dial alone.\n\n"
        "The form of a pattern uses your usual time for a pass to estimate the cutting time."
    )
    TERMS = ("run", "touch off", "spring pass", "pass", "reading")
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("a", "add", "Add", tooltip="Add a note or an adjustment, with its date."),
        Binding("delete", "remove", "Delete", tooltip="Delete a note or an adjustment."),
    ]

    def __init__(self) -> None:
        super().__init__()
        self._observed: list[RunObservations] = []
        self._own: list[LatheNote] = []
        self._record: LatheRecord | None = None

    @property
    def file_stem(self) -> str:
        """The first part of the file name that an export proposes."""
        return "halfnut-lathe"

    def on_mount(self) -> None:
        """Read the log run by run, so that keys are handled while a long log is read."""
        self.show_message("Reading the log.")
        self.call_after_refresh(self._start)

    def _start(self) -> None:
        try:
            self.read_in_parts(self._reading(self.context.log.logbook()))
        except CoreError as error:
            self.show_message(error.message)

    def _reading(self, logbook: Logbook) -> Iterator[None]:
        """Read every run in the log, newest first, with a yield after each part, then show the record of this lathe.

        Raises LogbookError if the log cannot be read.
        """
        before: int | None = None
        while page := logbook.runs(limit=_PAGE, before=before):
            for info in page:
                events = yield from events_in_parts(logbook, info.uid)
                self._observed.append((yield from observe_in_parts(events, self.context.lathe.name)))
                self.show_message(f"Runs read so far: {len(self._observed)}.")
            before = page[-1].number
        self.show_message("")
        self._show_record()

    @property
    def _notes(self) -> LatheNotes:
        return LatheNotes(self.context.paths.data)

    def _show_record(self) -> None:
        lathe = self.context.lathe
        try:
            notes, problem = self._notes.read()
        except CoreError as error:
            notes, problem = (), error.message
        self._own = notes_about(notes, lathe.name)
        self._record = lathe_record(lathe, reversed(self._observed), notes)
        self.show_report(record_report(self._record, problem))

    def data(self) -> dict[str, Any]:
        """Return the record as data for a JSON file."""
        assert self._record is not None
        return record_data(self._record)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Return True to show an action's key, or None to dim it.

        A note can be added after the log has been read, and deleted if the lathe has any notes.
        """
        if action in {"add", "remove"}:
            return None if self.report is None or (action == "remove" and not self._own) else True
        return super().check_action(action, parameters)

    def action_add(self) -> None:
        """Ask for a note or an adjustment of the lathe, and save it."""
        self.context.ask_in_turn(self._add())

    async def _add(self) -> None:
        ask, lathe, now = self.context.ask, self.context.lathe, self.context.clock.wall()
        kind = await ask(OneOf("What do you want to add?", _KINDS))
        if kind is None:
            return
        dials = ["", *lathe.dials]
        about = await ask(
            OneOf("Which part of the lathe does this concern?", ["The whole lathe", *map(dial_words, lathe.dials)])
        )
        if about is None:
            return
        text = await ask(Typed("What was done?", note_text, label="Text", hint="gib adjusted"))
        if text is None:
            return
        at = f"{now[:10]} {now[11:16]}"
        when = await ask(
            Typed(
                "When was this done? Enter a date, or a date and a time.",
                lambda typed: read_when(typed, now),
                label="Date",
                text=at,
            )
        )
        if when is None:
            return
        note = new_note(lathe.name, dials[about], "note" if kind else "adjustment", when, text)
        self._change(lambda: self._notes.add(note), "Saved.")

    def action_remove(self) -> None:
        """Ask which note or adjustment to delete, and delete the chosen one."""
        self.context.ask_in_turn(self._remove())

    async def _remove(self) -> None:
        ask, own = self.context.ask, list(reversed(self._own))
        lines = [" ".join(note_line(note)) for note in own]
        chosen = await ask(OneOf("Which note or adjustment do you want to delete?", lines))
        if chosen is None or not await ask(YesNo("Delete it?", yes="Delete it", no="Keep it", detail=[lines[chosen]])):
            return
        self._change(lambda: self._notes.delete(own[chosen]), "Deleted.")

    def _change(self, change: Callable[[], None], said: str) -> None:
        """Change the file of notes by calling `change`.

        Show the message `said` only after the change is on the disk.
        """
        try:
            change()
        except CoreError as error:
            self.show_message(error.message)
            return
        self._show_record()
        self.show_message(said)
