"""Notes and adjustments are kept: through a kill, a file that was cut off, a line that was spoiled, a full disk."""

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from core.record.lathe_notes import LONGEST_TEXT, LatheNotes, new_note, note_text, read_when
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


def test_what_was_called_saved_is_there_after_a_kill(tmp_path: Path) -> None:
    """A program that adds entries gets SIGKILL in the middle of it, five times over."""
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


def test_a_file_cut_off_anywhere_keeps_whole_lines_and_takes_more(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As a power cut leaves it: cut at every length, then one more entry is added. Nothing is synced here."""
    monkeypatch.setattr("os.fsync", lambda handle: None)
    notes = LatheNotes(tmp_path)
    add(notes, "one")
    first = len(notes.path.read_bytes())
    add(notes, "two")
    whole = notes.path.read_bytes()
    for length in range(len(whole) + 1):
        notes.path.write_bytes(whole[:length])
        # The line break at the end of a line is not part of it.
        kept = ["one"] * (length >= first - 1) + ["two"] * (length >= len(whole) - 1)
        assert texts(notes) == kept
        add(notes, "three")
        assert texts(notes) == [*kept, "three"]


def test_a_spoiled_line_is_reported_and_left_as_it_is(tmp_path: Path) -> None:
    """One changed byte: that entry is gone, the others stay, and nothing is rewritten."""
    notes = LatheNotes(tmp_path)
    for text in ("one", "two", "three"):
        add(notes, text)
    spoiled = notes.path.read_bytes().replace(b'"two"', b'"twa"')
    notes.path.write_bytes(spoiled)
    read = notes.read()
    assert [note.text for note in read.notes] == ["one", "three"] and "1 line" in read.problem
    add(notes, "four")
    assert notes.path.read_bytes().startswith(spoiled)


def test_a_deleted_entry_is_gone(tmp_path: Path) -> None:
    """Also after more was added."""
    notes = LatheNotes(tmp_path)
    add(notes, "one")
    add(notes, "two")
    notes.delete(notes.read().notes[0])
    add(notes, "three")
    assert texts(notes) == ["two", "three"]


def test_a_copy_of_the_log_has_the_notes_beside_it(tmp_path: Path) -> None:
    """Put back under their own name they are read like before; without notes nothing is written."""
    (tmp_path / "copy").mkdir()
    notes = LatheNotes(tmp_path)
    assert notes.back_up(tmp_path / "copy" / "log.sqlite3") is None
    add(notes, "one")
    copy = notes.back_up(tmp_path / "copy" / "log.sqlite3")
    assert copy is not None
    copy.rename(copy.with_name(notes.path.name))
    assert LatheNotes(tmp_path / "copy").read() == notes.read()


def test_a_line_of_a_newer_program_is_not_read_and_not_lost(tmp_path: Path) -> None:
    """It is sound, so that nothing is reported."""
    import zlib

    notes = LatheNotes(tmp_path)
    text = b'{"uid":"x","moon":"full"}'
    notes.path.write_bytes(b"%08x %s\n" % (zlib.crc32(text), text))
    add(notes, "one")
    assert texts(notes) == ["one"] and notes.read().problem == "" and text in notes.path.read_bytes()


def test_what_cannot_be_written_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A disk that takes only a part of the line, one whose sync fails, a link in the place of the file."""
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
def test_a_wrong_date_is_refused_with_an_example(typed: str) -> None:
    """Not a date, in another form, or to come: it is 14 March 2026, half past nine."""
    with pytest.raises(CoreError, match="2026-03-14 09:30"):
        read_when(typed, WHEN)


def test_a_date_counts_from_its_first_minute() -> None:
    """With time, from that minute."""
    assert read_when("2026-03-14", WHEN) == "2026-03-14T00:00:00+00:00"
    assert read_when(" 2026-03-14 08:15 ", WHEN) == "2026-03-14T08:15:00+00:00"


def test_an_empty_or_endless_text_is_refused() -> None:
    """What is shown in one line must fit there; control characters are dropped."""
    for typed in ("", "  ", "x" * (LONGEST_TEXT + 1)):
        with pytest.raises(CoreError):
            note_text(typed)
    assert "\x1b" not in note_text("gib\x1b[2J")
