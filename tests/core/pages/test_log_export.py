"""The log as text, CSV and JSON has every event, and nothing that a terminal or a spreadsheet would run."""

import csv
import io
import json
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.events.event import Event, run_time_ms
from core.events.state import Origin, RunSummary
from core.inputs import Measured
from core.logbook.logbook import Logbook
from core.pages.log_export import COLUMNS, LoggedRun, as_csv, as_json, as_text, clock_remarks
from core.plan import Step
from tests.core.figures import figures
from tests.core.logbook.run_samples import JOB, begin

HOSTILE = [
    "=cmd|' /C calc'!A0",
    "+1+1",
    "-2+3",
    "@SUM(A1)",
    "\t=1",
    "\r=1",
    " =1",
    '=HYPERLINK("http://x")',
    "\x1b]52;c;eA==\x07",
    "\x1b[2J",
    "\u202egnp",
    "[bold]x[/bold]",
    'a "quoted", one\nand two lines',
    "\ud800",
    "\x00",
    "x" * 10_000,
]
EXPORTS = (as_text, as_csv, as_json)


@pytest.fixture
def logged(tmp_path: Path) -> list[LoggedRun]:
    """Return two runs with every kind of event. One run has names and notes of a stranger."""
    with Logbook.open(tmp_path) as logbook:
        run = begin(logbook)
        run.done(-0.25, "mm")
        run.done()
        run.undo()
        run.skip([2], "deep enough")
        run.reopen([2])
        run.revise(Measured(what="mean", size_mm=19.1), [Step(action="cut", text="Cut anew")])
        run.done()
        run.finish()
        other = begin(logbook, origin=Origin(job_path="=1", job_title="\x1b[2J", op_name="-1-1"))
        for text in HOSTILE:
            other.note(text)
        other.abandon("@scrapped")
        return [(info, logbook.events(info.uid)) for info in logbook.runs()]


def table(lines: Iterable[str]) -> list[dict[str, str]]:
    """Return the rows of a CSV table as Python's own reader gives them."""
    return list(csv.DictReader(io.StringIO("\n".join(lines), newline="")))


def test_every_logged_event_is_in_every_format_of_the_export(logged: list[LoggedRun]) -> None:
    """CSV and JSON also hold the whole body of every event."""
    rows = table(as_csv(logged))
    runs = json.loads("\n".join(as_json(logged)))
    written = [(info.uid, event) for info, events in logged for event in events]
    assert [(row["run"], int(row["seq"]), row["kind"]) for row in rows] == [
        (uid, event.seq, event.kind) for uid, event in written
    ]
    assert [json.loads(row["body"]) for row in rows] == [event.body for _, event in written]
    assert [event for run in runs for event in run["events"]] == [event.as_data() for _, event in written]
    lines = list(as_text(logged))
    assert len(lines) == len(written) + len(logged)


def test_each_row_of_the_text_export_names_the_action_that_was_logged(logged: list[LoggedRun]) -> None:
    """Each row has the step's number and text, the reading, and a remark if the event was undone."""
    text = "\n".join(as_text(logged))
    lines = text.splitlines()
    lines = lines[next(number for number, line in enumerate(lines) if JOB.op_name in line) :]
    assert JOB.job_path in lines[0]
    touched, cut, taken_back, left_out = lines[2:6]
    assert "Touch off" in touched and "-0.25" in touched and {"1", "7"} <= figures(touched)
    assert "Cut 1" in cut and {"2", "7"} <= figures(cut)
    assert "Cut 1" in taken_back
    assert "Cut 1" in left_out and "deep enough" in left_out
    assert any("Cut anew" in line for line in lines)


@pytest.mark.parametrize("export", EXPORTS)
def test_no_format_of_the_export_contains_control_characters(
    logged: list[LoggedRun], export: Callable[[Iterable[LoggedRun]], Iterator[str]]
) -> None:
    """The text has no control character, direction mark or line end inside a row, and can be encoded."""
    for line in export(logged):
        assert line.isprintable()
        line.encode()


def test_no_cell_of_the_csv_export_is_a_formula(logged: list[LoggedRun]) -> None:
    """No cell starts like a formula, except plain numbers."""
    for row in table(as_csv(logged)):
        for cell in row.values():
            if cell.lstrip().startswith(("=", "+", "-", "@")):
                float(cell)
    assert "'=1" in {row["job_path"] for row in table(as_csv(logged))}
    assert "-0.25" in {row["value"] for row in table(as_csv(logged))}


@settings(max_examples=100, deadline=None)
@given(text=st.text() | st.from_regex(r"[=+\-@\t\r ]{1,3}.*"))
def test_a_note_with_any_text_is_exported_to_csv_without_formulas(text: str) -> None:
    """Any note is exported without formulas."""
    event = an_event(1, kind="note", body={"text": text})
    (row,) = table(as_csv([(AN_INFO, [event])]))
    assert json.loads(row["body"])["text"] == text
    if row["words"].lstrip().startswith(("=", "+", "-", "@")):
        float(row["words"])


def test_the_export_of_a_log_without_runs_is_valid() -> None:
    """Without runs there are a CSV heading, an empty JSON list, and no text."""
    assert list(as_text([])) == []
    assert list(as_csv([])) == [",".join(COLUMNS)]
    assert json.loads("\n".join(as_json([]))) == []


# The clock.

AN_INFO = RunSummary(
    number=1,
    uid="0" * 32,
    origin=None,
    kind="cut",
    digest="",
    begun="",
    status="running",
    last_seq=1,
    steps_done=0,
    steps_open=1,
)


def an_event(seq: int, wall: str = "2026-11-25T10:00:00+01:00", ms: int = 0, **more: Any) -> Event:
    fields: dict[str, Any] = {"kind": "note", "body": {"text": "x"}, "session": "s"}
    return Event(seq=seq, wall=wall, monotonic_ms=ms, **(fields | more))


@pytest.mark.parametrize(
    ("wall", "ms", "session", "remark"),
    [
        ("2026-11-25T10:01:00+01:00", 60_000, "s", ""),
        ("2026-11-25T10:01:03+01:00", 60_000, "s", ""),
        # Summer time and another time zone: the moment is the same.
        ("2026-11-25T11:01:00+02:00", 60_000, "s", ""),
        ("2026-11-25T09:01:00Z", 60_000, "s", ""),
        ("2026-11-25T09:00:00+01:00", 60_000, "s", "1 h 1 min"),
        ("2026-11-27T10:01:00+01:00", 60_000, "s", "2 d"),
        ("2026-11-25T10:01:00+01:00", 5, "later", ""),
        ("2026-11-26T10:00:00+01:00", 5, "later", ""),
        ("1970-01-01T00:00:10Z", 5, "later", "went back"),
        ("2026-11-25T10:01:00", 60_000, "s", "compared"),
        ("soon", 60_000, "s", "compared"),
    ],
)
def test_an_event_logged_with_a_wrong_clock_is_exported_with_a_remark(
    wall: str, ms: int, session: str, remark: str
) -> None:
    """Every export has a remark at the event with the wrong clock."""
    events = [an_event(0), an_event(1, wall, ms, session=session)]
    found = clock_remarks(events)
    assert set(found) == ({1} if remark else set())
    assert remark in found.get(1, "")
    assert ("the clock" in "\n".join(as_text([(AN_INFO, events)]))) == bool(remark)
    assert remark in table(as_csv([(AN_INFO, events)]))[1]["clock"]
    (run,) = json.loads("\n".join(as_json([(AN_INFO, events)])))
    assert remark in run["events"][1].get("clock", "")


def test_a_wrong_clock_changes_neither_the_order_nor_the_duration_of_a_run(tmp_path: Path) -> None:
    """Neither changes if that clock runs backwards."""
    with Logbook.open(tmp_path) as logbook:
        run = begin(logbook)
        for _ in range(3):
            run.done()
        before = logbook.events(run.uid)
    backwards = [replace(event, wall=f"2026-11-25T0{9 - event.seq}:00:00Z") for event in before]
    assert run_time_ms(backwards) == run_time_ms(before) > 0
    lines = list(as_text([(AN_INFO, backwards)]))
    assert [line.split()[0] for line in lines if not line.startswith(("run", "         the"))] == list("0123")
    assert len(clock_remarks(backwards)) == 3
