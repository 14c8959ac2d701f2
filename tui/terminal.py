"""The terminal halfnut runs in: whether it is one, what it can show, how it is left, and the clock."""

import os
import signal
import time
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from typing import IO, Literal, NamedTuple

from tui.glyphs import Charset

Dots = Literal["braille", "quadrant", "half", "ascii"]
Asked = Literal["auto", "ascii", "blocks", "braille"]
ASKED: tuple[Asked, ...] = ("auto", "ascii", "blocks", "braille")

LEAVING_SIGNALS = (signal.SIGTERM, signal.SIGHUP)
LONGEST_LEAVING_S = 3.0


class Terminal(NamedTuple):
    """What a terminal can show."""

    charset: Charset = "braille"
    dots: Dots = "braille"
    """What pictures are drawn with."""
    sixteen_colours: bool = False
    """True for the bare Linux console, whose bright colours exist as foregrounds only."""
    no_colour: bool = False
    """True where the user asked for none (NO_COLOR)."""

    @property
    def one_look(self) -> bool:
        """True where there is nothing to choose: only the console look can be seen here."""
        return self.sixteen_colours or self.no_colour


class Clock(NamedTuple):
    """Where the time comes from. Order in the log is never taken from `wall`."""

    wall: Callable[[], str]
    """Date and time with offset (ISO 8601)."""
    monotonic_ms: Callable[[], int]
    """Milliseconds since some moment, the same for one process, never going back."""


def _wall() -> str:
    """Return date and time here; in UTC where the time zone set is none (TZ may say 25 hours)."""
    try:
        return datetime.now().astimezone().isoformat(timespec="seconds")
    except ValueError:
        return datetime.now(UTC).isoformat(timespec="seconds")


SYSTEM_CLOCK = Clock(
    wall=_wall,
    monotonic_ms=lambda: time.monotonic_ns() // 1_000_000,
)


def detect(environment: Mapping[str, str], asked: Asked = "auto", *, utf8_forced: bool = False) -> Terminal:
    """Return what the terminal described by `environment` can show.

    `asked` is --charset. `utf8_forced`: Python runs in UTF-8 mode, which it
    enters by itself in the C locale, having changed the environment.
    """
    console = environment.get("TERM") == "linux"
    no_colour = "NO_COLOR" in environment
    charset, dots = _characters(asked, console, _is_utf8(environment) and not utf8_forced)
    return Terminal(charset=charset, dots=dots, sixteen_colours=console, no_colour=no_colour)


def complaint(streams: Mapping[str, IO[str] | None], environment: Mapping[str, str]) -> str:
    """Return why screens cannot be shown here, "" where they can."""
    for name, stream in streams.items():
        if stream is None or stream.closed or not stream.isatty():
            return (
                f"{name} is not a terminal, so no screens can be shown; "
                "run halfnut in a terminal, or see `halfnut --help` for what prints"
            )
    if environment.get("TERM") in {"dumb", "unknown"}:
        return (
            f"this terminal (TERM={environment['TERM']}) cannot show screens; "
            "use another one, or see `halfnut --help` for what prints"
        )
    return ""


def leave_on_signals(leave: Callable[[int], None]) -> None:
    """Call `leave` with the exit status (128 + number) when the program is told to end.

    Must be called inside the running loop. A terminal that has gone (SIGHUP) may take
    nothing any more: what cannot end by itself is ended after LONGEST_LEAVING_S.
    """
    # A card asks this module for the terminal's dots, and runs no loop.
    import asyncio

    loop = asyncio.get_running_loop()

    def told(number: int) -> None:
        leave(128 + number)
        signal.signal(signal.SIGALRM, lambda *_: os._exit(128 + number))
        signal.setitimer(signal.ITIMER_REAL, LONGEST_LEAVING_S)

    for number in LEAVING_SIGNALS:
        loop.add_signal_handler(number, told, number)


def _is_utf8(environment: Mapping[str, str]) -> bool:
    """Tell whether the locale's characters are UTF-8, by the variables in the order they count."""
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
