"""The counter of a runout check: the mark to turn to, the field for the reading, a picture and the results."""

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.reactive import reactive
from textual.widgets import Static

from core.inputs import Moved, ReadingsTaken, TurnAgain
from core.operations.form import Figure
from core.operations.runout.findings import FindingKind, RunoutFinding
from core.operations.runout.job import WORKHOLDINGS
from core.operations.runout.readings import CONVENTIONS, DRAWING, is_suspect
from core.plan import Step
from core.run.revising import answered_input, revised_steps
from core.run.runout_view import RunoutView, deepest_groove, effect_words, readings_taken, runout_view
from core.values.errors import QuantityError
from core.values.plain_text import clean, sentence, wrapped
from core.values.quantities import read_number
from tui.bell import Sound
from tui.counter.run_screen import OpenInstead
from tui.counter.screen import CounterScreen
from tui.glyphs import Glyphs, glyphs_of
from tui.runout.polar_picture import PolarPicture
from tui.runout.reading_entry import ReadingEntry
from tui.widgets.caution_list import CautionList
from tui.widgets.figure_list import figure_contents
from tui.widgets.pager import Pager
from tui.widgets.progress import ProgressLine
from tui.widgets.question import OneOf, YesNo

if TYPE_CHECKING:
    from core.events.state import State
    from core.logbook.active_run import ActiveRun

_LONGEST = 600


class RunoutCounter(CounterScreen, inherit_bindings=False):
    """The counter of a runout check. It asks for one reading after another, and shows the results so far."""

    HELP = (
        "This page takes the readings of an indicator, one mark after the other. Turn the work by hand to each mark, "
        "type the reading of the indicator and press Enter. After the last mark, move the work as the page says, "
        "then press R to read the whole turn again."
    )
    MORE_HELP = (
        "Press Up or Down to change the reading by one graduation. Press / to change the unit of numbers that you "
        "type without a unit. You can also type a unit with the reading, such as 2 thou. Press Backspace to delete a "
        "character or, in an empty field, to bring back the last reading.\n\n"
        "The number after ± is twice the standard error. A sign before a sentence shows its purpose: = for a "
        "verdict, > for an instruction, ~ for the change after a move, ? for a question to you, - for an "
        "explanation.\n\n" + "\n\n".join(CONVENTIONS) + "\n\n" + DRAWING.rstrip()
    )
    TERMS: ClassVar[tuple[str, ...]] = (
        "runout",
        "TIR",
        "eccentricity",
        "closing reading",
        "plunger",
        "plane",
        "workholding",
        "mark",
        "undo",
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("space,enter", "done", "Done", key_display="Enter", tooltip="Log the reading, or count the step."),
        Binding(
            "backspace,minus,subtract",
            "undo",
            "Undo",
            key_display="Backspace",
            tooltip="Correct the previous reading, or undo the last step.",
        ),
        Binding(
            "slash,divide,asterisk,multiply",
            "unit",
            "Unit",
            key_display="/",
            tooltip="Change the unit of a number typed without a unit.",
        ),
        Binding(
            "r,u,5",
            "read_again",
            "Read again",
            key_display="R",
            tooltip="Read the whole turn again after you have moved the work.",
        ),
        Binding(
            "t,3", "twice", "Twice", key_display="T", tooltip="Read the same turn a second time, with nothing moved."
        ),
        Binding("k,7", "skip", "Skip", key_display="K", tooltip="Skip this step, such as the closing reading."),
        Binding(
            "h,8",
            "workholding",
            "Workholding",
            key_display="H",
            tooltip="Choose how the work is held. The readings are kept.",
        ),
        Binding("n,4", "note", "Note", key_display="N", tooltip="Write a note in the log."),
        Binding("g,6", "go_back", "Repeat", key_display="G", tooltip="Read one mark again."),
        Binding("c", "cautions", "Cautions", key_display="C", tooltip="Read the cautions of this run again."),
        Binding("s", "summary", "Summary", key_display="S", tooltip="Show a summary of this run on one page."),
        Binding("o", "other_run", "Other run", key_display="O", tooltip="Open another unfinished run of this job."),
        Binding(
            "f6", "view", "View", tooltip="Show the picture and the advice, the advice alone, or the picture alone."
        ),
        Binding("escape,0", "close", "Close", key_display="Esc", tooltip="Close the counter. Everything is saved."),
        Binding("pageup", "scroll_body(-1)", "Page up", show=False, tooltip="Scroll the results up by a page."),
        Binding("pagedown", "scroll_body(1)", "Page down", show=False, tooltip="Scroll the results down by a page."),
    ]
    DEFAULT_CSS = """
    RunoutCounter #top { height: 1; }
    RunoutCounter #title { width: auto; min-width: 18; text-style: bold; margin-right: 2; }
    RunoutCounter ProgressLine { width: 1fr; }
    RunoutCounter #turn { height: 1fr; }
    RunoutCounter #reading { width: 1fr; height: 100%; }
    RunoutCounter #drawing { width: 38; height: 100%; margin-right: 1; }
    RunoutCounter.-wide #drawing { width: 1fr; }
    RunoutCounter.-narrow #drawing, RunoutCounter.advice #drawing { display: none; margin: 0; }
    RunoutCounter.picture #turn { layout: vertical; }
    RunoutCounter.picture #drawing { display: block; width: 1fr; height: 1fr; }
    RunoutCounter.picture #reading { height: auto; }
    RunoutCounter.picture #findings { display: none; }
    RunoutCounter.-low.picture #text { display: none; }
    RunoutCounter #text { height: auto; text-style: bold; }
    RunoutCounter #logged { height: auto; color: $text-success; }
    RunoutCounter ReadingEntry { height: auto; }
    RunoutCounter #scale { height: auto; color: $text-muted; }
    RunoutCounter.-low #scale { display: none; }
    RunoutCounter #findings { height: 1fr; min-height: 1; }
    """

    reads = reactive(False, bindings=True)
    """True if the current step asks for a reading."""

    def __init__(self, run: "ActiveRun", open_instead: OpenInstead | None = None, *, asks_first: bool = False) -> None:
        super().__init__(run, open_instead, asks_first=asks_first)
        self._seen: RunoutView = runout_view(self.plan_input, self.state)
        self._shown_findings: object = None

    def compose_body(self) -> ComposeResult:
        """Yield the title with the progress, the picture, the instruction, the field for a reading, and the results."""
        with Horizontal(id="top"):
            yield Static(id="title", markup=False)
            yield ProgressLine(id="progress")
        with Horizontal(id="turn"):
            with Vertical(id="drawing"):
                yield PolarPicture(id="polar")
                yield Static(id="scale", markup=False)
            with Vertical(id="reading"):
                yield Static(id="text", markup=False)
                yield ReadingEntry(self.plan_input.lathe, id="entry")
                findings = Pager(lambda columns: (), id="findings")
                # The field needs the focus to get the digits. PgUp and PgDn scroll from the field too.
                findings.can_focus = False
                yield findings
        yield CautionList(id="cautions")
        yield Static(id="logged", markup=False)

    def on_mount(self) -> None:
        """Start the field with the unit of the last reading.

        If a complete turn is logged but its moves are not planned yet, plan the moves.
        """
        typed = [mark.unit for mark in self.state.results.values() if mark.unit]
        self.query_one(ReadingEntry).use_unit(typed[-1] if typed else None)
        last = self.state.undoable
        if not self.blocked and last is not None and last.kind == "done":
            self._plan_from_readings()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Return whether a key is shown (True), dimmed (None) or hidden (False) in the present state of the check."""
        if action == "unit" and not self.reads:
            return None
        if action == "twice" and not (self._seen.current_set.complete and not self._seen.again):
            return None
        return super().check_action(action, parameters)

    @property
    def pedal_key(self) -> str:
        """The key for which the pedal stands on this screen: Enter while a reading is asked for, otherwise Space.

        Space cannot stand for the pedal in the field for the reading, because Space can begin a unit there.
        """
        return "enter" if self.reads else "space"

    # Painting

    def paint(self, logged: str | None = None) -> None:
        """Show the mark, the reading, the picture and the results.

        `logged`: a sentence about the step that was just logged; None to keep the previous sentence.
        """
        seen = self._seen = runout_view(self.plan_input, self.state)
        self._show_useful_keys()
        view, spell = self.view, glyphs_of(self.app).text
        self.query_one("#title", Static).update(Content(spell(seen.heading or view.title)))
        self.query_one(ProgressLine).show(view.done, view.total)
        self.query_one("#text", Static).update(Content(spell(clean(self._text(view.text), _LONGEST))))
        self.query_one(CautionList).show((*view.findings, *view.cautions))
        self.query_one(PolarPicture).show_view(seen.picture)
        self.query_one("#scale", Static).update(Content(spell(f"{seen.picture.scale}\n{seen.picture.legend}.")))
        self._paint_entry(seen)
        self._paint_findings(seen)
        if logged is not None:
            self._logged = logged
        self._paint_logged()

    def fit_picture(self) -> None:
        """Do nothing: this picture is drawn again whenever its size changes."""

    def _paint_logged(self) -> None:
        """Update the row that shows the run's time and the last logged step."""
        if self.is_attached:
            self.query_one("#logged", Static).update(Content(glyphs_of(self.app).text(self._logged_words())))

    def _text(self, otherwise: str) -> str:
        """Return the instruction of the current step, or `otherwise` if the step has none.

        After the last step, return a sentence about the keys to press.
        """
        if self._seen.step is not None or self.state.status != "running":
            return self._seen.text or otherwise
        return (
            "Everything is logged. If you move the work, press R to read the whole turn again. Press Enter to "
            "end this check."
        )

    def _paint_entry(self, seen: RunoutView) -> None:
        entry = self.query_one(ReadingEntry)
        self.reads = seen.reading is not None and not self.blocked
        entry.display = self.reads
        entry.start_mm = seen.turn_readings_mm[-1] if seen.turn_readings_mm else 0.0
        if self.reads:
            entry.focus()
        else:
            self.set_focus(None)
        self.refresh_bindings()

    def _paint_findings(self, seen: RunoutView) -> None:
        """Show the figures and sentences from the top, if they have changed."""
        sentences = [*seen.findings, *self._meaning_for_work(seen)]
        shown = (seen.figures, sentences)
        if shown == self._shown_findings:
            return
        self._shown_findings = shown
        glyphs = glyphs_of(self.app)
        self.query_one("#findings", Pager).show(lambda columns: finding_lines(seen.figures, sentences, columns, glyphs))

    def _meaning_for_work(self, seen: RunoutView) -> list[RunoutFinding]:
        """Return sentences about the effect of the runout on the work, and on the groove of the job's pattern."""
        findings = seen.current_set.analysis if seen.current_set.complete else None
        if findings is None or findings.first.below_indicator:
            return []
        words = effect_words(findings.first, seen.lathe, deepest_groove(self.context.job))
        return [RunoutFinding("known", words)] if words else []

    # Keys

    def action_done(self) -> None:
        """Log the typed reading. If the step needs no reading, log the step as done."""
        if self._seen.reading is not None:
            self._take(self._seen.reading)
        elif self.state.cursor is None and self.state.status == "running" and self._seen.move_advised:
            if self.context.presses.latest_is_alone():
                self._ask(self._end_or_read_again())
        else:
            super().action_done()

    def _take(self, step: Step) -> None:
        """Log the reading in the field. If the reading looks like a typing mistake, ask first."""
        entry, seen = self.query_one(ReadingEntry), self._seen
        try:
            value_mm = entry.read_mm()
        except QuantityError as error:
            # The field shows the error of a text that it cannot read.
            self.show_message("Not logged." if entry.text.strip() else f"Not logged. {sentence(error.message)}")
            self.context.bell.say(Sound.NOT_LOGGED)
            return
        typed = (entry.text, entry.unit) if _is_bare(entry.text) else (f"{value_mm:.9f}", "mm")
        if is_suspect(seen.turn_readings_mm, value_mm, seen.graduation_mm):
            self._ask(self._ask_about(step, value_mm, typed))
        else:
            self._record(step, value_mm, typed)

    async def _ask_about(self, step: Step, value_mm: float, typed: tuple[str, str]) -> None:
        """Ask about a reading that differs much from the others, and log the reading if the user confirms it.

        `typed`: the text of the reading, and its unit.
        """
        question = YesNo(
            f"{self.plan_input.lathe.indicator_text(value_mm)} is far from the other readings. Is this a typing error?",
            yes="Correct it",
            no="Log it: the surface has a keyway or a hole, or the work really is that far off",
            default=True,
        )
        slip = await self.context.ask(question)
        if slip is False and self.state.cursor is step:
            self._record(step, value_mm, typed)

    def _record(self, step: Step, value_mm: float, typed: tuple[str, str]) -> None:
        angle_deg = None if step.reading_at is None else step.reading_at.angle_deg
        mark = "closing reading" if angle_deg is None else f"{angle_deg:g}°"
        self.query_one(ReadingEntry).text = ""
        if self.attempt(
            lambda: self.run.done(*typed), f"{mark} reads {self.plan_input.lathe.indicator_text(value_mm)}"
        ):
            self._plan_from_readings()
        else:
            self.query_one(ReadingEntry).text = typed[0]

    def _plan_from_readings(self) -> None:
        """Plan the moves from a complete set of readings. If planning fails, show the reason and keep the readings."""
        if self._seen.current_set.refusal:
            self.show_message(
                "The readings are saved, but no move can be worked out from them. Press R to read the turn again."
            )
            return
        try:
            taken = readings_taken(self.plan_input, self.state)
        except QuantityError as error:
            self.show_message(error.message)
            return
        if taken is not None:
            self.revise(taken, "set of readings")

    def action_undo(self) -> None:
        """Put the last reading back into the field, and undo the moves that were planned from it."""
        before = self.state
        planned = before.undoable is not None and before.undoable.kind == "revised" and _from_readings(before)
        super().action_undo()
        if self.state is before:
            return
        if planned:
            self.attempt(self.run.undo, "undone. Enter the reading again")
        step = self._seen.reading
        mark = None if step is None else before.results.get(step.id)
        if mark is not None and mark.value is not None:
            entry = self.query_one(ReadingEntry)
            entry.use_unit(mark.unit)
            entry.text = str(mark.value)

    def action_unit(self) -> None:
        """Use the next unit for readings typed without a unit."""
        self.query_one(ReadingEntry).next_unit()

    def action_read_again(self) -> None:
        """Ask whether to read the whole turn again after the work was moved."""
        self._ask(self._read_again())

    async def _read_again(self) -> None:
        detail = ["The log keeps the earlier readings. The picture shows earlier and new readings together."]
        if await self.context.ask(YesNo("Read the whole turn again?", default=True, detail=detail)):
            self._start_another_set()

    def _start_another_set(self) -> None:
        """Plan another set of readings. The log records this as a move of the work."""
        self.revise(Moved(), "another set of readings")

    def action_twice(self) -> None:
        """Ask whether to read the same turn again with nothing moved."""
        self._ask(self._read_twice())

    async def _read_twice(self) -> None:
        detail = ["Move nothing before you read again. The difference shows how well your readings repeat."]
        if await self.context.ask(YesNo("Read the same turn once more?", default=True, detail=detail)):
            self.revise(TurnAgain(), "the same turn once more")

    def action_workholding(self) -> None:
        """Ask how the work is held, and plan the moves for this workholding. The readings are kept."""
        self._ask(self._ask_workholding())

    async def _ask_workholding(self) -> None:
        now = self._seen.job.workholding
        detail = ["The readings are kept. If you have moved something since you took them, read the whole turn again."]
        default = WORKHOLDINGS.index(now) if now else 0
        question = OneOf("How is the work held?", WORKHOLDINGS, default=default, detail=detail)
        chosen = await self.context.ask(question)
        if chosen is None or WORKHOLDINGS[chosen] == now:
            return
        held = WORKHOLDINGS[chosen]

        def record() -> None:
            plan_input, entered = answered_input(self.plan_input, self.state, {"workholding": held})
            self.run.revise(entered, revised_steps(plan_input, self.state, entered))

        self.attempt(record, f"held: {held}")

    async def _end_or_read_again(self) -> None:
        """After the moves, ask whether to read the turn again or end the check."""
        options = ["Read the whole turn again, to compare", "End this check as it is"]
        chosen = await self.context.ask(OneOf("What do you want to do next?", options))
        if chosen == 0:
            self._start_another_set()
        elif chosen == 1:
            self._end()

    def action_skip(self) -> None:
        """Skip the current step. Ask the user first, unless the step is the closing reading."""
        step = self._seen.reading
        if step is None or step.reading_at is None or step.reading_at.angle_deg is not None:
            super().action_skip()
        elif self.attempt(self.run.done, "closing reading skipped"):
            self._plan_from_readings()

    def action_view(self) -> None:
        """Show the next view: picture with advice, advice alone, or picture alone.

        A narrow screen never shows picture and advice together.
        """
        views = ["", "picture"] if self.has_class("-narrow") else ["", "advice", "picture"]
        now = next((view for view in views[1:] if self.has_class(view)), "")
        self.remove_class("advice", "picture")
        if following_view := views[(views.index(now) + 1) % len(views)]:
            self.add_class(following_view)

    def action_scroll_body(self, pages: int) -> None:
        """Scroll the results by `pages` pages."""
        self.query_one("#findings", Pager).action_page(pages)


def _from_readings(state: "State") -> bool:
    """Return whether the last plan was made from a complete set of readings."""
    return isinstance(state.revisions[-1].entered, ReadingsTaken)


def _is_bare(text: str) -> bool:
    """Return whether a reading was typed without a unit, so that the unit of the field applies."""
    try:
        read_number(text)
    except QuantityError:
        return False
    return True


LEADS: dict[FindingKind, str] = {"verdict": "=", "asked": "?", "changed": "~", "do": ">", "known": "-"}
_STYLES: dict[FindingKind, str] = {"verdict": "bold", "asked": "$text-warning", "do": "bold $text-accent"}
_LONGEST = 600


def finding_lines(
    figures: Iterable[tuple[str, Sequence[Figure]]], sentences: Iterable[RunoutFinding], columns: int, glyphs: Glyphs
) -> list[Content]:
    """Return the figures as rows under their headings, then the sentences as rows of at most `columns` characters."""
    lines: list[Content] = []
    for heading, group in figures:
        lines += [Content.styled(heading, "bold")] if heading else []
        lines += figure_contents([Figure(*figure) for figure in group], columns, glyphs)
    for kind, words in sentences:
        wrapped_lines = wrapped(glyphs.text(clean(words, _LONGEST)), columns, first=f"{LEADS[kind]} ", others="  ")
        lines += [Content.styled(line, _STYLES.get(kind, "")) for line in wrapped_lines]
    return lines
