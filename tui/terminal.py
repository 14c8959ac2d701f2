"""The terminal and the clocks: detects what the terminal can show, and restores it when the program ends."""

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
"""The stream to which screens are painted."""
_GIVE_BACK = b"\x1b[?2004l\x1b[?7h\x1b[?1000l\x1b[?1003l\x1b[?1015l\x1b[?1006l\x1b[<u\x1b[?1049l\x1b[?25h\x1b[?1004l"
"""Control sequences (xterm) that restore the terminal for the shell.

They restore paste mode, line wrap, mouse, keyboard, main screen, cursor and focus reports.
"""


class Terminal(NamedTuple):
    """What a terminal can show: its characters and its colours."""

    charset: Charset = "braille"
    dots: Dots = "braille"
    """The kind of characters whose dots make up pictures."""
    sixteen_colours: bool = False
    """True for the bare Linux console, which has bright colours for text only, not for backgrounds."""
    no_colour: bool = False
    """True if the user asked for no colour (NO_COLOR)."""

    @property
    def one_look(self) -> bool:
        """True if this terminal can show only the console colours."""
        return self.sixteen_colours or self.no_colour


def terminal_of(app: object) -> Terminal:
    """Return the terminal of an app. If the app has none, return a terminal that can show everything."""
    terminal = getattr(app, "terminal", None)
    return terminal if isinstance(terminal, Terminal) else Terminal()


class TimeSource(NamedTuple):
    """The clocks of the program. The order of events in the log never depends on the wall clock."""

    wall: Callable[[], str]
    """Returns the date and time with the offset from UTC (ISO 8601)."""
    monotonic_ms: Callable[[], int]
    """Returns milliseconds that never decrease, counted from a fixed moment of this process."""


def _wall() -> str:
    """Return the local date and time, or those in UTC if the environment variable TZ is invalid."""
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

    `asked` is the value of --charset. `utf8_forced` is True if Python has switched itself to UTF-8 mode, so that UTF-8
    in `environment` says nothing about the terminal.
    """
    console = environment.get("TERM") == "linux"
    no_colour = "NO_COLOR" in environment
    charset, dots = _characters(asked, console, _is_utf8(environment) and not utf8_forced)
    return Terminal(charset=charset, dots=dots, sixteen_colours=console, no_colour=no_colour)


def complaint(streams: Mapping[str, IO[str] | None], environment: Mapping[str, str]) -> str:
    """Return a sentence that says why screens cannot be shown and what to do; "" if they can be shown.

    `streams` contains the standard streams under their names.
    """
    for name, stream in streams.items():
        if stream is None or stream.closed or not stream.isatty():
            return (
                f"{name.capitalize()} is not a terminal, so no screens can be shown. "
                "Run halfnut in a terminal, or use a command that prints."
            )
    if environment.get("TERM") in {"dumb", "unknown"}:
        return (
            f"This terminal (TERM={environment['TERM']}) cannot show screens. "
            "Use another terminal, or a command that only prints."
        )
    return ""


def leave_on_signals(leave: Callable[[int], None]) -> None:
    """Call `leave` with the exit status (128 + signal number) when SIGTERM or SIGHUP arrives.

    Call this function inside the running event loop, before the terminal is changed. A closed terminal (SIGHUP) may
    block all output, so a program that has not ended after LONGEST_LEAVING_S is ended by force. The event loop's own
    signal handlers are not used, because the loop loses signals in a flood of keys.
    """
    # A card uses this module only for the terminal's dots and needs no event loop.
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
    """End the program immediately, and restore the terminal if it still accepts output.

    `terminal_before` contains the terminal's settings at the start of the program; None if they are unknown.
    """
    import termios

    # The system would stop a background program that changes the terminal.
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
    """The methods of a terminal driver that are needed to stop and continue the program."""

    _must_signal_resume: bool

    def suspend_application_mode(self) -> None:
        """Restore the terminal for the shell."""

    def resume_application_mode(self) -> None:
        """Prepare the terminal for screens again."""


def stop_and_continue(driver: StoppableDriver) -> None:
    """Restore the terminal before the program stops (SIGTSTP), and prepare it when the program continues (SIGCONT).

    SIGSTOP comes without notice, and other programs may have changed the terminal meanwhile. So SIGCONT first restores
    the terminal and then prepares it. The event loop does both, because a signal may interrupt output to the terminal.
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
    """Return True if the locale uses UTF-8. The first of LC_ALL, LC_CTYPE and LANG that is set decides."""
    for name in ("LC_ALL", "LC_CTYPE", "LANG"):
        if value := environment.get(name):
            return "utf8" in value.casefold().replace("-", "")
    return False


def _characters(asked: Asked, console: bool, utf8: bool) -> tuple[Charset, Dots]:
    if asked == "braille":
        return "braille", "braille"
    if asked == "blocks":
        # Some console fonts have half blocks; none has quadrants.
        return ("console", "half") if console else ("blocks", "quadrant")
    if asked == "ascii" or not utf8:
        return "ascii", "ascii"
    return ("console", "ascii") if console else ("braille", "braille")
