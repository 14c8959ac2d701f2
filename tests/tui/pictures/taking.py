"""Follows a walk through the screens, and takes, keeps and compares its pictures."""

import asyncio
import contextlib
import os
import re
import shutil
from collections.abc import Iterator, Mapping, Sequence
from difflib import unified_diff
from pathlib import Path
from tempfile import TemporaryDirectory
from unittest import mock

# Import this before anything of Textual.
from tests.quick_screens import every_frame as every_frame  # isort: skip

from textual.events import Paste
from textual.pilot import Pilot

from tests.conftest import ToldTime
from tests.tui.counters import read_and_start
from tests.tui.painted import painted
from tests.tui.pictures.walks import KILLED, LATHES, LEFT, SIZE, START, Walk
from tui.__main__ import make_app
from tui.app import HalfnutApp
from tui.paths import Paths
from tui.presses import Presses

HERE = Path(__file__).parent
SAMPLES = HERE.parents[2] / "sample_jobs"
COMMAND = "python -m tests.tui.pictures"
_KILLED_STATUS = 137
README = HERE.parents[2] / "README.md"
_IN_README = re.compile(r"(<!-- screen: (\w+) -->\n```\n)(?:[^`]*\n)?```")


async def pictures(walk: Walk) -> Mapping[str, str]:
    """Follow a walk in a home folder of its own, and return its pictures by name."""
    taken: dict[str, str] = {}
    with _home(walk):
        time, steps = ToldTime(), iter(walk.steps)
        while await _start(walk, time, steps, taken):
            time.pass_s(60)
    return taken


@contextlib.contextmanager
def _home(walk: Walk) -> Iterator[None]:
    """Work in a folder that is shown as ~, with the samples in it and the lathe of the walk as the user's own."""
    # A name as long as any other: what is wrapped after it is always wrapped there.
    with TemporaryDirectory(dir="/tmp") as name:
        folder = Path(name).resolve()
        for sample in SAMPLES.glob("*.toml"):
            shutil.copy(sample, folder)
        for file, text in walk.files.items():
            (folder / file).write_text(text, encoding="utf-8")
        if walk.lathe:
            (folder / "config").mkdir()
            shutil.copy(SAMPLES / LATHES[walk.lathe], folder / "config" / "lathe.toml")
        with contextlib.chdir(folder), mock.patch.dict(os.environ, HOME=name):
            yield


async def _start(walk: Walk, time: ToldTime, steps: Iterator[str], taken: dict[str, str]) -> bool:
    """Start the program and follow the walk. Return whether the rest of the walk needs another start."""
    home = Path.cwd()
    paths = Paths(data=home / "data", config=home / "config", cache=home / "cache", documents=home / "documents")
    job = home / walk.job if walk.job else None
    app = make_app(paths, time.clock(), walk.terminal, job=job, presses=Presses(quiet_s=0.0))
    # The greys of wood are not in the text of a screen.
    app.context.shows_wood = False
    async with app.run_test(size=SIZE) as pilot:
        await _settled(pilot)
        for step in steps:
            if step == KILLED:
                app.exit(return_code=_KILLED_STATUS)
                return True
            if step == LEFT:
                return True
            if step == START:
                await read_and_start(pilot)
            elif step.startswith("#"):
                await _take(pilot, app, step[1:], taken)
            elif step.startswith("="):
                app.post_message(Paste(step[1:]))
                await _settled(pilot)
            else:
                await pilot.press(step)
                await _settled(pilot)
                time.pass_s(2)
    return False


async def _take(pilot: Pilot[None], app: HalfnutApp, step: str, taken: dict[str, str]) -> None:
    """Take a picture; "name@120x40" takes it in another size."""
    name, _, other = step.partition("@")
    if other:
        columns, rows = map(int, other.split("x"))
        await pilot.resize_terminal(columns, rows)
        await _settled(pilot)
    # A layout that is due comes after the keys have been handled.
    now, before = painted(app), None
    while now != before:
        await asyncio.sleep(0.01)
        await _settled(pilot)
        now, before = painted(app), now
    taken[name] = _as_home(now) + "\n"
    if other:
        await pilot.resize_terminal(*SIZE)
        await _settled(pilot)


def _as_home(picture: str) -> str:
    """Return the screen with the folder shown as ~, and the frame of a question still in place."""
    folder = str(Path.cwd())
    framed = re.sub(rf"{re.escape(folder)}([^│\n]*)│", rf"~\1{' ' * (len(folder) - 1)}│", picture)
    return framed.replace(folder, "~").rstrip("\n")


async def _settled(pilot: Pilot[None]) -> None:
    """Wait until everything that a key causes has been shown."""
    for _ in range(2):
        await pilot.pause()


def kept(name: str) -> str:
    """Return a picture as it is kept; "" if there is none."""
    path = path_of(name)
    return path.read_text(encoding="utf-8") if path.exists() else ""


def with_pictures(readme: str) -> str:
    """Return the text of the README with every picture in it as it is kept, under a line `<!-- screen: NAME -->`."""
    return _IN_README.sub(lambda match: f"{match[1]}{kept(match[2])}```", readme)


def path_of(name: str) -> Path:
    """Return the path of the file that keeps a picture."""
    return HERE / f"{name}.txt"


def difference(name: str, now: str) -> Sequence[str]:
    """Return the lines that differ from the kept picture, with some around them; () if none does."""
    before = f"{name}, as kept", f"{name}, as shown now"
    return list(unified_diff(kept(name).splitlines(), now.splitlines(), *before, n=2, lineterm=""))
