"""Passes keys to screens one at a time.

Each key reaches the screen that the previous key opened, even if keys come quickly.
"""

import asyncio
from collections import deque
from collections.abc import Awaitable, Callable, Coroutine
from typing import Any, Literal, Protocol, runtime_checkable

from textual._time import get_time
from textual.app import App
from textual.events import Key, Paste
from textual.message import Message
from textual.message_pump import MessagePump
from textual.screen import Screen
from textual.timer import Timer

from tui.key_flood import KeyFlood
from tui.number_keys import Looked, NumberKeys
from tui.pedal import own_name
from tui.presses import COUNT_KEYS, HELD_S, Presses
from tui.widgets.message_line import MessageLine

_ASK_AGAIN_S = 0.5
"""The time after which an unanswered screen is asked again [s]. A removed widget never answers."""
_ARRIVES_S = 0.02
"""The longest time that a key takes to reach the queue while the program is busy [s]."""
_WORDS = {"space": "Space", "enter": "Enter", "pedal": "The pedal"}


class Settled(Message):
    """A message sent after each key. When the app receives it, everything that the key caused is finished."""

    def __init__(self, lap: int) -> None:
        super().__init__()
        self.lap = lap


@runtime_checkable
class TakesPedal(Protocol):
    """A screen on which a pedal counts passes."""

    @property
    def pedal_key(self) -> str:
        """The key that counts a pass on this screen. A press of the pedal is treated like this key."""
        ...


class KeyQueue:
    """Delays keys until the screen that they are meant for is open.

    A key is finished when all widgets have handled it, the questions that it asks are on the screen, and the top screen
    has its widgets. Without this queue, keys pressed within a few hundredths of a second would reach the previous
    screen. They could open a second screen in between, and a question could appear on the wrong screen.
    """

    def __init__(
        self,
        app: App[None],
        presses: Presses,
        flood: KeyFlood,
        *,
        numbers: NumberKeys,
        pedal: Callable[[], str],
        undo_pedal: Callable[[], str],
        pass_on: Callable[[Key | Paste], Awaitable[None]],
        show_message: Callable[[str], object],
    ) -> None:
        """Make a queue that passes no key on until `open` is called.

        `presses` recognizes held keys, `flood` counts waiting keys, and `numbers` finds numbers from instruments.
        `pedal` and `undo_pedal` return the keys that the pedals send, or "" without such a pedal. `pass_on` sends a key
        or a pasted text to the top screen, and `show_message` shows a sentence on that screen.
        """
        self._pedal, self._undo_pedal = pedal, undo_pedal
        self._app, self._presses, self._flood, self._numbers = app, presses, flood, numbers
        self._pass_on, self._show_message = pass_on, show_message
        self._waiting: deque[Key | Paste] = deque()
        self._busy = True
        """True while keys must wait. Keys wait at first, because no screen is open yet."""
        self._closed = False
        self._then: Callable[[], object] | None = None
        self._lap = 0
        self._pressed_s = 0.0
        """The time at which the last key that was passed on was pressed [s]."""
        self._holds = 0
        self._asking_again: asyncio.TimerHandle | None = None
        self._waited_for: Key | None = None
        """A key that may be held down. The wait for its next repeat is over."""
        self._held_message = ""
        self._number_timer: Timer | None = None
        """The timer that runs while the waiting keys may be the start of a number."""

    @property
    def is_idle(self) -> bool:
        """True if no key waits and no key is being handled."""
        return not self._busy and not self._waiting

    def open(self) -> None:
        """Start passing keys on as soon as the first screen is open. Call this once, while the app is running."""
        self._app.screen_change_signal.subscribe(self._app, lambda _: self._look())
        self._look()

    def close(self, then: Callable[[], object]) -> None:
        """Drop all waiting and all later keys, and call `then`, which ends the program.

        If a key is being handled, `then` is called after that key; otherwise a screen that is opening would fail. If
        the key takes too long, the time limit in `leave_on_signals` ends the program.
        """
        self._closed = True
        self._waiting.clear()
        if self._busy:
            self._then = then
        else:
            then()

    async def take(self, event: Key | Paste) -> None:
        """Accept a key or a pasted text from the terminal. It is passed on when its turn comes."""
        if not self._closed:
            self._waiting.append(event)
            await self._let_in()

    def put_first(self, key: str) -> None:
        """Put a key in front of all waiting keys.

        It counts as pressed at the time of the last key that was passed on, because it replaces that key.
        """
        event = Key(key, None)
        event.time = self._pressed_s
        self._waiting.appendleft(event)

    def hold(self) -> None:
        """Pass no key on until `release` is called, because another screen is opening."""
        self._holds += 1
        self._busy = True

    def release(self) -> None:
        """Pass keys on again as soon as the top screen is ready."""
        self._holds -= 1
        self._look()

    def after_refresh(self, screen: Screen[Any], act: Callable[[], object]) -> None:
        """Call `act` after `screen` has handled the keys typed so far. Keys typed later wait until `act` has run."""

        def act_and_release() -> None:
            act()
            self.release()

        self.hold()
        screen.call_after_refresh(act_and_release)

    async def ask_in_turn(self, questions: Coroutine[Any, Any, object]) -> None:
        """Run a coroutine that asks questions. The caller must have called `hold`.

        Keys are passed on only while a question is the top screen.
        """
        try:
            await questions
        finally:
            self.release()

    async def settled(self, lap: int) -> None:
        """Pass on the next key, because the `Settled` message with the number `lap` has arrived.

        A message with an older number is ignored, and so is any message while keys are held back.
        """
        if lap == self._lap and not self._holds:
            self._busy = False
            if self._asking_again is not None:
                self._asking_again.cancel()
            if self._then is not None:
                self._then()
            await self._let_in()

    async def _let_in(self) -> None:
        while self._waiting and not self._busy and not self._closed:
            if self._is_number():
                return
            if not self._waiting:
                break
            event = self._waiting[0]
            verdict = self._verdict(event) if isinstance(event, Key) else "by hand"
            if verdict == "not known yet":
                return
            self._waiting.popleft()
            self._numbers.passed_on()
            if isinstance(event, Key):
                self._count_handled(1)
            if verdict == "by hand":
                self._clear_held_key()
                self._busy, self._pressed_s = True, event.time
                target = self._app.focused or self._app.screen
                passed = self._numbers.typed_into_field(self._meant(event)) if isinstance(event, Key) else event
                if passed is not None:
                    await self._pass_on(passed)
                self._send_behind(target)

    def _count_handled(self, keys: int) -> None:
        """Record that `keys` keys were handled. If keys were dropped in a flood, show a message about them."""
        for _ in range(keys):
            if said := self._flood.answered():
                self._show_message(said)

    def _is_number(self) -> bool:
        """Return True if the first waiting keys form a number from an instrument or may still become one.

        A complete number is used immediately.
        """
        looked = self._numbers.look(self._waiting)
        self._count_handled(looked.dropped)
        if looked.dropped:
            self._clear_held_key()
            self._busy = True
            self._send_behind(self._app.screen)
        elif looked.until_s is not None and self._number_timer is None:
            self._number_timer = self._app.set_timer(max(looked.until_s - get_time(), 0.0) + _ARRIVES_S, self._waited)
        return looked != Looked()

    async def _waited(self) -> None:
        """End the wait for the next key of a number.

        The waiting keys are judged now, unless another key has just arrived.
        """
        self._number_timer = None
        if self._waiting and not self._busy:
            if isinstance(last := self._waiting[-1], Paste) or get_time() - last.time >= self._presses.burst_s:
                self._numbers.waited(self._waiting)
            await self._let_in()

    def _verdict(self, event: Key) -> Literal["by hand", "held", "not known yet"]:
        """Return whether a key was pressed by hand, was held down since an earlier screen, or cannot be judged yet.

        A message tells the user about a held key. If only the following key can decide, keys wait for as long as a held
        key needs to repeat.
        """
        screen, presses = id(self._app.screen), self._presses
        key = self._counted_as(event)
        if presses.is_doubtful(event.time, key, screen):
            following = self._waiting[1] if len(self._waiting) > 1 else None
            counts = isinstance(following, Key) and (following.key in COUNT_KEYS or self._is_pedal(following))
            if presses.is_repeat(event.time, following.time if following is not None and counts else None):
                presses.note_repeat(event.time, key)
                self._show_held_key("pedal" if self._is_pedal(event) else key)
                return "held"
            if following is None and event is not self._waited_for:
                self._busy, self._waited_for = True, event
                self._app.set_timer(max(event.time + HELD_S - get_time(), _ARRIVES_S), self._decide)
                return "not known yet"
        presses.note(event.time, key, screen)
        return "by hand"

    def _is_pedal(self, event: Key) -> bool:
        return own_name(event.key) == self._pedal()

    def _counted_as(self, event: Key) -> str:
        """Return the name of the key under which a press is recorded.

        A press of the pedal is recorded as Space on a counter, and also on any other screen while the pedal may still
        be held down.
        """
        if not self._is_pedal(event):
            return event.key
        screen = self._app.screen
        held = self._presses.is_doubtful(event.time, "space", id(screen))
        return "space" if held or isinstance(screen, TakesPedal) else event.key

    def _meant(self, event: Key) -> Key:
        """Return the key that a press means on the top screen.

        On a counter, the pedal means the key that counts a pass, and the undo pedal means Backspace. In all other cases
        the key is returned unchanged.
        """
        screen, name = self._app.screen, own_name(event.key)
        if not isinstance(screen, TakesPedal) or name not in {self._pedal(), self._undo_pedal()}:
            return event
        meant = Key(screen.pedal_key if name == self._pedal() else "backspace", None)
        meant.time = event.time
        return meant

    async def _decide(self) -> None:
        self._busy = False
        # The program may be ending while a key waits.
        if self._app.screen_stack:
            await self._let_in()

    def _send_behind(self, target: MessagePump) -> None:
        """Send a `Settled` message to `target`, which handles it after all messages that it received before."""
        self._lap += 1
        if not target.post_message(Settled(self._lap)):
            self._app.screen.post_message(Settled(self._lap))
        if self._asking_again is not None:
            self._asking_again.cancel()
        self._asking_again = asyncio.get_running_loop().call_later(_ASK_AGAIN_S, self._look)

    def _look(self) -> None:
        """Send a `Settled` message to the top screen if the previous such message has not arrived."""
        if self._busy and self._app.screen_stack:
            self._send_behind(self._app.screen)

    def _show_held_key(self, key: str) -> None:
        self._held_message = (
            f"{_WORDS[key]} is held down or was pressed too fast. Release the key, then press it again."
        )
        for line in self._app.screen.query(MessageLine):
            line.show_message(self._held_message)

    def _clear_held_key(self) -> None:
        """Remove the message about a held key, if it is still shown."""
        for line in self._app.screen.query(MessageLine) if self._held_message else ():
            if line.sentence == self._held_message:
                line.show_message("")
        self._held_message = ""
