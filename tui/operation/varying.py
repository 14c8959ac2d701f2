"""Keys that change a number of a form step by step, and keys for undo and redo."""

from abc import abstractmethod
from collections import deque
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.reactive import reactive
from textual.widget import Widget

from core.values.errors import QuantityError
from core.values.stepping import stepped
from tui.operation.form import FormState, OperationForm
from tui.operation.form_pages import FormPages

MOST_STATES = 10
"""The number of states of a form that undo can restore."""


class FormHistory:
    """The last states of a form. Characters typed one after another into the same field count as one change."""

    def __init__(self, state: FormState) -> None:
        self._now = state
        self._before: deque[FormState] = deque(maxlen=MOST_STATES)
        self._after: list[FormState] = []
        self._typed_in: object = None

    @property
    def has_before(self) -> bool:
        """True if there is a change to undo."""
        return bool(self._before)

    @property
    def has_after(self) -> bool:
        """True if there is a change to redo."""
        return bool(self._after)

    def note(self, state: FormState, typed_in: object = None) -> None:
        """Record the form's state after a change.

        `typed_in` is the field into which the user typed; None for any other change.
        """
        if state == self._now:
            return
        if typed_in is None or typed_in is not self._typed_in:
            self._before.append(self._now)
        self._now, self._typed_in = state, typed_in
        self._after.clear()

    def settle(self) -> None:
        """Make the next typed character count as a new change."""
        self._typed_in = None

    def back(self) -> FormState | None:
        """Undo the last change. Return the state before this change; None if there is none to undo."""
        if not self._before:
            return None
        self._after.append(self._now)
        self._now, self._typed_in = self._before.pop(), None
        return self._now

    def forward(self) -> FormState | None:
        """Redo the change that was undone last. Return the state after this change; None if there is none to redo."""
        if not self._after:
            return None
        self._before.append(self._now)
        self._now, self._typed_in = self._after.pop(), None
        return self._now


class VaryingPages(FormPages):
    """A form with keys that change a number step by step, and with keys for undo and redo."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding(
            "greater_than_sign",
            "vary(1)",
            "Vary",
            key_display="< >",
            tooltip="Change the number at the cursor by one mark of its dial, one degree, or 1.",
        ),
        Binding("less_than_sign", "vary(-1)", show=False, tooltip="Reduce the number at the cursor."),
        Binding("ctrl+z", "undo", "Undo", tooltip="Undo the last change of the form."),
        Binding("ctrl+y", "redo", "Redo", tooltip="Redo the change that Ctrl+Z has undone."),
    ]

    has_before = reactive(False, bindings=True)
    """True if there is an earlier state of the form to return to."""
    has_after = reactive(False, bindings=True)
    """True if there is a later state of the form to return to."""
    _history: FormHistory | None = None
    _unsaved = False
    """True if the fields hold changes that are neither saved nor started as a run."""

    @abstractmethod
    def judge(self, typed_in: object = None) -> None:
        """Read the fields, plan the operation and show the result.

        `typed_in` is the field in which the user types; None after any other change.
        """

    def on_descendant_blur(self) -> None:
        """Make text typed into the next field count as a new change."""
        if self._history is not None:
            self._history.settle()

    def note_state(self, typed_in: object = None) -> None:
        """Record the form's present state if it differs from the last recorded state.

        `typed_in`: the field into which the user typed; None for any other change.
        """
        state = self.query_one(OperationForm).state()
        if self._history is None:
            self._history = FormHistory(state)
        self._history.note(state, typed_in)
        self.has_before, self.has_after = self._history.has_before, self._history.has_after

    @property
    def varied_key(self) -> str:
        """The key of the number field that has the focus or had it last; "" if that field holds no number."""
        form = self.query_one(OperationForm)
        in_form = self.focused is not None and self.query_one("#left") in self.focused.ancestors
        field: Widget | None = self.focused if in_form else self._field
        return form.key_of(field)

    @property
    def varied_words(self) -> str:
        """The selected number field's label and value, for a message; "" if no number field is selected."""
        form, key = self.query_one(OperationForm), self.varied_key
        if not key:
            return ""
        before, number, after = form.split_at_cursor(key)
        at_cursor = f"; cursor on {number}" if before or after else ""
        return f"{form.place_of(key)}: {form.entries[key][1].stated or 'empty'}{at_cursor}"

    @property
    def step_words(self) -> str:
        """A sentence that says how much each key press changes the number; "" if no number field is selected."""
        form, key = self.query_one(OperationForm), self.varied_key
        step = form.step_of(key, self.context.lathe) if key else None
        return "" if step is None else f"Each press: {step.words}."

    def keep_field(self) -> None:
        """Keep a number field selected while another page has the focus.

        This is the number field that is selected now, or else the first one.
        """
        if key := self.varied_key:
            self._field = self.query_one(OperationForm).entries[key][1]
        else:
            self.vary_next(1)

    def vary_next(self, step: int) -> None:
        """Select the form's next number field, or with a negative `step` the previous one, without moving the focus."""
        form, now = self.query_one(OperationForm), self.varied_key
        keys = [key for key, (_, field) in form.entries.items() if form.key_of(field) and field.text.strip()]
        if keys:
            at = keys.index(now) + step if now in keys else 0
            self._field = form.entries[keys[at % len(keys)]][1]
            self.set_focus(None)

    def action_vary(self, steps: int) -> None:
        """Change the selected number by `steps` steps, and show the result. Negative steps reduce the number."""
        form, key = self.query_one(OperationForm), self.varied_key
        step = form.step_of(key, self.context.lathe) if key else None
        if step is None:
            self.show_message("First go to a field with a number. Then press < or > to change the number.")
            return
        field = form.entries[key][1]
        before, number, after = form.split_at_cursor(key)
        try:
            changed = stepped(number, field.unit, step.size, steps)
        except QuantityError as error:
            self.show_message(error.message)
            return
        field.text = f"{before}{changed}{after}"
        if before or after:
            field.cursor = len(before) + len(changed)
        self._changed_by_key()
        self.show_message(f"{self.varied_words}. {self.step_words}")

    def action_undo(self) -> None:
        """Undo the last change of the form."""
        self._put_back(self._history.back() if self._history else None, "There is no change to undo.")

    def action_redo(self) -> None:
        """Redo the change that was undone last."""
        self._put_back(self._history.forward() if self._history else None, "There is no change to redo.")

    def _put_back(self, state: FormState | None, refusal: str) -> None:
        if state is None:
            self.show_message(refusal)
            return
        self.query_one(OperationForm).restore(state)
        self.show_message("")
        self._changed_by_key()

    def _changed_by_key(self) -> None:
        self._unsaved = True
        self.judge()
