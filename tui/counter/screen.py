"""The counter: the reading to set, as large as the screen allows, and one key for each pass."""

from collections.abc import Coroutine
from dataclasses import replace
from functools import cached_property
from typing import TYPE_CHECKING, Any, ClassVar

from textual.app import ComposeResult
from textual.binding import ActiveBinding, Binding, BindingType
from textual.events import Key
from textual.reactive import reactive

from core.operations.registry import PlanInput, picture_of
from core.plan import Step
from core.run.counter_view import CounterView, coming_steps, hours_and_minutes
from core.safety import SWITCH_OFF_AND_WITHDRAW
from core.values.errors import CoreError
from core.values.plain_text import clean
from tui.bell import Sound
from tui.counter import questions as ask
from tui.counter.caution_page import CautionPage
from tui.counter.continue_question import ask_to_continue, open_other_run
from tui.counter.face import CounterFace, FaceWords
from tui.counter.measuring import measured, number_typed, offered, questions_now, takes_number
from tui.counter.picture_panel import LEGEND, StepPicturePanel
from tui.counter.run_screen import OpenInstead, RunScreen
from tui.widgets.key_bar import key_name, key_words
from tui.widgets.question import NumberStart

if TYPE_CHECKING:
    from core.logbook.active_run import ActiveRun
    from tui.counter.run_pattern import RunPattern

_DIGITS = frozenset("0123456789")
_COUNTING = ("space", "enter")
_SIGN = frozenset({"minus", "subtract"})
_UNDO_QUIET_MS = 500
_CLOCK_S = 20
_LOOK_S = 1.0
_ROWS_FOR_MOVEMENTS = 20
"""The fewest rows of a screen that shows the movements of a step."""
_ROWS_FOR_LIST, _MOST_LISTED = 30, 12
"""The fewest rows of a screen that lists the next steps, and how many of them it lists at most."""


_NUMBER = Binding(
    "0", "type_number", "Number", key_display="0-9", tooltip="Type the number that this step asks for, straight away."
)
_UNDO = "Undo the last count or answer."


def _with_letter(digit: str, letter: str, action: str, words: str, tooltip: str) -> tuple[Binding, Binding]:
    """Return the two keys of an action. The letter is shown where digits are typed."""
    return (
        Binding(digit, action, words, tooltip=tooltip),
        Binding(letter, action, words, key_display=letter.upper(), tooltip=tooltip),
    )


class CounterScreen(RunScreen):
    """The counter of any plan: it shows the current step, takes one key for it, and says what is logged."""

    AUTO_FOCUS = ""
    HELP = (
        "The counter shows one step at a time: the big number is the reading to set on the dial. "
        "Set it, cut, and stop where the screen says. Withdraw the tool, bring the carriage back, then press Space."
    )
    MORE_HELP = (
        "Space counts the pass. It is on disk before the screen says Logged. A held key, or a second Space within "
        "0.8 s, is not counted, nor is Enter within 2 s of a digit. You can undo every pass. Every key is on the "
        "number pad; all but Done and Undo ask once. Where a step asks for a number, digits type it straight away, "
        "and their actions are on letters and F keys.\n\n"
        "A caliper with a cable types its number: it is logged where one is asked for, and offered elsewhere. For a "
        "pedal, that unit and the bell press K on the job page.\n\n"
        "After an interruption the last pass may be half cut. Repeating the same reading is harmless."
    )
    TERMS: ClassVar[tuple[str, ...]] = (
        "backlash", "carriage", "compound", "cross-slide", "dry run", "half nuts", "mark", "pass", "reading", "run",
        "scratch pass", "spring pass", "step", "touch off", "undo",
    )  # fmt: skip
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("space,enter", "done", "Done", key_display="Space", tooltip="Count this pass or step as done."),
        Binding("minus,subtract", "undo", "Undo", key_display="-", tooltip=_UNDO),
        Binding("backspace", "undo", "Undo", tooltip=_UNDO),
        *_with_letter("1", "m", "measured", "Measured", "Enter a measurement; the rest is planned again."),
        *_with_letter("2", "s", "set_differently", "Set", "Enter what the dial shows instead."),
        *_with_letter("3", "p", "spring", "Spring", "Add one more spring pass at the same reading."),
        *_with_letter("4", "n", "note", "Note", "Write a note in the log."),
        *_with_letter("5", "u", "moved", "Moved", "Work, tool or dial was moved: find the position again."),
        *_with_letter("6", "g", "go_back", "Repeat", "Repeat a step that was done or skipped."),
        *_with_letter("7", "k", "skip", "Skip", "Skip this step."),
        *_with_letter(
            "8",
            "w",
            "where",
            "Where?",
            "Find the position that the rotary table shows. In a pattern also: what cut positions read, one cut in the "
            "wrong place, and work that was taken off.",
        ),
        Binding(
            "l",
            "settings",
            "List",
            key_display="L",
            show=False,
            tooltip="See what table, slide and head read at every position, and which are cut.",
        ),
        Binding("t", "hand_over", "To pattern", key_display="T", tooltip="Put the result into a pattern of this job."),
        Binding(
            "asterisk,multiply,v",
            "picture",
            "Picture",
            key_display="*",
            tooltip="Show or hide the picture of this step, seen from where you work. Signs in a pattern. " + LEGEND,
        ),
        Binding(
            "full_stop,comma,decimal,f10,ctrl+o",
            "whole_picture",
            "Full picture",
            key_display=".",
            show=False,
            tooltip="Show the pattern on the whole screen; + and - enlarge it there.",
        ),
        Binding(
            "ctrl+w", "wood", "Wood", show=False, tooltip="Show the pattern as wood, shaded by depth, or in lines."
        ),
        Binding(
            "slash,divide,c",
            "cautions",
            "Cautions",
            key_display="/",
            tooltip="Read the cautions of this run again.",
        ),
        Binding("s", "summary", "Summary", key_display="S", tooltip="Sum up this run on one page."),
        Binding("o", "other_run", "Other run", key_display="O", tooltip="Open another unfinished run of this job."),
        Binding("9", "app.convert", "Convert", tooltip="See a quantity on each dial, like F12."),
        Binding("0", "close", "Close", tooltip="Close the counter. Everything is saved."),
        Binding("escape", "close", "Close", tooltip="Close the counter. Everything is saved."),
    ]
    blocked = reactive("", bindings=True)
    """Why steps cannot be counted here: another program counts the run, or the log is read only. "" if they can."""

    def __init__(self, run: "ActiveRun", open_instead: OpenInstead | None = None, *, asks_first: bool = False) -> None:
        """`asks_first`: True if the run was opened before, so that the user is asked what was moved."""
        super().__init__(run, open_instead)
        self.asks_first = asks_first
        self._logged = ""
        self._useful: dict[str, bool] = {}
        """For each action that not every step needs: whether its key does something at the current step."""
        self._asked_for: tuple[PlanInput, str] | None = None
        self._takes_measurements = self._takes_number = False
        self._shown = FaceWords()
        self._pattern: RunPattern | None = None
        self._drawn = StepPicturePanel(self)
        self._face = CounterFace(id="face")
        self._last_undo_ms = -_UNDO_QUIET_MS
        self.set_reactive(CounterScreen.blocked, who_has(run))
        self.title = ask.run_name(run.state)

    def compose_body(self) -> ComposeResult:
        """Yield title and progress, the big number with its dial beside it, the next steps, the movements."""
        if picture_of(self._plan_input) is not None:
            # Without the modules that draw patterns, a run without one is shown sooner.
            from tui.counter.run_pattern import RunPattern

            self._pattern = RunPattern(id="pattern")
            yield self._pattern
        yield self._face

    def on_mount(self) -> None:
        """Paint the run, and from then on keep its time up to date. Nothing else changes by itself."""
        self.paint("")
        self.set_interval(_CLOCK_S, self._paint_logged)
        notices = self.context.log.new_notices()
        if self.asks_first and not self.blocked:
            self._ask(ask_to_continue(self, notices))
        else:
            cut_off = self.run.left == "interrupted" and not self.blocked
            self.show_message(
                " ".join([*([notices] if notices else []), *([SWITCH_OFF_AND_WITHDRAW] if cut_off else [])])
            )
        if self.blocked:
            self.set_interval(_LOOK_S, self._look_again)
        self.context.log_repaired.subscribe(self, self._take_repaired, immediate=True)

    def on_screen_resume(self) -> None:
        """Paint again after a question."""
        self.paint()

    def on_unmount(self) -> None:
        """Release the run for other programs. If a signal ends the program, nothing has closed the run before."""
        self.context.log_repaired.unsubscribe(self)
        self.run.close(in_order=not self.app.return_code)
        self.context.log_has_changed()

    @property
    def types_digits(self) -> bool:
        """Whether this step asks for a number, so that a digit starts it and is no key."""
        step = self.state.cursor
        return not self.blocked and step is not None and bool(step.expects) and self._can_type_number(step)

    def _can_type_number(self, step: Step) -> bool:
        if step.zeroed_dials:
            return step.zeroed_dials[0] in self.plan_input.lathe.dials
        return self._can_measure and self._takes_number

    @property
    def pedal_key(self) -> str:
        """The key that a press of the pedal is here."""
        return "space"

    @property
    def active_bindings(self) -> dict[str, ActiveBinding]:
        """The keys that do something now, for key bar and help: no digits where digits are typed."""
        active = super().active_bindings
        if self.types_digits:
            active = {key: binding for key, binding in active.items() if key not in self._typed_keys()}
            number = ActiveBinding(self, _NUMBER, enabled=True, tooltip=_NUMBER.tooltip)
            counting = {key: active.pop(key) for key in _COUNTING if key in active}
            active = counting | {"0": number} | active
        controls = self.context.controls
        for action, pedal in (("done", controls.pedal), ("undo", controls.undo_pedal)):
            if pedal:
                # On this screen the pedal's key does nothing else.
                active.pop(pedal, None)
                _show_pedal(active, action, pedal)
        return active

    def _typed_keys(self) -> frozenset[str]:
        """Return the keys that start a number at this step. Only a reading can be below 0."""
        step = self.state.cursor
        signed = step is not None and step.action == "read"
        return _DIGITS | _SIGN if signed else _DIGITS

    def on_key(self, event: Key) -> None:
        """Start a number with a digit where one is asked for."""
        if event.key in self._typed_keys() and self.types_digits and event.character is not None:
            event.stop()
            self._ask_for_number(NumberStart(event.character, is_whole=False))

    def take_number(self, text: str, *, is_sure: bool) -> None:
        """Take a number from an instrument: where one is measured it is logged, elsewhere the user is asked."""
        step = self.state.cursor
        if self.blocked:
            self.show_message(f"{text} came from an instrument. {self.blocked}: nothing was changed.")
        elif self.types_digits and step is not None:
            # What a dial shows is read by eye, so that a number typed quickly is still to be confirmed.
            self._ask_for_number(NumberStart(text, not step.zeroed_dials, is_sure))
        else:
            self._ask(offered(self, NumberStart(text, is_whole=True, is_sure=is_sure)))

    def _ask_for_number(self, start: NumberStart) -> None:
        step = self.state.cursor
        if step is not None and step.zeroed_dials:
            self._ask(ask.shown_at_touch_off(self, step, start))
        else:
            self._ask(number_typed(self, start))

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Dim the keys that do nothing while another program counts the run."""
        if action == "picture":
            return True
        if action in {"whole_picture", "wood"}:
            return self._pattern is not None
        if action in {"summary", "set_differently"} and not self.blocked:
            # Both are on one letter: the summary once no step is left to set.
            return (action == "summary") == (self.state.cursor is None)
        if action == "other_run":
            return bool(self.other_runs)
        if action == "settings":
            return self._divides
        if self.blocked and action not in {"close", "help", "mode", "look", "quit", "scroll_body", "cautions"}:
            return None
        return True

    def is_useful(self, action: str) -> bool:
        """Return whether a key does something at the current step. The key bar shows no other keys."""
        return self._useful.get(action, True) and super().is_useful(action)

    @property
    def _can_measure(self) -> bool:
        """Return whether the operation plans anything from a measurement at a step of this sort.

        It is found out once for each sort of step, because it would take longer than a pass may.
        """
        plan_input, step = self.plan_input, self.state.cursor
        sort = plan_input, f"{step.action} {step.expects}" if step is not None else ""
        if self._asked_for is None or self._asked_for[0] is not plan_input or self._asked_for[1] != sort[1]:
            self._asked_for = sort
            try:
                asks = questions_now(self)
            except CoreError:
                asks = ()
            self._takes_measurements = bool(asks)
            self._takes_number = any(map(takes_number, asks))
        return self._takes_measurements

    @cached_property
    def _divides(self) -> bool:
        """True if the run has positions on a rotary table."""
        has_table = self.plan_input.lathe.rotary_table is not None
        return has_table and any(step.action == "index" for step in self.state.steps)

    @property
    def _has_result(self) -> bool:
        """Whether an operation of the open job can use a result of this run."""
        cursor = self.state.cursor
        if self.context.job is None or (self.state.status != "running" if cursor is None else cursor.action != "check"):
            return False
        handover = ask.result_to_hand_over(self)
        return handover is not None and bool(ask.users_of(self, handover))

    def _show_useful_keys(self) -> None:
        """Find out which keys do something at the current step, and show them if they have changed."""
        state, step, lathe = self.state, self.state.cursor, self.plan_input.lathe
        latest = next(state.machine_events_latest_first(), None)
        useful = {
            "undo": state.undoable is not None,
            "measured": step is not None and self._can_measure,
            "set_differently": step is not None and ask.can_be_set(lathe, step),
            "spring": latest is not None and latest.step is not None and latest.step.action in {"cut", "spring"},
            "moved": step is not None and bool(state.results),
            "go_back": step is not None and bool(state.results),
            "skip": step is not None and not step.required,
            "where": self._divides,
            "hand_over": self._has_result,
            "summary": step is None,
            "digit": not self.types_digits,
        }
        if useful != self._useful:
            self._useful = useful
            self.refresh_bindings()

    # Painting.

    def paint(self, logged: str | None = None) -> None:
        """Show the state of the run. `logged` says what has just been logged."""
        self._show_useful_keys()
        if logged is not None:
            self._logged = logged
        held, crowded, changing = "", False, frozenset[str]()
        if self._pattern is not None:
            self._pattern.show_run(self.plan_input, self.state)
            held, crowded = self._pattern.held(self.plan_input, self.state), self._pattern.crowds
            changing = self._pattern.changing(self.state)
        listed = self._listed()
        self._shown = _face_words(self.view, held, changing, listed)._replace(logged=self._logged_words())
        if self._pattern is None:
            self._drawn.show(lambda columns: self._face.fits(_without_extras(self._shown), columns))
            crowded = self._drawn.crowds
        if crowded:
            self._shown = _without_extras(self._shown)
        elif self.size.height < _ROWS_FOR_MOVEMENTS:
            self._shown = self._shown._replace(movements="")
        self._face.show(self._shown)

    def _listed(self) -> tuple[str, ...]:
        """Return the next steps for a list, if the screen may have room for one."""
        if self.size.height < _ROWS_FOR_LIST:
            return ()
        return coming_steps(self.plan_input.lathe, self.state, _MOST_LISTED)

    def on_resize(self) -> None:
        """Fit the picture to the new size."""
        self.fit_picture()

    def fit_picture(self) -> None:
        """Give the picture the room that there is now."""
        self.paint()

    def _paint_logged(self) -> None:
        """Show the time of the run as it is now, and nothing else."""
        if not self.is_attached:
            return
        self._shown = self._shown._replace(logged=self._logged_words())
        self._face.show(self._shown)

    def _logged_words(self) -> str:
        """Return in words what is on the disk, and how long the run has lasted."""
        if self.blocked:
            return clean(f"{self.blocked}: view only")
        return clean(f"time {hours_and_minutes(self.run.run_time_ms)}   {self._logged}".rstrip())

    def _look_again(self) -> None:
        """Show what the other program has logged. Once it has closed the run, count the run here."""
        if not self.blocked or not self.is_current:
            return
        try:
            if self.run.refresh():
                self.paint()
            if self.run.take_over():
                self.blocked = ""
                self.show_message("The other program has closed this run. You can count it here now.")
                self.paint()
                if self.run.left != "here" and self.state.steps_done > 0:
                    self._ask(ask_to_continue(self))
        except CoreError as error:
            self.show_message(error.message)

    def _take_repaired(self, _: None) -> None:
        """Show the run as the log has it after a repair, which may have lost events."""
        try:
            self.run.read_again()
        except CoreError as error:
            self.show_message(error.message)
        else:
            self.paint("")

    # Doing.

    def action_done(self) -> None:
        """Mark the current step as done, after asking for what it needs. A press too soon after another is ignored."""
        if not self.context.presses.latest_is_alone():
            self._refuse_count("Space or Enter was pressed less than 0.8 s before.")
            return
        if self.context.presses.latest_ends_number():
            self._refuse_count("Enter came less than 2 s after a digit. Press Space.")
            return
        step = self.state.cursor
        if step is None:
            self._end()
        elif step.expects and step.action in {"measure", "read"}:
            self._ask(measured(self, may_continue=not step.required, wants_number=self.types_digits))
        elif step.zeroed_dials and step.required:
            self._ask(ask.shown_at_touch_off(self, step))
        else:
            view = self.view
            self.attempt(self.run.done, f"{view.title}, {view.set_to}" if view.set_to else view.title)

    def _refuse_count(self, why: str) -> None:
        self.show_message(f"Not counted: {why}")
        self.context.bell.say(Sound.NOT_LOGGED)

    def action_undo(self) -> None:
        """Undo what was logged last. A key that is held down undoes only once."""
        now_ms = self.context.clock.monotonic_ms()
        if now_ms - self._last_undo_ms < _UNDO_QUIET_MS:
            self._last_undo_ms = now_ms
            return
        self._last_undo_ms = now_ms
        self.attempt(self.run.undo, "undone; do the step again")

    def action_measured(self) -> None:
        """Ask for a measurement."""
        self._ask(measured(self, wants_number=self.types_digits))

    def action_set_differently(self) -> None:
        """Ask what the dial really shows at this step."""
        self._ask(ask.set_differently(self))

    def action_spring(self) -> None:
        """Ask for one more spring pass."""
        self._ask(ask.spring(self))

    def action_note(self) -> None:
        """Ask for a note."""
        self._ask(ask.note(self))

    def action_moved(self) -> None:
        """Ask whether something was moved; if so, find the position again."""
        self._ask(ask.ask_if_moved(self))

    def action_go_back(self) -> None:
        """Ask which step to repeat."""
        self._ask(ask.go_back(self))

    def action_skip(self) -> None:
        """Ask whether to skip the step."""
        self._ask(ask.skip(self))

    def action_where(self) -> None:
        """Ask what the rotary table shows."""
        self._ask(ask.where(self))

    def action_hand_over(self) -> None:
        """Put a result of this run into an operation of the job."""
        self._ask(ask.hand_over(self))

    def action_summary(self) -> None:
        """Sum up the run, as far as it has come."""
        from tui.reports.closing import show_summary

        show_summary(self.context, self.run.uid, self.state)

    def action_settings(self) -> None:
        """Show what every position reads."""
        from tui.counter.settings_page import SettingsPage

        self.app.push_screen(SettingsPage(self.plan_input.lathe, self.state))

    def action_picture(self) -> None:
        """Show or hide the picture. If there is none, say why."""
        if self._pattern is not None:
            self._pattern.switch()
            self.paint()
            self.show_message(self._pattern.legend if self._pattern.display else "")
        else:
            self.show_message(self._drawn.switch(self.paint))

    def action_whole_picture(self) -> None:
        """Show the pattern on the whole screen, as far as it is cut."""
        if self._pattern is not None:
            self._pattern.show_whole(self.plan_input, self.state)

    def action_wood(self) -> None:
        """Show the pattern as wood, or in lines."""
        if self._pattern is not None:
            self._pattern.as_wood = not self._pattern.as_wood

    def action_other_run(self) -> None:
        """Open another unfinished run of this job."""
        self._ask(open_other_run(self))

    def action_cautions(self) -> None:
        """Show the cautions of this run again."""
        self.app.push_screen(CautionPage(self.state.plan))

    def action_close(self) -> None:
        """Ask whether to close the counter."""
        self._ask(ask.close(self))

    def _ask(self, question: Coroutine[Any, Any, object]) -> None:
        """Ask questions that follow from each other."""
        self.context.ask_in_turn(question)

    def _end(self) -> None:
        """Finish a run whose steps are all done, and close."""
        if self.state.status == "running" and not self.attempt(self.run.finish, "the run is finished"):
            return
        self.dismiss()


def _show_pedal(active: dict[str, ActiveBinding], action: str, pedal: str) -> None:
    """Add a pedal's key to the first name of the keys that have its action."""
    first = ""
    for key, bound in active.items():
        if bound.binding.action == action and key_words(bound.binding) == (first or key_words(bound.binding)):
            first = key_words(bound.binding)
            binding = replace(bound.binding, key_display=f"{first}, {key_name(pedal)}")
            active[key] = bound._replace(binding=binding)


def who_has(run: "ActiveRun") -> str:
    """Return why a run can only be viewed here; "" if its steps can be counted here."""
    if not run.view_only:
        return ""
    return "The log is read only" if run.holder is None else f"{run.holder} has this run"


def _without_extras(words: FaceWords) -> FaceWords:
    """Return the words for a narrow column: only the reading, the cautions and what is logged."""
    return words._replace(coming=(), listed=(), movements="")


def _face_words(view: CounterView, held: str, changing: frozenset[str], listed: tuple[str, ...]) -> FaceWords:
    """Return what the face shows of a step. A step without a dial is shown in words alone.

    `held`: what is not touched while a layer is cut; it says what `also` would, but for the dials that are `changing`.
    """
    dial = view.dial
    also = tuple(line for line in view.also if not held or any(line.startswith(name) for name in changing))
    beside = list(also)
    if dial is not None:
        at_its_mark = (part for part in (dial.turns, f"{dial.number} {dial.unit}", dial.direction) if part)
        absolute = [f"({dial.absolute})"] if dial.absolute else []
        beside = [dial.name.upper(), *at_its_mark, *absolute, "", *also]
    movements = "  → ".join(f"{words}." for words in view.movements)
    return FaceWords(
        title=clean(view.title),
        done=view.done,
        total=view.total,
        text=clean(view.text, 400) if dial is None or not view.amounts else "",
        number=(dial.large or dial.number) if dial else "",
        beside=tuple(clean(line) for line in beside),
        below=tuple(clean(line, 600) for line in (view.amounts, held)),
        before=clean(view.before),
        coming=tuple(map(clean, view.coming)),
        listed=tuple(map(clean, listed)),
        movements=clean(movements, 600),
        findings=tuple(clean(finding, 600) for finding in view.findings),
        cautions=tuple(clean(caution, 600) for caution in view.cautions),
    )
