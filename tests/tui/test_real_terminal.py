"""The real program in a pseudo-terminal: signals, sizes, colours, and the restored terminal."""

import os
import signal
import sys
import termios
import time
from collections.abc import Iterator
from pathlib import Path

import pexpect  # type: ignore[import-untyped]
import pyte
import pytest

ROOT = Path(__file__).parents[2]
ONE_SCREEN = """
import os, sys
from tui.__main__ import make_app
from tui.paths import user_paths
from tui.widgets.base_screen import BaseScreen
from tui.help import HelpScreen
from tui.terminal import SYSTEM_CLOCK, detect

class Plain(BaseScreen[None]):
    TITLE = "Plain"
    BINDINGS = [("x", "fail", "Fail")]
    def action_fail(self): raise ZeroDivisionError("on purpose")

app = make_app(user_paths(), SYSTEM_CLOCK, detect(os.environ), opening=Plain)
app.run()
sys.exit(app.return_code or 0)
"""


class TerminalRun:
    """The program in a pseudo-terminal of 80 by 24."""

    def __init__(self) -> None:
        self.child = pexpect.spawn(
            sys.executable, ["-c", ONE_SCREEN], cwd=str(ROOT), dimensions=(24, 80), env=dict(os.environ), timeout=20
        )
        self.screen = pyte.Screen(80, 24)
        self.stream = pyte.ByteStream(self.screen)
        self.written = b""

    def until(self, text: str, seconds: float = 20.0) -> str:
        """Read output until `text` is on the screen, for at most `seconds` [s]. Return the screen."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            self.read()
            if text in "\n".join(self.screen.display):
                return "\n".join(self.screen.display)
        raise AssertionError(f"{text!r} never came:\n" + "\n".join(self.screen.display))

    def read(self) -> None:
        """Read the output that the program has sent so far."""
        try:
            found = self.child.read_nonblocking(65536, timeout=0.1)
        except (pexpect.TIMEOUT, pexpect.EOF):
            return
        self.written += found
        self.stream.feed(found)

    def end(self) -> int | None:
        """Read all output up to the end of the program. Return the exit status."""
        end = time.monotonic() + 20
        while self.child.isalive() and time.monotonic() < end:
            self.read()
        self.read()
        self.child.close()
        status: int | None = self.child.exitstatus
        return status

    def echoes(self) -> bool:
        """Return True if the terminal echoes, as a shell requires."""
        return bool(termios.tcgetattr(self.child.fileno())[3] & termios.ECHO)

    def state(self) -> str:
        """Return the state of the process as the kernel names it, such as T for stopped."""
        return Path(f"/proc/{self.child.pid}/stat").read_text().rsplit(")", 1)[1].split()[0]


@pytest.fixture
def run() -> Iterator[TerminalRun]:
    """Start the program, and check after the test that it has ended."""
    started = TerminalRun()
    started.until("F1 Help")
    yield started
    started.child.close(force=True)


@pytest.mark.parametrize(("number", "status"), [(signal.SIGTERM, 143), (signal.SIGHUP, 129)])
def test_the_program_restores_the_terminal_after_sigterm_and_sighup(
    run: TerminalRun, number: signal.Signals, status: int
) -> None:
    """The exit status is 128 plus the signal's number. Normal screen, mouse, cursor and echo are restored."""
    assert not run.echoes()
    run.child.kill(number)
    end = time.monotonic() + 20
    while not run.echoes() and time.monotonic() < end:
        run.read()
    assert run.echoes()
    assert run.end() == status
    for given_back in (b"\x1b[?1049l", b"\x1b[?1000l", b"\x1b[?25h"):
        assert given_back in run.written


def test_closing_the_terminal_window_ends_the_program(run: TerminalRun) -> None:
    """The program ends when the terminal window closes or its connection is lost."""
    process = run.child.ptyproc
    process.fileobj.close()
    end = time.monotonic() + 20
    while process.isalive() and time.monotonic() < end:
        time.sleep(0.02)
    assert process.exitstatus == 129


def test_a_suspended_program_repaints_its_screen_when_it_continues(run: TerminalRun) -> None:
    """SIGTSTP restores the terminal. SIGCONT takes over the terminal again and repaints the whole screen."""
    run.child.kill(signal.SIGTSTP)
    end = time.monotonic() + 20
    while run.state() != "T" and time.monotonic() < end:
        run.read()
    assert run.echoes()
    run.screen.reset()
    run.child.kill(signal.SIGCONT)
    assert "example lathe" in run.until("F1 Help")
    assert not run.echoes()
    run.child.send("\x11")
    assert run.end() == 0
    assert run.written.endswith(b"\x1b[?1004l") or b"\x1b[?1049l" in run.written


def test_f1_esc_ctrl_c_and_ctrl_q_work_in_a_real_terminal(run: TerminalRun) -> None:
    """F1 opens the help, in the codes of a terminal and of the console, and Esc closes it.

    Ctrl+C shows how to quit, and Ctrl+Q quits.
    """
    for key in ("\x1bOP", "\x1b[[A", "?"):
        run.child.send(key)
        run.until("Fail.")
        run.child.send("\x1b")
        run.until("x Fail  F1 Help")
    run.child.send("\x03")
    run.child.send("\x11")
    assert run.end() == 0


def test_a_crash_restores_the_terminal_and_ends_with_exit_status_1(run: TerminalRun) -> None:
    """After an unexpected error the terminal is restored, the status is 1 and the error is printed."""
    run.child.send("x")
    assert run.end() == 1
    assert b"\x1b[?1049l" in run.written
    assert b"on purpose" in run.written


def test_the_screen_is_repainted_after_the_terminal_has_been_shrunk_and_enlarged(run: TerminalRun) -> None:
    """The window shrinks to 20 by 5 and grows again."""
    for rows, columns in ((5, 20), (12, 40), (2, 10), (24, 80)):
        run.child.setwinsize(rows, columns)
        run.screen.resize(rows, columns)
        run.read()
    run.screen.reset()
    run.child.send("?")
    assert "example lathe" in run.until("Help: Plain")


def test_the_linux_console_gets_only_its_sixteen_colours(monkeypatch: pytest.MonkeyPatch) -> None:
    """If TERM is linux, the program sends no bright backgrounds, no 256 colours and no true colours."""
    monkeypatch.setenv("TERM", "linux")
    run = TerminalRun()
    run.until("F1 Help")
    run.child.send("\x11")
    assert run.end() == 0
    codes = {
        int(code)
        for part in run.written.split(b"\x1b[")[1:]
        if part.split(b"m")[0].replace(b";", b"").isdigit() and b"m" in part
        for code in part.split(b"m")[0].split(b";")
    }
    assert codes <= {0, 1, 7, 39, 49, *range(30, 38), *range(40, 48), *range(90, 98)}
    assert 97 in codes


def test_no_colours_are_sent_if_the_no_color_variable_is_set(monkeypatch: pytest.MonkeyPatch) -> None:
    """With NO_COLOR the program sends only bold, reverse and the terminal's own two colours."""
    monkeypatch.setenv("NO_COLOR", "1")
    run = TerminalRun()
    run.until("F1 Help")
    run.child.send("\x11")
    assert run.end() == 0
    codes = {
        code
        for part in run.written.split(b"\x1b[")[1:]
        if b"m" in part and part.split(b"m")[0].replace(b";", b"").isdigit()
        for code in part.split(b"m")[0].split(b";")
    }
    assert codes <= {b"0", b"1", b"7", b"39", b"49"}
