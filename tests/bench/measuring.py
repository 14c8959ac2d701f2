"""The rows of the table, and how two things are timed in turn."""

import os
import statistics
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from tests.trials.program import own_environment


@dataclass(frozen=True, kw_only=True)
class Row:
    """A measured figure and its floor, both in `unit`."""

    what: str
    against: str
    taken: float
    floor: float
    at_most: float
    """The highest ratio that is good enough."""
    unit: str = "ms"
    cause: str = ""
    """Why the ratio is higher than that, if it is."""

    @property
    def ratio(self) -> float:
        """The measured figure divided by its floor."""
        return self.taken / self.floor

    @property
    def kept(self) -> bool:
        """True if the ratio is no higher than that."""
        return self.ratio <= self.at_most

    def as_data(self) -> dict[str, Any]:
        """Return the row for JSON."""
        return {**asdict(self), "ratio": self.ratio, "kept": self.kept}

    def lines(self) -> list[str]:
        """Return the row as text."""
        verdict = "" if self.kept else "  MISSED"
        figures = (
            f"{self.taken:9.2f} {self.floor:9.2f} {self.unit:<4} {self.ratio:6.2f} of {self.at_most:5.2f}{verdict}"
        )
        lines = [f"{self.what:<48} {figures}", f"    against {self.against}"]
        return lines if self.kept or not self.cause else [*lines, f"    {self.cause}"]


def taking_turns(times: int, *actions: Callable[[], float], warm: int = 1) -> list[list[float]]:
    """Return what each action measures, run in turn `times` times. The first `warm` rounds do not count."""
    found: list[list[float]] = [[] for _ in actions]
    for number in range(times + warm):
        for action, results in zip(actions, found, strict=True):
            measured = action()
            if number >= warm:
                results.append(measured)
    return found


def timed_ms(action: Callable[[], object]) -> Callable[[], float]:
    """Return a function that measures how long an action takes [ms]."""

    def timed() -> float:
        begun = time.perf_counter()
        action()
        return (time.perf_counter() - begun) * 1000

    return timed


def percentile(values: Sequence[float], percent: float) -> float:
    """Return the value below which this share of the values lies, by the nearest rank."""
    return sorted(values)[max(0, -(-round(len(values) * percent) // 100) - 1)]


def median_row(what: str, against: str, taken: Sequence[float], floor: Sequence[float], **more: Any) -> Row:
    """Return a row of two medians."""
    return Row(what=what, against=against, taken=statistics.median(taken), floor=statistics.median(floor), **more)


def compiled_environment(folder: Path) -> Mapping[str, str]:
    """Return an environment with folders of its own, in which modules are compiled only once."""
    found = own_environment(folder / "data") | {"PYTHONPYCACHEPREFIX": str(folder / "compiled")}
    del found["PYTHONDONTWRITEBYTECODE"]
    return found


def sync_ms(folder: Path) -> Callable[[], float]:
    """Return a function that measures one write and fsync in a folder [ms]."""
    handle = os.open(folder / "raw", os.O_WRONLY | os.O_CREAT)

    def synced() -> None:
        os.write(handle, b"x" * 200)
        os.fsync(handle)

    return timed_ms(synced)
