"""Measures the logbook: the time to open and to list a long log, and the bytes needed for each pass."""

import asyncio
import json
import os
import sqlite3
import uuid
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing
from dataclasses import asdict, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from core.events.event import Event, canonical, checksum
from core.events.replay import replay
from core.events.state import Origin, state_summary
from core.jobs.job import read_job
from core.lathe.reader import example_lathe
from core.logbook.active_run import ActiveRun
from core.logbook.logbook import Logbook
from core.logbook.rows import INSERT_EVENT, INSERT_RUN, event_row, run_row
from core.logbook.schema import FILE_NAME
from core.operations.registry import PlanInput
from core.plan import Plan, Step
from core.run.revising import logged_plan_input
from tests.bench.measuring import BenchRow, median_row, taking_turns, timed_ms
from tests.bench.programs import ARBOR, begin_run, slot
from tests.core.planned import make_plan
from tui.__main__ import make_app
from tui.app import HalfnutApp
from tui.history.screen import HistoryScreen
from tui.paths import user_paths
from tui.terminal import SYSTEM_CLOCK, Terminal
from tui.widgets.base_screen import BaseScreen

BEHIND = (0, 1_000, 1_000_000)
IN_A_RUN = 20
OPENINGS, PAGES, PASSES = 31, 15, 300


def rows(folder: Path, environment: Mapping[str, str]) -> Iterator[BenchRow]:
    """Yield the measured rows of the logbook."""
    folders = {passes: log_with(folder / f"{passes} behind", passes) for passes in BEHIND}
    # Sync now, so that no pending write slows a measurement.
    os.sync()
    yield from _openings(folders)
    yield from _first_pages(folders)
    yield _size(folder)


def log_with(folder: Path, passes: int) -> Path:
    """Return a folder with a log: runs with this number of passes, and then one run of the sample job."""
    with Logbook.open(folder):
        pass
    if passes:
        _write_runs(folder, passes // IN_A_RUN)
    begin_run(folder, ARBOR, 2, 9)
    with Logbook.open(folder, read_only=True) as logbook:
        for info in (*logbook.runs(limit=3), *logbook.runs(limit=2, before=3)):
            assert replay(logbook.events(info.uid), info.uid).steps_done == info.steps_done
    return folder


def _write_runs(folder: Path, count: int) -> None:
    """Write runs into a log as the program would have written them.

    They differ in their identifiers and begin a minute apart: only copies of one run begin at the same moment.
    """
    events = _events_of_a_run(folder.parent / f"{folder.name} one run")
    bodies = [canonical(event.body) for event in events]
    standing = state_summary(replay(events, "0" * 32))
    last_begun = datetime.fromisoformat(events[0].wall)
    begun = [(last_begun - timedelta(minutes=number)).isoformat() for number in range(count, 0, -1)]
    runs = [
        (uid, replace(events[0], wall=wall))
        for uid, wall in zip(sorted(uuid.uuid4().hex for _ in range(count)), begun, strict=True)
    ]

    def event_rows() -> Iterator[tuple[object, ...]]:
        for uid, first in runs:
            for event, body in zip((first, *events[1:]), bodies, strict=True):
                crc = checksum(uid, event, body)
                yield uid, event.seq, event.kind, body, event.wall, event.session, event.monotonic_ms, crc

    assert next(event_rows()) == event_row(*runs[0])
    with closing(sqlite3.connect(folder / FILE_NAME)) as connection:
        connection.execute("PRAGMA synchronous = OFF")
        connection.executemany(INSERT_EVENT, event_rows())
        connection.executemany(INSERT_RUN, (run_row(uid, first, standing) for uid, first in runs))
        connection.commit()
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")


def _events_of_a_run(folder: Path) -> tuple[Event, ...]:
    plan = Plan(steps=tuple(Step(id=number, action="cut", text="Pass") for number in range(1, IN_A_RUN + 1)))
    plan_input = PlanInput(
        kind="by_hand", parameters={"kind": "by_hand", "name": "x", "text": "x"}, lathe=example_lathe()
    )
    origin = Origin(job_path="/jobs/other.toml", job_title="Another job", op_name="Another operation")
    with Logbook.open(folder) as logbook:
        run = ActiveRun.begin(logbook, plan, logged_plan_input(plan_input), origin, SYSTEM_CLOCK, "bench")
        for _ in range(IN_A_RUN):
            run.done()
        run.finish()
        run.close()
        return logbook.events(run.uid)


def _openings(folders: Mapping[int, Path]) -> Iterator[BenchRow]:
    found = read_job(ARBOR)
    path, name = str(ARBOR.resolve()), found.operations[2].name

    def opening(folder: Path) -> Callable[[], float]:
        def timed() -> float:
            kept: list[Any] = []

            def open_and_resume() -> None:
                logbook = Logbook.open(folder)
                info = logbook.newest_run(path, name)
                assert info is not None
                kept[:] = [ActiveRun.resume(logbook, info.uid, SYSTEM_CLOCK, "another"), logbook]

            taken = timed_ms(open_and_resume)()
            for held in kept:
                held.close()
            return taken

        return timed

    alone, *others = taking_turns(OPENINGS, *(opening(folder) for folder in folders.values()), warm=3)
    for passes, times in zip(BEHIND[1:], others, strict=True):
        what = f"opening and resuming, after {passes:,} passes"
        yield median_row(what, "the same without other runs", times, alone, at_most=1.1)


class BelowHistory(BaseScreen[None]):
    """An empty screen below the history screen."""

    AUTO_FOCUS = ""


def _first_pages(folders: Mapping[int, Path]) -> Iterator[BenchRow]:
    few, many = asyncio.run(_painted_pages(folders[BEHIND[1]], folders[BEHIND[2]]))
    what = f"history, first page, {BEHIND[2]:,} passes"
    against = f"with {BEHIND[1]:,}"
    yield median_row(what, against, many, few, at_most=1.1)
    with Logbook.open(folders[BEHIND[1]]) as small, Logbook.open(folders[BEHIND[2]]) as large:
        few, many = taking_turns(
            3 * PAGES, timed_ms(lambda: small.runs(limit=10)), timed_ms(lambda: large.runs(limit=10)), warm=5
        )
        yield median_row(f"{what}: ten runs read", against, many, few, at_most=1.1)


async def _painted_pages(few: Path, many: Path) -> list[list[float]]:
    """Return the times to paint the history page, for a log with few and a log with many passes [ms]."""
    times: list[list[float]] = []
    for folder in (few, many, few, many):
        app: HalfnutApp = make_app(user_paths(folder), SYSTEM_CLOCK, Terminal(), opening=BelowHistory)
        async with app.run_test(size=(80, 24)) as pilot:
            found = []
            for _ in range(PAGES + 2):
                shown = HistoryScreen()
                begun = asyncio.get_running_loop().time()
                await app.push_screen(shown)
                await pilot.pause()
                found.append((asyncio.get_running_loop().time() - begun) * 1000)
                await shown.dismiss()
                await pilot.pause()
            times.append(found[2:])
    return [times[0] + times[2], times[1] + times[3]]


def _size(folder: Path) -> BenchRow:
    operation = read_job(slot(folder)).operations[0]
    parameters = {**operation.plan_input.parameters, "cut": "0.03 mm"}
    plan = make_plan(PlanInput(kind=operation.kind, parameters=parameters, lathe=operation.plan_input.lathe))
    data = folder / "size"
    with Logbook.open(data) as logbook:
        run = ActiveRun.begin(logbook, plan, logged_plan_input(operation.plan_input), None, SYSTEM_CLOCK, "4f" * 16)
        logbook.checkpoint()
        before = logbook.path.stat().st_size
        for _ in range(PASSES):
            run.done()
        logbook.checkpoint()
        grown = logbook.path.stat().st_size - before
        texts = [json.dumps(asdict(event)) for event in logbook.events(run.uid)[1:]]
        run.close()
    return BenchRow(
        what="log size of a pass",
        against="its text as JSON",
        taken=grown / PASSES,
        floor=sum(map(len, texts)) / PASSES,
        at_most=3,
        unit="byte",
    )
