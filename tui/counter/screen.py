"""The screen of the counter.

It shows the reading to set as large as possible, and counts one pass for each key press.
"""

from collections.abc import Coroutine
from dataclasses import replace
from functools import cached_property
from typing import TYPE_CHECKING, Any, ClassVar

from textual.app import ComposeResult
from textual.binding import ActiveBinding, BindingType
from textual.events import Key
from textual.reactive import reactive

from core.operations.registry import PlanInput, picture_of
from core.plan import Step
from core.run.counter_view import coming_steps, hours_and_minutes
from core.safety import SWITCH_OFF_AND_WITHDRAW
from core.values.errors import CoreError
from core.values.plain_text import clean
from tui.bell import Sound
from tui.counter import questions as ask
from tui.counter.caution_page import CautionPage
from tui.counter.continue_question import ask_to_continue, open_other_run
from tui.counter.counter_keys import COUNTER_KEYS, NUMBER_KEY
from tui.counter.face import CounterFace
from tui.counter.face_words import FaceWords, face_words
from tui.counter.measuring import measured, number_typed, offered, questions_now, takes_number
from tui.counter.picture_panel import StepPicturePanel
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


class CounterScreen(RunScreen):
    """Counts the steps of any plan. It shows the current step, and logs each key press before it shows the result."""

    AUTO_FOCUS = ""
    HELP = (
        "The counter shows one step at a time. Set the dial to the big number, then cut as far as the screen says. "
        "Withdraw the tool, bring the carriage back, then press Space."
    )
    MORE_HELP = (
        'Press Space to count the pass and save it on disk. The screen then shows "Logged". A key that you hold '
        "down counts once. A second Space within 0.8 s does not count, nor does Enter within 2 s of a digit. You can "
        "undo every pass.\n\n"
        "Every key is on the number pad. All keys except Done and Undo ask a question first. If a step asks for a "
        "number, type the number. The actions of the digit keys are then on letter keys and F keys.\n\n"
        "A caliper with a cable types its number. The number is logged if the step asks for a measurement. Otherwise "
        "the program asks what the number means. Press k on the board to set a pedal, the caliper's unit or the "
        "bell.\n\n"
        "After an interruption, the last pass may be only partly cut. Cutting it again at the same reading does no "
        "harm."
    )
    TERMS: ClassVar[tuple[str, ...]] = (
        "backlash", "carriage", "compound", "cross-slide", "dry run", "half nuts", "mark", "pass", "reading", "run",
        "scratch pass", "spring pass", "step", "touch off", "undo",
    )  # fmt: skip
    BINDINGS: ClassVar[list[BindingType]] = COUNTER_KEYS
    blocked = reactive("", bindings=True)
    """The reason why steps cannot be counted here, such as a log that is read only; "" if they can be counted."""

    def __init__(self, run: "ActiveRun", open_instead: OpenInstead | None = None, *, asks_first: bool = False) -> None:
        """Show a run.

        `open_instead`: the function that opens another run of the job; None to offer no other run. `asks_first`: True
        to ask first whether anything was moved, because the run has been open before.
        """
        super().__init__(run, open_instead)
        self.asks_first = asks_first
        self._logged = ""
        self._useful: dict[str, bool] = {}
        """Whether the key of each action does something at the current step. Always useful actions are missing."""
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
        """Yield the picture of the pattern, if the run has one, then the counter's body."""
        if picture_of(self._plan_input) is not None:
            # A run without a pattern starts sooner without the modules that draw patterns.
            from tui.counter.run_pattern import RunPattern

            self._pattern = RunPattern(id="pattern")
            yield self._pattern
        yield self._face

    def on_mount(self) -> None:
        """Show the run, ask what was moved if necessary, and start the clock that updates the run's time."""
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
        """Show the run again after a question has closed."""
        self.paint()

    def on_unmount(self) -> None:
        """Release the run for other programs, even if a signal ended this program."""
        self.context.log_repaired.unsubscribe(self)
        self.run.close(in_order=not self.app.return_code)
        self.context.log_has_changed()

    @property
    def types_digits(self) -> bool:
        """True if this step asks for a number. A digit key then types this number instead of starting an action."""
        step = self.state.cursor
        return not self.blocked and step is not None and bool(step.expects) and self._can_type_number(step)

    def _can_type_number(self, step: Step) -> bool:
        if step.zeroed_dials:
            return step.zeroed_dials[0] in self.plan_input.lathe.dials
        return self._can_measure and self._takes_number

    @property
    def pedal_key(self) -> str:
        """The key for which the pedal stands on this screen."""
        return "space"

    @property
    def active_bindings(self) -> dict[str, ActiveBinding]:
        """The keys that do something at this step, for the key bar and the help page.

        Digits that type a number are left out.
        """
        active = super().active_bindings
        if self.types_digits:
            active = {key: binding for key, binding in active.items() if key not in self._typed_keys()}
            number = ActiveBinding(self, NUMBER_KEY, enabled=True, tooltip=NUMBER_KEY.tooltip)
            counting = {key: active.pop(key) for key in _COUNTING if key in active}
            active = counting | {"0": number} | active
        controls = self.context.controls
        for action, pedal in (("done", controls.pedal), ("undo", controls.undo_pedal)):
            if pedal:
                # On this screen the pedal's key has no other action.
                active.pop(pedal, None)
                _show_pedal(active, action, pedal)
        return active

    def _typed_keys(self) -> frozenset[str]:
        """Return the keys that start a number at this step. A minus sign is included if the step asks for a reading."""
        step = self.state.cursor
        signed = step is not None and step.action == "read"
        return _DIGITS | _SIGN if signed else _DIGITS

    def on_key(self, event: Key) -> None:
        """Start a number with the pressed digit if this step asks for a number."""
        if event.key in self._typed_keys() and self.types_digits and event.character is not None:
            event.stop()
            self._ask_for_number(NumberStart(event.character, is_whole=False))

    def take_number(self, text: str, *, is_sure: bool) -> None:
        """Log a number from an instrument if the step asks for a number.

        Otherwise ask what the number means. `is_sure`: False if the number may have been typed by hand.
        """
        step = self.state.cursor
        if self.blocked:
            self.show_message(f"{text} came from an instrument. {self.blocked}, so nothing was changed.")
        elif self.types_digits and step is not None:
            # A dial is read by eye. So the user confirms even a number that was typed quickly.
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
        """Return whether a key is shown (True), dimmed (None) or hidden (False) in the present state of the run."""
        if action == "picture":
            return True
        if action in {"whole_picture", "wood"}:
            return self._pattern is not None
        if action in {"summary", "set_differently"} and not self.blocked:
            # Both actions have the same letter. The summary gets the letter once all steps are done.
            return (action == "summary") == (self.state.cursor is None)
        if action == "other_run":
            return bool(self.other_runs)
        if action == "settings":
            return self._divides
        if self.blocked and action not in {"close", "help", "mode", "look", "quit", "scroll_body", "cautions"}:
            return None
        return True

    def is_useful(self, action: str) -> bool:
        """Return whether an action does something at the current step. The key bar shows only useful actions."""
        return self._useful.get(action, True) and super().is_useful(action)

    @property
    def _can_measure(self) -> bool:
        """True if the operation can use a measurement at the current step.

        The result is kept for all steps of the same kind, because finding it again at every pass would be too slow.
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
        has_table = self.plan_input.lathe.rotary_table is not None
        return has_table and any(step.action == "index" for step in self.state.steps)

    @property
    def _has_result(self) -> bool:
        """True if another operation of the open job can use a result of this run."""
        cursor = self.state.cursor
        if self.context.job is None or (self.state.status != "running" if cursor is None else cursor.action != "check"):
            return False
        handover = ask.result_to_hand_over(self)
        return handover is not None and bool(ask.users_of(self, handover))

    def _show_useful_keys(self) -> None:
        """Find out which keys do something at the current step. Update the key bar if they have changed."""
        state, step, lathe = self.state, self.state.cursor, self.plan_input.lathe
        latest = next(state.machine_events_latest_first(), None)
        useful = {
            "undo": state.undoable is not None,
            "measured": step is not None and self._can_measure,
            "set_differently": step is not None and ask.can_be_set(lathe, step),
            "spring": latest is not None
            and latest.step is not None
            and latest.step.action in {"cut", "spring"}
            and ask.has_spring_passes(self.plan_input),
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

    # Painting

    def paint(self, logged: str | None = None) -> None:
        """Show the present state of the run.

        `logged`: a sentence about the step that was just logged; None to keep the previous sentence.
        """
        self._show_useful_keys()
        if logged is not None:
            self._logged = logged
        held, changing = "", frozenset[str]()
        if self._pattern is not None:
            held = self._pattern.held(self.plan_input, self.state)
            changing = self._pattern.changing(self.state)
        words = face_words(self.view, held, changing, self._listed())._replace(logged=self._logged_words())
        if self.size.height < _ROWS_FOR_MOVEMENTS:
            words = words._replace(movements="")
        self._shown = self._fitting(words)
        self._face.show(self._shown)

    @property
    def _picture(self) -> "RunPattern | StepPicturePanel":
        return self._drawn if self._pattern is None else self._pattern

    def _fitting(self, words: FaceWords) -> FaceWords:
        """Show the picture if the text of the step leaves room for it.

        Return the text, shortened if necessary to fit next to the picture.
        """

        def words_fit(columns: int) -> bool:
            return self._face.fits(words.essential, columns)

        if self._pattern is not None:
            self._pattern.show_run(self.plan_input, self.state, words_fit)
        else:
            self._drawn.show(words_fit)
        columns = self.size.width - self._picture.columns
        wanted = words.without_next_steps if self._picture.crowds else words
        shorter = (wanted, words.without_next_steps, words.essential)
        return next((each for each in shorter if self._face.fits(each, columns)), wanted)

    def _listed(self) -> tuple[str, ...]:
        """Return the next steps, one in each row; () if the screen has too few rows for a list."""
        if self.size.height < _ROWS_FOR_LIST:
            return ()
        return coming_steps(self.plan_input.lathe, self.state, _MOST_LISTED)

    def on_resize(self) -> None:
        """Arrange the picture and the text for the new size of the screen."""
        self.fit_picture()

    def fit_picture(self) -> None:
        """Arrange the picture and the text for the room that the screen has now."""
        self.paint()

    def _paint_logged(self) -> None:
        """Update the row with the run's time and the last logged step."""
        if not self.is_attached:
            return
        self._shown = self._shown._replace(logged=self._logged_words())
        self._face.show(self._shown)

    def _logged_words(self) -> str:
        """Return the run's time and the last logged step in words, or the reason why steps cannot be counted here."""
        if self.blocked:
            return clean(f"{self.blocked}: view only")
        return clean(f"time {hours_and_minutes(self.run.run_time_ms)}   {self._logged}".rstrip())

    def _look_again(self) -> None:
        """Show steps that another program has logged. Take over the run after that program has closed it."""
        if not self.blocked or not self.is_current:
            return
        try:
            if self.run.refresh():
                self.paint()
            if self.run.take_over():
                self.blocked = ""
                self.show_message("The other copy of this program has closed this run. You can now count passes here.")
                self.paint()
                if self.run.left != "here" and self.state.steps_done > 0:
                    self._ask(ask_to_continue(self))
        except CoreError as error:
            self.show_message(error.message)

    def _take_repaired(self, _: None) -> None:
        """Show the run again after a repair of the log. The repair may have lost events."""
        try:
            self.run.read_again()
        except CoreError as error:
            self.show_message(error.message)
        else:
            self.paint("")

    # Keys

    def action_done(self) -> None:
        """Log the current step as done after asking its questions. A key press too soon after another is ignored."""
        if not self.context.presses.latest_is_alone():
            self._refuse_count("Wait at least 0.8 s between two presses of Space or Enter.")
            return
        if self.context.presses.latest_ends_number():
            self._refuse_count("Enter came less than 2 s after a digit. Press Space instead.")
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
        self.show_message(f"Not counted. {why}")
        self.context.bell.say(Sound.NOT_LOGGED)

    def action_undo(self) -> None:
        """Undo the last logged event. A key that is held down undoes only one event."""
        now_ms = self.context.clock.monotonic_ms()
        if now_ms - self._last_undo_ms < _UNDO_QUIET_MS:
            self._last_undo_ms = now_ms
            return
        self._last_undo_ms = now_ms
        self.attempt(self.run.undo, "undone. Do the step again")

    def action_measured(self) -> None:
        """Ask for a measurement at the current step."""
        self._ask(measured(self, wants_number=self.types_digits))

    def action_set_differently(self) -> None:
        """Ask for the real reading of the dial at this step."""
        self._ask(ask.set_differently(self))

    def action_spring(self) -> None:
        """Ask whether to add one more spring pass."""
        self._ask(ask.spring(self))

    def action_note(self) -> None:
        """Ask for a note to write in the log."""
        self._ask(ask.note(self))

    def action_moved(self) -> None:
        """Ask whether something was moved. If so, plan the steps that find the position again."""
        self._ask(ask.ask_if_moved(self))

    def action_go_back(self) -> None:
        """Ask which earlier step to repeat."""
        self._ask(ask.go_back(self))

    def action_skip(self) -> None:
        """Ask whether to skip the current step."""
        self._ask(ask.skip(self))

    def action_where(self) -> None:
        """Ask for the reading of the rotary table, and show the position there."""
        self._ask(ask.where(self))

    def action_hand_over(self) -> None:
        """Put a result of this run into another operation of the open job."""
        self._ask(ask.hand_over(self))

    def action_summary(self) -> None:
        """Show the summary of the run so far."""
        from tui.reports.closing import show_summary

        show_summary(self.context, self.run.uid, self.state)

    def action_settings(self) -> None:
        """Show the list of the readings at every position."""
        from tui.counter.settings_page import SettingsPage

        self.app.push_screen(SettingsPage(self.plan_input.lathe, self.state))

    def action_picture(self) -> None:
        """Show or hide the picture of the current step. If the step has no picture, show the reason."""
        self.show_message(self._picture.switch(self.paint))
        self.call_after_refresh(self._fit_above_message)

    def _fit_above_message(self) -> None:
        """Arrange the picture and the text again after a message took rows.

        Drop a message that leaves no room for both.
        """
        was_shown = self._picture.columns > 0
        self.paint()
        if was_shown and not self._picture.columns:
            self.show_message("")
            self.call_after_refresh(self.paint)

    def action_whole_picture(self) -> None:
        """Show the pattern on the whole screen, with the positions cut so far."""
        if self._pattern is not None:
            self._pattern.show_whole(self.plan_input, self.state)

    def action_wood(self) -> None:
        """Switch the picture of the pattern between shaded wood and outlines."""
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
        self.context.ask_in_turn(question)

    def _end(self) -> None:
        """Finish the run after its last step, and close the counter."""
        if self.state.status == "running" and not self.attempt(self.run.finish, "the run is finished"):
            return
        self.dismiss()


def _show_pedal(active: dict[str, ActiveBinding], action: str, pedal: str) -> None:
    """Show the pedal's key next to the first key of an action in the key bar."""
    first = ""
    for key, bound in active.items():
        if bound.binding.action == action and key_words(bound.binding) == (first or key_words(bound.binding)):
            first = key_words(bound.binding)
            binding = replace(bound.binding, key_display=f"{first}, {key_name(pedal)}")
            active[key] = bound._replace(binding=binding)


def who_has(run: "ActiveRun") -> str:
    """Return the reason why the steps of a run cannot be counted here; "" if they can be counted."""
    if not run.view_only:
        return ""
    return "The log is read only" if run.holder is None else f"{run.holder} has this run open"
