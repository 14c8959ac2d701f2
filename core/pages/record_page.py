"""The record of a lathe in words: for each dial and kind of cut, how measurements differ from the dial."""

from collections.abc import Iterator
from typing import Any

from core.lathe.lathe import Lathe, dial_words
from core.pages.report import Report, ReportPart
from core.record.advice import advice
from core.record.lathe_notes import LatheNote
from core.record.lathe_record import FEWEST, DialRecord, LatheRecord, Period, UsualTime
from core.record.observations import CutKind
from core.record.statistics import Mean
from core.run.event_words import wall_parts
from core.values.first_version import FIRST_CUT
from core.values.plain_text import counted
from core.values.quantities import number_text

RECORD_FORMAT = 1
_EXAMPLE = "These runs used the example lathe, not yours. To set up your own lathe, press l on the board."
_HOW_TO_READ = (
    "A difference is the measured cut minus the cut that the dial shows. A plus sign means that more metal came off.",
    "The true mean lies within the ± range in 95 of 100 cases (Student's t).",
    "This page only gives advice. It does not change any dial, plan or file.",
)
_ALIKE_MM = 0.0005
"""A narrower interval is not given [mm]: it says that the measuring was coarse, not that the mean is exact."""
_ACTIONS = {"cut": "a pass", "spring": "a spring pass", "index": "turning to a position"}


def record_report(record: LatheRecord, problem: str = "") -> Report:
    """Return the record of a lathe as a report.

    `problem`: a sentence that says which notes cannot be read; "" if all can be read.
    """
    measured = sum(dial.count for dial in record.dials)
    runs, measurements = counted(record.runs, "run"), counted(measured, "measurement")
    from_runs = f"From {runs} of this lathe, finished or not, with {measurements}."
    others = f"Other lathes in the log, not counted here: {', '.join(record.other_lathes)}."
    from_runs += f" {others}" if record.other_lathes else ""
    parts = [ReportPart("", (from_runs, *_HOW_TO_READ), advice=(_EXAMPLE,) if record.lathe.example else ())]
    parts += [_dial_part(dial, record.lathe) for dial in record.dials]
    if not record.dials:
        parts.append(
            ReportPart(
                "Dials", ("Nothing has been measured yet. At the counter, press 1 and enter what you measured.",)
            )
        )
    if record.times:
        parts.append(
            ReportPart(
                "Usual time of a pass, from key press to key press", figures=tuple(map(_time_line, record.times))
            )
        )
    notes = tuple(map(note_line, record.notes))
    nothing = () if notes else ("None yet.",)
    parts.append(ReportPart("Notes and adjustments", nothing, notes, (problem,) if problem else ()))
    return Report(f"What this lathe does: {record.lathe.name}", tuple(parts))


def cut_words(cut: CutKind) -> str:
    """Return a dial and its kind of cut in words.

    >>> cut_words(CutKind("cross_slide", "turn", inside=True))
    'cross-slide, turn inside, on the diameter'
    """
    inside = " inside" if cut.inside else ""
    return f"{dial_words(cut.dial)}, {_kind_words(cut.kind)}{inside}{', on the diameter' if cut.on_diameter else ''}"


def _kind_words(kind: str) -> str:
    return "face or groove" if kind == FIRST_CUT else kind.replace("_", " ")


def mean_words(mean: Mean, lathe: Lathe, what: str) -> str:
    """Return a mean in words, with its interval and the number of values. `what`: the noun for one value.

    A mean of few values is followed by a remark that they are too few to judge. No interval is given for equal values,
    because they show only that the measuring was too coarse.
    """
    size, width = signed_text(mean.mean, lathe), lathe.length_text(mean.half_width)
    if mean.number < FEWEST:
        return f"{size} ({counted(mean.number, what)}: too few to judge)"
    if width == lathe.length_text(0.0):
        return f"{size} ({counted(mean.number, what)}, all alike)"
    return f"{size} ± {width} ({counted(mean.number, what)})"


def signed_text(length_mm: float, lathe: Lathe) -> str:
    """Return a length [mm] as text in the lathe's unit, with a plus or minus sign; without a sign if it rounds to 0."""
    text = lathe.length_text(abs(length_mm))
    return text if text == lathe.length_text(0.0) else f"{'-' if length_mm < 0 else '+'}{text}"


def _dial_part(dial: DialRecord, lathe: Lathe) -> ReportPart:
    heading = cut_words(dial.cut)
    sentences: tuple[str, ...] = ()
    if dial.other_description:
        sentences = (
            f"Not counted: {counted(dial.other_description, 'measurement')} "
            "from when the lathe file described this dial differently.",
        )
    return ReportPart(
        f"{heading[:1].upper()}{heading[1:]}", sentences, tuple(_dial_lines(dial, lathe)), advice(dial, lathe)
    )


def _dial_lines(dial: DialRecord, lathe: Lathe) -> Iterator[tuple[str, str]]:
    for number, period in enumerate(dial.periods):
        following = dial.periods[number + 1].since if number + 1 < len(dial.periods) else None
        is_only = len(dial.periods) == 1 and period.since is None
        if period.mean is not None:
            yield _period_name(period, following), mean_words(period.mean, lathe, "measurement")
        elif not is_only:
            yield _period_name(period, following), "no size measured yet" if any(period[1:]) else "nothing measured yet"
        if period is dial.latest and period.after_touch_off and period.between:
            yield "  right after a touch-off", mean_words(period.after_touch_off, lathe, "measurement")
            yield "  after another measurement", mean_words(period.between, lathe, "measurement")
        names = (
            ("A spring pass takes off", "Free end is larger by")
            if is_only
            else ("  a spring pass takes off", "  free end is larger by")
        )
        for name, mean in zip(names, (period.spring_pass, period.free_end_larger), strict=True):
            if mean:
                yield name, mean_words(mean, lathe, "time")


def _period_name(period: Period, following: LatheNote | None) -> str:
    if period.since is not None:
        return f"Since {_when(period.since)}, {period.since.text}"
    return "Mean difference" if following is None else f"Before {_when(following)}, {following.text}"


def _time_line(time: UsualTime) -> tuple[str, str]:
    few = "" if time.is_known else ": too few to plan with"
    name = f"{_kind_words(time.kind)}, {_ACTIONS[time.action]}"
    return name, f"{number_text(time.median_s, 1)} s (median of {time.number}{few})"


def _when(note: LatheNote) -> str:
    date, time = wall_parts(note.when)
    return date if time == "00:00:00" else f"{date} {time[:5]}"


def note_line(note: LatheNote) -> tuple[str, str]:
    """Return the date and the text of a note or an adjustment."""
    about = f", {dial_words(note.dial)}" if note.dial else ""
    return _when(note), f"{note.sort}{about}: {note.text}"


def record_data(record: LatheRecord) -> dict[str, Any]:
    """Return the record as data for JSON. Lengths are in mm, times in seconds."""
    return {
        "format": RECORD_FORMAT,
        "lathe": record.lathe.name,
        "stand_in": record.lathe.example,
        "runs": record.runs,
        "other_lathes": list(record.other_lathes),
        "dials": [_dial_data(dial, record.lathe) for dial in record.dials],
        "times": [
            {"kind": time.kind, "action": time.action, "passes": time.number, "median_s": round(time.median_s, 3)}
            for time in record.times
        ],
        "notes": [note._asdict() for note in record.notes],
    }


def _dial_data(dial: DialRecord, lathe: Lathe) -> dict[str, Any]:
    return {
        "dial": dial.cut.dial,
        "kind": dial.cut.kind,
        "inside": dial.cut.inside,
        "on_diameter": dial.cut.on_diameter,
        "periods": [
            {
                "since": None if period.since is None else period.since.when,
                "difference": _mean_data(period.mean),
                "after_touch_off": _mean_data(period.after_touch_off),
                "after_measurement": _mean_data(period.between),
                "spring_pass": _mean_data(period.spring_pass),
                "free_end_larger": _mean_data(period.free_end_larger),
            }
            for period in dial.periods
        ],
        "spring_pass": _mean_data(dial.latest.spring_pass),
        "free_end_larger": _mean_data(dial.latest.free_end_larger),
        "other_description": dial.other_description,
        "advice": list(advice(dial, lathe)),
    }


def _mean_data(mean: Mean | None) -> dict[str, Any] | None:
    if mean is None:
        return None
    sizes = {"mean_mm": mean.mean, "standard_error_mm": mean.error}
    interval_mm = None if mean.half_width < _ALIKE_MM else round(mean.half_width, 9)
    data = {"measurements": mean.number} | {name: round(size, 9) + 0.0 for name, size in sizes.items()}
    return {**data, "interval_mm": interval_mm}
