"""Closes or changes the terminal of the real program during a run. The trial checks what is kept.

    python -m tests.trials.terminals

Two passes are counted, then something happens to the terminal. Both passes must be in the log, the exit status must be
right, and the terminal must be restored. If the program continues, the next pass must count.
"""

import contextlib
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import termios
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from tests.trials.program import JOB, QUIET_S, ROOT, Program, begin, count_one, done_on, newest, own_environment

GIVEN_BACK = (b"\x1b[?1049l", b"\x1b[?1000l", b"\x1b[?25h")
"""The sequences that restore the terminal: second screen off, mouse off, cursor on."""
Happening = Callable[[Program, Path], Iterator[str]]


def ended_by(number: signal.Signals) -> Happening:
    """Return the trial in which a signal ends the program."""

    def happen(program: Program, data: Path) -> Iterator[str]:
        program.child.kill(number)
        with contextlib.suppress(termios.error):
            until = time.monotonic() + 10
            while not _echoes(program) and time.monotonic() < until:
                program.read()
            if not _echoes(program):
                yield "the terminal does not echo again"
        if (status := program.end()) != 128 + number:
            yield f"status {status}"
        if missing := [code for code in GIVEN_BACK if code not in program.written]:
            yield f"not given back: {missing}"

    return happen


def line_drops(program: Program, data: Path) -> Iterator[str]:
    """Close the terminal, like an interrupted ssh connection."""
    process = program.child.ptyproc
    process.fileobj.close()
    until = time.monotonic() + 10
    while process.isalive() and time.monotonic() < until:
        time.sleep(0.02)
    if process.isalive() or process.exitstatus != 129:
        yield f"alive {process.isalive()}, status {process.exitstatus}"


def in_a_flood(keys: int, ends: Happening) -> Happening:
    """Return the trial in which the program ends while many keys wait.

    The keys open and cancel a question again and again.
    """

    def happen(program: Program, data: Path) -> Iterator[str]:
        wanted = memoryview(b"4abc\x1b" * (keys // 5))
        terminal, until = program.child.fileno(), time.monotonic() + 10
        os.set_blocking(terminal, False)
        while wanted and time.monotonic() < until:
            program.read(0.0)
            with contextlib.suppress(BlockingIOError):
                wanted = wanted[os.write(terminal, wanted[:2000]) :]
        if wanted:
            yield f"{len(wanted)} keys were not taken"
        yield from ends(program, data)

    return happen


def stopped_hard(*, by_shell: bool) -> Happening:
    """Return the trial of SIGSTOP, which stops a program without warning.

    If `by_shell`, a shell has used and changed the terminal meanwhile.
    """

    def happen(program: Program, data: Path) -> Iterator[str]:
        program.child.kill(signal.SIGSTOP)
        until = time.monotonic() + 10
        while _state(program) != "T" and time.monotonic() < until:
            program.read()
        if by_shell:
            terminal = program.child.fileno()
            attributes = termios.tcgetattr(terminal)
            attributes[3] |= termios.ECHO | termios.ICANON
            termios.tcsetattr(terminal, termios.TCSANOW, attributes)
        program.screen.reset()
        program.child.kill(signal.SIGCONT)
        program.wait_for("] 2 of ")
        if _echoes(program):
            yield "it echoes keys"
        time.sleep(QUIET_S)
        count_one(program, 3)
        yield from ended_by(signal.SIGTERM)(program, data)

    return happen


def stopped(program: Program, data: Path) -> Iterator[str]:
    """Stop the program and continue it."""
    program.child.kill(signal.SIGTSTP)
    until = time.monotonic() + 10
    while _state(program) != "T" and time.monotonic() < until:
        program.read()
    if _state(program) != "T" or not _echoes(program):
        yield "it did not stop and give the terminal back"
    program.screen.reset()
    program.child.kill(signal.SIGCONT)
    program.wait_for("] 2 of ")
    yield from _goes_on(program)


def resized(program: Program, data: Path) -> Iterator[str]:
    """Make the terminal as small as possible, and large again."""
    for rows, columns in ((5, 20), (12, 40), (2, 10), (1, 1), (60, 200), (24, 80)):
        program.resize(rows, columns)
        program.settle(0.2)
    program.screen.reset()
    program.press("\x1bOP")
    program.wait_for("Help")
    program.press("\x1b")
    program.wait_for("] 2 of ")
    yield from _goes_on(program)


def counted_at_20_by_5(program: Program, data: Path) -> Iterator[str]:
    """Count a pass in a terminal of 20 columns and 5 rows."""
    program.resize(5, 20)
    program.settle(0.3)
    program.press(" ")
    program.settle(0.5)
    if getattr(newest(data), "steps_done", None) != 3:
        yield f"not counted:\n{program.shown}"
    program.resize(24, 80)
    program.wait_for("] 3 of ")
    program.leave()


def _goes_on(program: Program) -> Iterator[str]:
    time.sleep(QUIET_S)
    count_one(program, 3)
    if (status := program.leave()) != 0:
        yield f"status {status}"


def _echoes(program: Program) -> bool:
    return bool(termios.tcgetattr(program.child.fileno())[3] & termios.ECHO)


def _state(program: Program) -> str:
    return Path(f"/proc/{program.child.pid}/stat").read_text().rsplit(")", 1)[1].split()[0]


HAPPENINGS: tuple[tuple[str, Happening, dict[str, str], int], ...] = (
    ("SIGTERM", ended_by(signal.SIGTERM), {}, 2),
    ("SIGHUP", ended_by(signal.SIGHUP), {}, 2),
    ("the line drops", line_drops, {}, 2),
    ("SIGTERM behind 1,000 keys", in_a_flood(1_000, ended_by(signal.SIGTERM)), {}, 2),
    ("SIGTERM behind 20,000 keys", in_a_flood(20_000, ended_by(signal.SIGTERM)), {}, 2),
    ("SIGHUP behind 20,000 keys", in_a_flood(20_000, ended_by(signal.SIGHUP)), {}, 2),
    ("the line drops behind 1,000 keys", in_a_flood(1_000, line_drops), {}, 2),
    ("the line drops behind 20,000 keys", in_a_flood(20_000, line_drops), {}, 2),
    ("SIGTSTP and back", stopped, {}, 3),
    ("SIGSTOP and back", stopped_hard(by_shell=False), {}, 3),
    ("SIGSTOP, a shell, and back", stopped_hard(by_shell=True), {}, 3),
    ("resized down to 1 by 1 and up", resized, {}, 3),
    ("counted at 20 by 5", counted_at_20_by_5, {}, 3),
    ("TERM=linux", lambda program, data: _goes_on(program), {"TERM": "linux"}, 3),
    ("TERM=vt100", lambda program, data: _goes_on(program), {"TERM": "vt100"}, 3),
    ("TERM=screen", lambda program, data: _goes_on(program), {"TERM": "screen"}, 3),
    ("NO_COLOR", lambda program, data: _goes_on(program), {"NO_COLOR": "1"}, 3),
    ("LANG=C", lambda program, data: _goes_on(program), {"LANG": "C", "LC_ALL": "C"}, 3),
)
"""Each event: its name, its function, its environment, and the number of passes that the log must hold afterwards."""


def trial(happen: Happening, environment: dict[str, str], passes: int) -> list[str]:
    """Count two passes, then let the event happen. Return each fault."""
    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder) / "log"
        program = Program(data, environment=environment)
        try:
            begin(program, resumed=False)
            for done in (1, 2):
                count_one(program, done)
            wrong = list(happen(program, data))
        except TimeoutError as error:
            wrong = [str(error)]
        finally:
            if not program.child.closed and program.child.isalive():
                program.kill()
        logged = getattr(newest(data), "steps_done", None)
        return wrong + ([] if logged == passes else [f"{logged} passes are logged, not {passes}"])


def refusals() -> Iterator[tuple[str, str]]:
    """Start the program without a usable terminal. Yield each fault.

    The program must print a sentence and return the right exit status.
    """
    with tempfile.TemporaryDirectory() as folder:
        environment = own_environment(Path(folder) / "log")
        start = f"exec {sys.executable} -m tui --data {folder}/log {JOB}"
        for name, words, status in (
            ("standard input is no terminal", f"{start} </dev/null", 2),
            ("standard output is a pipe", f"{start} | cat; exit ${{PIPESTATUS[0]}}", 2),
            ("Standard output is closed", f"{start} >&-", 1),
            ("TERM=dumb", f"TERM=dumb {start}", 2),
        ):
            # script gives the program a terminal for every stream that is not redirected.
            inner = ["script", "-qec", f"bash -c '{words}'", "/dev/null"]
            done = subprocess.run(
                inner, cwd=ROOT, env=environment, capture_output=True, text=True, timeout=20, check=False
            )
            told = done.stdout.strip()
            fine = done.returncode == status and "Traceback" not in told and told.count("\n") == 0 and "halfnut" in told
            yield name, "" if fine else f"status {done.returncode}: {told}"


def in_tmux() -> list[str]:
    """Count in the real tmux, detach it by killing its client, and compare its screen with the log.

    Return each fault.
    """
    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder) / "log"
        tmux = ["tmux", "-S", f"{folder}/socket", "-f", "/dev/null"]
        command = f"{sys.executable} -m tui --data {data} {JOB}"
        start = [*tmux, "new-session", "-d", "-x", "80", "-y", "24", command]
        subprocess.run(start, cwd=ROOT, env=own_environment(data), check=True)
        try:
            for key, word in (("Enter", 'Start "'), ("1", "Space Done"), ("Space", "] 1 of "), ("Space", "] 2 of ")):
                if key == "Enter":
                    _tmux_shows(tmux, "not started")
                time.sleep(1.0)
                subprocess.run([*tmux, "send-keys", key], check=True)
                if not _tmux_shows(tmux, word):
                    return [f"{word} never came in tmux"]
            shown = subprocess.run([*tmux, "capture-pane", "-p"], capture_output=True, text=True, check=True).stdout
            wrong = [] if done_on(shown) == 2 and "Logged" in shown else [shown]
        finally:
            subprocess.run([*tmux, "kill-server"], check=False)
        time.sleep(1.0)
        return wrong + ([] if getattr(newest(data), "steps_done", None) == 2 else ["not logged"])


def _tmux_shows(tmux: list[str], word: str) -> bool:
    until = time.monotonic() + 15
    while time.monotonic() < until:
        shown = subprocess.run([*tmux, "capture-pane", "-p"], capture_output=True, text=True, check=False).stdout
        if word in shown:
            return True
        time.sleep(0.1)
    return False


def main() -> int:
    """Print each trial and each loss."""
    results = []
    for name, happen, environment, passes in HAPPENINGS:
        results.append((name, "; ".join(trial(happen, environment, passes))))
        print(f"{name}: {results[-1][1] or 'all kept'}", flush=True)
    later = [*refusals()] if shutil.which("script") else []
    later += [("in tmux", "; ".join(in_tmux()))] if shutil.which("tmux") else []
    for name, wrong in later:
        print(f"{name}: {wrong or 'as it should be'}")
    failed = sum(bool(wrong) for _, wrong in (*results, *later))
    print(f"{len(results) + len(later)} tried, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    os.environ.pop("TMUX", None)
    sys.exit(main())
