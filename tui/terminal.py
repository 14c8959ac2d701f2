"""The terminal and the clock: whether screens can be shown here, in which characters, and how to leave the terminal."""

import os
import select
import signal
import sys
import time
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from typing import IO, Any, Literal, NamedTuple, Protocol

from tui.glyphs import Charset

Dots = Literal["braille", "quadrant", "half", "ascii"]
Asked = Literal["auto", "ascii", "blocks", "braille"]

LEAVING_SIGNALS = (signal.SIGTERM, signal.SIGHUP)
LONGEST_LEAVING_S = 3.0
_STANDARD_ERROR = 2
"""The stream on which screens are painted."""
_GIVE_BACK = b"\x1b[?2004l\x1b[?7h\x1b[?1000l\x1b[?1003l\x1b[?1015l\x1b[?1006l\x1b[<u\x1b[?1049l\x1b[?25h\x1b[?1004l"
"""Control sequences (xterm) that restore a terminal for the shell.

They restore paste, line wrap, mouse, keyboard, first screen, cursor and focus.
"""


class Terminal(NamedTuple):
    """What a terminal can show."""

    charset: Charset = "braille"
    dots: Dots = "braille"
    """The characters with whose dots pictures are drawn."""
    sixteen_colours: bool = False
    """True for the bare Linux console, which has bright colours for text only, not for backgrounds."""
    no_colour: bool = False
    """True if the user asked for no colour (NO_COLOR)."""

    @property
    def one_look(self) -> bool:
        """True if only the console look is visible on this terminal."""
        return self.sixteen_colours or self.no_colour


def terminal_of(app: object) -> Terminal:
    """Return the terminal on which an app paints; one that can show everything for an app that names none."""
    terminal = getattr(app, "terminal", None)
    return terminal if isinstance(terminal, Terminal) else Terminal()


class TimeSource(NamedTuple):
    """Where the time comes from. The order of events in the log never comes from `wall`."""

    wall: Callable[[], str]
    """Date and time with offset (ISO 8601)."""
    monotonic_ms: Callable[[], int]
    """Milliseconds since some moment, which is the same within one process. They never decrease."""


def _wall() -> str:
    """Return the local date and time; in UTC if the time zone that is set is not valid (TZ may say 25 hours)."""
    try:
        return datetime.now().astimezone().isoformat(timespec="seconds")
    except ValueError:
        return datetime.now(UTC).isoformat(timespec="seconds")


SYSTEM_CLOCK = TimeSource(
    wall=_wall,
    monotonic_ms=lambda: time.monotonic_ns() // 1_000_000,
)


def detect(environment: Mapping[str, str], asked: Asked = "auto", *, utf8_forced: bool = False) -> Terminal:
    """Return what the terminal that `environment` describes can show.

    `asked` is --charset. `utf8_forced`: Python runs in UTF-8 mode, which it enters by itself in the C locale,
    having changed the environment.
    """
    console = environment.get("TERM") == "linux"
    no_colour = "NO_COLOR" in environment
    charset, dots = _characters(asked, console, _is_utf8(environment) and not utf8_forced)
    return Terminal(charset=charset, dots=dots, sixteen_colours=console, no_colour=no_colour)


def complaint(streams: Mapping[str, IO[str] | None], environment: Mapping[str, str]) -> str:
    """Return why screens cannot be shown here and what to do; "" if they can be shown."""
    for name, stream in streams.items():
        if stream is None or stream.closed or not stream.isatty():
            return (
                f"{name.capitalize()} is not a terminal, so no screens can be shown. "
                "Run halfnut in a terminal, or use a command that prints."
            )
    if environment.get("TERM") in {"dumb", "unknown"}:
        return (
            f"This terminal (TERM={environment['TERM']}) cannot show screens. "
            "Use another one, or a command that prints."
        )
    return ""


def leave_on_signals(leave: Callable[[int], None]) -> None:
    """Call `leave` with the exit status (128 + number) when a signal asks the program to end.

    Call this inside the running loop, before the terminal is changed. A terminal that has gone (SIGHUP) may accept
    nothing any more, so a program that does not end by itself is ended after LONGEST_LEAVING_S. The loop's own
    signal handlers are not used: under a flood of keys the loop loses signals.
    """
    # A card asks this module for the terminal's dots, and runs no loop.
    import asyncio
    import termios

    loop = asyncio.get_running_loop()
    before = termios.tcgetattr(sys.stdin.fileno()) if sys.stdin.isatty() else None

    def signalled(number: int, frame: object) -> None:
        if loop.is_closed():
            # The terminal is restored already.
            signal.signal(number, signal.SIG_DFL)
            os.kill(os.getpid(), number)
            return
        if signal.getitimer(signal.ITIMER_REAL)[0] == 0.0:
            signal.signal(signal.SIGALRM, lambda *_: _end(128 + number, before))
            signal.setitimer(signal.ITIMER_REAL, LONGEST_LEAVING_S)
        loop.call_soon_threadsafe(leave, 128 + number)

    for number in LEAVING_SIGNALS:
        signal.signal(number, signalled)


def _end(status: int, terminal_before: list[Any] | None) -> None:
    """End the program at once. Restore the terminal as far as it still accepts anything."""
    import termios

    # A program in the background would be stopped for touching the terminal.
    signal.signal(signal.SIGTTOU, signal.SIG_IGN)
    try:
        if terminal_before is not None:
            termios.tcsetattr(sys.stdin.fileno(), termios.TCSANOW, terminal_before)
        if select.select([], [_STANDARD_ERROR], [], 0)[1]:
            os.write(_STANDARD_ERROR, _GIVE_BACK)
    except (OSError, termios.error, ValueError):
        pass
    os._exit(status)


class StoppableDriver(Protocol):
    """What halfnut needs of a terminal's driver to stop the program and to continue it."""

    _must_signal_resume: bool

    def suspend_application_mode(self) -> None:
        """Restore the terminal for the shell."""

    def resume_application_mode(self) -> None:
        """Prepare the terminal for screens again."""


def stop_and_continue(driver: StoppableDriver) -> None:
    """Restore the terminal before the program stops (SIGTSTP), and prepare it again when it continues (SIGCONT).

    A SIGSTOP comes without notice, and others may have changed the terminal meanwhile: so it is restored and
    prepared afterwards. The loop does both, as a signal may come in the middle of writing to the terminal.
    """
    import asyncio

    loop = asyncio.get_running_loop()

    def stop() -> None:
        driver.suspend_application_mode()
        driver._must_signal_resume = True
        os.kill(os.getpid(), signal.SIGSTOP)

    def continue_again() -> None:
        if not driver._must_signal_resume:
            driver.suspend_application_mode()
            driver._must_signal_resume = True
        driver.resume_application_mode()

    signal.signal(signal.SIGTSTP, lambda *_: loop.call_soon_threadsafe(stop))
    signal.signal(signal.SIGCONT, lambda *_: loop.call_soon_threadsafe(continue_again))


def _is_utf8(environment: Mapping[str, str]) -> bool:
    """Return whether the locale uses UTF-8, by the variables of the environment in their order of priority."""
    for name in ("LC_ALL", "LC_CTYPE", "LANG"):
        if value := environment.get(name):
            return "utf8" in value.casefold().replace("-", "")
    return False


def _characters(asked: Asked, console: bool, utf8: bool) -> tuple[Charset, Dots]:
    if asked == "braille":
        return "braille", "braille"
    if asked == "blocks":
        # The console's fonts have half blocks at best, and no quadrants.
        return ("console", "half") if console else ("blocks", "quadrant")
    if asked == "ascii" or not utf8:
        return "ascii", "ascii"
    return ("console", "ascii") if console else ("braille", "braille")
