"""Damaged logbooks: cut short, with changed bytes, of another program, of a newer version. Nothing is overwritten."""

import random
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import pytest

from core.logbook.active_run import ActiveRun
from core.logbook.errors import LogbookDamagedError
from core.logbook.logbook import Logbook
from core.logbook.schema import FILE_NAME, create
from core.values.errors import LogbookError
from tests.core.figures import figures
from tests.core.logbook.damaged_logs import (
    PAGE_SIZE,
    WAL_NAME,
    Runs,
    count_of,
    open_damaged,
    readable,
    whole_in,
    written,
)
from tests.core.logbook.run_samples import ROOT, StepClock, begin

ROWS_OF_A_PAGE = 40


@pytest.fixture(scope="module")
def killed(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Runs]:
    """Return a logbook in its state after a kill, with half of its events in the write-ahead log."""
    folder = tmp_path_factory.mktemp("killed") / "log"
    return folder, written(folder)


@pytest.fixture(scope="module")
def clean(killed: tuple[Path, Runs], tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Runs]:
    """Return the same logbook after a clean end, as one file."""
    folder = tmp_path_factory.mktemp("clean") / "log"
    shutil.copytree(killed[0], folder)
    Logbook.open(folder).close()
    assert not (folder / WAL_NAME).exists()
    return folder, killed[1]


def lengths(size: int) -> Sequence[int]:
    """Return lengths to cut a file to: within its header, near the ends of pages, and anywhere."""
    chance = random.Random(7)
    # The trial of damage cuts at many more lengths. Here each kind of length comes once.
    near_pages = [page + by for page in range(PAGE_SIZE, size, PAGE_SIZE) for by in (-1, 0, 1)]
    anywhere = [chance.randrange(size) for _ in range(4)]
    return [0, 1, 16, 60, 71, 99, 101, 512, *chance.sample(near_pages, 4), *anywhere]


def test_a_logbook_truncated_to_any_length_is_repaired(clean: tuple[Path, Runs], tmp_path: Path) -> None:
    """The logbook can be opened, the damage is reported, and every event in the undamaged part is kept."""
    folder, runs = clean
    content = (folder / FILE_NAME).read_bytes()
    assert whole_in(content, runs) == count_of(runs) - len(runs)
    for length in lengths(len(content)):
        cut = content[:length]
        found = open_damaged(tmp_path / str(length), {FILE_NAME: cut}, runs)
        # The very last row may be complete except for its checksum.
        assert found >= whole_in(cut, runs) - 1
        shutil.rmtree(tmp_path / str(length))


def test_events_in_the_write_ahead_log_survive_a_truncation_of_the_logbook(
    killed: tuple[Path, Runs], tmp_path: Path
) -> None:
    """Events in the write-ahead log are saved, even if nothing is left of the file."""
    folder, runs = killed
    content, wal = (folder / FILE_NAME).read_bytes(), (folder / WAL_NAME).read_bytes()
    for length in [0, 16, 101, *lengths(len(content))[-4:]]:
        files = {FILE_NAME: content[:length], WAL_NAME: wal}
        found = open_damaged(tmp_path / str(length), files, runs)
        assert found >= whole_in(content[:length] + wal, runs) - 1
        shutil.rmtree(tmp_path / str(length))


@pytest.mark.parametrize("seed", range(3))
def test_a_logbook_with_changed_bytes_loses_at_most_one_page_of_events(
    clean: tuple[Path, Runs], tmp_path: Path, seed: int
) -> None:
    """Any byte may change. No event is altered, and at most one page of events is lost."""
    folder, runs = clean
    content = bytearray((folder / FILE_NAME).read_bytes())
    chance = random.Random(seed)
    for case in range(6):
        # Every other byte in the first two pages: header, schema, list of runs.
        place = chance.randrange(2 * PAGE_SIZE if case % 2 else len(content))
        harmed = bytearray(content)
        harmed[place] ^= chance.randrange(1, 256)
        found = open_damaged(tmp_path / str(case), {FILE_NAME: bytes(harmed)}, runs)
        assert found >= count_of(runs) - ROWS_OF_A_PAGE, f"byte {place}"
        shutil.rmtree(tmp_path / str(case))


def test_a_damaged_logbook_header_is_repaired_while_a_write_ahead_log_exists(
    killed: tuple[Path, Runs], tmp_path: Path
) -> None:
    """Each byte of the header that SQLite reads is changed, while half of the events are not in the file yet."""
    folder, runs = killed
    content, wal = (folder / FILE_NAME).read_bytes(), (folder / WAL_NAME).read_bytes()
    for place in (0, 16, 18, 21, 28, 40, 52, 59, 68, 95):
        harmed = bytearray(content)
        harmed[place] ^= 0x03
        files = {FILE_NAME: bytes(harmed), WAL_NAME: wal}
        found = open_damaged(tmp_path / str(place), files, runs)
        assert found == count_of(runs), f"byte {place}"
        shutil.rmtree(tmp_path / str(place))


def test_changed_bytes_in_the_write_ahead_log_alter_no_event(killed: tuple[Path, Runs], tmp_path: Path) -> None:
    """SQLite silently drops everything after the change.

    The program finds it, reports it and saves it in a new logbook.
    """
    folder, runs = killed
    content, wal = (folder / FILE_NAME).read_bytes(), (folder / WAL_NAME).read_bytes()
    chance = random.Random(11)
    places = [0, 24, 36, *(chance.randrange(len(wal)) for _ in range(3))]
    lost = 0
    for place in places:
        harmed = bytearray(wal)
        harmed[place] ^= chance.randrange(1, 256)
        files = {FILE_NAME: content, WAL_NAME: bytes(harmed)}
        found = open_damaged(tmp_path / str(place), files, runs)
        # The write-ahead log holds pages of events several times, so at most the changed row is lost.
        assert found >= count_of(runs) - 1, f"byte {place}"
        lost += count_of(runs) - found
        shutil.rmtree(tmp_path / str(place))
    assert lost <= 2


def test_a_commit_interrupted_by_a_power_cut_is_not_reported_as_damage(
    killed: tuple[Path, Runs], tmp_path: Path
) -> None:
    """The event is kept if it can be read. The same fault one commit earlier is damage and is reported."""
    folder, runs = killed
    content, wal = (folder / FILE_NAME).read_bytes(), (folder / WAL_NAME).read_bytes()
    frame = PAGE_SIZE + 24
    frames = [wal[place : place + frame] for place in range(32, len(wal), frame)]
    ends = [number for number, found in enumerate(frames) if found[4:8] != bytes(4)]
    for commit, damage in [(-1, False), (-2, True)]:
        first, last = ends[commit - 1] + 1, ends[commit]
        # Free room within the page, where no row can be hit.
        rooms = {torn: frames[torn].find(bytes(40), 200) for torn in range(first, last + 1)}
        assert max(rooms.values()) > 0
        for torn, room in rooms.items():
            place = 32 + torn * frame + room
            harmed = wal[:place] + b"stale" + wal[place + 5 :] if room > 0 else wal
            target = tmp_path / f"{commit} {torn}"
            assert open_damaged(target, {FILE_NAME: content, WAL_NAME: harmed}, runs) == count_of(runs)
            assert bool(list(target.glob("*damaged*"))) == (damage and room > 0)


def test_an_intact_write_ahead_log_is_not_reported_as_damage(killed: tuple[Path, Runs], tmp_path: Path) -> None:
    """A log with an unfinished last transaction, which was never reported as logged, is not damage either."""
    folder, runs = killed
    content, wal = (folder / FILE_NAME).read_bytes(), (folder / WAL_NAME).read_bytes()
    frame = PAGE_SIZE + 24
    for length in [len(wal) - short for short in (0, frame, frame + 1000, 1)]:
        target = tmp_path / str(length)
        found = open_damaged(target, {FILE_NAME: content, WAL_NAME: wal[:length]}, runs)
        assert list(target.glob("*damaged*")) == []
        assert found >= count_of(runs) - 1


def test_events_after_a_lost_event_are_stored_separately_from_the_run(tmp_path: Path) -> None:
    """The run ends before these events, and they can still be viewed."""
    with Logbook.open(tmp_path) as logbook:
        run = begin(logbook)
        for _ in range(5):
            run.done()
        run.close()
    harmed = (tmp_path / FILE_NAME).read_bytes().replace(b'{"step":3}', b'{"step":4}')
    (tmp_path / FILE_NAME).write_bytes(harmed)
    with Logbook.open(tmp_path) as logbook:
        assert list(logbook.notices) == []
        again = ActiveRun.resume(logbook, run.uid, StepClock(), "second")
        assert again.state.last_seq == 2
        assert [event.seq for _, event in logbook.strays()] == [4, 5]
        assert figures(logbook.notices[0]) >= {"3", "1", "2"}
        again.done()
        found = logbook.verify()
        assert (found.events, found.strays, found.problems) == (4, 2, ())


@pytest.mark.parametrize("pages", [(0, 4), (5, 9), (0, 20), (12, 13)])
def test_database_pages_that_read_as_zeros_lose_only_the_events_on_those_pages(
    clean: tuple[Path, Runs], tmp_path: Path, pages: tuple[int, int]
) -> None:
    """A failing card returns zeros. Events in the other pages are saved."""
    folder, runs = clean
    content = bytearray((folder / FILE_NAME).read_bytes())
    first, last = pages[0] * PAGE_SIZE, pages[1] * PAGE_SIZE
    content[first:last] = bytes(last - first)
    found = open_damaged(tmp_path / "log", {FILE_NAME: bytes(content)}, runs)
    assert found >= whole_in(bytes(content), runs)


def test_runs_keep_their_order_in_a_repaired_logbook(clean: tuple[Path, Runs], tmp_path: Path) -> None:
    """The newest run of an operation is the same before and after the repair."""
    folder, _ = clean
    shutil.copytree(folder, tmp_path / "log")
    with Logbook.open(tmp_path / "log") as logbook:
        before = [run.uid for run in logbook.runs()]
        logbook.rebuild()
        assert [run.uid for run in logbook.runs()] == before


# Files of other programs, which must stay unchanged.


def other_database() -> bytes:
    """Return the content of a database of another program."""
    connection = sqlite3.connect(":memory:")
    connection.execute("CREATE TABLE contacts (name)")
    return connection.serialize()


@pytest.mark.parametrize(
    "content",
    [
        b"Dear diary,\n" * 30,
        b"SQL",
        b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 40,
        other_database(),
        b"\xff" * 8192,
    ],
)
def test_a_file_of_another_program_in_place_of_the_logbook_is_not_changed(tmp_path: Path, content: bytes) -> None:
    """The file is refused with its path, and is neither moved nor changed. A file of three letters is no database."""
    path = tmp_path / FILE_NAME
    path.write_bytes(content)
    if content == b"SQL":
        with Logbook.open(tmp_path) as logbook:
            assert len(logbook.notices) == 1
        assert list(tmp_path.glob("*damaged*"))
        return
    for read_only in (False, True):
        with pytest.raises(LogbookError) as refused:
            Logbook.open(tmp_path, read_only=read_only)
        assert str(path) in refused.value.message
    assert path.read_bytes() == content
    assert not list(tmp_path.glob("*damaged*"))


def test_a_logbook_from_a_newer_version_can_be_viewed_but_not_written(clean: tuple[Path, Runs], tmp_path: Path) -> None:
    """Every event can be viewed, and nothing is changed."""
    folder, runs = clean
    shutil.copytree(folder, tmp_path / "log")
    path = tmp_path / "log" / FILE_NAME
    connection = sqlite3.connect(path)
    connection.execute("PRAGMA user_version = 7")
    connection.close()
    before = path.read_bytes()
    for read_only in (False, True):
        with Logbook.open(tmp_path / "log", read_only=read_only) as logbook:
            assert logbook.read_only
            assert figures(logbook.notices[0]) >= {"7", "1"}
            assert {uid: logbook.events(uid) for uid in runs} == runs
            with pytest.raises(LogbookError):
                begin(logbook)
    assert path.read_bytes() == before


def test_a_damaged_logbook_opened_read_only_is_not_repaired(clean: tuple[Path, Runs], tmp_path: Path) -> None:
    """The damage is reported, and the file keeps its path."""
    folder, _ = clean
    content = (folder / FILE_NAME).read_bytes()[: 3 * PAGE_SIZE]
    (tmp_path / FILE_NAME).write_bytes(content)
    with pytest.raises(LogbookDamagedError), Logbook.open(tmp_path, read_only=True) as logbook:
        logbook.verify()
    assert (tmp_path / FILE_NAME).read_bytes() == content
    assert not list(tmp_path.glob("*damaged*"))


# A rename of a damaged logbook, interrupted.


HOLD = """
import sys, time
from pathlib import Path
from core.logbook.logbook import Logbook
logbook = Logbook.open(Path(sys.argv[1]))
print("open", flush=True)
time.sleep(60)
"""


def test_a_damaged_logbook_in_use_by_another_program_is_not_moved(tmp_path: Path) -> None:
    """Otherwise passes counted there would go into the renamed file."""
    with Logbook.open(tmp_path) as logbook:
        run = begin(logbook)
        run.done()
        run.close()
    program = subprocess.Popen([sys.executable, "-c", HOLD, str(tmp_path)], stdout=subprocess.PIPE, text=True, cwd=ROOT)
    assert program.stdout is not None
    assert program.stdout.readline() == "open\n"
    with Logbook.open(tmp_path) as logbook:
        with pytest.raises(LogbookDamagedError):
            logbook.rebuild()
        assert len(logbook.events(run.uid)) == 2
        program.kill()
        program.wait()
        program.stdout.close()
        logbook.rebuild()
        assert len(logbook.events(run.uid)) == 2
    assert len(list(tmp_path.glob("*damaged*.sqlite3"))) == 1


@pytest.mark.parametrize("moves", range(4))
def test_a_repair_interrupted_by_a_power_cut_is_completed_at_the_next_start(
    killed: tuple[Path, Runs], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, moves: int
) -> None:
    """The repair may be interrupted anywhere. The next start finishes it without losing or overwriting anything."""
    folder, runs = killed
    content = (folder / FILE_NAME).read_bytes()[:50]
    wal = (folder / WAL_NAME).read_bytes()
    (tmp_path / FILE_NAME).write_bytes(content)
    (tmp_path / WAL_NAME).write_bytes(wal)
    # An older renamed file already has the first name.
    (tmp_path / "logbook-damaged-1.sqlite3").write_text("older")
    left = moves

    class PowerCutError(Exception):
        """Raised where a test cuts the power."""

    def move(self: Path, target: Path) -> Path:
        nonlocal left
        if left == 0:
            raise PowerCutError
        left -= 1
        shutil.move(str(self), str(target))
        return target

    with monkeypatch.context() as patched:
        patched.setattr(Path, "rename", move)
        patched.setattr(Path, "replace", move)
        with pytest.raises(PowerCutError):
            Logbook.open(tmp_path)
    with Logbook.open(tmp_path) as logbook:
        assert readable(logbook, runs) >= whole_in(content + wal, runs) - 1
    assert (tmp_path / "logbook-damaged-1.sqlite3").read_text() == "older"
    assert (tmp_path / "logbook-damaged-2.sqlite3").read_bytes() == content
    assert (tmp_path / "logbook-damaged-2.sqlite3-wal").read_bytes() == wal


def test_a_file_with_the_name_of_an_unfinished_logbook_is_kept(tmp_path: Path) -> None:
    """An unfinished new file or a user's copy is neither overwritten nor removed."""
    half = b"SQLite format 3\0 half of it"
    (tmp_path / f"{FILE_NAME}.new").write_bytes(half)
    with Logbook.open(tmp_path) as logbook:
        run = begin(logbook)
        assert logbook.notices == ()
        logbook.rebuild()
        assert len(logbook.events(run.uid)) == 1
    assert (tmp_path / f"{FILE_NAME}.new").read_bytes() == half
    assert not (tmp_path / f"{FILE_NAME}.new-1").exists()


def test_creating_a_file_under_a_name_already_in_use_is_refused(tmp_path: Path) -> None:
    """A new file never overwrites another file."""
    (tmp_path / "taken").write_text("mine")
    with pytest.raises(FileExistsError):
        create(tmp_path / "taken")
    assert (tmp_path / "taken").read_text() == "mine"
