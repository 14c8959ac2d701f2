"""Presses keys that change screens, two and three in a row, faster than the screens can follow.

    python -m tests.trials.pairs [--minutes N] [--seed N] [--triples] [--real N]

Quick keys must lead to the same screens as keys that each wait for the previous screen, and no key may end the program.
To find the keys that change screens, the trial presses each key that a screen lists. At every place, each of these keys
is followed by each key that changes screens there, or on the screen that the first key opens. In triples a third key
follows each pair in the same way.

A gap is counted in turns of the program's event loop, without waiting. So the screen that a key finds depends on the
work that is finished, not on the clock. Some gaps in ms are tried as well. All pairs come first, with one gap after the
other. Then triples are drawn at random until the time is over. Finally `--real` draws so many pairs and triples for the
real program in a pseudo-terminal, 0 to 200 ms apart.
"""

import argparse
import asyncio
import random
import shutil
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import chain
from pathlib import Path
from typing import Any, NamedTuple

from textual.events import Key
from textual.pilot import Pilot
from textual.screen import Screen

import tests.quick_screens  # noqa: F401  A trial is a tenth as long.
from core.logbook.logbook import Logbook
from tests.trials.program import JOB, QUIET_S, Program
from tests.trials.walk import inside, program
from tui.app import HalfnutApp
from tui.faults import FILE_NAME
from tui.presses import COUNT_KEYS
from tui.widgets.question import Listed


class Gap(NamedTuple):
    """The time between one key and the next."""

    laps: int = 0
    seconds: float = 0.0

    def __str__(self) -> str:
        return f"{self.seconds * 1000:g} ms apart" if self.seconds else f"{self.laps} laps apart"


GAPS = (Gap(0), Gap(25), Gap(5), Gap(100), Gap(seconds=0.08), Gap(seconds=0.04), Gap(seconds=0.2))
_LEFT = ("enter", "1", "space", "escape", "enter")
"""A run is started, a pass is counted, and the counter is closed."""
PLACES: dict[str, tuple[str, ...]] = {
    "the board": (),
    "the question whether to begin": ("enter",),
    "the counter": ("enter", "1"),
    "the question whether to leave": ("enter", "1", "escape"),
    "what was measured": ("enter", "1", "m"),
    "the cautions of a run": ("enter", "1", "c"),
    "a run left": _LEFT,
    "the history": (*_LEFT, "f3"),
    "a run's page": (*_LEFT, "f3", "enter"),
    "a run's page, the board before": (*_LEFT, "f3", "enter", "f2"),
    "a form": ("t",),
    "a list of forms": ("a",),
    "an operation to change": ("e",),
    "a change to an operation": ("e", "1"),
    "the conversion": ("f12",),
    "help": ("f1",),
    "set-up": ("l",),
}
CHARACTERS = {"space": " ", "question_mark": "?", "slash": "/", "asterisk": "*", "minus": "-", "plus": "+"}
ENDING = "ctrl+q"
TYPED = {
    **{
        "escape": "\x1b",
        "enter": "\r",
        "space": " ",
        "f1": "\x1bOP",
        "f2": "\x1bOQ",
        "f3": "\x1bOR",
        "f12": "\x1b[24~",
    },
    **{key: key for key in "01234789acegltx?*-"},
}
"""Keys that change screens somewhere, as a terminal sends them."""
_SETTLED_S = 5.0


class Tried(NamedTuple):
    """The pressed keys, the place where they were pressed, and the time between them."""

    place: str
    keys: tuple[str, ...]
    gap: Gap


class Led(NamedTuple):
    """The screen to which a series of keys has led."""

    where: str
    """The screens of both stacks by name, the log, and whether the program has ended; or an error."""
    offered: tuple[str, ...] = ()
    """Keys of the screen on top, one for each action."""

    @property
    def failed(self) -> bool:
        return "Error" in self.where


async def led_to(place: str, keys: Sequence[str], gap: Gap | None) -> Led:
    """Return the screen to which keys lead from a place.

    If `gap` is None, each key waits until the previous key is finished.
    """
    with tempfile.TemporaryDirectory() as name, inside(Path(name)):
        app = program(Path(name), _own_job(Path(name)))
        try:
            async with app.run_test(size=(80, 24)) as pilot:
                await pressed_slowly(pilot, app, PLACES[place] if gap else (*PLACES[place], *keys))
                for key in keys if gap else ():
                    _press(app, key)
                    await _wait(gap)
                await _settled(pilot, app)
                return Led(_where(app), _offered(app))
        except Exception as error:
            return Led(f"{type(error).__name__}: {error}")


def _own_job(folder: Path) -> Path:
    """Return the path of a copy of the job with the files next to it, because keys may change them."""
    return shutil.copytree(JOB.parent, folder / "jobs", ignore=shutil.ignore_patterns("__*")) / JOB.name


async def pressed_slowly(pilot: Pilot[None], app: HalfnutApp, keys: Sequence[str]) -> None:
    """Press keys. Each key waits until all effects of the previous key are finished."""
    await _settled(pilot, app)
    for key in keys:
        _press(app, key)
        await _settled(pilot, app)


def _press(app: HalfnutApp, key: str) -> None:
    if app.is_running:
        assert app._driver is not None
        app._driver.send_message(Key(key, CHARACTERS.get(key, key if len(key) == 1 else None)))


async def _wait(gap: Gap | None) -> None:
    if gap and gap.seconds:
        await asyncio.sleep(gap.seconds)
    for _ in range(gap.laps if gap else 0):
        await asyncio.sleep(0)


async def _settled(pilot: Pilot[None], app: HalfnutApp) -> None:
    """Wait until no key waits or is being handled."""
    until = time.monotonic() + _SETTLED_S
    await pilot.pause()
    while app.is_running and not app.key_queue.is_idle and time.monotonic() < until:
        await pilot.pause()
    if app.is_running and not app.key_queue.is_idle:
        raise TimeoutError(f"TimeoutError: keys are still waiting after {_SETTLED_S:g} s at {_where(app)}")
    await pilot.pause()


def _where(app: HalfnutApp) -> str:
    if not app.is_running:
        return f"ended with status {app.return_code or 0}"
    logged = (
        [f"{info.status} {info.steps_done}" for info in app.context.log.opened.runs()] if app.context.log.opened else []
    )
    board = _names(app._screen_stacks["board"])
    return f"{app.current_mode}: {_names(app.screen_stack)}; the board's: {board}; runs: {', '.join(logged) or 'none'}"


def _names(screens: Sequence[Screen[Any]]) -> str:
    return ", ".join(type(screen).__name__ for screen in screens)


def _offered(app: HalfnutApp) -> tuple[str, ...]:
    """Return one key for each action of the top screen, and the keys of the answers to a question."""
    if not app.is_running:
        return ()
    offered: dict[str, str] = {}
    for key, found in sorted(app.screen.active_bindings.items()):
        offered.setdefault(found.binding.action, key)
    answers = list(app.screen._keys) if isinstance(app.screen, Listed) else []
    return tuple(dict.fromkeys([*answers, *offered.values()]))


class KnownKeys:
    """The effects of keys pressed slowly. They are found once for each place and series of keys."""

    def __init__(self) -> None:
        self._led: dict[tuple[str, tuple[str, ...]], Led] = {}
        self._changing: dict[str, tuple[str, ...]] = {}
        """Keys that change screens, by the screens that are shown."""

    def led(self, place: str, keys: tuple[str, ...]) -> Led:
        """Return the screen to which slow keys lead from a place."""
        if (place, keys) not in self._led:
            self._led[place, keys] = asyncio.run(led_to(place, keys, None))
        return self._led[place, keys]

    def changing(self, place: str, keys: tuple[str, ...] = ()) -> tuple[str, ...]:
        """Return the keys that change the screen to which `keys` have led from a place."""
        here = self.led(place, keys)
        if here.where not in self._changing:
            self._changing[here.where] = tuple(
                key for key in here.offered if key == ENDING or self.led(place, (*keys, key)).where != here.where
            )
        return self._changing[here.where]

    def followed(self, place: str, keys: tuple[str, ...]) -> Iterator[tuple[str, ...]]:
        """Yield the keys with one more key that changes the screen to which they led, or any screen before."""
        if self.led(place, keys).where.startswith("ended"):
            return
        before = [self.changing(place, keys[:length]) for length in range(len(keys), -1, -1)]
        for key in dict.fromkeys(key for known in before for key in known):
            yield (*keys, key)


def pairs(known: KnownKeys, seed: int) -> Iterator[Tried]:
    """Yield all pairs of keys: first with no gap, place by place, then with every other gap."""
    rng = random.Random(seed)
    rows: list[tuple[str, tuple[str, ...]]] = []
    for place in rng.sample(list(PLACES), len(PLACES)):
        here = [(place, pair) for first in known.followed(place, ()) for pair in known.followed(place, first)]
        rows += here
        print(f"from {place}: {len(here)} pairs", flush=True)
        yield from (Tried(*row, GAPS[0]) for row in here)
    for gap in GAPS[1:]:
        print(f"{len(rows)} pairs, {gap}", flush=True)
        yield from (Tried(*row, gap) for row in rng.sample(rows, len(rows)))


def triples(known: KnownKeys, seed: int) -> Iterator[Tried]:
    """Yield triples drawn at random, without end."""
    rng = random.Random(seed)
    while True:
        place, keys = rng.choice(list(PLACES)), tuple[str, ...]()
        while len(keys) < 3 and (longer := list(known.followed(place, keys))):
            keys = rng.choice(longer)
        if len(keys) == 3:
            yield Tried(place, keys, rng.choice(GAPS))


def fault(tried: Tried, known: KnownKeys) -> str:
    """Return the fault if quick keys lead to another screen than slow keys; "" if there is none."""
    by_hand, quickly = known.led(tried.place, tried.keys), asyncio.run(led_to(*tried))
    if by_hand.failed:
        return f"slowly: {by_hand.where}"
    return "" if quickly.where == by_hand.where else f"{quickly.where}; slowly {by_hand.where}"


def tried_really(seed: int, number: int) -> Iterator[tuple[Tried, str]]:
    """Yield keys drawn at random for the real program, and the fault: a failure, a hang or a spoiled log.

    The screen to which the keys lead is not checked, because a terminal sends Esc and an immediately following
    character as one key.
    """
    rng = random.Random(seed)
    for _ in range(number):
        keys = tuple(rng.choice(list(TYPED)) for _ in range(rng.choice((2, 3))))
        tried = Tried(rng.choice(list(PLACES)), keys, Gap(seconds=rng.choice((0.0, 0.04, 0.08, 0.2))))
        with tempfile.TemporaryDirectory() as folder:
            yield tried, _real_fault(tried, Path(folder))


def _real_fault(tried: Tried, folder: Path) -> str:
    real = Program(folder / "log", _own_job(folder))
    try:
        real.wait_for("not started")
        for key in PLACES[tried.place]:
            time.sleep(QUIET_S if key in COUNT_KEYS else 0.0)
            real.press(TYPED.get(key, key))
            real.settle(0.2)
        for key in tried.keys:
            real.press(TYPED[key])
            real.read(tried.gap.seconds)
        real.settle(0.5)
        if real.child.isalive() and not real.shown.strip():
            return "nothing is on the screen"
        for key in ("\x1b", "\x1b", "\x11"):
            real.press(key)
            real.settle(0.2)
        status = real.end()
    except (OSError, TimeoutError) as error:
        # A key that was tried may have ended the program.
        status = None if real.child.isalive() else real.end()
        if status is None:
            real.kill()
            return str(error)
    with Logbook.open(folder / "log", read_only=True) as logbook:
        problems = logbook.verify().problems
    failed = b"Traceback" in real.written or status != 0 or (folder / "log" / FILE_NAME).exists() or problems
    return f"status {status}, {problems}: {real.written[-500:]!r}" if failed else ""


def main() -> int:
    """Print each trial, and the keys that led to another screen."""
    reader = argparse.ArgumentParser()
    reader.add_argument("--minutes", type=float, default=5.0)
    reader.add_argument("--seed", type=int, default=1)
    reader.add_argument("--triples", action="store_true", help="no pairs, triples only")
    reader.add_argument("--real", type=int, default=0, metavar="N", help="so many with the real program, afterwards")
    wanted = reader.parse_args()
    until = time.monotonic() + 60 * wanted.minutes
    known, tried, failed = KnownKeys(), Counter[int](), 0
    trials = () if wanted.triples else pairs(known, wanted.seed)
    for trial in chain(trials, triples(known, wanted.seed)) if wanted.minutes else ():
        if time.monotonic() > until:
            break
        tried[len(trial.keys)] += 1
        if wrong := fault(trial, known):
            failed += 1
            print(f"{trial.place}, {' '.join(trial.keys)} {trial.gap}: {wrong}", flush=True)
    for trial, wrong in tried_really(wanted.seed, wanted.real):
        if wrong:
            failed += 1
            print(f"the real program, {trial.place}, {' '.join(trial.keys)} {trial.gap}: {wrong}", flush=True)
    print(f"{tried[2]} pairs, {tried[3]} triples, {wanted.real} rows in the real program tried, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
