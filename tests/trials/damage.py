"""Damages a logbook in every way and opens it. The trial checks what is kept and what is recovered.

    python -m tests.trials.damage [STEP [FLIPS]]

The log is cut off at every STEP-th length, with and without its write-ahead log. STEP is 97 unless given; 1 tries every
length and takes an hour. Then FLIPS bytes (1500 unless given) are changed at random, and a fifth as many whole sectors,
some of them to zeros. Every event that is still whole must be read, and no event may differ from the original. The
damaged file must be kept unchanged under a new name, and the program must name both files.

Then, FLIPS times, a row loses a bit of its run, a row is deleted, or a sector of the list of runs becomes zeros. The
log is asked the questions of the board. No run may come back shorter without a message, the log is repaired once, and
the rest is sound.
"""

import random
import shutil
import sqlite3
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator, Mapping
from contextlib import closing, suppress
from pathlib import Path

from core.logbook.active_run import ActiveRun
from core.logbook.logbook import Logbook
from core.logbook.schema import FILE_NAME
from core.values.errors import LogbookError
from tests.core.logbook.damaged_logs import PAGE_SIZE, WAL_NAME, Runs, count_of, open_damaged, whole_in, written
from tests.core.logbook.run_samples import JOB, StepClock

FLIPS = 1_500
Files = Mapping[str, bytes]


def cut_short(files: Files, step: int) -> Iterator[tuple[str, Files]]:
    """Yield the files with one of them cut off, at every `step`-th byte."""
    for name, content in files.items():
        for length in range(0, len(content), step):
            yield f"{name} cut short", {**files, name: content[:length]}


def flipped(files: Files, flips: int, rng: random.Random) -> Iterator[tuple[str, Files]]:
    """Yield the files `flips` times, each time with one byte or one sector changed at random."""
    for count, size, what in ((flips, 1, "a byte changed"), (flips // 5, 512, "a sector lost")):
        for _ in range(count):
            name = rng.choice(list(files))
            content = bytearray(files[name])
            place = rng.randrange(len(content)) // size * size
            harm = rng.randbytes(size) if size == 1 or rng.random() < 0.5 else bytes(size)
            content[place : place + size] = harm
            yield f"{name}: {what}", {**files, name: bytes(content)}


def judge(place: Path, files: Files, runs: Runs) -> str:
    """Open a damaged log. Return the fault in the recovered events; "" if there is none."""
    try:
        # At most the damaged row and the very last row may be lost although their text is in the file.
        found, least = open_damaged(place / "log", files, runs), whole_in(b"".join(files.values()), runs) - 2
        return "" if found >= least else f"{found} events, {least} stand there"
    except AssertionError as error:
        return f"not as it must be: {error}"
    except Exception as error:
        return f"{type(error).__name__}: {error}"
    finally:
        shutil.rmtree(place / "log", ignore_errors=True)


def harmed_behind_its_back(place: Path, content: bytes, flips: int, rng: random.Random) -> Iterator[tuple[str, bytes]]:
    """Yield the file with a row moved to another run, a row missing, or a lost sector in the list of runs."""
    file = place / "harmed.sqlite3"
    file.write_bytes(content)
    with closing(sqlite3.connect(file)) as connection:
        uids = [uid.encode() for (uid,) in connection.execute("SELECT uid FROM run")]
        keys = connection.execute("SELECT run, seq FROM event").fetchall()
        roots = [root for (root,) in connection.execute("SELECT rootpage FROM sqlite_master WHERE tbl_name = 'run'")]
    places = [at for uid in uids for at in range(len(content)) if content.startswith(uid, at)]
    for number in range(flips):
        harmed = bytearray(content)
        if number % 3 == 0:
            harmed[rng.choice(places) + rng.randrange(32)] ^= 1 << rng.randrange(7)
            yield "a bit of a run's uid changed", bytes(harmed)
        elif number % 3 == 1:
            file.write_bytes(content)
            with closing(sqlite3.connect(file)) as connection, connection:
                connection.execute("DELETE FROM event WHERE run = ? AND seq = ?", rng.choice(keys))
            yield "a row gone", file.read_bytes()
        else:
            at = (rng.choice(roots) - 1) * PAGE_SIZE + rng.randrange(8) * 512
            harmed[at : at + 512] = bytes(512)
            yield "a sector of the list of runs lost", bytes(harmed)


def judge_from_board(place: Path, content: bytes, runs: Runs) -> str:
    """Ask a damaged log the questions of the board, and check the log. Return the fault; "" if there is none."""
    folder = place / "board"
    folder.mkdir()
    (folder / FILE_NAME).write_bytes(content)
    try:
        with Logbook.open(folder) as logbook:
            for ask in (lambda: logbook.newest_run(JOB.job_path, JOB.op_name), lambda: logbook.unfinished()):
                with suppress(LogbookError):
                    ask()
            for uid in runs:
                with suppress(LogbookError):
                    run = ActiveRun.resume(logbook, uid, StepClock(), "board")
                    shorter = run.state.last_seq + 1 < len(runs[uid])
                    run.close()
                    if shorter and not logbook.notices:
                        return f"run {uid} is resumed at event {run.state.last_seq} without a word"
            damage = logbook.check().damage()
            if damage:
                logbook.repair(damage)
            if len(logbook.notices) > 1 or logbook.verify().problems:
                return f"{len(logbook.notices)} repairs, {logbook.verify().problems[:1]}"
            left = sum(len(logbook.events(info.uid)) for info in logbook.runs()) + len(logbook.strays())
        return "" if left >= count_of(runs) - 1 else f"{left} events are left of {count_of(runs)}"
    except Exception as error:
        return f"{type(error).__name__}: {error}"
    finally:
        shutil.rmtree(folder)


def main() -> int:
    """Print each trial and each loss."""
    step = int(sys.argv[1]) if len(sys.argv) > 1 else 97
    flips = int(sys.argv[2]) if len(sys.argv) > 2 else FLIPS
    tried: Counter[str] = Counter()
    faults: list[str] = []
    memory = Path("/dev/shm")
    with tempfile.TemporaryDirectory(dir=memory if memory.is_dir() else None) as name:
        place = Path(name)
        runs = written(place / "killed")
        killed = {file: (place / "killed" / file).read_bytes() for file in (FILE_NAME, WAL_NAME)}
        Logbook.open(place / "killed").close()
        ended = {FILE_NAME: (place / "killed" / FILE_NAME).read_bytes()}
        rng = random.Random(20261125)
        for state, files in (("after a kill", killed), ("after a clean end", ended)):
            for what, damaged in (*cut_short(files, step), *flipped(files, flips, rng)):
                tried[f"{state}, {what}"] += 1
                if tried.total() % 100 == 0:
                    print(f"{tried.total()} opened, {len(faults)} faults", flush=True)
                if wrong := judge(place, damaged, runs):
                    faults.append(f"{state}, {what}: {wrong}")
                    print(faults[-1], flush=True)
        content = ended[FILE_NAME]
        for what, harmed in harmed_behind_its_back(place, content, flips, rng):
            tried[f"seen from the board, {what}"] += 1
            if wrong := judge_from_board(place, harmed, runs):
                faults.append(f"seen from the board, {what}: {wrong}")
                print(faults[-1], flush=True)
    for what, count in tried.items():
        print(f"{what}: {count}")
    print(f"{count_of(runs)} events in {len(runs)} runs; {tried.total()} damaged logbooks, {len(faults)} faults")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
