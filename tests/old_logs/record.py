"""Records runs with the present program, by its real screens and keys: `python -m tests.old_logs.record v0_2`.

The folder is named after the version and holds the job files to be recorded, in `jobs`. A recording is never replaced,
because no later version can write the log of an earlier one.
"""

import asyncio
import json
import random
import shutil
import sys
from collections.abc import Awaitable, Callable, Iterator, Mapping, Sequence
from pathlib import Path
from tempfile import TemporaryDirectory
from types import MappingProxyType
from typing import NamedTuple
from unittest.mock import patch
from uuid import UUID

import tests.conftest  # noqa: F401  (it lets the pilot wait no longer than it must)
from core.logbook.schema import FILE_NAME
from tests.old_logs import replanned, runout, table, threads, turning
from tests.old_logs.facts import facts_of_logbook
from tests.old_logs.program import Program, started
from tests.old_logs.recordings import HERE, Recording


class Start(NamedTuple):
    """One start of the program: its arguments, and the keys pressed in it."""

    keys: Callable[[Program], Awaitable[None]]
    job: str | None = None
    lathe: str | None = None
    changed: Mapping[str, str] = MappingProxyType({})
    """Texts of the job file that are replaced for this start, each with its replacement."""


_FOOT_CHANGED = {
    'to = "19 mm"': 'to = "18.8 mm"',
    'to = "1.2 mm"': 'to = "1.3 mm"',
    "Stamp the year": "Stamp year and place",
}
_RIM_CHANGED = {
    "divisions = 6": "divisions = 8",
    'circle_radius = "4 mm"\n  depth = "0.3 mm"': 'circle_radius = "4 mm"\n  depth = "0.4 mm"',
    'start = "45 deg"': 'start = "30 deg"',
}

LOGBOOKS: Mapping[str, Sequence[Start]] = {
    "turning": (
        Start(turning.foot_first_day, "sundial_foot.toml"),
        Start(turning.foot_second_day, "sundial_foot.toml", changed=_FOOT_CHANGED),
        Start(
            turning.foot_third_day,
            "sundial_foot.toml",
            changed={**_FOOT_CHANGED, 'to = "21 mm"': 'to = "20.9 mm"'},
        ),
        Start(turning.screw_in_inches, "gnomon_screw.toml"),
        Start(turning.rim, "sundial_rim.toml"),
        Start(turning.spigot, "engraving_fixture.toml"),
        Start(turning.flange, "sundial_arbor.toml"),
        Start(turning.without_a_job),
    ),
    "threads": (
        Start(threads.screws, "sundial_screws.toml"),
        Start(threads.past_its_limits, "sundial_screws.toml"),
        Start(threads.fixture, "engraving_fixture.toml"),
        Start(threads.clamp_screw, "gnomon_screw.toml"),
        Start(threads.arbor, "sundial_arbor.toml"),
        Start(
            threads.arbor_changed,
            "sundial_arbor.toml",
            changed={'blank = "26.80 mm"': 'blank = "26.75 mm"'},
        ),
        Start(threads.without_a_job, lathe="metric_lathe.toml"),
    ),
    "runout": (
        Start(runout.checks, "sundial_checks.toml"),
        Start(
            runout.checks_second_day,
            "sundial_checks.toml",
            changed={'tolerance = "0.03 mm"': 'tolerance = "0.025 mm"'},
        ),
        Start(runout.slipped, "sundial_arbor.toml"),
        Start(runout.without_a_job, lathe="inch_lathe.toml"),
    ),
    "table": (
        Start(table.plate, "sundial_plate.toml"),
        Start(table.border_moved, "sundial_plate.toml"),
        Start(table.rim, "sundial_rim.toml"),
        Start(table.rim_changed, "sundial_rim.toml", changed=_RIM_CHANGED),
        Start(table.base_holes, "hour_lines.toml"),
    ),
}


async def record(starts: Sequence[Start], jobs: Path, data: Path) -> None:
    """Start the program on the logbook in a folder, once for each start, and press its keys."""
    for day, start in enumerate(starts):
        with TemporaryDirectory() as temporary:
            files = Path(temporary) / "jobs"
            shutil.copytree(jobs, files)
            if start.job is not None and start.changed:
                _change(files / start.job, start.changed)
            job, lathe = (None if name is None else files / name for name in (start.job, start.lathe))
            async with started(data, day, job=job, lathe=lathe) as program:
                await start.keys(program)


def _change(path: Path, changed: Mapping[str, str]) -> None:
    text = path.read_text(encoding="utf-8")
    for before, after in changed.items():
        if text.count(before) != 1:
            raise ValueError(f"{path.name} holds {before!r} {text.count(before)} times, not once")
        text = text.replace(before, after)
    path.write_text(text, encoding="utf-8")


def _run_ids(name: str) -> Iterator[UUID]:
    """Yield ids of runs, always the same ones for a logbook of this name."""
    numbers = random.Random(name)
    while True:
        yield UUID(int=numbers.getrandbits(128), version=4)


def main(words: Sequence[str]) -> int:
    """Record every logbook into a new folder. Return the exit status."""
    if len(words) != 1 or not (HERE / words[0] / "jobs").is_dir():
        print("Enter the name of a folder of tests/old_logs that holds its job files in jobs, such as v0_2.")
        return 2
    folder = HERE / words[0]
    if any((folder / name).exists() for name in LOGBOOKS):
        print(f"{folder.name} is recorded already, and a recording is never replaced. Make another folder.")
        return 1
    for name, starts in LOGBOOKS.items():
        recording = Recording(folder / name)
        recording.folder.mkdir()
        with TemporaryDirectory() as data, patch("uuid.uuid4", side_effect=_run_ids(name)):
            asyncio.run(record(starts, recording.jobs, Path(data)))
            shutil.copyfile(Path(data) / FILE_NAME, recording.file)
            runs = facts_of_logbook(Path(data), recording.jobs)
        text = json.dumps({"sha256": recording.sha256, "runs": runs}, indent=1, ensure_ascii=False)
        (recording.folder / "facts.json").write_text(f"{text}\n", encoding="utf-8")
        replanned.write(recording)
        print(f"{name}: {len(runs)} runs")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
