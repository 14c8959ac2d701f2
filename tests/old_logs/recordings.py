"""The recordings in the repository, and copies of them to continue in."""

import hashlib
import json
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any, NamedTuple

from core.logbook.logbook import Logbook
from core.logbook.schema import FILE_NAME

HERE = Path(__file__).parent
Row = tuple[Any, ...]


class Recording(NamedTuple):
    """A logbook that an earlier version wrote, with its facts."""

    folder: Path

    def __str__(self) -> str:
        return f"{self.folder.parent.name}-{self.folder.name}"

    @property
    def file(self) -> Path:
        """The logbook. Never open it in place, because SQLite would write into it or next to it."""
        return self.folder / FILE_NAME

    @property
    def jobs(self) -> Path:
        """The job files from which its runs were started."""
        return self.folder.parent / "jobs"

    @property
    def sha256(self) -> str:
        """The SHA-256 of the file."""
        return hashlib.sha256(self.file.read_bytes()).hexdigest()

    def facts(self) -> dict[str, Any]:
        """Return the facts written during the recording: the SHA-256 of the file, and the facts of each run."""
        found: dict[str, Any] = json.loads((self.folder / "facts.json").read_text(encoding="utf-8"))
        return found

    def copy_to(self, data: Path) -> Path:
        """Put a copy into a folder for logs, and return the folder."""
        data.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(self.file, data / FILE_NAME)
        return data


@contextmanager
def continued(data: Path) -> Iterator[Logbook]:
    """Open a copy for logging.

    No power cut is tested here, so the copy is not synced. Syncing thousands of events would take most of the time.
    """
    with Logbook.open(data) as logbook:
        with logbook._file.reading() as connection:
            connection.execute("PRAGMA synchronous = OFF")
        yield logbook


RECORDINGS = tuple(sorted(Recording(path.parent) for path in HERE.glob("v*/*/facts.json")))


def event_rows(data: Path, uid: str) -> list[Row]:
    """Return the events of a run exactly as the file holds them, read without the program's code."""
    with closing(sqlite3.connect(data / FILE_NAME)) as connection:
        return connection.execute("SELECT * FROM event WHERE run = ? ORDER BY seq", (uid,)).fetchall()
