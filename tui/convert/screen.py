"""The conversion page, which converts the user's text into all units and dial readings at every key press.

The user can put an answer into the field from which the page was opened.
"""

from pathlib import Path
from typing import ClassVar
from weakref import WeakKeyDictionary

from textual import on
from textual.app import App, ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.events import Key
from textual.timer import Timer
from textual.widgets import Input, Static
from textual.worker import Worker, WorkerState

from core.conversion.answers import Conversion
from core.conversion.convert import EXAMPLE_ROWS, convert, warm_up
from core.conversion.expression import LONGEST_SUM
from core.conversion.question_history import FILE_NAME, QuestionHistory, Recall
from core.conversion.unit_lookup import BackgroundUnits
from core.values.errors import CoreError
from core.values.plain_text import clean, sentence
from core.values.words import Row
from tui.convert.answer_list import AnswerList
from tui.glyphs import glyphs_of
from tui.widgets.base_screen import BaseScreen
from tui.widgets.plain_input import PlainInput

_QUIET_S = 0.25
"""The pause in typing after which a unit is looked up [s]. Before that, the unit may be only half typed."""
_LOOKING_UP, _WARMING = "look up", "warm up"


class ConversionMemory:
    """What is kept while the conversion page is closed: earlier questions, and units that were looked up."""

    def __init__(self, data: Path, cache: Path) -> None:
        self.asked = QuestionHistory(data / FILE_NAME)
        self.units = BackgroundUnits(cache)
        self.complained = False
        """True once a message has said that questions cannot be saved."""


# The memory belongs to the program, because the page is a new screen each time.
_MEMORIES: WeakKeyDictionary[App[object], ConversionMemory] = WeakKeyDictionary()


class ConversionScreen(BaseScreen[str | None]):
    """The conversion page. Its result is the text for the field from which it was opened; None for no change."""

    HELP = (
        "This page converts a quantity to other units and to readings of your dials, and changes no setting. Type "
        "a length, an angle, a taper, a pitch, a speed, limits, a fit or a sum of these. If you opened the page "
        "from a field, select an answer and press Enter to put it into that field."
    )
    MORE_HELP = (
        "Press Up to bring back earlier questions. Press Down to return to later questions, and then to go to the "
        "answers.\n\n"
        "Dial readings count from zero at touch-off. Each dial is listed twice: once for a travel of its slide, and "
        "once for a change of the work's diameter."
    )
    TERMS = ("reading", "limits", "fit", "pitch", "travel dial", "diameter dial", "touch off", "mark")
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding(
            "enter",
            "enter",
            "Save",
            tooltip="Save the question, or put the selected answer into the field that you came from.",
        ),
        # These bindings have priority, because the body that scrolls would take their keys.
        Binding(
            "up",
            "go(-1)",
            "Earlier",
            priority=True,
            tooltip="Bring back an earlier question. Press Down to return to later questions.",
        ),
        Binding("down", "go(1)", "Answers", priority=True, tooltip="Go to the answers, or to the next answer."),
        Binding("pageup", "scroll_body(-1)", "Page up", show=False, priority=True),
        Binding("pagedown", "scroll_body(1)", "Page down", show=False, priority=True),
        Binding("tab,shift+tab", "change_over", show=False, tooltip="Go from the field to the answers, or back."),
        Binding("escape", "close", "Close", tooltip="Close this page. The field that you came from does not change."),
    ]
    DEFAULT_CSS = """
    ConversionScreen #conversion { height: 1fr; }
    ConversionScreen #asking { height: 1; }
    ConversionScreen #asking Static { width: auto; text-style: bold; }
    ConversionScreen #asking PlainInput { width: 1fr; }
    ConversionScreen #heading { height: 1; color: $text-primary; text-style: bold; text-wrap: nowrap; }
    """

    def __init__(self, asked: str = "", *, into: str | None = None, unit: str = "", limits: bool = False) -> None:
        """Make the page. `asked`: the text with which the page's own field is filled in first.

        `into`: the label of the field that gets the answer; None if there is no such field. `unit`: the unit of that
        field. `limits`: True if that field accepts two limits as well as one size.
        """
        super().__init__()
        self.title = "Conversion" if into is None else f"Conversion for {into}"
        self._into, self._unit, self._limits = into, unit, limits
        self._first = clean(asked, LONGEST_SUM)
        self._entry = PlainInput(self._first, longest=LONGEST_SUM + 1)
        # After a visit to the answers, the next key must not replace the text.
        self._entry.select_on_focus = False
        self.answer: Conversion | None = None
        """The answer on the screen; None if the field is empty or its text cannot be read."""
        self._last: Conversion | None = None
        self._notice = ""
        """A message shown before any other message, until the next key."""
        self._looking_up = False
        self._quiet: Timer | None = None
        self._wrong = ""
        """The error of the text in the field; "" for none."""

    # The screen

    def compose_body(self) -> ComposeResult:
        """Yield the field, the question as the program understood it, and the answers."""
        with Vertical(id="conversion"):
            with Horizontal(id="asking"):
                yield Static(Content(" Convert: "))
                yield self._entry
            yield Static(id="heading", markup=False)
            yield AnswerList(id="readings")

    def show_message(self, sentence: str) -> None:
        """Show a message above the key bar, after the page's standing notice if there is one."""
        super().show_message(f"{self._notice} {sentence}".strip())

    def on_mount(self) -> None:
        """Answer the text that is in the field at first. After the first paint, load the modules for later answers."""
        self._walk = Recall(self._memory.asked)
        self._walk.typed(self._first)
        self._entry.focus()
        self._entry.select_all()
        self._read()
        self._complain_once()
        self.follow_lathe(self._read)
        self.call_after_refresh(self._warm_up)

    @property
    def _memory(self) -> ConversionMemory:
        memory = _MEMORIES.get(self.app)
        if memory is None:
            memory = _MEMORIES[self.app] = ConversionMemory(self.context.paths.data, self.context.paths.cache)
        return memory

    def _complain_once(self) -> None:
        memory = self._memory
        if memory.asked.complaint and not memory.complained:
            memory.complained = True
            self._notice = f"Your questions could not be saved for the next start. {sentence(memory.asked.complaint)}"
            self.show_message("")

    # Answers

    @on(Input.Changed)
    def _changed(self, event: Input.Changed) -> None:
        event.stop()
        self._notice = ""
        self._walk.typed(event.value)
        self.work_out(self._read, event.value)

    def _read(self) -> None:
        """Find the answer to the text in the field, or the reason why it has none."""
        units = self._memory.units
        units.wanted = ""
        text, self.answer, self._wrong = self._entry.value, None, ""
        if text.strip():
            try:
                self.answer = self._last = convert(text, self.context.lathe, units=units)
            except CoreError as error:
                self._wrong = f'Looking up "{units.wanted}".' if units.wanted else error.message
        else:
            self._last = None
        if self._quiet is not None:
            self._quiet.stop()
        # A word is neither refused nor looked up while the user types.
        self._quiet = self.set_timer(_QUIET_S, self._rest) if self._wrong else None
        self._show()
        if not self._wrong:
            self._show_what_enter_does()

    def _rest(self) -> None:
        self.show_message(self._wrong)
        self._look_up()

    def _show(self) -> None:
        spell, answer = glyphs_of(self.app).text, self._last
        readings = self.query_one(AnswerList)
        rows: tuple[Row, ...] = EXAMPLE_ROWS
        if answer is None:
            words = "For example:"
        else:
            words, rows = f"{answer.asked}  ({answer.kind})", answer.rows
            if self.answer is None:
                words = f"Last answer: {words}"
        self.query_one("#heading", Static).update(Content(f" {spell(words)}"))
        readings.show_rows(rows, muted=answer is None or self.answer is None)

    # Threads

    def _warm_up(self) -> None:
        units = self._memory.units

        def fetch() -> None:
            units.read_kept()
            warm_up()

        self.run_worker(fetch, name=_WARMING, thread=True, exit_on_error=False)

    def _look_up(self) -> None:
        """Look up a unit of the question in a worker thread, if the program's own tables lack this unit."""
        memory, text = self._memory, self._entry.value
        if self._looking_up or not memory.units.wanted:
            return
        self._looking_up = True

        def ask() -> None:
            try:
                convert(text, None, units=memory.units.look_up)
            except CoreError:
                # The text is read again later, which gives the error.
                return

        self.run_worker(ask, name=_LOOKING_UP, thread=True, exit_on_error=False)

    @on(Worker.StateChanged)
    def _fetched(self, event: Worker.StateChanged) -> None:
        if event.state not in {WorkerState.SUCCESS, WorkerState.ERROR}:
            return
        looked_up = event.worker.name == _LOOKING_UP
        if looked_up:
            self._looking_up = False
        if event.state == WorkerState.ERROR and looked_up:
            self.show_message("Other units cannot be looked up here. Enter a length, an angle or a speed.")
        elif self._memory.units.wanted:
            self._read()

    # Keys

    def on_key(self, event: Key) -> None:
        """Put a character that the user types into the field, even if the list of answers has the focus."""
        if event.character is None or not event.is_printable:
            return
        event.stop()
        self._entry.focus()
        self._entry.replace(event.character, *self._entry.selection)

    def action_enter(self) -> None:
        """Save the question and move to the answers. On an answer, close the page with that answer as its result."""
        self.context.keys.after_refresh(self, self._enter)

    def _enter(self) -> None:
        # By now the field has all keys that were typed before Enter.
        self._read()
        if self.answer is None:
            return
        self._keep()
        if self._into is None:
            self.show_message(
                "" if self._memory.asked.complaint else "The question has been saved. Press Up to show it again."
            )
        elif self._entry.has_focus:
            readings = self.query_one(AnswerList)
            readings.point_at(self._preferred(self.answer.rows))
            readings.focus()
        else:
            self._send_back()

    def _send_back(self) -> None:
        row = self.query_one(AnswerList).row
        if row is None or not self._taken(row):
            self.show_message("No field can use this answer. Choose another answer.")
        else:
            self.dismiss(row.field_text)

    def _taken(self, row: Row) -> bool:
        """Return True if the field from which the page was opened accepts an answer."""
        return bool(row.field_text) and (self._limits or not row.is_limits)

    def _preferred(self, rows: tuple[Row, ...]) -> int:
        """Return the index of the answer to offer first.

        This is the answer with both limits if the field accepts limits, else the first answer in the field's unit, else
        the first usable answer.
        """
        if self._limits and (both := [place for place, row in enumerate(rows) if row.is_limits]):
            return both[0]
        fitting = [place for place, row in enumerate(rows) if self._taken(row)]
        in_unit = [place for place in fitting if self._unit and rows[place].field_text.endswith(f" {self._unit}")]
        return (in_unit or fitting or [0])[0]

    @on(AnswerList.Moved)
    def _pointed(self) -> None:
        self._show_what_enter_does()

    def on_descendant_focus(self) -> None:
        """Show what Enter does, after the focus has moved.

        The cursor of the field moves to its end, so that text typed among the answers is added to the question.
        """
        if not self._entry.has_focus:
            self._entry.cursor_position = len(self._entry.value)
        self._show_what_enter_does()

    def _show_what_enter_does(self) -> None:
        if self._wrong:
            return
        readings = self.query_one(AnswerList)
        row = readings.row if readings.has_focus else None
        if self._into is None or self.answer is None:
            self.show_message("")
        elif row is None:
            self.show_message(f"Press Enter, then choose the answer that goes into {self._into}.")
        elif self._taken(row):
            self.show_message(f'Press Enter to put "{row.field_text}" into {self._into}.')
        else:
            self.show_message("No field can use this answer.")

    def action_go(self, step: int) -> None:
        """Show an earlier question in the field if `step` is negative, or a later one if `step` is positive.

        Among the answers, move the cursor by `step` answers instead. Down from the text that the user was typing, move
        to the answers.
        """
        readings = self.query_one(AnswerList)
        if readings.has_focus:
            readings.action_move(step)
        elif step > 0 and not self._walk.is_walking:
            readings.focus()
        elif not self._recall(-step) and not self._memory.asked.questions:
            self.show_message("There is no earlier question.")

    def _recall(self, steps: int) -> bool:
        """Put the question `steps` further back into the field, or one further forward if `steps` is negative.

        After the newest question comes the text that the user was typing. Return False if there is nothing to put.
        """
        text = self._walk.step(steps)
        if text is None:
            return False
        self._entry.value = text
        self._entry.cursor_position = len(text)
        return True

    def action_change_over(self) -> None:
        """Move the focus from the field to the answers, or back."""
        (self.query_one(AnswerList) if self._entry.has_focus else self._entry).focus()

    def action_scroll_body(self, pages: int) -> None:
        """Scroll the answers by pages, whether the field or the list has the focus."""
        readings = self.query_one(AnswerList)
        if readings.has_focus:
            readings.action_page(pages)
            return
        readings.scroll_relative(y=pages * max(readings.size.height - 1, 1), animate=False)

    def action_close(self) -> None:
        """Close the page without a result. If the user has typed a question and it has an answer, save the question."""
        if self.answer is not None and self._entry.value != self._first:
            self._keep()
        self.dismiss(None)

    def _keep(self) -> None:
        """Save the question in the file of earlier questions."""
        if self.answer is not None:
            self._memory.asked.add(self.answer.asked)
            self._walk = Recall(self._memory.asked)
            self._walk.typed(self._entry.value)
            self._complain_once()
