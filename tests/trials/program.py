"""The real program in a pseudo-terminal, for trials. Keys are sent to it, and its painted screen is read."""

import os
import re
import signal
import sys
import time
from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path

import pexpect
import pyte

from core.events.replay import replay
from core.events.state import State
from core.logbook.logbook import Logbook

ROOT = Path(__file__).parents[2]
JOB = ROOT / "sample_jobs" / "sundial_arbor.toml"
QUIET_S = 0.85
"""Longer than the 0.8 s within which a second count key counts as a bounce."""
DEADLINE_S = 20.0
NOT_MOVED = "nothing was moved."


class Painted:
    """Any program in a pseudo-terminal, and the screen that it paints."""

    def __init__(
        self, command: Sequence[str], *, rows: int = 24, columns: int = 80, environment: Mapping[str, str] | None = None
    ) -> None:
        self.screen = pyte.Screen(columns, rows)
        self.written = bytearray()
        self._stream = pyte.ByteStream(self.screen)
        self.child = pexpect.spawn(
            command[0],
            list(command[1:]),
            cwd=str(ROOT),
            dimensions=(rows, columns),
            env=dict(os.environ if environment is None else environment),
        )
        # Keys are sent without a delay. The library would wait 50 ms before each.
        self.child.delaybeforesend = None

    @property
    def shown(self) -> str:
        """Return the whole screen as it was painted last."""
        return "\n".join(self.screen.display)

    def read(self, seconds: float = 0.05) -> str:
        """Read for this time [s], and return the whole screen."""
        with suppress(pexpect.TIMEOUT, pexpect.EOF):
            found = self.child.read_nonblocking(65536, timeout=seconds)
            self.written += found
            self._stream.feed(found)
        return self.shown

    def wait_for(self, *words: str, seconds: float = DEADLINE_S) -> str:
        """Return the screen as soon as it shows one of `words`. Raises TimeoutError."""
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            shown = self.read()
            if any(word in shown for word in words):
                return shown
        raise TimeoutError(f"none of {words} came:\n{self.shown}")

    def settle(self, seconds: float = 0.3) -> str:
        """Return the screen after nothing has been painted for this time [s]."""
        while True:
            before = len(self.written)
            shown = self.read(seconds)
            if len(self.written) == before:
                return shown

    def press(self, keys: str) -> None:
        """Send keys or a pasted text to the program, unchanged."""
        self.child.send(keys)

    def resize(self, rows: int, columns: int) -> None:
        """Give the terminal another size."""
        self.child.setwinsize(rows, columns)
        self.screen.resize(rows, columns)

    def kill(self) -> str:
        """Kill the program, as a power cut would. Return the screen at that moment."""
        self.child.kill(signal.SIGKILL)
        self.child.wait()
        # The output that it wrote before its end is painted too.
        with suppress(pexpect.EOF, pexpect.TIMEOUT, OSError):
            while True:
                self._stream.feed(self.child.read_nonblocking(65536, timeout=0.05))
        return self.shown

    def end(self, seconds: float = DEADLINE_S) -> int | None:
        """Read all output up to the end of the program, and return its exit status.

        If a signal ended the program, return 128 + its number. Raises TimeoutError.
        """
        until = time.monotonic() + seconds
        while self.child.isalive():
            self.read()
            if time.monotonic() > until:
                raise TimeoutError(f"it did not end:\n{self.shown}")
        self.read()
        self.child.close()
        return self.child.exitstatus if self.child.signalstatus is None else 128 + int(self.child.signalstatus)


class Program(Painted):
    """halfnut with a data folder of its own. It reads and writes nothing of the user's."""

    def __init__(
        self,
        data: Path,
        job: Path | None = JOB,
        *,
        rows: int = 24,
        columns: int = 80,
        before: Sequence[str] = (),
        environment: Mapping[str, str] | None = None,
    ) -> None:
        command = [*before, sys.executable, "-m", "tui", "--data", str(data)]
        super().__init__(
            [*command, *([] if job is None else [str(job)])],
            rows=rows,
            columns=columns,
            environment=own_environment(data) | dict(environment or {}),
        )

    def leave(self) -> int | None:
        """Quit the program with the user's keys. Return the exit status."""
        self.press("\x11")
        return self.end()


def own_environment(data: Path) -> dict[str, str]:
    """Return environment variables that put all folders of the program next to `data`."""
    home = data.parent / f"{data.name} home"
    found = {name: text for name, text in os.environ.items() if name not in {"NO_COLOR", "COLORTERM"}}
    folders = {f"XDG_{name}_HOME": str(home / name.lower()) for name in ("CONFIG", "DATA", "CACHE", "STATE")}
    fixed = {"HOME": str(home), "LANG": "C.UTF-8", "LC_ALL": "C.UTF-8", "TERM": "xterm-256color"}
    return found | folders | fixed | {"PYTHONDONTWRITEBYTECODE": "1"}


def newest(data: Path) -> State | None:
    """Return the state of the newest run in the log; None if the log has no run."""
    with Logbook.open(data, read_only=True) as logbook:
        runs = logbook.runs(limit=1)
        return replay(logbook.events(runs[0].uid), runs[0].uid) if runs else None


def begin(program: Painted, *, resumed: bool) -> None:
    """Press keys from the start of the program to the counter.

    A program that resumes a run opens its question without a key.
    """
    if resumed:
        program.wait_for("nothing was moved")
        time.sleep(0.3)
        program.press("n")
        program.wait_for(NOT_MOVED)
    else:
        program.wait_for("not started")
        program.press("\r")
        program.wait_for('Start "')
        time.sleep(0.3)
        # On a small screen the cautions have pages before the one that starts.
        while "Next page" in program.shown:
            program.press("1")
            program.settle()
        program.press("1")
        program.wait_for("Space Done", "Space, ")
    time.sleep(QUIET_S)


def count_one(program: Painted, done: int) -> None:
    """Count a step and wait until the screen says that `done` steps are done.

    If a measurement is asked for, continue as planned without it.
    """
    program.press(" ")
    see_counted(program, done)
    time.sleep(QUIET_S)


def see_counted(program: Painted, done: int) -> None:
    """Wait until the screen says that `done` steps are done.

    If a measurement is asked for, continue as planned without it.
    """
    shown = program.wait_for(f"] {done} of ", "What did you measure?")
    if "What did you measure?" in shown:
        program.wait_for("Continue as planned")
        go_on = next(line for line in program.screen.display if "Continue as planned" in line)
        program.press(next(character for character in go_on if character.isalnum()))
        program.wait_for(f"] {done} of ")


def done_on(shown: str) -> int | None:
    """Return how many steps are done according to a screen; None if the screen shows no counter."""
    found = re.search(r"\] (\d+) of \d+", shown)
    return int(found[1]) if found else None
