"""Signals that end the program, stop it and continue it, also while a flood of keys comes."""

import asyncio
import os
import signal
from collections.abc import Iterator

import pytest

from tui.terminal import leave_on_signals, stop_and_continue

_SIGNALS = (signal.SIGTERM, signal.SIGHUP, signal.SIGALRM, signal.SIGTSTP, signal.SIGCONT)


@pytest.fixture(autouse=True)
def signals_as_before() -> Iterator[None]:
    """Restore the signal handlers and leave no alarm."""
    before = {number: signal.getsignal(number) for number in _SIGNALS}
    yield
    signal.setitimer(signal.ITIMER_REAL, 0)
    for number, handler in before.items():
        signal.signal(number, handler)


async def test_a_full_wake_up_pipe_loses_no_signal() -> None:
    """The signal is handled even if other threads have filled the pipe that wakes the loop."""
    loop = asyncio.get_running_loop()
    ended: list[int] = []
    leave_on_signals(ended.append)
    for _ in range(2000):
        loop._write_to_self()  # type: ignore[attr-defined]
    os.kill(os.getpid(), signal.SIGTERM)
    await asyncio.sleep(0.05)
    assert ended == [128 + signal.SIGTERM]
    assert signal.getitimer(signal.ITIMER_REAL)[0] > 0


def test_a_signal_after_the_screens_ends_the_program(monkeypatch: pytest.MonkeyPatch) -> None:
    """While the log is closed the event loop has ended. A signal then ends the program as usual."""

    async def take_signals() -> None:
        leave_on_signals(lambda status: None)

    sent: list[int] = []
    asyncio.run(take_signals())
    monkeypatch.setattr(os, "kill", lambda pid, number: sent.append(number))
    signal.raise_signal(signal.SIGTERM)
    assert sent == [signal.SIGTERM]
    assert signal.getsignal(signal.SIGTERM) is signal.SIG_DFL


class _Driver:
    """A driver that records what it is asked to do."""

    def __init__(self) -> None:
        self._must_signal_resume = False
        self.asked: list[str] = []

    def suspend_application_mode(self) -> None:
        """Record the call."""
        self.asked.append("give back")

    def resume_application_mode(self) -> None:
        """Record the call, and do what Textual's driver does then."""
        self.asked.append("take")
        self._must_signal_resume = False


async def test_sigcont_after_sigstop_takes_the_terminal_once() -> None:
    """After a SIGSTOP the terminal is given back before it is taken: else it would be taken twice."""
    driver = _Driver()
    stop_and_continue(driver)
    os.kill(os.getpid(), signal.SIGCONT)
    await asyncio.sleep(0.02)
    assert driver.asked == ["give back", "take"]
    driver._must_signal_resume = True
    os.kill(os.getpid(), signal.SIGCONT)
    await asyncio.sleep(0.02)
    assert driver.asked == ["give back", "take", "take"]
