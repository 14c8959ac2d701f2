"""Fixtures for all tests: separate folders, a clock that a test sets, and a function that makes a program."""

import gc
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import mkdtemp
from typing import TYPE_CHECKING, Any

import pytest

from tests.published.count import pytest_terminal_summary as pytest_terminal_summary
from tests.quick_screens import every_frame as every_frame

if TYPE_CHECKING:
    from tui.app import HalfnutApp
    from tui.paths import Paths
    from tui.terminal import TimeSource

BEGUN = datetime(2026, 3, 14, 9, 26, 53, tzinfo=UTC)
_BEGUN_MS = 1_000_000
MakeApp = Callable[..., "HalfnutApp"]


class ToldTime:
    """A clock whose time changes only when a test changes it."""

    def __init__(self) -> None:
        self.ms = _BEGUN_MS

    def pass_s(self, seconds: float) -> None:
        """Advance the clock by a number of seconds."""
        self.ms += round(seconds * 1000)

    def clock(self) -> "TimeSource":
        """Return a time source, for the program, that gives the time of this clock."""
        from tui.terminal import TimeSource

        return TimeSource(wall=self.wall, monotonic_ms=lambda: self.ms)

    def wall(self) -> str:
        """Return the date and time of this clock in ISO 8601."""
        return (BEGUN + timedelta(milliseconds=self.ms - _BEGUN_MS)).isoformat(timespec="seconds")


def pytest_collection_finish(session: pytest.Session) -> None:
    """Exclude the thousands of objects that pytest has collected from garbage collection."""
    gc.collect()
    gc.freeze()


@pytest.fixture(scope="session")
def homes(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder in which every test gets a home folder of its own.

    pytest's own `tmp_path_factory` would search its folder for each new one, thousands of times.
    """
    return tmp_path_factory.mktemp("homes")


@pytest.fixture(autouse=True)
def own_folders(homes: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Give each test its own home folder, and the same locale and colours. Return the home folder."""
    home = Path(mkdtemp(dir=homes))
    monkeypatch.setenv("HOME", str(home))
    for name in ("CONFIG", "DATA", "CACHE", "STATE"):
        monkeypatch.setenv(f"XDG_{name}_HOME", str(home / name.lower()))
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(home))
    monkeypatch.setenv("XDG_CONFIG_DIRS", str(home / "none"))
    monkeypatch.setenv("XDG_DATA_DIRS", str(home / "none"))
    for name in ("XDG_DOCUMENTS_DIR", "NO_COLOR", "COLORTERM", "LC_ALL", "LC_CTYPE", "TEXTUAL", "TEXTUAL_THEME"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("LANG", "C.UTF-8")
    monkeypatch.setenv("TERM", "xterm-256color")
    return home


@pytest.fixture
def told_time() -> ToldTime:
    """Return the clock that a test can set."""
    return ToldTime()


@pytest.fixture
def paths(own_folders: Path) -> "Paths":
    """Return the folders of this test's program."""
    from tui.paths import user_paths

    return user_paths()


@pytest.fixture
def make(paths: "Paths", told_time: ToldTime) -> MakeApp:
    """Return a function that makes a program: `make(opening=..., terminal=..., job=..., lathe=..., quiet_s=...)`.

    `quiet_s`, the time in which a second press is ignored [s], is 0 unless a test is about held keys. The reason is
    that a test presses keys faster than a hand can.
    """
    from tui.__main__ import make_app
    from tui.presses import Presses
    from tui.terminal import Terminal

    def made(*, terminal: Terminal | None = None, quiet_s: float = 0.0, **more: Any) -> "HalfnutApp":
        app = make_app(paths, told_time.clock(), terminal or Terminal(), presses=Presses(quiet_s=quiet_s), **more)
        # Shading has no fixed time, and the text of a screen does not show it.
        app.context.shows_wood = False
        return app

    return made
