"""The closing summary: its entries, the limits by which they are judged, the passes and the time."""

from pathlib import Path
from typing import Any

import pytest

from core.events.replay import replay
from core.inputs import Measured
from core.logbook.active_run import ActiveRun
from core.logbook.logbook import Logbook
from core.pages.closing_page import closing_data, closing_report
from core.pages.report import report_text
from core.record.closing import ClosingSummary, closing_summary
from tests.core.operations.drilling.holes_made import blind, drill_lathe
from tests.core.record.simulated_lathe import Hands, begin, described, enter, logbook_in

TURN: dict[str, object] = {"kind": "turn", "name": "Foot", "from": "24 mm", "cut": "0.5 mm", "finish": "0.1 mm"}


def run_to_its_end(book: Logbook, hands: Hands, sizes_mm: list[float], **more: object) -> ActiveRun:
    """Turn a diameter with these measurements at 20 s a step. A remaining measurement is entered at the end."""
    lathe, left = described(), list(sizes_mm)
    run = begin(book, lathe, {**TURN, **more}, hands)
    while (step := run.state.cursor) is not None:
        if left and step.action == "measure":
            enter(run, lathe, Measured(what="size", size_mm=left.pop(0)))
            continue
        hands.ms += 20_000
        run.done()
    for size_mm in left:
        enter(run, lathe, Measured(what="size", size_mm=size_mm))
    while run.state.cursor is not None:
        run.done()
    return run


def summed_up(book: Logbook, run: ActiveRun) -> tuple[ClosingSummary, dict[str, Any], str]:
    """Return the summary of a run, as JSON holds it and as text."""
    info, summary = book.run(run.uid), closing_summary(book.events(run.uid))
    assert info is not None
    return summary, closing_data(info, summary), report_text(closing_report(info, summary))


@pytest.mark.parametrize(
    ("sizes_mm", "words"),
    [
        ([22.41, 22.2, 21.995], "inside the limits"),
        ([22.41, 22.2, 22.09, 22.0], "inside the limits"),
        ([22.41, 22.2, 21.97], "0.009 mm smaller than the limits"),
    ],
)
def test_the_last_measurement_of_a_run_is_compared_with_the_limits_of_size(
    tmp_path: Path, sizes_mm: list[float], words: str
) -> None:
    """22 h7 is 21.979 to 22.000 mm (ISO 286-2: h7 from 18 to 30 mm is 0/-21 um)."""
    with logbook_in(tmp_path) as book:
        run = run_to_its_end(book, Hands(), sizes_mm, to="22 h7")
        _, data, text = summed_up(book, run)
        run.close()
    assert words in text
    assert [round(data["measured"][-1][key], 3) for key in ("wanted_min_mm", "wanted_max_mm")] == [21.979, 22.0]
    assert "wanted_min_mm" not in data["measured"][0]


def test_a_measurement_before_the_last_pass_is_not_compared_with_the_limits_of_size(tmp_path: Path) -> None:
    """A pass was cut after the measurement, so the size says nothing about the finished part.

    The summary states this.
    """
    with logbook_in(tmp_path) as book:
        run = run_to_its_end(book, Hands(), [22.41], to="22 mm")
        summary, data, text = summed_up(book, run)
        run.close()
    assert not summary.measured_last and data["measured_after_last_pass"] is False
    assert "after the last pass" in text and "larger than" not in text


def test_the_summary_of_a_run_gives_the_logged_passes_time_and_notes(tmp_path: Path) -> None:
    """The expected numbers are counted from the events: done cuts, one skipped, one undone and done again."""
    hands = Hands()
    with logbook_in(tmp_path) as book:
        run = begin(book, described(), {**TURN, "to": "22 mm"}, hands)
        hands.ms += 5_000
        run.done()
        hands.ms += 30_000
        run.done()
        run.undo()
        hands.ms += 40_000
        run.done()
        run.note("chatter at the [shoulder]")
        step = run.state.cursor
        assert step is not None
        run.skip([step.id], "not needed")
        hands.ms += 25_000
        run.finish(early=True)
        events = book.events(run.uid)
        summary, data, text = summed_up(book, run)
        run.close()
    state = replay(events)
    done_ids = {event.body["step"] for event in events if event.kind == "done"}
    cuts = [step for step in state.plan.steps if step.id in done_ids and step.action == "cut"]
    assert (data["passes"], data["steps_skipped"], data["entries_undone"]) == (len(cuts), 1, 1)
    assert data["time_s"] == 100 and data["status"] == "finished"
    assert data["notes"] == [{"wall": events[5].wall, "text": "chatter at the [shoulder]"}] and "[shoulder]" in text
    # The undone pass is not timed. The pass after it follows no step that counts.
    assert summary.usual_pass_s is None


def test_the_summary_of_a_run_without_measurements_says_that_nothing_was_measured(tmp_path: Path) -> None:
    """The summary holds no size."""
    with logbook_in(tmp_path) as book:
        run = run_to_its_end(book, Hands(), [], to="22 mm")
        _, data, text = summed_up(book, run)
        run.close()
    assert data["measured"] == [] and "No measurement was entered." in text


SHAFT: dict[str, object] = {
    "kind": "shoulders",
    "name": "Arbor",
    "from": "40 mm",
    "cut": "2 mm",
    "shoulders": [["36 mm", "40 mm"], ["30 g6", "22 mm"]],
}


def test_each_measured_shoulder_is_compared_with_its_own_limits_of_size(tmp_path: Path) -> None:
    """30 g6 is 29.980 to 29.993 mm (ISO 286-2: g6 from 18 to 30 mm is -7/-20 um).

    A pass on the second shoulder does not change the first.
    """
    lathe = described()
    with logbook_in(tmp_path) as book:
        run = begin(book, lathe, SHAFT, Hands())
        while (step := run.state.cursor) is not None and not step.title.startswith("Rough 30"):
            run.done()
        enter(run, lathe, Measured(what="size", size_mm=36.1))
        while run.state.cursor is not None:
            run.done()
        enter(run, lathe, Measured(what="size", size_mm=29.99))
        _, data, text = summed_up(book, run)
        run.close()
    assert "0.1 mm larger than wanted" in text
    assert "inside the limits" in text
    assert [round(data["measured"][-1][key], 3) for key in ("wanted_min_mm", "wanted_max_mm")] == [29.98, 29.993]
    assert [one["ends_at_mm"] for one in data["wanted"]["shoulders"]] == [40, 22]
    wanted = text.partition("Wanted")[2].partition("Measured")[0]
    assert "36 mm" in wanted and "22 mm" in wanted


def test_the_summary_compares_the_depth_of_a_hole_with_the_wanted_depth(tmp_path: Path) -> None:
    """The hole is 0.4 mm short of 25 mm at the end. A depth between two pecks gets no verdict."""
    lathe = drill_lathe()
    table = {"kind": "drill", "name": "Hole", **blind("25 mm", peck="5 mm")}
    with logbook_in(tmp_path) as book:
        run = begin(book, lathe, table, Hands())
        while (step := run.state.cursor) is not None and step.action != "measure":
            run.done()
            if step.action == "cut" and step.depth_mm and 10 < step.depth_mm < 15:
                enter(run, lathe, Measured(what="hole depth", size_mm=step.depth_mm - 4))
        enter(run, lathe, Measured(what="hole depth", size_mm=24.6))
        _, data, text = summed_up(book, run)
        run.close()
    assert len(data["measured"]) > 1
    assert ["wanted_min_mm" in one for one in data["measured"]] == [False] * (len(data["measured"]) - 1) + [True]
    assert "0.4 mm smaller than wanted" in text
    assert data["wanted"]["drill_mm"] == 12 and "12 mm" in text.partition("Wanted")[2].partition("Measured")[0]


def test_the_summary_of_a_run_contains_a_long_note_completely(tmp_path: Path) -> None:
    """The note has 80 words of 8 letters."""
    with logbook_in(tmp_path) as book:
        run = begin(book, described(), {**TURN, "to": "22 mm"}, Hands())
        run.note(" ".join(f"word{number:04}" for number in range(80)))
        _, _, text = summed_up(book, run)
        run.close()
    assert text.count("word") == 80
