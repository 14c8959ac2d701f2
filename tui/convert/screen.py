"""Conversion: one field, answered at every key in every reading of it; an answer can go back into a field."""

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
from core.conversion.pint_units import BackgroundUnits
from core.conversion.question_history import FILE_NAME, QuestionHistory, Recall
from core.values.errors import CoreError
from core.values.plain_text import clean
from core.values.words import Row
from tui.convert.answer_list import AnswerList
from tui.glyphs import glyphs_of
from tui.widgets.base_screen import BaseScreen
from tui.widgets.plain_input import PlainInput

_QUIET_S = 0.25
"""How long the keys rest before a unit that may be half typed is looked up."""
_LOOKING_UP, _WARMING = "look up", "warm up"


class ConversionMemory:
    """What lasts from one opening of the screen to the next: questions asked, units looked up."""

    def __init__(self, data: Path, cache: Path) -> None:
        self.asked = QuestionHistory(data / FILE_NAME)
        self.units = BackgroundUnits(cache)
        self.complained = False
        """The user has been told that questions are not kept."""


# By program, since each opening is a new screen.
_MEMORIES: WeakKeyDictionary[App[object], ConversionMemory] = WeakKeyDictionary()


class ConversionScreen(BaseScreen[str | None]):
    """Asks for anything with a unit; answers with the text for a field, or None."""

    HELP = (
        "Type a length, an angle, a pitch, a speed, limits, a fit or a sum of them; it is read at every key, and every "
        "reading of it stands below, those of this lathe's dials among them. Nothing is set by it.\n\n"
        "Up brings back what was asked before, Down goes the other way and then into the readings. Where the page was "
        "opened from a field, Enter goes to the readings, and Enter on one of them puts it into that field.\n\n"
        "What the dials show is counted from zero at touch-off, once with what was typed taken as travel of the slide, "
        "once as a diameter."
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "enter", "Keep", tooltip="Keep what was asked; from a field: choose what goes into it."),
        # These see their keys first: the room that scrolls would take them.
        Binding(
            "up", "go(-1)", "Asked before", priority=True, tooltip="What was asked before; Down goes the other way."
        ),
        Binding("down", "go(1)", "Readings", priority=True, tooltip="The readings, to walk through them."),
        Binding("pageup", "scroll_body(-1)", "Page up", show=False, priority=True),
        Binding("pagedown", "scroll_body(1)", "Page down", show=False, priority=True),
        Binding("tab,shift+tab", "change_over", show=False, tooltip="From the field to the readings and back."),
        Binding("escape", "leave", "Back", tooltip="Leave; a field one came from stays as it is."),
    ]
    DEFAULT_CSS = """
    ConversionScreen #conversion { height: 1fr; }
    ConversionScreen #asking { height: 1; }
    ConversionScreen #asking Static { width: auto; text-style: bold; }
    ConversionScreen #asking PlainInput { width: 1fr; }
    ConversionScreen #found { height: 1; color: $text-primary; text-style: bold; text-wrap: nowrap; }
    """

    def __init__(self, asked: str = "", *, into: str | None = None, unit: str = "", limits: bool = False) -> None:
        """`asked`: what is in the field at first; `into`: the field an answer is for, `unit`: its unit.

        `limits`: that field takes two limits as well as one size.
        """
        super().__init__()
        self.title = "Conversion" if into is None else f"Conversion for {into}"
        self._into, self._unit, self._limits = into, unit, limits
        self._first = clean(asked, LONGEST_SUM)
        self._entry = PlainInput(self._first, longest=LONGEST_SUM + 1)
        # To go to the readings and back must not put the text at risk of the next key.
        self._entry.select_on_focus = False
        self.answer: Conversion | None = None
        """What is answered now; None where nothing is asked, or it cannot be read."""
        self._last: Conversion | None = None
        self._notice = ""
        """What is said once, in front of anything else, until the next key."""
        self._looking_up = False
        self._quiet: Timer | None = None
        self._wrong = ""
        """What is wrong with what stands in the field."""

    # What is on the screen.

    def compose_body(self) -> ComposeResult:
        """The field, what was found, the readings."""
        with Vertical(id="conversion"):
            with Horizontal(id="asking"):
                yield Static(Content(" Convert: "))
                yield self._entry
            yield Static(id="found", markup=False)
            yield AnswerList(id="readings")

    def say(self, sentence: str) -> None:
        """Show a sentence above the keys, behind the notice where there is one."""
        super().say(f"{self._notice} {sentence}".strip())

    def on_mount(self) -> None:
        """Answer what stands in the field, and fetch behind the first paint what answers will need."""
        self._walk = Recall(self._memory.asked)
        self._walk.typed(self._first)
        self._entry.focus()
        self._entry.select_all()
        self._read()
        self._tell_once()
        self.follow_lathe(self._read)
        self.call_after_refresh(self._warm_up)

    @property
    def _memory(self) -> ConversionMemory:
        memory = _MEMORIES.get(self.app)
        if memory is None:
            memory = _MEMORIES[self.app] = ConversionMemory(self.context.paths.data, self.context.paths.cache)
        return memory

    def _tell_once(self) -> None:
        memory = self._memory
        if memory.asked.complaint and not memory.complained:
            memory.complained = True
            self._notice = f"What is asked is not kept for the next start: {memory.asked.complaint}."
            self.say("")

    # Answering.

    @on(Input.Changed)
    def _changed(self, event: Input.Changed) -> None:
        event.stop()
        self._notice = ""
        self._walk.typed(event.value)
        self.work_out(self._read, event.value)

    def _read(self) -> None:
        """Answer what stands in the field now."""
        units = self._memory.units
        units.wanted = ""
        text, self.answer, self._wrong = self._entry.value, None, ""
        if text.strip():
            try:
                self.answer = self._last = convert(text, self.context.lathe, units=units)
            except CoreError as error:
                self._wrong = f'"{units.wanted}" is being looked up.' if units.wanted else error.message
        else:
            self._last = None
        if self._quiet is not None:
            self._quiet.stop()
        # A word that is still being typed is no unit yet: nothing is said of it, nor looked up, before the keys rest.
        self._quiet = self.set_timer(_QUIET_S, self._rest) if self._wrong else None
        self._show()
        if not self._wrong:
            self._say_what_enter_does()

    def _rest(self) -> None:
        self.say(self._wrong)
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
                words = f"Read before: {words}"
        self.query_one("#found", Static).update(Content(f" {spell(words)}"))
        readings.show_rows(rows, muted=answer is None or self.answer is None)

    # Behind the keys.

    def _warm_up(self) -> None:
        units = self._memory.units

        def fetch() -> None:
            units.read_kept()
            warm_up()

        self.run_worker(fetch, name=_WARMING, thread=True, exit_on_error=False)

    def _look_up(self) -> None:
        """Look up, in a thread, the units of what stands in the field, if one is still wanted and keys rest."""
        memory, text = self._memory, self._entry.value
        if self._looking_up or not memory.units.wanted:
            return
        self._looking_up = True

        def ask() -> None:
            try:
                convert(text, None, units=memory.units.look_up)
            except CoreError:
                # What is wrong with it is said when it is read again.
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
            self.say("Units beyond the lathe's own cannot be looked up here; lengths, angles and speeds are read.")
        elif self._memory.units.wanted:
            self._read()

    # Keys.

    def on_key(self, event: Key) -> None:
        """Let what is typed while the readings have the keys, or before the field had them, go into the field."""
        if event.character is None or not event.is_printable:
            return
        event.stop()
        self._entry.focus()
        self._entry.replace(event.character, *self._entry.selection)

    def action_enter(self) -> None:
        """Keep what was asked; go to the readings, or send back the one pointed at."""
        self.context.keys.after_refresh(self, self._enter)

    def _enter(self) -> None:
        # Keys typed just before have reached the field by now.
        self._read()
        if self.answer is None:
            return
        self._keep()
        if self._into is None:
            self.say("" if self._memory.asked.complaint else "Kept; Up brings it back.")
        elif self._entry.has_focus:
            readings = self.query_one(AnswerList)
            readings.point_at(self._preferred(self.answer.rows))
            readings.focus()
        else:
            self._send_back()

    def _send_back(self) -> None:
        row = self.query_one(AnswerList).row
        if row is None or not self._taken(row):
            self.say("No field takes this line; choose another one.")
        else:
            self.dismiss(row.field_text)

    def _taken(self, row: Row) -> bool:
        """Tell whether the field this was opened from takes a row."""
        return bool(row.field_text) and (self._limits or not row.is_limits)

    def _preferred(self, rows: tuple[Row, ...]) -> int:
        """Return the first row in the field's own unit; else the first that a field takes."""
        if self._limits and (both := [place for place, row in enumerate(rows) if row.is_limits]):
            return both[0]
        fitting = [place for place, row in enumerate(rows) if self._taken(row)]
        in_unit = [place for place in fitting if self._unit and rows[place].field_text.endswith(f" {self._unit}")]
        return (in_unit or fitting or [0])[0]

    @on(AnswerList.Moved)
    def _pointed(self) -> None:
        self._say_what_enter_does()

    def on_descendant_focus(self) -> None:
        """Say what Enter does where the keys go now; in the readings nothing typed replaces what was asked."""
        if not self._entry.has_focus:
            self._entry.cursor_position = len(self._entry.value)
        self._say_what_enter_does()

    def _say_what_enter_does(self) -> None:
        if self._wrong:
            return
        readings = self.query_one(AnswerList)
        row = readings.row if readings.has_focus else None
        if self._into is None or self.answer is None:
            self.say("")
        elif row is None:
            self.say(f"Enter leads to the readings; one of them goes into {self._into}.")
        elif self._taken(row):
            self.say(f'Enter puts "{row.field_text}" into {self._into}.')
        else:
            self.say("No field takes this line.")

    def action_go(self, step: int) -> None:
        """In the field go through what was asked before; in the readings from line to line."""
        readings = self.query_one(AnswerList)
        if readings.has_focus:
            readings.action_move(step)
        elif step > 0 and not self._walk.is_walking:
            readings.focus()
        elif not self._recall(-step) and not self._memory.asked.questions:
            self.say("Nothing was asked before.")

    def _recall(self, steps: int) -> bool:
        """Put what was asked before, or was being typed, into the field; tell whether there was any."""
        text = self._walk.step(steps)
        if text is None:
            return False
        self._entry.value = text
        self._entry.cursor_position = len(text)
        return True

    def action_change_over(self) -> None:
        """Go from the field to the readings, or back."""
        (self.query_one(AnswerList) if self._entry.has_focus else self._entry).focus()

    def action_scroll_body(self, pages: int) -> None:
        """Scroll the readings, wherever the keys go."""
        readings = self.query_one(AnswerList)
        if readings.has_focus:
            readings.action_page(pages)
            return
        readings.scroll_relative(y=pages * max(readings.size.height - 1, 1), animate=False)

    def action_leave(self) -> None:
        """Leave, with nothing for the field."""
        if self.answer is not None and self._entry.value != self._first:
            self._keep()
        self.dismiss(None)

    def _keep(self) -> None:
        """Keep what was asked for the next time."""
        if self.answer is not None:
            self._memory.asked.add(self.answer.asked)
            self._walk = Recall(self._memory.asked)
            self._walk.typed(self._entry.value)
            self._tell_once()
