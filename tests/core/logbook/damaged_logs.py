"""Makes damaged logbooks for tests, opens them in any state, and counts the events that must be readable."""

import shutil
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from unittest.mock import patch

from core.events.event import Event, canonical
from core.logbook import opening
from core.logbook.errors import LogbookDamagedError
from core.logbook.logbook import Logbook
from core.logbook.schema import FILE_NAME
from core.values.errors import LogbookError
from tests.core.logbook.run_samples import begin

Runs = Mapping[str, tuple[Event, ...]]

WAL_NAME = f"{FILE_NAME}-wal"
PAGE_SIZE = 4096


def written(folder: Path) -> Runs:
    """Log some runs, one with a plan of several pages, and leave the folder in the state after a kill."""
    away = folder.parent / f"{folder.name} at work"
    # The write-ahead log is as full as possible, and its end is at the end of the file.
    with patch.object(opening, "WAL_PAGES", 1000), Logbook.open(away) as logbook:
        runs = {}
        for number in range(6):
            run = begin(logbook, passes=300 if number == 1 else 30, session=f"session {number}")
            for _ in range(25):
                run.done()
            run.note(f"note {number}")
            run.close()
            runs[run.uid] = logbook.events(run.uid)
            if number == 2:
                logbook.checkpoint()
        folder.mkdir()
        for name in (FILE_NAME, WAL_NAME):
            shutil.copy(away / name, folder / name)
    return runs


def readable(logbook: Logbook, runs: Runs) -> int:
    """Return how many events can be read, after a repair if `repair` asks for one. No event may be altered."""
    for _ in range(2):
        try:
            for uid in runs:
                # A run whose beginning is lost no longer exists.
                with suppress(LogbookError):
                    logbook.events(uid)
            damage = logbook.verify().problems
        except LogbookDamagedError as error:
            damage = (error.message,)
        if not damage:
            break
        logbook.rebuild()
    assert logbook.verify().problems == ()
    strays = logbook.strays()
    assert all(event == runs[uid][event.seq] for uid, event in strays)
    count = len(strays)
    for info in logbook.runs():
        events = logbook.events(info.uid)
        assert events == runs[info.uid][: len(events)]
        count += len(events)
    return count


def whole_in(content: bytes, runs: Runs) -> int:
    """Return how many complete events these bytes hold. The search does not use the file format."""
    texts = [
        (canonical(event.body) + event.wall + event.session).encode()
        for events in runs.values()
        for event in events[1:]
    ]
    return sum(text in content for text in texts)


def count_of(runs: Runs) -> int:
    """Return the number of all events."""
    return sum(map(len, runs.values()))


def open_damaged(folder: Path, files: Mapping[str, bytes], runs: Runs) -> int:
    """Open a damaged logbook that consists of these files and return how many events can be read.

    The renamed file must be the damaged one, and the notice must name both paths.
    """
    folder.mkdir()
    for name, content in files.items():
        (folder / name).write_bytes(content)
    with Logbook.open(folder) as logbook:
        set_aside_at_start = bool(logbook.notices)
        found = readable(logbook, runs)
        aside = sorted(folder.glob("logbook-damaged-*.sqlite3"))
        assert len(aside) == len(logbook.notices)
        for path, notice in zip(aside, logbook.notices, strict=True):
            assert str(path) in notice
            assert f" new {folder / FILE_NAME}" in notice
        if set_aside_at_start:
            assert aside[0].read_bytes() == files[FILE_NAME]
            if WAL_NAME in files:
                assert Path(f"{aside[0]}-wal").read_bytes() == files[WAL_NAME]
        run = begin(logbook)
        run.done()
    return found
