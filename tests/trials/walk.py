"""Random key presses on the screens of the program, in this process and in separate folders."""

import contextlib
import os
import random
import time
import traceback
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import cast

from textual.events import Paste
from textual.pilot import Pilot

from tests.trials.texts import DESIGNATIONS, EXPRESSIONS, JOBS, NASTY, QUANTITIES
from tui.__main__ import make_app
from tui.app import HalfnutApp
from tui.paths import Paths
from tui.presses import Presses
from tui.terminal import Terminal, TimeSource
from tui.widgets.question import YesNo

LONGEST_S = 1.0
"""The longest processor time [s] on a machine with no other work, see `calm`."""
SIZES = ((80, 24), (40, 12))
OUT_AFTER = 30
"""The number of keys after which the walk tries to return to the board."""
MOST_OUT = 40
GENERAL = [
    *("enter", "space", "escape", "tab", "shift+tab", "up", "down", "left", "right", "home", "end"),
    *("pageup", "pagedown", "backspace", "delete", "question_mark", "f1", "f2", "f3", "f9", "ctrl+c"),
    *("ctrl+u", "minus", "plus", "asterisk", "full_stop", "slash", "y", "n", "a", "x", "j", "w", "insert"),
    *"0123456789",
]
TYPED = ["0", "1", "2.5", "-3", "12", "26.85", "0.02", "24", "5", *QUANTITIES, *DESIGNATIONS, *EXPRESSIONS, *NASTY]
OPENINGS = (
    (),
    ("l", "t"),
    ("l", "l", "home", "enter"),
    ("l", "l", "end", "d"),
    ("l", "home", "down", "enter", "enter", "enter", "enter", "f4"),
    ("enter", "y"),
    ("f3", "enter"),
)
"""Keys from the board to screens that few random walks find: the dial test, a lathe file with errors, removing a lathe,
a finding of set-up, the counter, the log of a run."""
_LEAVING = {"ctrl+q"}
"""Keys that end the walk."""


@dataclass
class Walked:
    """What was observed while random keys were pressed."""

    keys: int = 0
    ways_out: int = 0
    longest_s: float = 0.0
    longest_at: str = ""
    screens: Counter[str] = field(default_factory=Counter)
    faults: list[str] = field(default_factory=list)

    def add(self, other: "Walked") -> None:
        """Add the observations of another walk."""
        self.keys += other.keys
        self.ways_out += other.ways_out
        self.screens += other.screens
        self.faults += other.faults
        if other.longest_s > self.longest_s:
            self.longest_s, self.longest_at = other.longest_s, other.longest_at


@contextlib.contextmanager
def inside(folder: Path) -> Iterator[None]:
    """Work in `folder`, without access to the user's files."""
    before, here = dict(os.environ), Path.cwd()
    os.environ.update({f"XDG_{name}_HOME": str(folder / name.lower()) for name in ("CONFIG", "DATA", "CACHE", "STATE")})
    os.environ["HOME"] = str(folder)
    os.chdir(folder)
    try:
        yield
    finally:
        os.chdir(here)
        os.environ.clear()
        os.environ.update(before)


def program(folder: Path, job: Path | None) -> HalfnutApp:
    """Return the program with its folders below `folder`, and a clock that advances one second at each reading."""
    now_ms = 0

    def monotonic_ms() -> int:
        nonlocal now_ms
        now_ms += 1000
        return now_ms

    clock = TimeSource(wall=lambda: "2026-11-25T10:00:00+01:00", monotonic_ms=monotonic_ms)
    paths = Paths(
        data=folder / "data", config=folder / "config", cache=folder / "cache", documents=folder / "documents"
    )
    return make_app(paths, clock, Terminal(), job=job, presses=Presses(quiet_s=0.0))


class Walker:
    """Presses random keys, and tries again and again to return to the board."""

    def __init__(self, pilot: Pilot[None], seed: int, where: str, longest_s: float) -> None:
        self._pilot = pilot
        self._app = cast(HalfnutApp, pilot.app)
        self._rng = random.Random(seed)
        self._where = where
        self._longest_s = longest_s
        self._pressed: list[str] = []
        self.seen = Walked()

    async def walk(self, keys: int) -> None:
        """Press this number of random keys."""
        while self.seen.keys < keys and self._app.is_running:
            for key in self._rng.choice(OPENINGS):
                await self._measured(key)
            for _ in range(OUT_AFTER):
                await self._one()
            await self._way_out()

    async def _one(self) -> None:
        chance = self._rng.random()
        if chance < 0.12:
            await self._measured(f"paste {self._rng.randrange(len(TYPED))}", paste=True)
        elif chance < 0.62:
            offered = [key for key in sorted(self._app.screen.active_bindings) if key not in _LEAVING]
            await self._measured(self._rng.choice(offered or GENERAL))
        else:
            await self._measured(self._rng.choice(GENERAL))

    async def _measured(self, key: str, *, paste: bool = False) -> None:
        """Press a key or paste a text, and measure how long the program is busy."""
        screen = self._name()
        self._pressed.append(f"{screen}:{key}")
        begun = time.process_time()
        if paste:
            self._app.screen.post_message(Paste(TYPED[int(key.split()[1])]))
            await self._pilot.pause()
        else:
            await self._pilot.press(key)
        taken = time.process_time() - begun
        taken = calm(taken) if taken > LONGEST_S / 2 else taken
        self.seen.keys += 1
        self.seen.screens[self._name()] += 1
        if taken > self.seen.longest_s:
            self.seen.longest_s, self.seen.longest_at = taken, f"{screen}: {key}"
        if taken > self._longest_s:
            self.seen.faults.append(f"{self._where}: {taken:.1f} s for a key: {self.last_keys()}")

    async def _way_out(self) -> None:
        """Press Esc until the board is shown. Answer yes to a question whether to close a form."""
        self.seen.ways_out += 1
        for _ in range(MOST_OUT):
            if self._name() == "BoardScreen":
                return
            await self._measured("escape")
            if isinstance(self._app.screen, YesNo):
                await self._measured("y")
        stack = [type(screen).__name__ for screen in self._app.screen_stack]
        self.seen.faults.append(f"{self._where}: Esc does not lead out of {stack}: {self.last_keys()}")
        await self._app.switch_mode("board")

    def last_keys(self) -> str:
        """Return the keys pressed last."""
        return " ".join(self._pressed[-45:])

    def _name(self) -> str:
        return type(self._app.screen).__name__ if self._app.screen_stack else "none"


def _loop_s() -> float:
    begun = time.process_time()
    sum(range(200_000))
    return time.process_time() - begun


_LOOP_S = min(_loop_s() for _ in range(20))


def calm(taken_s: float) -> float:
    """Return how long an action would take on this computer if no other programs ran [s]."""
    return taken_s * _LOOP_S / max(_LOOP_S, sorted(_loop_s() for _ in range(5))[2])


async def walk(
    folder: Path, seed: int, keys: int, size: tuple[int, int], job: Path | None, longest_s: float = LONGEST_S
) -> Walked:
    """Press `keys` random keys in a new program. Return the observations, with every fault."""
    where = f"seed {seed}, {size[0]}x{size[1]}, {job.name if job else 'no job'}"
    walker: Walker | None = None
    with inside(folder):
        try:
            app = program(folder, job)
            async with app.run_test(size=size) as pilot:
                walker = Walker(pilot, seed, where, longest_s)
                await walker.walk(keys)
        except BaseException as error:
            if isinstance(error, KeyboardInterrupt):
                raise
            places = "".join(traceback.format_tb(error.__traceback__)[-4:])
            told = "".join(traceback.format_exception(error)[-1:]) + places
            pressed = walker.last_keys() if walker else "before the first key"
            seen = walker.seen if walker else Walked()
            seen.faults.append(f"{where}: {told}\nafter {pressed}")
            return seen
    return walker.seen


def starts() -> list[Path | None]:
    """Return the job files to start the program with. None starts without a job."""
    return [*JOBS, None]
