"""A run and its events in words, what a run refuses, and what the program says about the logbook."""

import os
import re
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

from core.events.replay import apply
from core.inputs import Edited, ExtraSpringPass, GaugeTried, Measured, Moved, PickedUp, RunInput
from core.logbook.active_run import ActiveRun
from core.logbook.errors import errors_as_sentences
from core.logbook.logbook import Logbook
from core.logbook.merge import merge
from core.logbook.schema import FILE_NAME, connect
from core.pages.log_export import as_text, clock_remarks
from core.plan import Step
from core.record.lathe_notes import LatheNotes, new_note
from core.values.errors import LogbookError
from tests.core.entered import set_to
from tests.core.events.events_made import done, event, revised, run_of
from tests.core.logbook.run_samples import StepClock, begin, fill
from tests.core.logbook.test_logbook import HARM
from tests.core.pages.test_log_export import an_event
from tests.core.wording.said import Said, refusal, said

CODES = ("FULL", "IOERR", "READONLY", "BUSY", "CANTOPEN", "CORRUPT", "PERM", "NOMEM")
CLOCKS = (
    ("2026-11-25T09:00:00+01:00", 60_000, "s"),
    ("2026-11-27T10:01:00+01:00", 60_000, "s"),
    ("1970-01-01T00:00:10Z", 5, "later"),
    ("soon", 60_000, "s"),
)
REVISED: tuple[RunInput, ...] = (
    Measured(what="mean", size_mm=19.1),
    set_to("0.3"),
    GaugeTried(fit="tight"),
    ExtraSpringPass(),
    Moved(),
    PickedUp(moved="tool"),
    Edited(plan_input={}),
)
_HOLDER = re.compile(r"\d+ on \S+")
_PROCESS = re.compile(r"\(process \d+ on [^)]*\)")
_UID = re.compile(r"[0-9a-f]{32}")


def page() -> Iterator[Said]:
    """Return what is said in each situation."""
    with TemporaryDirectory() as folder:
        yield said("a run", *_of_run(Path(folder)))
    for wall, ms, session in CLOCKS:
        remarks = clock_remarks([an_event(0), an_event(1, wall, ms, session=session)])
        yield said(f"10:00, then {wall} after {ms} ms", *remarks.values())
    yield from _refused()
    for name in CODES:
        yield said(f"SQLITE_{name}", *refusal(_failing, getattr(sqlite3, f"SQLITE_{name}")))
    yield from _logbooks()
    yield from _merged()


def _of_run(folder: Path) -> Iterator[str]:
    """Yield the lines of a run with every kind of event."""
    with Logbook.open(folder) as logbook:
        run = begin(logbook)
        run.done(-0.25, "mm")
        run.done()
        run.undo()
        run.skip([2], "deep enough")
        run.reopen([2])
        for entered in REVISED:
            run.revise(entered, [Step(action="cut", text="Cut again"), Step(action="check", text="Look")])
        run.note("a note")
        run.done()
        run.abandon("@scrapped")
        yield from (
            _UID.sub("UID", line) for line in as_text((info, logbook.events(info.uid)) for info in logbook.runs())
        )


def _refused() -> Iterator[Said]:
    """Yield events that are not possible, with the refusals."""
    yield said("step 3 before step 2", *refusal(run_of, *done(1, 3)))
    yield said("finished with open steps", *refusal(run_of, ("finished", {})))
    yield said(
        "ids given out before", *refusal(run_of, *done(1, 2), revised(8, 2), ("undone", {"seq": 3}), revised(8, 1))
    )
    yield said("a reading that is no number", *refusal(run_of, ("done", {"step": 1, "value": "1/0"})))
    yield said("nothing to undo", *refusal(run_of, ("undone", {"seq": 0})))
    yield said("a step twice", *refusal(run_of, *done(1, 1)))
    yield said("kind that is none", *refusal(run_of, ("eaten", {})))
    state = run_of(*done(1))
    yield said("an event left out", *refusal(apply, state, event(3, "done", {"step": 2})))


def _failing(code: int) -> None:
    error = sqlite3.OperationalError("failed")
    error.sqlite_errorcode = code
    with errors_as_sentences(Path("logbook.sqlite3")):
        raise error


def _logbooks() -> Iterator[Said]:
    """Yield what the program says about damaged and other logbooks."""
    for harm in HARM:
        with TemporaryDirectory() as folder:
            fill(Path(folder), runs=1)
            connection = sqlite3.connect(Path(folder) / FILE_NAME)
            with connection:
                connection.execute(harm)
            connection.close()
            with Logbook.open(Path(folder), read_only=True) as logbook:
                yield _told(harm, folder, *logbook.verify().problems)
    with TemporaryDirectory() as folder:
        with Logbook.open(Path(folder), read_only=True) as logbook:
            yield _told("no logbook, to be read", folder, *logbook.notices)
        with Logbook.open(Path(folder)) as logbook, Logbook.open(Path(folder)) as other:
            run = begin(logbook)
            onlooker = ActiveRun.resume(other, run.uid, StepClock(), "other")
            yield _told(
                "done while another program has the run",
                folder,
                *(_HOLDER.sub("PID on HOST", text) for text in refusal(onlooker.done)),
            )
            yield _told("a backup over a file", folder, *refusal(logbook.backup, Path(folder) / FILE_NAME))
            moved = logbook.path.rename(Path(folder) / "away")
            yield _told("removed while it was open", folder, *refusal(run.done))
            logbook.path.write_bytes(moved.read_bytes())
            yield _told("replaced while it was open", folder, *refusal(run.done))
            moved.replace(logbook.path)
    for name, content in (("a file of another kind", b"Dear diary,\n" * 30), ("three letters", b"SQL")):
        with TemporaryDirectory() as folder:
            (Path(folder) / FILE_NAME).write_bytes(content)
            try:
                with Logbook.open(Path(folder)) as logbook:
                    yield _told(name, folder, *logbook.notices)
            except LogbookError as error:
                yield _told(name, folder, error.message)


def _merged() -> Iterator[Said]:
    """Yield what the program says about another machine's log, and what came over from it."""
    with TemporaryDirectory() as folder:
        here, there = Path(folder) / "here", Path(folder) / "there"
        uids = list(fill(there, runs=3, done=2))
        with Logbook.open(here) as logbook:
            yield _told("merged", folder, *merge(logbook, there).lines())
            for number, uid in enumerate(uids):
                with Logbook.open(there) as other:
                    run = ActiveRun.resume(other, uid, StepClock(), "there")
                    run.done()
                    run.close()
                run = ActiveRun.resume(logbook, uid, StepClock(), "here")
                if number == 0:
                    run.note("here")
                if number != 1:
                    run.close()
            notes = LatheNotes(there)
            for text in ("gib adjusted", "belt changed"):
                notes.add(new_note("Shed lathe", "", "adjustment", "2026-11-26T09:00:00+00:00", text))
            lines = merge(logbook, there).lines()
            yield _told(
                "one as two, one open here, one went on", folder, *(_PROCESS.sub("(PROCESS)", line) for line in lines)
            )
            run.close()
            with connect(there / FILE_NAME, "rw") as connection:
                connection.execute("UPDATE event SET wall = 'then' WHERE run = ? AND seq = 1", (uids[1],))
            notes.delete(notes.read().notes[0])
            yield _told("an event has changed there", folder, *merge(logbook, there).lines())
            (Path(folder) / "diary").write_text("Dear diary")
            for name in ("here", "diary", "nowhere", ".", "there/runs"):
                yield _told(f"merge {name}", folder, *refusal(merge, logbook, Path(folder) / name))
            os.truncate(there / FILE_NAME, 200)
            yield _told("cut short there", folder, *refusal(merge, logbook, there))


def _told(situation: str, folder: str, *sentences: str) -> Said:
    return said(situation, *(_UID.sub("UID", sentence.replace(folder, "FOLDER")) for sentence in sentences))
