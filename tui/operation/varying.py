"""The keys of every form that change a number by a mark or by one, and those that step back through its states."""

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
"""How many states of a form can be stepped back to."""


class FormHistory:
    """The last states of a form. What is typed into one field, character after character, is one change."""

    def __init__(self, state: FormState) -> None:
        self._now = state
        self._before: deque[FormState] = deque(maxlen=MOST_STATES)
        self._after: list[FormState] = []
        self._typed_in: object = None

    @property
    def has_before(self) -> bool:
        """Whether there is a state to step back to."""
        return bool(self._before)

    @property
    def has_after(self) -> bool:
        """Whether there is a state to step forward to again."""
        return bool(self._after)

    def note(self, state: FormState, typed_in: object = None) -> None:
        """Note the state of the form after a change. `typed_in`: the field typed in; None for any other change."""
        if state == self._now:
            return
        if typed_in is None or typed_in is not self._typed_in:
            self._before.append(self._now)
        self._now, self._typed_in = state, typed_in
        self._after.clear()

    def settle(self) -> None:
        """Count what is typed from now on as another change."""
        self._typed_in = None

    def back(self) -> FormState | None:
        """Step back to the state before, and return it; None if there is none."""
        if not self._before:
            return None
        self._after.append(self._now)
        self._now, self._typed_in = self._before.pop(), None
        return self._now

    def forward(self) -> FormState | None:
        """Step forward to the state that was stepped back from, and return it; None if there is none."""
        if not self._after:
            return None
        self._before.append(self._now)
        self._now, self._typed_in = self._after.pop(), None
        return self._now


class VaryingPages(FormPages):
    """A form whose numbers change step by step, and whose last states can be stepped back to."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding(
            "greater_than_sign",
            "vary(1)",
            "Vary",
            key_display="< >",
            tooltip="Change this number: > up, < down, by a mark of its dial, a degree, or 1.",
        ),
        Binding("less_than_sign", "vary(-1)", show=False, tooltip="Make this number smaller."),
        Binding("ctrl+z", "undo", "Undo", tooltip="Step back to the form as it was before the last change."),
        Binding("ctrl+y", "redo", "Redo", tooltip="Step forward again to the form as it was before Ctrl+Z."),
    ]

    has_before = reactive(False, bindings=True)
    """Whether there is a state of the form to step back to."""
    has_after = reactive(False, bindings=True)
    """Whether there is a state of the form to step forward to."""
    _history: FormHistory | None = None
    _unsaved = False
    """Whether the fields hold something that is neither started nor saved."""

    @abstractmethod
    def judge(self, typed_in: object = None) -> None:
        """Read and plan the fields, and show what comes of it."""

    def on_descendant_blur(self) -> None:
        """Count what is typed in another field as another change."""
        if self._history is not None:
            self._history.settle()

    def note_state(self, typed_in: object = None) -> None:
        """Note the state of the form, if it has changed."""
        state = self.query_one(OperationForm).state()
        if self._history is None:
            self._history = FormHistory(state)
        self._history.note(state, typed_in)
        self.has_before, self.has_after = self._history.has_before, self._history.has_after

    @property
    def varied_key(self) -> str:
        """The key of the field with the cursor, or of the field left last, if it holds a number; else ""."""
        form = self.query_one(OperationForm)
        in_form = self.focused is not None and self.query_one("#left") in self.focused.ancestors
        field: Widget | None = self.focused if in_form else self._field
        return form.key_of(field)

    @property
    def varied_words(self) -> str:
        """The label and the value of the field that the keys change; "" if they change none."""
        form, key = self.query_one(OperationForm), self.varied_key
        if not key:
            return ""
        return f"{form.place_of(key)}: {form.entries[key][1].stated or 'empty'}"

    @property
    def step_words(self) -> str:
        """How far each press changes the number, in a sentence; "" if the keys change none."""
        form, key = self.query_one(OperationForm), self.varied_key
        step = form.step_of(key, self.context.lathe) if key else None
        return "" if step is None else f"Each press: {step.words}."

    def keep_field(self) -> None:
        """Let the keys change the present number, or else the first, also while another page has the focus."""
        if key := self.varied_key:
            self._field = self.query_one(OperationForm).entries[key][1]
        else:
            self.vary_next(1)

    def vary_next(self, step: int) -> None:
        """Let the keys change the next number of the form, or the one before, although its field has no cursor."""
        form, now = self.query_one(OperationForm), self.varied_key
        keys = [key for key, (_, field) in form.entries.items() if form.key_of(field) and field.text.strip()]
        if keys:
            at = keys.index(now) + step if now in keys else 0
            self._field = form.entries[keys[at % len(keys)]][1]
            self.set_focus(None)

    def action_vary(self, steps: int) -> None:
        """Change the number of a field by so many marks, degrees or ones, and show what comes of it."""
        form, key = self.query_one(OperationForm), self.varied_key
        step = form.step_of(key, self.context.lathe) if key else None
        if step is None:
            self.show_message("Go to a field with a number first. Then < and > change that number.")
            return
        field = form.entries[key][1]
        try:
            field.text = stepped(field.text, field.unit, step.size, steps)
        except QuantityError as error:
            self.show_message(error.message)
            return
        self._changed_by_key()
        self.show_message(f"{self.varied_words}. {self.step_words}")

    def action_undo(self) -> None:
        """Step back to the state of the form before the last change."""
        self._put_back(self._history.back() if self._history else None, "There is no earlier state of this form.")

    def action_redo(self) -> None:
        """Step forward to the state that was stepped back from."""
        self._put_back(self._history.forward() if self._history else None, "There is no later state of this form.")

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
