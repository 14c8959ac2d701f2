"""Recognizes numbers from instruments with a cable, so that their digits do not run the actions of single keys."""

from collections import deque
from collections.abc import Callable
from typing import Any, NamedTuple, Protocol, cast, runtime_checkable

from textual.app import App
from textual.events import Key, Paste
from textual.screen import Screen
from textual.widget import Widget
from textual.widgets import Input

from tui.number_burst import LINE_ENDS, Burst, FieldTyping, first_burst, has_unit, plain_number
from tui.presses import Presses
from tui.widgets.message_line import MessageLine

_LENGTHS = frozenset({"mm", "in"})
_OF_AN_INDICATOR = frozenset({"thou", "marks"})
"""Units of fields that caliper and micrometer readings cannot fill."""


class Looked(NamedTuple):
    """The result of inspecting the waiting keys for a number."""

    dropped: int = 0
    """The number of keys that were removed."""
    until_s: float | None = None
    """The time until which keys must wait for the next key of a number [s]; None if no key must wait."""


@runtime_checkable
class TakesNumbers(Protocol):
    """A screen that accepts a number from an instrument although no field has the focus."""

    types_digits: bool
    """True if a digit starts a typed number and is no key for an action."""

    def take_number(self, text: str, *, is_sure: bool) -> None:
        """Use a number, or show why it is refused.

        If `is_sure` is True, only an instrument can have typed the number, and the unit set for instruments has been
        added to a number without a unit.
        """


@runtime_checkable
class _NumberField(Protocol):
    """A field for a number, with the unit of the number."""

    @property
    def text(self) -> str: ...
    @property
    def unit(self) -> str: ...


def show_on_top(screen: Screen[Any], sentence: str) -> None:
    """Show `sentence` on `screen`, the top screen, even if that screen is a question."""
    for line in screen.query(MessageLine):
        line.show_message(sentence)


class NumberKeys:
    """Finds numbers from instruments among the waiting keys.

    On a screen whose digits run actions, quick digits wait until it is clear whether they are a number or single keys.
    A field gets each digit without delay.
    """

    def __init__(
        self,
        app: App[None],
        presses: Presses,
        *,
        instrument_unit: Callable[[], str],
        lathe_unit: Callable[[], str],
    ) -> None:
        """Start without any recorded keys.

        Both functions return a unit for numbers that an instrument types without one. `instrument_unit` returns the
        unit set for instruments; "" means the unit of the field. `lathe_unit` returns the unit of the lathe, which is
        used for a field in thou or in marks.
        """
        self._app, self._presses = app, presses
        self._instrument_unit, self._lathe_unit = instrument_unit, lathe_unit
        self._field_typing = FieldTyping()
        self._by_hand = 0
        """How many of the first waiting keys were judged to be pressed by hand."""
        self._held, self._held_s = "", 0.0
        self._awaited: Key | Paste | None = None
        """The last key of a number whose waiting time for another key is over."""

    def look(self, waiting: deque[Key | Paste]) -> Looked:
        """Inspect the first waiting keys: use a complete number, drop held digits, or let the keys wait longer.

        Return how many keys were removed, and until when the other keys must wait.
        """
        event, quick_s = waiting[0], self._presses.burst_s
        if self._by_hand or not quick_s or not isinstance(event, Key):
            return Looked()
        if self._held and self._held == event.character and event.time - self._held_s <= quick_s:
            self._held_s = event.time
            return self._drop(waiting, 1, event.time)
        self._held = ""
        if self._goes_into_field(event):
            return Looked()
        burst = first_burst(waiting, quick_s)
        if burst is None:
            return Looked()
        if burst.may_go_on and self._awaited is not waiting[-1]:
            return Looked(until_s=burst.last_s + quick_s)
        return self._act(burst, waiting)

    def waited(self, waiting: deque[Key | Paste]) -> None:
        """Record that no further key came in time to continue the waiting keys."""
        self._awaited = waiting[-1] if waiting else None

    def passed_on(self) -> None:
        """Record that the first waiting key was passed on."""
        self._by_hand = max(self._by_hand - 1, 0)

    def _act(self, burst: Burst, waiting: deque[Key | Paste]) -> Looked:
        screen = self._app.screen
        if burst.kind == "by hand" or (burst.kind == "unended" and getattr(screen, "types_digits", False)):
            self._by_hand = burst.keys
            return Looked()
        if burst.kind == "held":
            self._held, self._held_s = burst.text[0], burst.last_s
            first = cast(Key, waiting.popleft())
            looked = self._drop(waiting, burst.keys - 1, burst.last_s)
            waiting.appendleft(first)
            self._by_hand = 1
            show_on_top(self._app.screen, f"{self._held} is held down or was pressed too fast. It counts as one press.")
            return looked
        looked = self._drop(waiting, burst.keys, burst.last_s)
        shown = self.with_unit(burst.text) if burst.is_sure else plain_number(burst.text)
        if burst.kind == "unended":
            show_on_top(
                self._app.screen,
                f"{shown} arrived faster than anyone can type, and without Enter, so it was ignored.",
            )
        elif isinstance(screen, TakesNumbers):
            screen.take_number(shown, is_sure=burst.is_sure)
        else:
            show_on_top(
                self._app.screen,
                f"{shown} came from an instrument, but this screen asks for no size. Nothing was changed.",
            )
        return looked

    def _drop(self, waiting: deque[Key | Paste], keys: int, last_s: float) -> Looked:
        for _ in range(keys):
            waiting.popleft()
        # These keys ended with a digit. An Enter soon after them must count no pass.
        self._presses.note(last_s, "0", id(self._app.screen))
        return Looked(dropped=keys)

    def with_unit(self, text: str) -> str:
        """Return a number from an instrument. If it has no unit, add the unit set for instruments, if one is set."""
        number, unit = plain_number(text), self._instrument_unit()
        return f"{number} {unit}" if unit and not has_unit(number) else number

    # Fields.

    def _goes_into_field(self, event: Key) -> bool:
        focused = self._app.focused
        return focused is not None and focused.check_consume_key(event.key, event.character)

    def typed_into_field(self, event: Key) -> Key | None:
        """Record a key that goes to a field. If Enter ends a number from an instrument, add the unit to the number.

        Return the key to pass on. Return None if the unit of the number is doubtful; a message then asks for the unit.
        """
        quick_s, focused = self._presses.burst_s, self._app.focused
        field = _number_field(focused) if quick_s else None
        if focused is None or field is None:
            return event
        if event.key not in LINE_ENDS:
            if event.character is not None and focused.check_consume_key(event.key, event.character):
                self._field_typing.note(event, field, field.text, quick_s)
            return event
        ended = self._field_typing.ended(event, field, quick_s)
        if ended is None:
            return event
        before, typed, surely = ended
        own, unit = field.unit, self._instrument_unit()
        if surely and own in _LENGTHS | _OF_AN_INDICATOR:
            unit = unit or (self._lathe_unit() if own in _OF_AN_INDICATOR else own)
            number = plain_number(typed)
            _put(focused, number if has_unit(number) or unit == own else f"{number} {unit}")
        elif unit and own in _LENGTHS - {unit} and not before and not has_unit(typed):
            show_on_top(
                self._app.screen,
                f"Did {typed} come from an instrument in {unit}, or is it in {own}? Add the unit, then press Enter.",
            )
            return None
        enter = Key("enter", "\r")
        enter.time = event.time
        return enter


def _number_field(focused: Widget | None) -> _NumberField | None:
    """Return the field for a number that has the focus; None if there is none."""
    for node in (focused, focused.parent if focused is not None else None):
        if isinstance(node, _NumberField) and node.unit:
            return node
    return None


def _put(focused: Widget, text: str) -> None:
    if isinstance(focused, Input):
        focused.value = text
    else:
        cast("_HasText", focused).text = text


class _HasText(Protocol):
    text: str
