"""Notes and adjustments are kept through a kill, a file that was cut off, a spoiled row and a full disk."""

import os
import signal
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.record.lathe_notes import (
    LONGEST_TEXT,
    LatheNotes,
    NotesMerged,
    new_note,
    note_text,
    notes_beside,
    read_when,
)
from core.values.errors import CoreError, LogbookError
from tests.core.logbook.run_samples import ROOT

WHEN = "2026-03-14T09:30:00+00:00"
_WRITER = """
import sys
from pathlib import Path
from core.record.lathe_notes import LatheNotes, new_note
notes = LatheNotes(Path(sys.argv[1]))
for number in range(100_000):
    notes.add(new_note("Shed lathe", "compound", "adjustment", "2026-03-14T09:30:00+00:00", f"gib {number}"))
    print(number, flush=True)
"""


def add(notes: LatheNotes, text: str, dial: str = "") -> None:
    """Add an adjustment."""
    notes.add(new_note("Shed lathe", dial, "adjustment", WHEN, text))


def texts(notes: LatheNotes) -> list[str]:
    """Return the texts of all entries."""
    return [note.text for note in notes.read().notes]


def test_killing_the_program_loses_no_saved_note(tmp_path: Path) -> None:
    """A program that adds entries gets SIGKILL while it writes, five times over."""
    for _ in range(5):
        before = len(texts(LatheNotes(tmp_path)))
        writer = subprocess.Popen(
            [sys.executable, "-c", _WRITER, str(tmp_path)], cwd=ROOT, stdout=subprocess.PIPE, text=True
        )
        assert writer.stdout is not None
        saved = [int(writer.stdout.readline()) for _ in range(20)]
        os.kill(writer.pid, signal.SIGKILL)
        saved += [int(line) for line in writer.stdout.read().splitlines() if line.isdecimal()]
        writer.wait()
        writer.stdout.close()
        kept = texts(LatheNotes(tmp_path))[before:]
        assert kept[: len(saved)] == [f"gib {number}" for number in saved]
        assert len(kept) <= len(saved) + 1
        assert LatheNotes(tmp_path).read().problem == ""


def test_a_notes_file_truncated_at_any_byte_keeps_its_complete_rows(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The file is cut at every length, as after a power cut, and one more entry is added. Nothing is synced here."""
    monkeypatch.setattr("os.fsync", lambda handle: None)
    notes = LatheNotes(tmp_path)
    add(notes, "one")
    first = len(notes.path.read_bytes())
    add(notes, "two")
    whole = notes.path.read_bytes()
    for length in range(len(whole) + 1):
        notes.path.write_bytes(whole[:length])
        # The line break at the end of a row is not part of the row.
        kept = ["one"] * (length >= first - 1) + ["two"] * (length >= len(whole) - 1)
        assert texts(notes) == kept
        add(notes, "three")
        assert texts(notes) == [*kept, "three"]


def test_a_damaged_row_of_the_notes_file_is_reported(tmp_path: Path) -> None:
    """After one changed byte that entry is gone, the others stay, and nothing is rewritten."""
    notes = LatheNotes(tmp_path)
    for text in ("one", "two", "three"):
        add(notes, text)
    spoiled = notes.path.read_bytes().replace(b'"two"', b'"twa"')
    notes.path.write_bytes(spoiled)
    read = notes.read()
    assert [note.text for note in read.notes] == ["one", "three"] and "1 line" in read.problem
    add(notes, "four")
    assert notes.path.read_bytes().startswith(spoiled)


def test_a_deleted_note_is_no_longer_listed(tmp_path: Path) -> None:
    """The entry stays deleted after another one is added."""
    notes = LatheNotes(tmp_path)
    add(notes, "one")
    add(notes, "two")
    notes.delete(notes.read().notes[0])
    add(notes, "three")
    assert texts(notes) == ["two", "three"]


def test_a_backup_of_the_log_includes_the_notes_on_lathes(tmp_path: Path) -> None:
    """Under the usual file name the copy is read like the original. Without notes no copy is written."""
    (tmp_path / "copy").mkdir()
    notes = LatheNotes(tmp_path)
    assert notes.back_up(tmp_path / "copy" / "log.sqlite3") is None
    add(notes, "one")
    copy = notes.back_up(tmp_path / "copy" / "log.sqlite3")
    assert copy is not None
    copy.rename(copy.with_name(notes.path.name))
    assert LatheNotes(tmp_path / "copy").read() == notes.read()


def test_a_row_of_the_notes_file_from_a_newer_version_is_kept(tmp_path: Path) -> None:
    """The row is undamaged, so nothing is reported."""
    import zlib

    notes = LatheNotes(tmp_path)
    text = b'{"uid":"x","moon":"full"}'
    notes.path.write_bytes(b"%08x %s\n" % (zlib.crc32(text), text))
    add(notes, "one")
    assert texts(notes) == ["one"] and notes.read().problem == "" and text in notes.path.read_bytes()


def test_a_note_that_cannot_be_written_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The disk takes only a part of the row, its sync fails, or the file is a link."""
    notes = LatheNotes(tmp_path)
    add(notes, "one")
    with monkeypatch.context() as patched:
        patched.setattr("os.write", lambda handle, line: 3)
        with pytest.raises(LogbookError, match="Not saved"):
            add(notes, "two")
    with monkeypatch.context() as patched:
        patched.setattr("os.fsync", lambda handle: (_ for _ in ()).throw(OSError(5, "Input/output error")))
        with pytest.raises(LogbookError, match="Not saved"):
            add(notes, "three")
    notes.path.rename(tmp_path / "elsewhere")
    notes.path.symlink_to(tmp_path / "elsewhere")
    with pytest.raises(LogbookError, match="Not saved"):
        add(notes, "four")


@pytest.mark.parametrize(
    "typed", ["2026-13-01", "yesterday", "", "14.3.2026", "2026-03-15", "2026-03-14 25:00", "2026-W11-6"]
)
def test_an_invalid_date_of_a_note_is_refused_with_an_example(typed: str) -> None:
    """Each text is no date, a date in another form, or a date after 14 March 2026, half past nine."""
    with pytest.raises(CoreError, match="2026-03-14 09:30"):
        read_when(typed, WHEN)


def test_a_note_with_a_date_but_no_time_applies_from_midnight() -> None:
    """A date with a time counts from that minute."""
    assert read_when("2026-03-14", WHEN) == "2026-03-14T00:00:00+00:00"
    assert read_when(" 2026-03-14 08:15 ", WHEN) == "2026-03-14T08:15:00+00:00"


def test_a_note_without_text_or_with_too_much_text_is_refused() -> None:
    """The text must fit one row on the screen. Control characters are removed."""
    for typed in ("", "  ", "x" * (LONGEST_TEXT + 1)):
        with pytest.raises(CoreError):
            note_text(typed)
    assert "\x1b" not in note_text("gib\x1b[2J")


def two_machines(folder: Path) -> tuple[LatheNotes, LatheNotes]:
    """Return the notes of two machines, each in a folder of its own."""
    (folder / "here").mkdir()
    (folder / "there").mkdir()
    return LatheNotes(folder / "here"), LatheNotes(folder / "there")


def test_repeated_merges_add_each_note_exactly_once(tmp_path: Path) -> None:
    """Merging a second time, or back into the other machine, changes nothing more."""
    here, there = two_machines(tmp_path)
    add(here, "one")
    for text in ("two", "three"):
        add(there, text)
    assert here.merge(there.path) == NotesMerged(new=2)
    assert texts(here) == ["one", "two", "three"]
    assert here.merge(there.path) == NotesMerged()
    assert there.merge(here.path) == NotesMerged(new=1)
    assert set(there.read().notes) == set(here.read().notes)


def test_a_note_deleted_on_either_machine_is_deleted_after_a_merge(tmp_path: Path) -> None:
    """The two machines shared two notes, and each machine deleted one of them."""
    here, there = two_machines(tmp_path)
    for text in ("one", "two"):
        add(here, text)
    there.merge(here.path)
    here.delete(here.read().notes[0])
    there.delete(there.read().notes[1])
    assert here.merge(there.path) == NotesMerged(deleted=1)
    assert there.merge(here.path) == NotesMerged(deleted=1)
    assert texts(here) == texts(there) == []


def test_a_power_cut_during_a_merge_of_notes_loses_no_note(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The merged file is cut off at every length. A second merge then gives the whole result again."""
    monkeypatch.setattr("os.fsync", lambda handle: None)
    here, there = two_machines(tmp_path)
    add(here, "one")
    for text in ("two", "deleted", "three"):
        add(there, text)
    there.delete(there.read().notes[1])
    before = len(here.path.read_bytes())
    here.merge(there.path)
    whole = here.path.read_bytes()
    for length in range(before, len(whole) + 1):
        here.path.write_bytes(whole[:length])
        shown = texts(here)
        assert shown[0] == "one" and "deleted" not in shown
        here.merge(there.path)
        assert texts(here) == ["one", "two", "three"]


def test_a_merge_of_notes_copies_rows_from_a_newer_version_but_no_damaged_rows(tmp_path: Path) -> None:
    """The row with an unknown field comes over byte for byte. The row with a wrong checksum is reported."""
    import zlib

    here, there = two_machines(tmp_path)
    text = b'{"uid":"x","moon":"full"}'
    newer = b"%08x %s" % (zlib.crc32(text), text)
    there.path.write_bytes(newer + b"\n00000000 {}\n")
    assert "1 line" in here.merge(there.path).problem
    assert newer in here.path.read_bytes() and b"00000000" not in here.path.read_bytes()


def test_a_merge_that_would_make_the_notes_file_too_large_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A larger file could not be read any more, so the notes here stay unchanged."""
    here, there = two_machines(tmp_path)
    add(here, "one")
    add(there, "two")
    monkeypatch.setattr("core.record.lathe_notes._LARGEST_FILE", len(here.path.read_bytes()) + 10)
    with pytest.raises(LogbookError, match="would be larger"):
        here.merge(there.path)
    assert texts(here) == ["one"]


def test_merging_a_backup_uses_the_notes_of_that_backup_before_others_in_its_folder(tmp_path: Path) -> None:
    """A stick may hold the backups of several machines, each with its own notes."""
    here, there = two_machines(tmp_path)
    add(there, "one")
    log = tmp_path / "here" / "log.sqlite3"
    assert notes_beside(log) == here.path
    assert there.back_up(log) == notes_beside(log)


@given(st.lists(st.tuples(st.integers(0, 2), st.sampled_from("adm"), st.integers(0, 7)), max_size=25))
@settings(max_examples=40, deadline=None)
def test_merging_notes_in_any_order_gives_all_notes_except_the_deleted_ones(doings: list[tuple[int, str, int]]) -> None:
    """Three machines add, delete and merge at random. Python's own sets say which notes must be left."""
    with TemporaryDirectory() as folder, pytest.MonkeyPatch.context() as patched:
        patched.setattr("os.fsync", lambda handle: None)
        machines = []
        for name in "abc":
            (Path(folder) / name).mkdir()
            machines.append(LatheNotes(Path(folder) / name))
        added: list[set[str]] = [set(), set(), set()]
        deleted: list[set[str]] = [set(), set(), set()]
        merge_all = [(one, "m", other) for one in range(3) for other in range(3)]
        for machine, doing, number in [*doings, *merge_all, *merge_all]:
            notes = machines[machine].read().notes
            if doing == "a":
                note = new_note("Shed lathe", "", "note", WHEN, f"note {number}")
                machines[machine].add(note)
                added[machine].add(note.uid)
            elif doing == "d" and notes:
                note = notes[number % len(notes)]
                machines[machine].delete(note)
                deleted[machine].add(note.uid)
            elif doing == "m":
                machines[machine].merge(machines[number % 3].path)
                added[machine] |= added[number % 3]
                deleted[machine] |= deleted[number % 3]
            assert {note.uid for note in machines[machine].read().notes} == added[machine] - deleted[machine]
        assert len({frozenset(notes.read().notes) for notes in machines}) == 1
