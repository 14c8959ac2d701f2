"""Presses random keys on every screen, and gives nearly correct texts to every reader.

    python -m tests.trials.fuzz [--minutes N] [--seed N]

No key or text may cause a traceback, or keep the program busy for more than a second of processor time. Esc must close
every screen. Keys get half of the time, texts the other half.
"""

import argparse
import asyncio
import pkgutil
import shutil
import sys
import tempfile
import time
from importlib import import_module
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from textual.screen import Screen

import tui
from tests.trials.program import ROOT
from tests.trials.texts import TARGETS, Target, check
from tests.trials.walk import SIZES, Walked, starts, walk

KEYS = 300
"""The number of keys for one program. After them another program is started, with another job."""
EXAMPLES = 400


def walks(minutes: float, seed: int) -> Walked:
    """Press random keys for this time [min], with one sample job after the other, at both screen sizes."""
    seen = Walked()
    until = time.monotonic() + 60 * minutes
    number = 0
    while time.monotonic() < until:
        for job in starts():
            with tempfile.TemporaryDirectory() as name:
                folder = Path(name)
                # Its own copy, so that operations may be added to it; log and files are kept for three walks.
                shutil.copytree(ROOT / "sample_jobs", folder / "jobs")
                own = folder / "jobs" / job.name if job else None
                for size in (*SIZES, SIZES[number % 2]):
                    if size == SIZES[1]:
                        keep_lathes(folder / "config")
                    number += 1
                    found = asyncio.run(walk(folder, seed + number, KEYS, size, own))
                    for fault in found.faults:
                        print(fault, flush=True)
                    seen.add(found)
            if time.monotonic() > until:
                break
    return seen


def keep_lathes(folder: Path) -> None:
    """Save two good lathes unless they exist, and a lathe with an error that is first in the list."""
    folder.mkdir(exist_ok=True)
    for name, like in (("lathe.toml", "metric_lathe.toml"), ("other.toml", "inch_lathe.toml")):
        if not (folder / name).exists():
            shutil.copy(ROOT / "sample_jobs" / like, folder / name)
    (folder / "a_bad_one.toml").write_text('format = 1\nname = "Bad"\nwheels = 3\n', encoding="utf-8")


class Read:
    """The number of texts read so far, and the faults found."""

    def __init__(self) -> None:
        self.count, self.longest_s = 0, 0.0
        self.faults: list[str] = []

    def let(self, target: Target, examples: int) -> None:
        """Let one reader read `examples` generated texts."""

        def tried(text: str) -> None:
            self.count += 1
            self.longest_s = max(self.longest_s, check(target, text))

        checks = list(HealthCheck)
        options = settings(max_examples=examples, deadline=None, database=None, suppress_health_check=checks)
        try:
            options(given(target.texts)(tried))()
        except BaseException as error:
            if isinstance(error, KeyboardInterrupt):
                raise
            said = " ".join(getattr(error, "__notes__", ()))
            self.faults.append(f"{type(error).__name__}: {error} {said}"[:2000])
            print(self.faults[-1], flush=True)


def texts(minutes: float) -> Read:
    """Let the readers read texts for this time [min]."""
    read, until = Read(), time.monotonic() + 60 * minutes
    while time.monotonic() < until:
        for target in TARGETS.values():
            read.let(target, EXAMPLES)
    return read


def all_screens() -> set[str]:
    """Return the names of all screens that the program has."""
    found = set()
    for module in pkgutil.walk_packages(tui.__path__, "tui."):
        names = {} if module.name == "tui.__main__" else vars(import_module(module.name))
        found |= {name for name, kind in names.items() if isinstance(kind, type) and issubclass(kind, Screen)}
    bases = {"Screen", "BaseScreen", "ModalScreen", "QuestionScreen", "RunScreen"}
    return {name for name in found if not name.startswith("_")} - bases


def main() -> int:
    """Print each trial and each fault."""
    reader = argparse.ArgumentParser()
    reader.add_argument("--minutes", type=float, default=2.0)
    reader.add_argument("--seed", type=int, default=1)
    wanted = reader.parse_args()
    seen = walks(wanted.minutes / 2, wanted.seed)
    print(
        f"keys: {seen.keys} pressed, {seen.ways_out} ways out, {len(seen.faults)} faults; "
        f"longest {seen.longest_s:.2f} s ({seen.longest_at})"
    )
    print("screens: " + ", ".join(f"{name} {count}" for name, count in seen.screens.most_common()))
    print("never seen: " + (", ".join(sorted(all_screens() - set(seen.screens))) or "none"))
    read = texts(wanted.minutes / 2)
    print(f"texts: {read.count} read, {len(read.faults)} faults; longest {read.longest_s:.2f} s")
    return 1 if seen.faults or read.faults else 0


if __name__ == "__main__":
    sys.exit(main())
