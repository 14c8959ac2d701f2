"""Rebuilds every state of the logbook that a power cut could leave, and opens each state.

    python -m tests.trials.power_cuts [COMMITS]

A program logs passes under strace, with checkpoints in between, quits and starts again. For each write, sync and change
of names, tests.trials.disk_model gives the possible contents of the disk. Each of these states must open and be sound.
It must contain every acknowledged event, and no event that was not being written.
"""

import hashlib
import json
import random
import sys
import tempfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from core.events.event import Event
from core.logbook.logbook import Logbook
from core.logbook.schema import FILE_NAME
from core.values.errors import CoreError
from tests.trials.disk_model import Content, File, Folder
from tests.trials.traced import Call, available, traced

WRITER = """
import json, os, sys
from pathlib import Path
from core.logbook.logbook import Logbook
from core.logbook.active_run import ActiveRun
from tests.core.logbook.run_samples import StepClock, begin
folder, commits = Path(sys.argv[1]), int(sys.argv[2])
acknowledged = os.open(sys.argv[3], os.O_CREAT | os.O_WRONLY, 0o644)
def acknowledge(run):
    os.write(acknowledged, json.dumps([run.uid, run.state.last_seq]).encode())
uid, count = None, 0
for session in range(3):
    with Logbook.open(folder) as logbook:
        run = ActiveRun.resume(logbook, uid, StepClock(), str(session)) if uid else begin(logbook, passes=commits)
        uid = run.uid
        acknowledge(run)
        for _ in range(commits // 3):
            count += 1
            run.undo() if count % 7 == 0 else run.note("x" * 5000) if count % 11 == 0 else run.done()
            acknowledge(run)
            if count % 40 == 0 or count == 5:
                logbook.checkpoint()
            if count % 50 == 0:
                other = begin(logbook, session=str(count))
                acknowledge(other)
                other.close()
        run.close()
"""
CHANGING = {"writev", "pwritev", "pwritev2", "truncate", "fallocate", "sync_file_range", "link", "linkat", "renameat2"}


@dataclass
class Recorded:
    """The disk while a program writes to it, and the events that the program has acknowledged so far."""

    folder: Path
    answers: Path
    disk: Folder = field(default_factory=Folder)
    acknowledged: dict[str, int] = field(default_factory=dict)
    open: dict[int, Path] = field(default_factory=dict)
    files: dict[int, File] = field(default_factory=dict)

    def take(self, call: Call) -> bool:
        """Process one system call. Return whether it concerns the disk."""
        if call.name in CHANGING and any(str(self.folder).encode() in text for text in call.texts):
            raise ValueError(f"{call.name} is not understood by this trial")
        handler = getattr(self, f"_{call.name}", None)
        return bool(handler and handler(call))

    def _openat(self, call: Call) -> bool:
        path = Path(call.texts[0].decode())
        self.open[call.result] = path
        self.files.pop(call.result, None)
        if path.parent != self.folder or _passing(path):
            return False
        made = path.name not in self.disk.now and "O_CREAT" in call.words
        if made:
            self.disk.put({path.name: File()})
        if path.name in self.disk.now:
            self.files[call.result] = self.disk.now[path.name]
        if "O_TRUNC" in call.words:
            self.files[call.result].truncate(0)
        return made

    def _write(self, call: Call) -> bool:
        handle = call.numbers[0]
        if self.open.get(handle) == self.answers:
            uid, seq = json.loads(call.texts[0])
            self.acknowledged[uid] = seq
        elif handle in self.files:
            raise ValueError("write without a place is not understood by this trial")
        return False

    def _pwrite64(self, call: Call) -> bool:
        file = self.files.get(call.numbers[0])
        if file is not None:
            file.write(call.numbers[-1], call.texts[0][: call.result])
        return file is not None

    def _ftruncate(self, call: Call) -> bool:
        file = self.files.get(call.numbers[0])
        if file is not None:
            file.truncate(call.numbers[1])
        return file is not None

    def _fsync(self, call: Call) -> bool:
        handle = call.numbers[0]
        if handle in self.files:
            self.files[handle].sync()
        elif self.open.get(handle) == self.folder:
            self.disk.sync()
        else:
            return False
        return True

    _fdatasync = _fsync

    def _unlink(self, call: Call) -> bool:
        path = Path(call.texts[0].decode())
        if path.parent != self.folder or path.name not in self.disk.now:
            return False
        self.disk.put({path.name: None})
        return True

    _unlinkat = _unlink

    def _rename(self, call: Call) -> bool:
        old, new = (Path(text.decode()) for text in call.texts)
        if old.parent != self.folder:
            return False
        self.disk.put({old.name: None, new.name: self.disk.now[old.name]})
        return True

    _renameat = _rename


def _passing(path: Path) -> bool:
    """Return True if a file does not matter after a power cut.

    SQLite rebuilds the index of its write-ahead log, and locks no longer exist.
    """
    return path.name.endswith(("-shm", ".lock", ".users"))


@dataclass
class PowerCutTally:
    """Counts of trials and losses."""

    calls: int = 0
    states: int = 0
    different: int = 0
    lost: int = 0
    made_up: int = 0
    unsound: int = 0
    set_aside: int = 0
    not_opened: int = 0
    lines: list[str] = field(default_factory=list)

    @property
    def losses(self) -> int:
        """The count of all losses, none of which may happen."""
        return self.lost + self.made_up + self.unsound + self.set_aside + self.not_opened

    def __str__(self) -> str:
        return (
            f"{self.calls} writes, syncs and changes of names; {self.states} cuts rebuilt, {self.different} of them "
            f"different: {self.lost} lost an event, {self.made_up} held one too many or another, {self.unsound} "
            f"unsound, {self.set_aside} taken for damaged, {self.not_opened} not opened"
        )


def judge(content: Content, acknowledged: Mapping[str, int], written: Mapping[str, tuple[Event, ...]]) -> str:
    """Open one state in a new folder. Return the field of PowerCutTally to count it in; "" if nothing is lost."""
    # The folder is in memory if possible, because the trial is about content, not about this disk.
    shm = Path("/dev/shm")
    with tempfile.TemporaryDirectory(dir=shm if shm.is_dir() else None) as name:
        folder = Path(name)
        for file, data in content.items():
            (folder / file).write_bytes(data)
        try:
            with Logbook.open(folder) as logbook:
                if any("damaged" in notice for notice in logbook.notices):
                    return "set_aside"
                if logbook.verify().problems:
                    return "unsound"
                found = {run.uid: logbook.events(run.uid) for run in logbook.runs(limit=1000)}
        except CoreError:
            return "not_opened"
    if any(len(found.get(uid, ())) <= seq for uid, seq in acknowledged.items()):
        return "lost"
    more = sum(map(len, found.values())) - sum(seq + 1 for seq in acknowledged.values())
    same = all(events == written[uid][: len(events)] for uid, events in found.items())
    return "" if same and more <= 1 else "made_up"


def cuts(
    recorded: Recorded, calls: Iterator[Call], tally: PowerCutTally, drawn: int
) -> Iterator[tuple[Content, dict[str, int]]]:
    """Yield every state that a power cut could leave after each system call, with the acknowledged events."""
    rng = random.Random(20261125)
    seen: set[bytes] = set()
    for call in calls:
        if not recorded.take(call):
            continue
        tally.calls += 1
        for content in recorded.disk.states(rng, drawn):
            tally.states += 1
            mark = _mark(content, recorded.acknowledged)
            if mark not in seen:
                seen.add(mark)
                yield content, dict(recorded.acknowledged)


def _mark(content: Content, acknowledged: Mapping[str, int]) -> bytes:
    mark = hashlib.sha256(repr(sorted(acknowledged.items())).encode())
    for name, data in sorted(content.items()):
        mark.update(f"{name} {len(data)} ".encode() + data)
    return mark.digest()


def run(commits: int, drawn: int = 3) -> PowerCutTally:
    """Record `commits` commits, judge the state after every possible power cut, and return the counts."""
    tally = PowerCutTally()
    with tempfile.TemporaryDirectory() as name:
        place = Path(name).resolve()
        folder, answers = place / "log", place / "acknowledged"
        folder.mkdir()
        calls = list(traced(WRITER, [str(folder), str(commits), str(answers)], place / "trace"))
        with Logbook.open(folder, read_only=True) as logbook:
            written = {run.uid: logbook.events(run.uid) for run in logbook.runs(limit=1000)}
        recorded = Recorded(folder, answers)
        for content, acknowledged in cuts(recorded, iter(calls), tally, drawn):
            tally.different += 1
            verdict = judge(content, acknowledged, written)
            if verdict:
                setattr(tally, verdict, getattr(tally, verdict) + 1)
                sizes = {file: len(data) for file, data in content.items()}
                tally.lines.append(f"{verdict}: call {tally.calls}, {sum(acknowledged.values())} acknowledged, {sizes}")
        assert recorded.disk.now[FILE_NAME].versions[-1] == (folder / FILE_NAME).read_bytes()
    return tally


def main() -> int:
    """Print each trial and each loss."""
    if not available():
        print("strace is missing, or not allowed here: this trial cannot be made", file=sys.stderr)
        return 2
    tally = run(int(sys.argv[1]) if len(sys.argv) > 1 else 210)
    print(*tally.lines[:20], tally, sep="\n")
    return 1 if tally.losses else 0


if __name__ == "__main__":
    sys.exit(main())
