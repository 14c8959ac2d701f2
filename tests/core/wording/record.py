"""What the record of a lathe and the summary of a run say, and what notes on a lathe refuse."""

from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from core.pages.closing_page import closing_report
from core.pages.record_page import record_report
from core.pages.report import report_text
from core.record.closing import closing_summary
from core.record.lathe_notes import new_note, note_text, read_when
from core.record.lathe_record import lathe_record
from core.record.observations import observe
from tests.core.record.simulated_lathe import ShedLathe, described, logbook_in
from tests.core.record.test_advice import measurements
from tests.core.record.test_advice import said as advised
from tests.core.wording.said import Said, refusal, said

_NOW = "2026-03-14T09:30:00+00:00"


def page() -> Iterator[Said]:
    """Return what is said in each situation."""
    for ratio in (2.0, 0.5, 1.016, 1 / 1.016, 1.05):
        yield said(f"travel {ratio:.3f} of the dial", advised(measurements(np.random.default_rng(1), 30, ratio=ratio)))
    yield said("a drift", advised(measurements(np.random.default_rng(1), 24, drift_mm=0.03)))
    for typed in ("yesterday", "2027-01-01"):
        yield said(f"date {typed}", *refusal(read_when, typed, _NOW))
    yield said("no text", *refusal(note_text, ""))
    with TemporaryDirectory() as folder, logbook_in(Path(folder)) as book:
        machine = ShedLathe(book, described(), np.random.default_rng(2), spring_mm=0.006)
        for number in range(3):
            machine.turn(30, 27 - number, springs=number % 2)
        run = book.runs()[0]
        notes = [
            new_note("Shed lathe", "cross_slide", "adjustment", "2026-01-05T09:08:00+00:00", "gib adjusted"),
            new_note("Shed lathe", "", "note", "2026-01-05T00:00:00+00:00", "new belt"),
        ]
        record = lathe_record(machine.lathe, [observe(book.events(one.uid)) for one in reversed(book.runs())], notes)
        yield said("a record", *report_text(record_report(record)).splitlines())
        yield said("a record without a run", *report_text(record_report(lathe_record(machine.lathe, []))).splitlines())
        summary = closing_summary(book.events(run.uid))
        yield said("a summary", *report_text(closing_report(run, summary)).splitlines())
