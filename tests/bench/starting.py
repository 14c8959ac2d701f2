"""Measures how long the program needs to start, with its screens and for commands that only print."""

import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

from tests.bench.measuring import BenchRow, median_row, taking_turns, timed_ms
from tests.bench.programs import ARBOR, HOUR_LINES, Watched, begin_run, empty_app, halfnut
from tests.trials.program import ROOT

STARTS, PRINTS = 5, 7
BARE = "import tomllib, sqlite3, json, dataclasses, fractions"
PRINTED = {
    "card of a job with threads": ("card", str(ARBOR)),
    "card of a job with patterns": ("card", str(HOUR_LINES)),
    "convert 1 1/4 in": ("convert", "1 1/4 in"),
}
HEAVY = ("textual", "pint")
_CAUSE_START = (
    "half of the time above the floor is for importing modules of core and tui, a tenth for reading and planning the "
    "job, and the rest for Textual, which mounts, styles and paints counter and question, in the floor only one row"
)


def rows(folder: Path, environment: Mapping[str, str]) -> Iterator[BenchRow]:
    """Yield the measured rows of all starts."""
    yield from _screens(folder, environment)
    yield from _printed(environment)


def _screens(folder: Path, environment: Mapping[str, str]) -> Iterator[BenchRow]:
    fresh, begun = folder / "fresh", folder / "begun"
    begin_run(begun, ARBOR, 2, 9)
    empty, board, counter = taking_turns(
        STARTS,
        _until(lambda: empty_app(environment), b"ready"),
        _until(lambda: halfnut(fresh, ARBOR, environment), b"Turn the thread blank"),
        _until(lambda: halfnut(begun, ARBOR, environment), b"nothing was moved"),
    )
    against = "an empty app started the same way"
    yield median_row("start to first paint, board", against, board, empty, at_most=1.5, cause=_CAUSE_START)
    yield median_row(
        "start to counter resumed, with its question", against, counter, empty, at_most=1.5, cause=_CAUSE_START
    )


def _until(start: Callable[[], Watched], word: bytes) -> Callable[[], float]:
    def timed() -> float:
        begun = time.perf_counter()
        program = start()
        program.wait_for(word)
        taken = time.perf_counter() - begun
        program.kill()
        return taken * 1000

    return timed


def _printed(environment: Mapping[str, str]) -> Iterator[BenchRow]:
    def run(*words: str) -> None:
        subprocess.run([sys.executable, *words], cwd=ROOT, env=environment, stdout=subprocess.DEVNULL, check=True)

    actions = [timed_ms(lambda words=words: run("-m", "tui", *words)) for words in PRINTED.values()]
    bare, *printed = taking_turns(PRINTS, timed_ms(lambda: run("-c", BARE)), *actions)
    for (what, words), times in zip(PRINTED.items(), printed, strict=True):
        run(
            "-c",
            f"import sys; from tui.__main__ import main; main({words!r}); assert not {set(HEAVY)} & set(sys.modules)",
        )
        yield median_row(what, "Python with its own modules for files", times, bare, at_most=4)
