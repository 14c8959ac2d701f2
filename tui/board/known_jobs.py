"""The jobs that the user can open without typing a path: recent jobs, the user's own jobs, and samples."""

import contextlib
import json
from importlib import resources
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from core.values.errors import FileError
from core.values.files import may_exist, name_of, read_text, read_toml, write_text
from core.values.plain_text import clean

if TYPE_CHECKING:
    from core.events.state import RunSummary
    from core.jobs.job import Job
    from core.logbook.logbook import Logbook

MOST_RECENT = 8
_PAGE = 50
_MOST_RUNS = 500
"""How many runs are searched for recent jobs. Without a limit, many pieces of one job would take long."""
_OPENED = "opened_jobs.json"
"""The name of a file in the log's folder: the jobs opened last, newest first.

If the file is lost, the log still has the jobs that were run.
"""
_MOST_OWN = 20
_MOST_FILES = 500


class KnownJob(NamedTuple):
    """A job that can be opened from a list: the path of its file, and its title."""

    path: Path
    title: str


def note_opened(folder: Path, job: "Job") -> None:
    """Save in `folder`, the log's folder, that a job has just been opened. Errors are ignored."""
    opened = KnownJob(job.path.resolve(), job.title)
    before = _opened_jobs(folder)
    if before[:1] == [opened]:
        return
    kept = [opened, *(known for known in before if known.path != opened.path)][:MOST_RECENT]
    with contextlib.suppress(FileError):
        write_text(folder / _OPENED, json.dumps([[str(known.path), known.title] for known in kept], indent=1) + "\n")


def _opened_jobs(folder: Path) -> list[KnownJob]:
    """Return the jobs that were saved as opened, the latest first, without those whose file is missing.

    `folder`: the folder of the log.
    """
    if not may_exist(folder / _OPENED):
        return []
    try:
        rows = json.loads(read_text(folder / _OPENED))
        noted = [KnownJob(Path(str(path)), clean(str(title), 200)) for path, title in rows[:MOST_RECENT]]
    except (FileError, ValueError, TypeError, KeyError, RecursionError):
        return []
    return [known for known in noted if may_exist(known.path)]


def recent_jobs(logbook: "Logbook", folder: Path) -> list[KnownJob]:
    """Return the jobs that were last opened or worked on, the latest first. `folder`: the folder of the log.

    Raises LogbookError if the log cannot be read.
    """
    recent = {str(job.path): job for job in _opened_jobs(folder)}
    before: int | None = None
    for _ in range(_MOST_RUNS // _PAGE):
        page = logbook.runs(limit=_PAGE, before=before)
        for info in page:
            if info.origin is not None and len(recent) < MOST_RECENT:
                job = KnownJob(Path(info.origin.job_path), info.origin.job_title)
                recent.setdefault(info.origin.job_path, job)
        if len(page) < _PAGE or len(recent) == MOST_RECENT:
            break
        before = page[-1].number
    return list(recent.values())


def own_jobs(documents: Path) -> list[KnownJob]:
    """Return the jobs in `documents`, the user's folder of jobs, the latest changed first."""
    try:
        files = [path for path in islice(documents.iterdir(), _MOST_FILES) if path.suffix == ".toml"]
        files.sort(key=lambda path: path.stat().st_mtime, reverse=True)
    except OSError:
        return []
    titled = ((path.resolve(), _title_of_job(path)) for path in files)
    return list(islice((KnownJob(path, title) for path, title in titled if title), _MOST_OWN))


def unfinished_without_job(logbook: "Logbook") -> "list[RunSummary]":
    """Return the unfinished runs that belong to no job file, newest first.

    Raises LogbookError if the log cannot be read.
    """
    return [info for info in logbook.unfinished() if info.origin is None]


def sample_jobs() -> list[KnownJob]:
    """Return the sample jobs that come with the program."""
    samples = []
    for entry in resources.files("sample_jobs").iterdir():
        if isinstance(entry, Path) and entry.suffix == ".toml":
            title = _title_of_job(entry)
            if title:
                samples.append(KnownJob(entry, title))
    return sorted(samples, key=lambda job: job.title)


def own_copy(sample: Path, folder: Path) -> Path:
    """Return the path of the user's copy of a sample job.

    If there is no copy yet, the sample and its lathe files are copied to `folder`. The user may change the copy. Its
    runs are logged under its own path, and the sample itself never changes. Raises FileError if a file cannot be read
    or copied.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise FileError(
            [
                f"The folder {name_of(folder)} cannot be created: {error.strerror}. Press k on the board to set "
                "another folder."
            ]
        ) from None
    for original in sample.parent.glob("*.toml"):
        if not (folder / original.name).exists():
            write_text(folder / original.name, read_text(original))
    return folder / sample.name


def _title_of_job(path: Path) -> str:
    """Return the title in a job file; "" if the file is a lathe file or cannot be read."""
    try:
        data = read_toml(path)
    except FileError:
        return ""
    return clean(str(data.get("title", path.stem))) if "operation" in data else ""
