"""Presses keys that change screens, two and three in a row, so quickly that the screens cannot follow.

    python -m tests.trials.pairs [--minutes N] [--seed N]

However quickly they come, keys must lead where they lead when each waits for the screen before, and none may end
the program. All pairs and triples from every place are many: those that the time allows are tried, in an order
that `--seed` shuffles, pairs first.
"""

import argparse
import asyncio
import random
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from itertools import product
from pathlib import Path
from typing import Any, NamedTuple

from textual.events import Key
from textual.screen import Screen

import tests.quick_screens  # noqa: F401  A trial is a tenth as long.
from tests.trials.program import JOB
from tests.trials.walk import inside, program

PAUSES_S = (0.0, 0.03, 0.08, 0.2)
KEYS = ("escape", "enter", "space", "0", "1", "f1", "f2", "f3", "f12", "question_mark", "c", "g", "l", "t")
_LEFT = ("enter", "1", "space", "escape", "enter")
"""A run is begun, a pass is counted, and the counter left."""
PLACES: dict[str, tuple[str, ...]] = {
    "the board": (),
    "the question whether to begin": ("enter",),
    "the counter": ("enter", "1"),
    "the question whether to leave": ("enter", "1", "escape"),
    "what was measured": ("enter", "1", "1"),
    "a run left": _LEFT,
    "the history": (*_LEFT, "f3"),
    "a run's page": (*_LEFT, "f3", "enter"),
    "a run's page, the board before": (*_LEFT, "f3", "enter", "f2"),
    "a form": ("t",),
    "the conversion": ("f12",),
    "help": ("f1",),
    "set-up": ("l",),
}
CHARACTERS = {"space": " ", "question_mark": "?"}


class Tried(NamedTuple):
    """Where the keys are pressed, which, and how long after each other [s]."""

    place: str
    keys: tuple[str, ...]
    pause_s: float


async def led_to(place: str, keys: Sequence[str], pause_s: float | None) -> str:
    """Return where keys lead from a place, or what was wrong; with None each waits for all that the one before does."""
    with tempfile.TemporaryDirectory() as name, inside(Path(name)):
        app = program(Path(name), JOB)
        try:
            async with app.run_test(size=(80, 24)) as pilot:
                for key in PLACES[place]:
                    await pilot.press(key)
                    await pilot.pause()
                for key in keys:
                    if pause_s is None:
                        await pilot.press(key)
                        await pilot.pause()
                    else:
                        driver = app._driver
                        assert driver is not None
                        driver.send_message(Key(key, CHARACTERS.get(key, key if len(key) == 1 else None)))
                        if pause_s:
                            await asyncio.sleep(pause_s)
                for _ in range(2 + 2 * len(keys)):
                    await pilot.pause()
                board, top = app._screen_stacks["board"], app.screen_stack
                return f"{app.current_mode}: {_names(top)}; the board's: {_names(board)}"
        except Exception as error:
            return f"{type(error).__name__}: {error}"


def _names(screens: Sequence[Screen[Any]]) -> str:
    return ", ".join(type(screen).__name__ for screen in screens)


def all_trials(seed: int) -> Iterator[Tried]:
    """Yield all trials, pairs before triples."""
    rng = random.Random(seed)
    for length in (2, 3):
        trials = [Tried(*one) for one in product(PLACES, product(KEYS, repeat=length), PAUSES_S)]
        rng.shuffle(trials)
        yield from trials


def fault(tried: Tried, slowly: dict[tuple[str, tuple[str, ...]], str]) -> str:
    """Return what is wrong with where keys lead, "" for nothing."""
    if tried[:2] not in slowly:
        slowly[tried[:2]] = asyncio.run(led_to(tried.place, tried.keys, None))
    quickly, by_hand = asyncio.run(led_to(*tried)), slowly[tried[:2]]
    if "Error" in by_hand:
        return f"slowly: {by_hand}"
    return "" if quickly == by_hand else f"{quickly}; slowly {by_hand}"


def main() -> int:
    """Print what was tried and what led elsewhere."""
    reader = argparse.ArgumentParser()
    reader.add_argument("--minutes", type=float, default=5.0)
    reader.add_argument("--seed", type=int, default=1)
    wanted = reader.parse_args()
    until = time.monotonic() + 60 * wanted.minutes
    slowly: dict[tuple[str, tuple[str, ...]], str] = {}
    tried, failed = [0, 0], 0
    for trial in all_trials(wanted.seed):
        if time.monotonic() > until:
            break
        tried[len(trial.keys) - 2] += 1
        if wrong := fault(trial, slowly):
            failed += 1
            print(f"{trial.place}, {' '.join(trial.keys)} {trial.pause_s} s apart: {wrong}", flush=True)
    print(f"{tried[0]} pairs and {tried[1]} triples tried, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
