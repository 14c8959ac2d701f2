"""Runs that earlier versions logged are summed up and observed like new runs."""

import shutil
from pathlib import Path

import pytest

from core.logbook.logbook import Logbook
from core.pages.closing_page import closing_data, closing_report
from core.pages.report import report_html, report_text
from core.record.closing import closing_summary
from core.record.observations import observe

RECORDINGS = sorted((Path(__file__).parents[2] / "old_logs").rglob("logbook.sqlite3"))


@pytest.mark.parametrize("recording", RECORDINGS, ids=lambda path: path.parent.name)
def test_every_run_logged_by_an_earlier_version_gets_a_summary(recording: Path, tmp_path: Path) -> None:
    """The summary has each measurement that was not undone, counted from the logged events, and each note."""
    shutil.copy(recording, tmp_path)
    measured = 0
    with Logbook.open(tmp_path) as book:
        for run in book.runs(limit=500):
            events = book.events(run.uid)
            undone = {event.body["seq"] for event in events if event.kind == "undone"}
            entered = [
                event
                for event in events
                if event.kind == "revised"
                and event.seq not in undone
                and event.body["cause"] in {"measured", "fit"}
                and "again" not in event.body["given"]
            ]
            data = closing_data(run, closing_summary(events))
            results = [result for result in data["measured"] if "answered" not in result["values"]]
            assert len(results) == len(entered)
            assert [note["text"] for note in data["notes"]] == [e.body["text"] for e in events if e.kind == "note"]
            report = closing_report(run, closing_summary(events))
            assert len(report_text(report)) > 100 and "<html" in report_html(report)
            seen = observe(events)
            assert len(seen.differences) <= len(entered)
            measured += len(seen.differences)
    assert measured or recording.parent.name == "runout"
