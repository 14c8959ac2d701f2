"""The rows of measured figures and their floors, and functions that measure two actions in turn."""

import os
import statistics
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from tests.trials.program import own_environment


@dataclass(frozen=True, kw_only=True)
class BenchRow:
    """A measured figure and its floor, both in the unit `unit`."""

    what: str
    against: str
    taken: float
    floor: float
    at_most: float
    """The highest acceptable ratio of figure to floor."""
    unit: str = "ms"
    cause: str = ""
    """The reason why the ratio may be higher than `at_most`; "" if no reason is known."""

    @property
    def ratio(self) -> float:
        """The measured figure divided by its floor [-]."""
        return self.taken / self.floor

    @property
    def kept(self) -> bool:
        """True if the ratio is not larger than its target `at_most`."""
        return self.ratio <= self.at_most

    def as_data(self) -> dict[str, Any]:
        """Return the row as a dictionary for JSON."""
        return {**asdict(self), "ratio": self.ratio, "kept": self.kept}

    def lines(self) -> list[str]:
        """Return the row as rows of text."""
        verdict = "" if self.kept else "  MISSED"
        figures = (
            f"{self.taken:9.2f} {self.floor:9.2f} {self.unit:<4} {self.ratio:6.2f} of {self.at_most:5.2f}{verdict}"
        )
        lines = [f"{self.what:<48} {figures}", f"    against {self.against}"]
        return lines if self.kept or not self.cause else [*lines, f"    {self.cause}"]


def taking_turns(times: int, *actions: Callable[[], float], warm: int = 1) -> list[list[float]]:
    """Run several actions in turn, `times` times each, and return the results of each action.

    The first `warm` results of each action are left out.
    """
    found: list[list[float]] = [[] for _ in actions]
    for number in range(times + warm):
        for action, results in zip(actions, found, strict=True):
            measured = action()
            if number >= warm:
                results.append(measured)
    return found


def timed_ms(action: Callable[[], object]) -> Callable[[], float]:
    """Return a function that runs an action and returns its duration [ms]."""

    def timed() -> float:
        begun = time.perf_counter()
        action()
        return (time.perf_counter() - begun) * 1000

    return timed


def percentile(values: Sequence[float], percent: float) -> float:
    """Return the smallest value that `percent` percent of all values do not exceed, by the nearest rank."""
    return sorted(values)[max(0, -(-round(len(values) * percent) // 100) - 1)]


def median_row(what: str, against: str, taken: Sequence[float], floor: Sequence[float], **more: Any) -> BenchRow:
    """Return a row with the medians of measured and floor values."""
    return BenchRow(what=what, against=against, taken=statistics.median(taken), floor=statistics.median(floor), **more)


def compiled_environment(folder: Path) -> Mapping[str, str]:
    """Return environment variables that give a program folders of its own and a cache of compiled modules."""
    found = own_environment(folder / "data") | {"PYTHONPYCACHEPREFIX": str(folder / "compiled")}
    del found["PYTHONDONTWRITEBYTECODE"]
    return found


def sync_ms(folder: Path) -> Callable[[], float]:
    """Return a function that writes 200 bytes with fsync into a folder and returns how long that took [ms]."""
    handle = os.open(folder / "raw", os.O_WRONLY | os.O_CREAT)

    def synced() -> None:
        os.write(handle, b"x" * 200)
        os.fsync(handle)

    return timed_ms(synced)
