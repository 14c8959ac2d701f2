"""Lets the disk of the real program fail in every way. The trial checks the screen and the log.

    python -m tests.trials.disks

Two passes are counted, the disk fails, and Space is pressed for a third pass. The screen must say why the pass is not
logged, the count must not change, and the log must contain two passes. After the disk is repaired, Space must log the
third pass. Failures that need root or a compiler are reported as not tried if there is none.
"""

import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path

from core.logbook.logbook import Logbook
from tests.core.logbook.run_samples import fill
from tests.trials import shim
from tests.trials.program import JOB, QUIET_S, ROOT, Program, begin, count_one, done_on, newest

NOBODY = 65534
NOT_LOGGED = "Not logged"
LONGEST_S = 5.0
"""The longest time from the key to the sentence that the pass is not logged [s]."""
LASTING = "9999"
CHECK_ERRORS = ("0 9999", "7 9999", "20 9999", "40 9999")
READ_ERRORS = ("0 1", "1 1", "7 1", "30 2", "0 9999", "20 9999")
"""For a start of the program: after how many reads of the write-ahead log reads fail, and how many fail."""


@dataclass
class Way:
    """One kind of disk failure: how to cause it, and how to end it."""

    name: str
    fail: Callable[[], None]
    mend: Callable[[], None]
    before: Sequence[str] = ()
    """The command that runs the program, if it must run as another user."""
    environment: Mapping[str, str] = field(default_factory=dict)


def run_out(mount: Path) -> Callable[[], None]:
    """Return a function that fills a small file system to the last byte."""

    def fill() -> None:
        with (mount / "filler").open("ab", buffering=0) as file, suppress(OSError):
            for size in (65536, 4096, 512, 1):
                with suppress(OSError):
                    while True:
                        file.write(bytes(size))

    return fill


def mount(*words: str) -> None:
    """Call mount or umount; raises CalledProcessError."""
    subprocess.run(words, check=True, capture_output=True)


@contextmanager
def small_disk(place: Path) -> Iterator[Path]:
    """Yield a separate file system of 1 MB, mounted at `place`."""
    place.mkdir()
    mount("mount", "-t", "tmpfs", "-o", "size=1m", "halfnut-trial", str(place))
    try:
        yield place
    finally:
        subprocess.run(["umount", "-l", str(place)], check=False)


def full(place: Path) -> Iterator[tuple[Path, Way]]:
    """Yield a file system without a free byte."""
    with small_disk(place / "disk") as disk:
        yield disk / "log", Way("full disk (tmpfs)", run_out(disk), (disk / "filler").unlink)


def taken_out(place: Path) -> Iterator[tuple[Path, Way]]:
    """Yield a file system that is unmounted, like a pulled USB stick, and mounted again."""
    (place / "stick").mkdir()
    at = place / "mounted"
    at.mkdir()
    again = ("mount", "--bind", str(place / "stick"), str(at))
    mount(*again)
    try:
        yield at / "log", Way("stick taken out", lambda: mount("umount", "-l", str(at)), lambda: mount(*again))
    finally:
        subprocess.run(["umount", "-l", str(at)], check=False)


def no_permission(place: Path) -> Iterator[tuple[Path, Way]]:
    """Yield a folder that the program's user may no longer enter."""
    data = place / "log"
    data.mkdir()
    place.chmod(0o777)
    before = []
    if os.geteuid() == 0:
        before = ["setpriv", f"--reuid={NOBODY}", f"--regid={NOBODY}", "--clear-groups"]
        os.chown(data, NOBODY, NOBODY)
        (place / "log home").mkdir()
        os.chown(place / "log home", NOBODY, NOBODY)
    yield data, Way("permission gone", lambda: data.chmod(0o000), lambda: data.chmod(0o700), before=before)


def removed(place: Path) -> Iterator[tuple[Path, Way]]:
    """Yield a data folder that is moved away and back."""
    data, away = place / "log", place / "away"

    def back() -> None:
        # The program may have made an empty folder in its place, but no other log.
        assert not (data / "logbook.sqlite3").exists()
        shutil.rmtree(data, ignore_errors=True)
        away.rename(data)

    yield data, Way("folder removed", lambda: data.rename(away) and None, back)


def file_removed(place: Path) -> Iterator[tuple[Path, Way]]:
    """Yield a log file that is moved away and back."""
    data = place / "log"
    file, away = data / "logbook.sqlite3", place / "away.sqlite3"
    yield data, Way("file removed", lambda: file.rename(away) and None, lambda: away.rename(file) and None)


def failing(error: str, calls: str) -> Callable[[Path], Iterator[tuple[Path, Way]]]:
    """Return a kind of failure in which these system calls fail with this error."""

    def way(place: Path) -> Iterator[tuple[Path, Way]]:
        (place / "shim").mkdir()
        made = shim.Shim(place / "shim")
        name = f"{error} at {calls}"
        yield place / "log", Way(name, lambda: made.fail(error, calls), made.mend, environment=made.environment)

    return way


BY_ROOT = (full, taken_out)
BY_ANYONE = (removed, file_removed, no_permission)
BY_SHIM = tuple(
    failing(error, calls)
    for error, calls in (
        ("EIO", "w"),
        ("EIO", "s"),
        ("EIO", "ws"),
        ("EIO", "wsto"),
        ("ENOSPC", "w"),
        ("ENOSPC", "s"),
        ("EDQUOT", "w"),
        ("EROFS", "wsto"),
        ("ENOLCK", "kl"),
        ("EAGAIN", "kl"),
        ("EAGAIN", "l"),
    )
)


def trial(make_way: Callable[[Path], Iterator[tuple[Path, Way]]]) -> tuple[str, list[str]]:
    """Try one kind of failure. Return its name and a description of every fault."""
    with tempfile.TemporaryDirectory() as folder:
        Path(folder).chmod(0o755)
        ways = make_way(Path(folder))
        data, way = next(ways)
        program = Program(data, before=way.before, environment=way.environment)
        try:
            return way.name, [*_failing(program, data, way), *_later(data, way)]
        except TimeoutError as error:
            return way.name, [str(error)]
        finally:
            if program.child.isalive():
                program.kill()
            next(ways, None)


def _failing(program: Program, data: Path, way: Way) -> Iterator[str]:
    """Count two passes, let the disk fail, press twice, repair the disk, and press again. Yield each fault."""
    begin(program, resumed=False)
    for done in (1, 2):
        count_one(program, done)
    way.fail()
    for press in (1, 2):
        begun = time.monotonic()
        program.press(" ")
        program.wait_for(NOT_LOGGED, "] 3 of ")
        if time.monotonic() - begun > LONGEST_S:
            yield f"press {press}: {time.monotonic() - begun:.0f} s until it was said"
        print(f"  press {press}: {sentence(program)}", flush=True)
        if done_on(program.settle()) != 2:
            yield f"press {press}: the count went on:\n{program.shown}"
        if "Logged: Pass 3" in program.shown or "Logged: Third" in program.shown:
            yield "it is called logged"
        time.sleep(QUIET_S)
    way.mend()
    count_one(program, 3)
    count_one(program, 4)
    if NOT_LOGGED in program.shown:
        yield "the sentence stays although the cause has gone"
    if program.leave() != 0:
        yield "it did not end with 0"


def sentence(program: Program) -> str:
    """Return the sentence on the screen that says which pass is not logged; "" if there is none."""
    lines = [line.strip() for line in program.settle().splitlines()]
    first = next((number for number, line in enumerate(lines) if NOT_LOGGED in line), len(lines))
    keys = next((number for number, line in enumerate(lines) if line.startswith("Space Done")), len(lines))
    return " ".join(lines[first:keys]).strip()


def _later(data: Path, way: Way) -> Iterator[str]:
    """Yield each fault of the log after the failure has ended."""
    state = newest(data)
    if state is None or state.steps_done != 4:
        yield f"the log holds {state and state.steps_done} passes, not 4"
    command = [*way.before, sys.executable, "-m", "tui", "--data", str(data), "log", "--verify"]
    told = subprocess.run(command, capture_output=True, text=True, cwd=ROOT, check=False)
    if told.returncode:
        yield f"the log is not sound: {told.stdout}{told.stderr}"
    if list(data.glob("*damaged*")):
        yield "it was taken for damaged"


def read_only_from_the_start() -> list[str]:
    """Start on a log that is read-only. Return each fault.

    The log must be shown, with a sentence that nothing can be logged.
    """
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        data = place / "log"
        first = Program(data)
        begin(first, resumed=False)
        count_one(first, 1)
        first.leave()
        at = place / "read only"
        at.mkdir()
        mount("mount", "--bind", str(data), str(at))
        mount("mount", "-o", "remount,bind,ro", str(at))
        try:
            program = Program(at, JOB)
            program.wait_for("Turn the thread blank")
            shown = program.settle(0.5)
            print("  " + next((line.strip() for line in shown.splitlines() if "view only" in line), ""))
            program.kill()
        finally:
            mount("umount", str(at))
        wrong = [] if "The log is read only: view only" in shown else [f"not said:\n{shown}"]
        return wrong + (["it asks whether something was moved"] if "nothing was moved" in shown else [])


def read_errors_at_the_start(passing: str) -> list[str]:
    """Start on a log whose write-ahead log the disk cannot read. Return each fault.

    The program must not call the log damaged, and a second attempt must work.
    """
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        data = place / "log"
        first = Program(data)
        begin(first, resumed=False)
        for done in (1, 2):
            count_one(first, done)
        first.kill()
        before = {path.name: path.read_bytes() for path in data.glob("logbook.sqlite3*")}
        (place / "shim").mkdir()
        made = shim.Shim(place / "shim")
        made.fail("EIO", "R", passing)
        program = Program(data, environment=made.environment)
        shown = program.wait_for("nothing was moved", "Press Enter to try again")
        wrong = [] if "damaged" not in shown else [f"it is called damaged:\n{shown}"]
        if "Press Enter to try again" in shown:
            held = {name: (data / name).read_bytes() for name in ("logbook.sqlite3", "logbook.sqlite3-wal")}
            if any(before[name] != content for name, content in held.items()):
                wrong.append("something was written")
            made.mend()
            time.sleep(QUIET_S)
            program.press("\r")
            program.wait_for("nothing was moved")
        if done_on(program.settle()) != 2:
            wrong.append(f"it does not stand at 2 steps:\n{program.shown}")
        program.kill()
        with Logbook.open(data) as logbook:
            wrong += logbook.verify().problems
        return wrong + (["it was set aside"] if list(data.glob("*damaged*")) else [])


def read_errors_while_checked(data: Path, place: Path, passing: str) -> list[str]:
    """Check a sound log on a disk that cannot read. Return each fault.

    The program must report the read error and never call the log damaged.
    """
    made = shim.Shim(place)
    made.fail("EIO", "r", passing)
    command = [sys.executable, "-m", "tui", "--data", str(data), "log", "--verify"]
    environment = dict(os.environ) | made.environment
    told = subprocess.run(command, capture_output=True, text=True, cwd=ROOT, env=environment, check=False)
    if (told.returncode, told.stderr) == (0, "") and "all sound" in told.stdout:
        return ["it is called sound, but cannot be read"] if LASTING in passing else []
    if (told.returncode, told.stdout) == (1, "") and "the disk reports an error" in told.stderr:
        return []
    return [f"status {told.returncode}: {told.stdout}{told.stderr}"]


def checks_with_read_errors() -> Iterator[tuple[str, list[str]]]:
    """Yield each failure with its faults, for read errors at many positions of a log of some hundred events."""
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        fill(place / "log", runs=12, done=20)
        (place / "shim").mkdir()
        for passing in (*(f"{after} {times}" for after in range(0, 60, 3) for times in (1, 2)), *CHECK_ERRORS):
            yield passing, read_errors_while_checked(place / "log", place / "shim", passing)


def main() -> int:
    """Print each trial and each loss."""
    ways = list(BY_ANYONE)
    for needed, there, more in (
        ("root", os.geteuid() == 0, BY_ROOT),
        ("a compiler (cc)", shim.available(), BY_SHIM),
    ):
        ways += more if there else ()
        if not there:
            print(f"not tried, for want of {needed}: {len(more)} ways")
    failed = 0
    for make_way in ways:
        name, wrong = trial(make_way)
        print(f"{name}: " + ("nothing lost" if not wrong else "; ".join(wrong)), flush=True)
        failed += bool(wrong)
    tried = len(ways)
    if os.geteuid() == 0:
        tried += 1
        wrong = read_only_from_the_start()
        print("read only from the start: " + ("told" if not wrong else "; ".join(wrong)))
        failed += bool(wrong)
    for passing in READ_ERRORS if shim.available() else ():
        tried += 1
        wrong = read_errors_at_the_start(passing)
        print(f"EIO at reads of the write-ahead log, {passing}: " + ("nothing lost" if not wrong else "; ".join(wrong)))
        failed += bool(wrong)
    for passing, wrong in checks_with_read_errors() if shim.available() else ():
        tried += 1
        print(f"EIO at reads while the log is checked, {passing}: " + ("said" if not wrong else "; ".join(wrong)))
        failed += bool(wrong)
    print(f"{tried} ways tried, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
