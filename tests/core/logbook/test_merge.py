"""Another machine's log merged into this one: no run twice, none lost, a fork kept as two, the other log unchanged."""

import errno
import json
import os
import random
import signal
import sqlite3
import subprocess
import sys
from collections import Counter
from collections.abc import Callable
from contextlib import ExitStack, closing
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from unittest.mock import patch

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from core.events.state import state_summary
from core.logbook import active_run, other_log
from core.logbook.active_run import ActiveRun
from core.logbook.file import LogbookFile
from core.logbook.logbook import Logbook
from core.logbook.merge import MergeReport, merge
from core.logbook.schema import FILE_NAME, MERGING, companion
from core.record.lathe_notes import LatheNotes, new_note
from core.values.errors import LogbookError
from tests.core.logbook.damaged_logs import written
from tests.core.logbook.run_samples import BASIS, JOB, ROOT, StepClock, begin, fill, sample_plan
from tests.old_logs.facts import facts_of_logbook
from tests.old_logs.recordings import RECORDINGS, Recording, continued
from tests.trials.disk_model import File, Folder


def merged(folder: Path, other: Path) -> MergeReport:
    """Merge a log into the logbook in a folder."""
    with Logbook.open(folder) as logbook:
        return merge(logbook, other)


def go_on(folder: Path, uid: str, text: str, day: str = "2026-11-26") -> None:
    """Continue a run by logging a note."""
    with Logbook.open(folder) as logbook:
        run = ActiveRun.resume(logbook, uid, StepClock(day=day), f"session of {text}")
        run.note(text)
        run.close()


def notes(folder: Path) -> dict[str, list[str]]:
    """Return the notes of every run, by uid, the newest run first. Every event must be undamaged."""
    with Logbook.open(folder, read_only=True) as logbook:
        assert logbook.verify().problems == ()
        return {
            info.uid: [event.body["text"] for event in logbook.events(info.uid) if event.kind == "note"]
            for info in logbook.runs(limit=1_000)
        }


@pytest.fixture
def pair(tmp_path: Path) -> tuple[Path, Path, str]:
    """Return the folders of two machines that have one run in common, and the uid of the run."""
    here, there = tmp_path / "here", tmp_path / "there"
    fill(here, runs=1, done=3)
    assert merged(there, here).counts == {"new": 1}
    (uid,) = notes(there)
    return here, there, uid


def test_a_merged_run_is_copied_byte_for_byte(pair: tuple[Path, Path, str]) -> None:
    """All columns of all rows are the same in both files, as SQLite itself reads them."""
    rows = []
    for folder in pair[:2]:
        with closing(sqlite3.connect(folder / FILE_NAME)) as connection:
            rows.append([connection.execute(f"SELECT * FROM {table}").fetchall() for table in ("event", "run")])
    assert rows[0] == rows[1] and len(rows[0][0]) == 5


def test_merging_two_logs_also_merges_their_notes_on_lathes(pair: tuple[Path, Path, str]) -> None:
    """The notes come from a log's folder as well as from a backup, and the report counts them."""
    here, there, _ = pair
    for text in ("gib adjusted", "belt changed"):
        LatheNotes(there).add(new_note("Shed lathe", "", "adjustment", "2026-11-26T09:00:00+00:00", text))
    with Logbook.open(there) as logbook:
        assert len(logbook.backup(backup := there.parent / "backup.sqlite3")) == 2
    assert merged(here, backup).lines()[0].endswith("1 run already here, 2 notes on lathes added.")
    assert LatheNotes(here).read() == LatheNotes(there).read()
    LatheNotes(there).delete(LatheNotes(there).read().notes[0])
    assert merged(here, there).lines()[0].endswith("1 run already here, 1 note on lathes deleted.")


def test_runs_are_merged_even_if_the_notes_on_lathes_cannot_be_read(tmp_path: Path) -> None:
    """A folder has the name of the notes file. The report says so, and the run comes over."""
    fill(tmp_path / "there", runs=1, done=1)
    (tmp_path / "there" / "lathe_notes.txt").mkdir()
    report = merged(tmp_path / "here", tmp_path / "there")
    assert report.counts == {"new": 1} and "is not an ordinary file" in report.lines()[-1]


def test_repeated_merges_add_no_run_twice(pair: tuple[Path, Path, str]) -> None:
    """The same log, its backup, or the merged log in the other direction bring no second copy."""
    here, there, _ = pair
    with Logbook.open(here) as logbook:
        logbook.backup(here.parent / "backup.sqlite3")
    for folder, other in (
        (there, here),
        (there, here / FILE_NAME),
        (there, here.parent / "backup.sqlite3"),
        (here, there),
    ):
        assert merged(folder, other).counts == {"same": 1}
    assert notes(here) == notes(there)


def test_a_merge_adds_the_new_events_of_a_run_continued_on_another_machine(pair: tuple[Path, Path, str]) -> None:
    """Its events are appended. Events logged here stay, and the list of runs is right."""
    here, there, uid = pair
    go_on(there, uid, "there")
    assert merged(here, there).counts == {"continued": 1}
    assert notes(here) == notes(there) == {uid: ["note 0", "there"]}


def test_a_run_continued_on_another_machine_counts_as_interrupted_after_a_merge(pair: tuple[Path, Path, str]) -> None:
    """The run was closed in order here, but the work has been on the other machine since."""
    here, there, uid = pair
    with Logbook.open(here) as logbook:
        assert logbook.marks.read()[uid]
    go_on(there, uid, "there")
    merged(here, there)
    with Logbook.open(here) as logbook:
        assert ActiveRun.resume(logbook, uid, StepClock(), "today").left == "interrupted"


def test_a_run_continued_on_both_machines_is_kept_as_two_runs(pair: tuple[Path, Path, str]) -> None:
    """Both machines have both runs after the merge, each with its own run as the newer one.

    A longer fork is continued.
    """
    here, there, uid = pair
    go_on(here, uid, "here")
    go_on(there, uid, "there")
    report = merged(here, there)
    assert report.counts == {"two": 1}
    assert "3 here, 3 there" in report.lines()[1]
    assert list(notes(here).values()) == [["note 0", "here"], ["note 0", "there"]]
    assert merged(there, here).counts == {"two": 1, "same": 1}
    assert list(notes(there).values()) == [["note 0", "there"], ["note 0", "here"]]
    go_on(there, uid, "there again")
    assert merged(here, there).counts == {"continued": 1, "same": 1}
    assert sorted(notes(here).values()) == [["note 0", "here"], ["note 0", "there", "there again"]]
    assert next(iter(notes(here))) == uid


def start(folder: Path, name: str, day: str) -> str:
    """Start a run of an operation on a day. Return the uid of the run."""
    with Logbook.open(folder) as logbook:
        run = ActiveRun.begin(logbook, sample_plan(), BASIS, JOB._replace(op_name=name), StepClock(day=day), "session")
        run.close()
        return run.uid


def names(folder: Path) -> list[str]:
    """Return the operations of the runs, the oldest first. The run numbers must rise from 1 without a gap."""
    with Logbook.open(folder, read_only=True) as logbook:
        runs = logbook.runs()[::-1]
        assert [info.number for info in runs] == list(range(1, len(runs) + 1))
        return [info.origin.op_name for info in runs if info.origin]


def test_merged_runs_are_listed_in_the_order_in_which_they_were_started(tmp_path: Path) -> None:
    """An older run that comes over does not hide a newer run of the same operation."""
    here, there = tmp_path / "here", tmp_path / "there"
    for day in ("21", "25"):
        start(here, f"here {day}", f"2026-11-{day}")
    for day in ("20", "23", "27"):
        start(there, f"there {day}", f"2026-11-{day}")
    assert merged(here, there).counts == {"new": 3}
    assert names(here) == ["there 20", "here 21", "there 23", "here 25", "there 27"]


def test_a_wrong_clock_does_not_change_the_order_of_merged_runs(tmp_path: Path) -> None:
    """A date that cannot be read comes last. A clock that was set back does not change the order of its own log."""
    here, there = tmp_path / "here", tmp_path / "there"
    start(here, "here", "2026-11-22")
    for number, day in enumerate(("soon", "2026-11-21", "2026-11-20")):
        start(there, f"there {number}", day)
    merged(here, there)
    assert names(here) == ["here", "there 0", "there 1", "there 2"]


def test_a_merge_skips_a_run_whose_passes_are_being_counted(pair: tuple[Path, Path, str]) -> None:
    """The counter may belong to this program or to another one. The run comes over after the counter is closed."""
    here, there, uid = pair
    go_on(there, uid, "there")
    with Logbook.open(here) as logbook, Logbook.open(here) as another:
        for opened_by in (logbook, another):
            run = ActiveRun.resume(opened_by, uid, StepClock(), "today")
            report = merge(logbook, there)
            assert report.counts == {"skipped": 1} and str(os.getpid()) in report.lines()[1]
            run.note("still counting") if opened_by is another else None
            run.close()
        assert merge(logbook, there).counts == {"two": 1}


def test_a_log_can_be_merged_while_passes_are_being_logged_in_it(tmp_path: Path) -> None:
    """Events that are only in the write-ahead log come over too."""
    with Logbook.open(tmp_path / "there") as logbook:
        run = begin(logbook)
        run.note("just now")
        assert companion(logbook.path, "-wal").stat().st_size
        assert merged(tmp_path / "here", tmp_path / "there").counts == {"new": 1}
        run.note("after it")
    assert list(notes(tmp_path / "here").values()) == [["just now"]]


def state_of(folder: Path) -> dict[str, tuple[int, bytes]]:
    """Return the time of change and the content of each file in a folder."""
    return {path.name: (path.stat().st_mtime_ns, path.read_bytes()) for path in folder.iterdir() if path.is_file()}


def test_a_merge_never_changes_the_log_from_which_runs_are_copied(tmp_path: Path) -> None:
    """The other log and its folder stay the same, byte for byte, after a power cut or on a read-only stick."""
    stick = tmp_path / "stick"
    runs = written(stick)
    stick.chmod(0o555)
    before = state_of(stick)
    assert set(before) == {FILE_NAME, f"{FILE_NAME}-wal"}
    assert merged(tmp_path / "here", stick).counts == {"new": len(runs)}
    assert state_of(stick) == before
    with Logbook.open(tmp_path / "here") as logbook:
        assert {uid: logbook.events(uid) for uid in runs} == runs
    stick.chmod(0o755)


def _cut(path: Path) -> None:
    os.truncate(path, path.stat().st_size // 2)


def _of_text(path: Path) -> None:
    path.write_text("Dear diary,\n" * 40)


def _empty(path: Path) -> None:
    os.truncate(path, 0)


def _newer(path: Path) -> None:
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA user_version = 2")


def _zeroed(path: Path) -> None:
    path.write_bytes(bytes(path.stat().st_size))


def _other_database(path: Path) -> None:
    path.unlink()
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE event (run)")


def _removed(path: Path) -> None:
    path.unlink()


def _pipe(path: Path) -> None:
    path.unlink()
    os.mkfifo(path)


@pytest.mark.parametrize(
    ("harm", "said"),
    [
        (_cut, "is damaged"),
        (_zeroed, "is damaged"),
        (
            _newer,
            "made by a newer version of halfnut (the file has format 2; this version reads formats up to 1). "
            "Nothing was merged.",
        ),
        (_of_text, "is not a logbook. Enter"),
        (_other_database, "is not a logbook. Enter"),
        (_empty, "is empty. Enter"),
        (_pipe, "is a device or a pipe, not a logbook. Enter"),
        (_removed, "no logbook.sqlite3 in the folder"),
    ],
)
def test_merging_an_unusable_log_file_is_refused_with_a_sentence(
    tmp_path: Path, harm: Callable[[Path], None], said: str
) -> None:
    """The sentence names the file itself, never its copy. Both logs stay unchanged."""
    here, there = tmp_path / "here", tmp_path / "there"
    fill(here, runs=1)
    fill(there, runs=2)
    harm(there / FILE_NAME)
    before = notes(here)
    with pytest.raises(LogbookError) as error:
        merged(here, there)
    assert said in error.value.message and str(there) in error.value.message
    assert "halfnut-merge-" not in error.value.message
    assert notes(here) == before


def test_merging_a_log_into_itself_is_refused(pair: tuple[Path, Path, str]) -> None:
    """The log is named by its path, its folder, a link or a second name. Its locks stay unchanged."""
    here = pair[0]
    (here / "link").symlink_to(here / FILE_NAME)
    os.link(here / FILE_NAME, here / "second")
    with Logbook.open(here) as logbook:
        for name in (FILE_NAME, "", "link", "second"):
            with pytest.raises(LogbookError, match="is the log of this computer"):
                merge(logbook, here / name)
        begin(logbook).close()


def test_only_undamaged_runs_of_a_damaged_log_are_merged(tmp_path: Path) -> None:
    """A run with an altered event is skipped whole, so that it never shows an earlier step. The report says so."""
    here, there = tmp_path / "here", tmp_path / "there"
    harmed, *others = fill(there, runs=3)
    with closing(sqlite3.connect(there / FILE_NAME)) as connection:
        connection.execute("UPDATE event SET wall = 'then' WHERE run = ? AND seq = 5", (harmed,))
        connection.execute("DELETE FROM run WHERE uid = ?", (others[0],))
        connection.commit()
    report = merged(here, there)
    assert report.counts == {"new": 1, "skipped": 2}
    assert "event 5" in report.lines()[1] and "list of runs" in report.lines()[2]
    assert set(notes(here)) == {others[1]}


def test_a_merge_skips_a_run_logged_by_a_newer_version(tmp_path: Path) -> None:
    """Its events may have another meaning. The first event's `schema` names their layout."""
    here, there = tmp_path / "here", tmp_path / "there"
    with patch.object(active_run, "SCHEMA", 2):
        fill(there, runs=1)
    report = merged(here, there)
    assert report.counts == {"skipped": 1} and "newer version" in report.lines()[1]


def test_a_merge_skips_a_run_that_cannot_be_replayed(tmp_path: Path) -> None:
    """Each event is undamaged, but one step is done twice."""
    here, there = tmp_path / "here", tmp_path / "there"
    with Logbook.open(there) as logbook:
        run = begin(logbook)
        run.done()
        twice = replace(run.state.last, seq=2)
        logbook.append(run.uid, twice, state_summary(run.state)._replace(last_seq=2))
        run.close()
    report = merged(here, there)
    assert report.counts == {"skipped": 1} and "Step 1" in report.lines()[1]


@pytest.mark.parametrize("recording", RECORDINGS, ids=str)
def test_a_log_from_an_earlier_version_can_be_merged(recording: Recording, tmp_path: Path) -> None:
    """All its runs come over with the facts recorded in this folder, and none comes over twice."""
    facts = recording.facts()["runs"]
    assert merged(tmp_path, recording.file).counts == {"new": len(facts)}
    assert merged(tmp_path, recording.file).counts == {"same": len(facts)}
    recording.copy_to(tmp_path / "before")
    assert facts_of_logbook(tmp_path, recording.jobs) == facts_of_logbook(tmp_path / "before", recording.jobs)
    notes(tmp_path)


def test_merging_a_log_that_changes_while_it_is_copied_is_refused(pair: tuple[Path, Path, str]) -> None:
    """A copy would mix two moments of the log. Nothing is merged."""
    here, there, uid = pair
    go_on(there, uid, "there")

    def written_meanwhile(source: Path, target: Path) -> None:
        target.write_bytes(source.read_bytes())
        os.utime(source, ns=(0, next(times)))

    times = iter(range(1, 1_000_000_000, 1_000_000))
    with (
        patch("shutil.copyfile", written_meanwhile),
        patch.object(other_log, "_PAUSE_S", 0),
        pytest.raises(LogbookError, match="keeps changing"),
    ):
        merged(here, there)
    assert notes(here) == {uid: ["note 0"]}


def test_a_refused_merge_leaves_no_marker_file(pair: tuple[Path, Path, str]) -> None:
    """The sign would make a last event look like part of the merge if the log were damaged later."""
    here, there, _ = pair
    with Logbook.open(here) as logbook:
        with pytest.raises(LogbookError), logbook.merging():
            assert companion(logbook.path, MERGING).exists()
            raise LogbookError("The stick was pulled.")
        assert not companion(logbook.path, MERGING).exists()
        assert merge(logbook, there).counts == {"same": 1}


def test_a_memory_stick_pulled_out_during_a_merge_is_reported_in_a_sentence(pair: tuple[Path, Path, str]) -> None:
    """Reading ends with an error of the disk. Events logged here stay unchanged."""
    here, there, uid = pair
    with (
        patch("shutil.copyfile", side_effect=OSError(errno.EIO, "Input/output error")),
        pytest.raises(LogbookError, match=r"Input/output error\. Nothing was merged\. Check the memory stick"),
    ):
        merged(here, there)
    assert notes(here) == {uid: ["note 0"]}


KILLED = """
import os, signal, sys
from pathlib import Path
from core.logbook import merge
from core.logbook.logbook import Logbook
calls = iter(range(int(sys.argv[3])))
placed = merge._put_after
def killed(*arguments):
    placed(*arguments)
    if next(calls, None) is None:
        os.kill(os.getpid(), signal.SIGKILL)
merge._put_after = killed
merge.merge(Logbook.open(Path(sys.argv[1])), Path(sys.argv[2]))
"""


@pytest.mark.parametrize("complete", [0, 2])
def test_a_merge_interrupted_by_a_kill_is_completed_by_the_next_merge(
    tmp_path: Path, complete: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The program is killed just before its third run is committed. Two runs have come over whole.

    The next merge also removes the copy of the other log that the killed program left in the temporary folder.
    `python -m tests.trials.merges` kills at random moments.
    """
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    here, there = tmp_path / "here", tmp_path / "there"
    fill(here, runs=1, done=2)
    counts = fill(there, runs=4, done=2)
    before = notes(here)
    command = [sys.executable, "-c", KILLED, here, there, str(complete)]
    program = subprocess.run(command, cwd=ROOT, env=os.environ | {"TMPDIR": str(tmp_path)}, check=False)
    assert program.returncode == -signal.SIGKILL
    assert len(list(tmp_path.glob("halfnut-merge-*"))) == 1
    with Logbook.open(here) as logbook:
        assert logbook.notices == () and logbook.verify().problems == ()
        came = [info for info in logbook.runs() if info.uid not in before]
        assert len(came) == complete and all(info.last_seq == counts[info.uid] - 1 for info in came)
        assert merge(logbook, there).counts == Counter(new=4 - complete, same=complete)
    assert set(notes(here)) == {*before, *counts}
    assert list(tmp_path.glob("halfnut-merge-*")) == []


def test_a_merge_does_not_delete_the_temporary_copy_of_another_merge_in_progress(
    pair: tuple[Path, Path, str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another program merges at the same time. Its copy is locked, so it stays until that merge ends."""
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    here, there, _ = pair
    with other_log.other_log(there, here / FILE_NAME):
        assert merged(there, here).counts == {"same": 1}
        (copy,) = tmp_path.glob("halfnut-merge-*")
        assert (copy / FILE_NAME).exists()
    assert not copy.exists()


@pytest.mark.parametrize("continued_there", [False, True])
def test_a_power_cut_during_a_merge_leaves_each_run_either_unchanged_or_fully_merged(
    tmp_path: Path, continued_there: bool
) -> None:
    """Each sector that the commit of a run wrote may be old or new.

    The log is sound, and merging again completes it.
    """
    here, there, rng = tmp_path / "here", tmp_path / "there", random.Random(20261129)
    (uid,) = fill(there, runs=1, done=2)
    if continued_there:
        merged(here, there)
        for number in range(12):
            go_on(there, uid, "x" * 900 + str(number))
    new = notes(there)
    with Logbook.open(here) as logbook:
        begin(logbook).abandon("so that there is a write-ahead log")
        old = notes(here)
        before = {name: (here / name).read_bytes() for name in (FILE_NAME, f"{FILE_NAME}-wal")}
        with patch.object(LogbookFile, "checkpoint"):
            merge(logbook, there)
        folder = Folder()
        for name, content in before.items():
            folder.put({name: File([content, (here / name).read_bytes()])})
        folder.put({f"{FILE_NAME}{MERGING}": File()})
        folder.sync()
    states = 0
    for state in folder.states(rng, 10):
        data = tmp_path / f"state {states}"
        data.mkdir()
        for name, content in state.items():
            (data / name).write_bytes(content)
        with Logbook.open(data) as logbook:
            assert logbook.notices == ()
        found = notes(data)
        assert found == old or found.get(uid) == new[uid]
        assert merged(data, there).counts.total() == 1
        assert notes(data)[uid] == new[uid]
        states += 1
    assert states > 10


# Any history of several machines, compared with a model in plain lists.

Told = tuple[int, str]
"""A run in the model: a number for the machine that started it, and the texts of its notes."""


def merged_in_model(here: list[Told], there: list[Told]) -> list[Told]:
    """Return all runs that either machine holds, without runs that are only the beginning of another run."""
    both = set(here) | set(there)
    return sorted(one for one in both if not any(one != other and is_start(one, other) for other in both))


def is_start(one: Told, other: Told) -> bool:
    """Return whether one run is the beginning of another run."""
    return one[0] == other[0] and other[1].startswith(one[1])


MACHINE = st.integers(0, 2)
DOING = st.one_of(
    st.tuples(st.just("start"), MACHINE),
    st.tuples(st.just("note"), MACHINE, st.integers(0, 9), st.sampled_from("ab")),
    st.tuples(st.just("merge"), MACHINE, MACHINE),
)
FORK = [("start", 0), ("merge", 1, 0), ("note", 0, 0, "a"), ("note", 1, 0, "b"), ("merge", 0, 1)]


@settings(max_examples=8)
@example(history=[*FORK, ("merge", 1, 0), ("merge", 0, 1)])
@example(history=[*FORK, ("merge", 2, 0), ("note", 2, 0, "a"), ("note", 2, 1, "a"), ("merge", 1, 2)])
@given(history=st.lists(DOING, max_size=16))
def test_merges_in_any_order_neither_lose_nor_duplicate_a_run(history: list[tuple[Any, ...]]) -> None:
    """Three machines start and continue runs and merge one another's logs. Clocks, sessions and texts may be alike.

    At the end each machine merges all others in both directions. All have the same runs, and the next merge brings
    nothing.
    """
    model: list[list[Told]] = [[], [], []]
    with TemporaryDirectory() as folder, ExitStack() as opened:
        books = [opened.enter_context(continued(Path(folder) / str(number))) for number in range(3)]
        everywhere = [("merge", here, there) for _ in range(2) for here in range(3) for there in range(3)]
        for number, (what, here, *others) in enumerate([*history, *everywhere]):
            if what == "start":
                begin(books[here], passes=1).close()
                model[here].append((number, ""))
            elif what == "note" and model[here]:
                _note(books[here], model[here], *others)
            elif what == "merge" and others[0] != here:
                merge(books[here], books[others[0]].path)
                model[here] = merged_in_model(model[here], model[others[0]])
            assert sorted(_texts(books[here]).values()) == sorted(texts for _, texts in model[here])
        assert set(merge(books[0], books[1].path).counts) <= {"same"}
        assert all(book.verify().problems == () for book in books)


def _note(book: Logbook, told: list[Told], place: int, text: str) -> None:
    """Add a note to a run, in the log and in the model, unless the log has several runs with the same notes."""
    number, texts = told[place % len(told)]
    if [other for _, other in told].count(texts) > 1:
        return
    told[place % len(told)] = (number, texts + text)
    uid = next(uid for uid, noted in _texts(book).items() if noted == texts)
    run = ActiveRun.resume(book, uid, StepClock(), "first")
    run.note(text)
    run.close()


def _texts(book: Logbook) -> dict[str, str]:
    """Return the notes of each run as one text, by uid."""
    query = "SELECT uid, body FROM run LEFT JOIN event ON run = uid AND event.kind = 'note' ORDER BY uid, seq"
    texts: dict[str, str] = {}
    for uid, body in book.read(lambda connection: connection.execute(query).fetchall()):
        texts[uid] = texts.get(uid, "") + (json.loads(body)["text"] if body else "")
    return texts
