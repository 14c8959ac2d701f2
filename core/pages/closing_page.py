"""The closing summary of a run in words, for the screen, for printing and for a file."""

from collections.abc import Iterator
from typing import Any

from core.events.state import RunSummary
from core.operations.registry import kind_of
from core.pages.figure_words import lines_for
from core.pages.report import Report, ReportPart
from core.record.closing import ClosingSummary, PassCount, Result
from core.run.counter_view import hours_and_minutes
from core.run.event_words import run_names, status_words, wall_parts
from core.values.plain_text import sentence
from core.values.quantities import mm_text, number_text

SUMMARY_FORMAT = 1
_SAME_MM = 0.0005
"""The largest difference from a wanted size without limits that still counts as the wanted size [mm]."""
_EXACTLY_MM = 1e-9
"""The largest error of floating-point arithmetic [mm]. A smaller difference counts as no difference."""
_EXAMPLE = "This run used the example lathe, not yours."


def closing_report(info: RunSummary, summary: ClosingSummary) -> Report:
    """Return the closing summary of a run as a report. `info`: the run's entry in the list of runs."""
    name, job = run_names(info)
    state, lathe = summary.state, summary.lathe
    head = [("Job", job)] if job else []
    head += [("Lathe", state.plan_input.lathe_name)]
    head += [("Material", state.plan_input.material)] if state.plan_input.material else []
    head += [("Started", _when(summary.started)), ("Last entry", _when(summary.ended)), ("Run", status_words(info))]
    kind = kind_of(info.kind)
    names = kind.operation.figure_names if kind else {}
    wanted = [] if lathe is None else list(lines_for(lathe, summary.wanted, whole=True, names=names))
    wanted += [("as entered" if key == "to" else key, text) for key, text in summary.asked.items()]
    results = tuple((_when(result.wall), _result_words(result, summary)) for result in summary.results)
    notes = tuple((_when(note.wall), note.text) for note in summary.notes)
    parts = [
        ReportPart("", figures=tuple(head), advice=(_EXAMPLE,) if state.plan_input.stand_in else ()),
        ReportPart("Wanted", figures=tuple(wanted)),
        ReportPart("Measured", tuple(_not_measured(summary)), results),
        ReportPart("Result of the readings", figures=summary.figures),
        ReportPart("Findings", tuple(map(sentence, summary.findings))),
        ReportPart("Passes and time", figures=tuple(_passes(summary))),
        ReportPart("Notes", () if notes else ("None.",), notes),
    ]
    return Report(f"Summary: {name}", tuple(part for part in parts if any(part[1:])))


def _not_measured(summary: ClosingSummary) -> Iterator[str]:
    """Yield a sentence if nothing was measured in the run, or nothing after the last pass."""
    if not summary.results:
        yield "No measurement was entered."
    elif summary.passes.cuts and not summary.measured_last:
        yield "No measurement was entered after the last pass."


def _when(wall: str) -> str:
    date, time = wall_parts(wall)
    return f"{date} {time[:5]}"


def _result_words(result: Result, summary: ClosingSummary) -> str:
    """Return one result of a run in words, compared with the wanted size."""
    if result.limits_mm is None or not result.sizes_mm:
        return result.words
    to_text = mm_text if summary.lathe is None else summary.lathe.length_text
    least, most = result.limits_mm
    off = [max(size - most, least - size, 0.0) for size in result.sizes_mm]
    worst = max(off)
    size = result.sizes_mm[off.index(worst)]
    if worst < (_SAME_MM if most == least else _EXACTLY_MM):
        return f"{result.words}: {'inside the limits' if most > least else 'as wanted'}"
    beyond = "the limits" if most > least else "wanted"
    return f"{result.words}: {to_text(worst)} {'larger' if size > most else 'smaller'} than {beyond}"


def _passes(summary: ClosingSummary) -> Iterator[tuple[str, str]]:
    passes: PassCount = summary.passes
    named = (
        ("Passes", passes.cuts),
        ("Spring passes", passes.springs),
        ("Steps skipped", passes.skipped),
        ("Events undone", passes.undone),
        ("Steps still open", passes.still_open),
    )
    yield from ((name, str(number)) for name, number in named if number)
    yield "Time", hours_and_minutes(summary.state.run_time_ms)
    if summary.usual_pass_s is not None:
        yield "Time of a pass", f"{number_text(summary.usual_pass_s, 1)} s (median, from key press to key press)"


def closing_data(info: RunSummary, summary: ClosingSummary) -> dict[str, Any]:
    """Return the closing summary of a run as data for JSON. Lengths are in mm, times in seconds.

    `info`: the run's entry in the list of runs.
    """
    origin, state = info.origin, summary.state
    return {
        "format": SUMMARY_FORMAT,
        "run": info.uid,
        "job_title": origin.job_title if origin else None,
        "op_name": origin.op_name if origin else info.name or None,
        "kind": info.kind,
        "lathe": state.plan_input.lathe_name,
        "stand_in": state.plan_input.stand_in,
        "material": state.plan_input.material,
        "status": state.status,
        "started": summary.started,
        "ended": summary.ended,
        "wanted": {key: value for key, value in summary.wanted.items() if key != "measured"} | dict(summary.asked),
        "measured": [_result_data(result) for result in summary.results],
        "measured_after_last_pass": summary.measured_last,
        "result": dict(summary.figures),
        "findings": list(summary.findings),
        "passes": summary.passes.cuts,
        "spring_passes": summary.passes.springs,
        "steps_skipped": summary.passes.skipped,
        "entries_undone": summary.passes.undone,
        "steps_open": summary.passes.still_open,
        "time_s": state.run_time_ms / 1000,
        "pass_s": summary.usual_pass_s,
        "notes": [{"wall": note.wall, "text": note.text} for note in summary.notes],
    }


def _result_data(result: Result) -> dict[str, Any]:
    data: dict[str, Any] = {"wall": result.wall, "words": result.words, "values": dict(result.values)}
    if result.limits_mm is not None:
        data["wanted_min_mm"], data["wanted_max_mm"] = result.limits_mm
    return data
