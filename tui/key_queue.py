"""Keys one at a time: each goes to the screen that the key before it opened, however quickly they come."""

import asyncio
from collections import deque
from collections.abc import Awaitable, Callable, Coroutine
from typing import Any, Literal

from textual._time import get_time
from textual.app import App
from textual.events import Key, Paste
from textual.message import Message
from textual.message_pump import MessagePump
from textual.screen import Screen

from tui.key_flood import KeyFlood
from tui.presses import COUNT_KEYS, HELD_S, Presses
from tui.widgets.message_line import MessageLine

_ASK_AGAIN_S = 0.5
"""After so long [s] without an answer the screen is asked: a removed widget never answers for its key."""
_ARRIVES_S = 0.02
"""How long a key may take to get here in a busy program [s]."""
_WORDS = {"space": "Space", "enter": "Enter"}


class Settled(Message):
    """A message that follows a key through the widgets. When it comes back, the key has had all its effect."""

    def __init__(self, lap: int) -> None:
        super().__init__()
        self.lap = lap


class KeyQueue:
    """Holds keys back until the screen that they are for is there.

    A key is over when all its widgets have had it, when the questions that it leads to are on the screen, and when
    the screen on top has its widgets. Without this, keys pressed within a few hundredths of a second reach the
    screen before, open a second screen in between, and a question is asked on top of the wrong one.
    """

    def __init__(
        self,
        app: App[None],
        presses: Presses,
        flood: KeyFlood,
        *,
        pass_on: Callable[[Key | Paste], Awaitable[None]],
        show_message: Callable[[str], object],
    ) -> None:
        """`pass_on` gives the screen on top a key or a paste. `show_message` shows a sentence on that screen."""
        self._app, self._presses, self._flood = app, presses, flood
        self._pass_on, self._show_message = pass_on, show_message
        self._waiting: deque[Key | Paste] = deque()
        self._busy = True
        """Whether keys must wait. At first they must: the first screen is not there yet."""
        self._closed = False
        self._then: Callable[[], object] | None = None
        self._lap = 0
        self._pressed_s = 0.0
        """When the last key that was let in was pressed [s]."""
        self._holds = 0
        self._asking_again: asyncio.TimerHandle | None = None
        self._waited_for: Key | None = None
        """The key that might be held down, once the wait for the next key is over."""
        self._held_message = ""

    @property
    def is_idle(self) -> bool:
        """True while no key waits and none is being handled."""
        return not self._busy and not self._waiting

    def open(self) -> None:
        """Let the first key in as soon as the first screen is there. Call this once, in the running program."""
        self._app.screen_change_signal.subscribe(self._app, lambda _: self._look())
        self._look()

    def close(self, then: Callable[[], object]) -> None:
        """Drop waiting and later keys. Once the present key is done, call `then`, which ends the program.

        A screen that is half made when the program ends would look for widgets that never come. A key
        that takes too long is the business of whoever wants the end: see `leave_on_signals`.
        """
        self._closed = True
        self._waiting.clear()
        if self._busy:
            self._then = then
        else:
            then()

    async def take(self, event: Key | Paste) -> None:
        """Take a key or a paste from the terminal; let it in when it is its turn."""
        if not self._closed:
            self._waiting.append(event)
            await self._let_in()

    def put_first(self, key: str) -> None:
        """Put a key in front of the waiting keys.

        It gets the time of the last key let in, which it replaces.
        """
        event = Key(key, None)
        event.time = self._pressed_s
        self._waiting.appendleft(event)

    def hold(self) -> None:
        """Let no key in until `release`: another screen is coming."""
        self._holds += 1
        self._busy = True

    def release(self) -> None:
        """Let keys in again, once the screen on top is ready for keys."""
        self._holds -= 1
        self._look()

    def after_refresh(self, screen: Screen[Any], act: Callable[[], object]) -> None:
        """Call `act` after the typed keys have been read. Later keys are let in after that."""

        def act_and_release() -> None:
            act()
            self.release()

        self.hold()
        screen.call_after_refresh(act_and_release)

    async def ask_in_turn(self, questions: Coroutine[Any, Any, object]) -> None:
        """Run a coroutine that asks questions, after `hold`. Keys are let in only while a question is on top."""
        try:
            await questions
        finally:
            self.release()

    async def settled(self, lap: int) -> None:
        """Let the next key in. The message sent after the last key has come back, so that key is dealt with."""
        if lap == self._lap and not self._holds:
            self._busy = False
            if self._asking_again is not None:
                self._asking_again.cancel()
            if self._then is not None:
                self._then()
            await self._let_in()

    async def _let_in(self) -> None:
        while self._waiting and not self._busy and not self._closed:
            event = self._waiting[0]
            verdict = self._verdict(event) if isinstance(event, Key) else "by hand"
            if verdict == "not known yet":
                return
            self._waiting.popleft()
            if isinstance(event, Key) and (said := self._flood.answered()):
                self._show_message(said)
            if verdict == "by hand":
                self._clear_held_key()
                self._busy, self._pressed_s = True, event.time
                target = self._app.focused or self._app.screen
                await self._pass_on(event)
                self._send_behind(target)

    def _verdict(self, event: Key) -> Literal["by hand", "held", "not known yet"]:
        """Return whether a key was pressed by hand, is held down from an earlier screen, or cannot be judged yet.

        If a key is held, the user sees a message.

        If only the next key can decide it, keys wait for as long as a held key needs to come again.
        """
        screen, presses = id(self._app.screen), self._presses
        if presses.is_doubtful(event.time, event.key, screen):
            following = self._waiting[1] if len(self._waiting) > 1 else None
            counts = isinstance(following, Key) and following.key in COUNT_KEYS
            if presses.is_repeat(event.time, following.time if following is not None and counts else None):
                presses.note_repeat(event.time, event.key)
                self._show_held_key(event.key)
                return "held"
            if following is None and event is not self._waited_for:
                self._busy, self._waited_for = True, event
                self._app.set_timer(max(event.time + HELD_S - get_time(), _ARRIVES_S), self._decide)
                return "not known yet"
        presses.note(event.time, event.key, screen)
        return "by hand"

    async def _decide(self) -> None:
        self._busy = False
        # The program may be ending while a key waits.
        if self._app.screen_stack:
            await self._let_in()

    def _send_behind(self, target: MessagePump) -> None:
        """Send the message that comes back after everything before it is done."""
        self._lap += 1
        if not target.post_message(Settled(self._lap)):
            self._app.screen.post_message(Settled(self._lap))
        if self._asking_again is not None:
            self._asking_again.cancel()
        self._asking_again = asyncio.get_running_loop().call_later(_ASK_AGAIN_S, self._look)

    def _look(self) -> None:
        """Ask the screen on top whether it is ready for keys."""
        if self._busy and self._app.screen_stack:
            self._send_behind(self._app.screen)

    def _show_held_key(self, key: str) -> None:
        self._held_message = f"{_WORDS[key]} is held down or came too fast. Release it, then press it again."
        for line in self._app.screen.query(MessageLine):
            line.show_message(self._held_message)

    def _clear_held_key(self) -> None:
        """Clear the message at the next key by hand, unless another message is there."""
        for line in self._app.screen.query(MessageLine) if self._held_message else ():
            if line.sentence == self._held_message:
                line.show_message("")
        self._held_message = ""
