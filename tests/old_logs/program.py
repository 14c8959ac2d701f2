"""The real program on a logbook, driven by keys. Recordings are made with it, and continued with it."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from textual.screen import Screen

from core.events.state import State
from core.plan import Step, figures_as_data
from tui.__main__ import make_app
from tui.app import HalfnutApp
from tui.board.screen import BoardScreen
from tui.counter.screen import CounterScreen
from tui.history.run_list import RunList
from tui.history.run_log import RunLogScreen
from tui.history.screen import HistoryScreen
from tui.paths import Paths
from tui.presses import Presses
from tui.terminal import Terminal, TimeSource
from tui.widgets.question import QuestionScreen

JOBS = Path("/jobs")
"""The folder of the job files according to the log. It is not a folder of the recording machine."""
_BETWEEN_KEYS_MS = 7_000
_PATIENCE = 50
_FIRST_DAY = datetime(2026, 1, 5, 8, 0, tzinfo=UTC)


class Time:
    """The clock of one start of the program. It starts at eight on that day and moves a few seconds at each key."""

    def __init__(self, day: int) -> None:
        self._began = _FIRST_DAY + timedelta(days=day)
        self._began_ms = self.ms = 50_000 + 1_000 * day

    def clock(self) -> TimeSource:
        """Return the time in the form that the program reads from its clock."""
        return TimeSource(wall=self._wall, monotonic_ms=lambda: self.ms)

    def _wall(self) -> str:
        return (self._began + timedelta(milliseconds=self.ms - self._began_ms)).isoformat(timespec="seconds")


class Program:
    """One start of the program. Its methods press keys in it."""

    def __init__(self, pilot: Any, time: Time) -> None:
        self._pilot, self._time = pilot, time

    @property
    def app(self) -> HalfnutApp:
        """The program."""
        app: HalfnutApp = self._pilot.app
        return app

    @property
    def screen(self) -> Screen[Any]:
        """The screen on top."""
        return self.app.screen

    @property
    def counter(self) -> CounterScreen:
        """Return the counter, which must be on top; raises AssertionError if another screen is on top."""
        assert isinstance(self.screen, CounterScreen), self.screen
        return self.screen

    @property
    def state(self) -> State:
        """The run on the counter."""
        return self.counter.state

    @property
    def step(self) -> Step:
        """The current step."""
        assert self.state.cursor is not None
        return self.state.cursor

    # Keys.

    async def press(self, *keys: str) -> None:
        """Press keys, each after the previous key has been handled."""
        for key in keys:
            self._time.ms += _BETWEEN_KEYS_MS
            await self._pilot.press(key)
            await self._pilot.pause()

    async def enter(self, text: str) -> None:
        """Type a text and press Enter."""
        await self.press(*text, "enter")

    async def until(self, *kinds: type[Screen[Any]]) -> None:
        """Wait until a screen of one of these kinds is on top."""
        for _ in range(_PATIENCE):
            if isinstance(self.screen, kinds):
                return
            await self._pilot.pause()
        raise AssertionError(f"{self.screen} is on top, not a {kinds[0].__name__}")

    async def count(self, times: int = 1) -> None:
        """Do `times` steps, starting with the current one. Each must be logged."""
        for _ in range(times):
            before = self.state.steps_done
            await self.press("space")
            assert self.state.steps_done == before + 1, self.step

    async def count_to(self, action: str, **figures: Any) -> None:
        """Do steps until the current one has this action and these figures."""
        while not (self.step.action == action and figures.items() <= figures_as_data(self.step).items()):
            await self.count()

    async def ask(self, *keys: str) -> None:
        """Press keys. The first key asks a question and the last answers it. An event must be logged."""
        counter, before = self.counter, self.state.last_seq
        await self.press(*keys)
        assert self.screen is counter and self.state.last_seq > before, (keys, self.screen)

    async def ask_for(self, *keys: str, text: str) -> None:
        """Do the same as `ask`, but type a text at the end."""
        await self.ask(*keys, *text, "enter")

    # Runs.

    async def start_run(self, name: str, *, another: bool = False) -> None:
        """Start an operation of the job from the board. `another`:

        the operation is finished, and is started once more.
        """
        await self._choose(name)
        await self.press("enter", *(["1"] if another else []), "1")
        assert self.state.last_seq == 0

    async def resume(self, name: str) -> None:
        """Open an unfinished operation, up to its first question or its counter."""
        await self._choose(name)
        await self.press("enter")
        await self._until_there()

    async def resume_logged(self, uid: str) -> None:
        """Open a run from the history, with or without its job, up to its first question or its counter."""
        if not isinstance(self.screen, HistoryScreen):
            await self.press("f3")
        await self.until(HistoryScreen)
        runs = self.app.context.log.logbook().runs(limit=100)
        self.screen.query_one(RunList).cursor = [run.uid for run in runs].index(uid)
        await self.press("enter")
        await self.until(RunLogScreen)
        await self.press("g")
        await self._until_there()

    async def leave(self) -> None:
        """Close the counter, which leads back to the board."""
        await self.press("0" if self.counter.state.plan_input.kind != "runout" else "escape", "enter")
        await self.until(BoardScreen)

    async def _until_there(self) -> None:
        await self.until(QuestionScreen, CounterScreen)
        # The counter comes first, and its questions follow.
        await self._pilot.pause()

    async def _choose(self, name: str) -> None:
        await self.until(BoardScreen)
        await self._pilot.pause()
        board = self.screen
        assert isinstance(board, BoardScreen)
        board.point_at(name)


@asynccontextmanager
async def started(
    data: Path, day: int, *, job: Path | None = None, lathe: Path | None = None
) -> AsyncIterator[Program]:
    """Start the program on the logbook in a folder, and end it in order.

    `day` sets its clock and its session. `job` is a real file, which the log knows as a file in JOBS.
    """
    paths = Paths(data=data, config=data / "config", cache=data / "cache", documents=data / "documents")
    time = Time(day)
    app = make_app(paths, time.clock(), Terminal(), job=job, lathe=lathe, presses=Presses(quiet_s=0.0))
    app.context.session = f"{day + 1:032x}"
    if app.context.job is not None:
        app.context.job = replace(app.context.job, path=JOBS / app.context.job.path.name)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        yield Program(pilot, time)
    app.context.log.close()
