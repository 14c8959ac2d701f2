"""Signals end, stop and continue the program, even during a flood of keys."""

import asyncio
import os
import signal
from collections.abc import Iterator

import pytest

from tui.terminal import leave_on_signals, stop_and_continue

_SIGNALS = (signal.SIGTERM, signal.SIGHUP, signal.SIGALRM, signal.SIGTSTP, signal.SIGCONT)


@pytest.fixture(autouse=True)
def signals_as_before() -> Iterator[None]:
    """Restore the signal handlers and cancel the alarm after the test."""
    before = {number: signal.getsignal(number) for number in _SIGNALS}
    yield
    signal.setitimer(signal.ITIMER_REAL, 0)
    for number, handler in before.items():
        signal.signal(number, handler)


async def test_no_signal_is_lost_when_the_wake_up_pipe_is_full() -> None:
    """The signal is handled even if other threads have filled the pipe that wakes up the event loop."""
    loop = asyncio.get_running_loop()
    ended: list[int] = []
    leave_on_signals(ended.append)
    for _ in range(2000):
        loop._write_to_self()  # type: ignore[attr-defined]
    os.kill(os.getpid(), signal.SIGTERM)
    await asyncio.sleep(0.05)
    assert ended == [128 + signal.SIGTERM]
    assert signal.getitimer(signal.ITIMER_REAL)[0] > 0


def test_a_signal_after_the_screens_have_closed_ends_the_program(monkeypatch: pytest.MonkeyPatch) -> None:
    """The event loop has ended, and the log is still being closed when the signal comes."""

    async def take_signals() -> None:
        leave_on_signals(lambda status: None)

    sent: list[int] = []
    asyncio.run(take_signals())
    monkeypatch.setattr(os, "kill", lambda pid, number: sent.append(number))
    signal.raise_signal(signal.SIGTERM)
    assert sent == [signal.SIGTERM]
    assert signal.getsignal(signal.SIGTERM) is signal.SIG_DFL


class _Driver:
    """A terminal driver that records its calls."""

    def __init__(self) -> None:
        self._must_signal_resume = False
        self.asked: list[str] = []

    def suspend_application_mode(self) -> None:
        """Record the call."""
        self.asked.append("give back")

    def resume_application_mode(self) -> None:
        """Record the call, and act like Textual's driver."""
        self.asked.append("take")
        self._must_signal_resume = False


async def test_sigcont_after_sigstop_prepares_the_terminal_once() -> None:
    """After SIGSTOP the terminal is restored before it is prepared again. Otherwise it would be prepared twice."""
    driver = _Driver()
    stop_and_continue(driver)
    os.kill(os.getpid(), signal.SIGCONT)
    await asyncio.sleep(0.02)
    assert driver.asked == ["give back", "take"]
    driver._must_signal_resume = True
    os.kill(os.getpid(), signal.SIGCONT)
    await asyncio.sleep(0.02)
    assert driver.asked == ["give back", "take", "take"]
