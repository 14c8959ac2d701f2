"""The findings of a set of readings, as figures and sentences for the screen and the card."""

from collections.abc import Mapping, Sequence
from typing import Any, Literal, NamedTuple

from core.lathe.lathe import Lathe
from core.operations.form import Figure
from core.operations.runout.advice import advice, moves_worth_making
from core.operations.runout.analysis import FOR_OVAL, FOR_THREE_LOBES, Analysis, Lobes, analyse
from core.operations.runout.job import RunoutJob, graduation_of, mark_words
from core.operations.runout.moves import moves
from core.operations.runout.readings import LengthText
from core.operations.runout.remarks import (
    SEATED_AGAIN,
    alias_remarks,
    alias_words,
    is_significant,
    questions,
    remarks,
    seating_words,
)
from core.operations.runout.sets_of_readings import SetAnalysis
from core.operations.runout.tilt import taper_mm, tilt_moves
from core.operations.runout.verdict import change_words, verdict
from core.values.quantities import number_text

FindingKind = Literal["verdict", "asked", "changed", "do", "known"]

PLANES = ("first plane", "second plane")


class RunoutFinding(NamedTuple):
    """One sentence about readings, and its kind: verdict, question, effect of a move, thing to do, or remark."""

    kind: FindingKind
    words: str


def figure_words(analysis: Analysis, length_text: LengthText, *, whole: bool = True) -> list[Figure]:
    """Return the figures of one turn of readings, each with its value in words.

    whole: True if every mark has been read. Until then, the form of the work is not known.
    """
    face = analysis.surface == "face"
    # A face has no eccentricity. Its part that repeats once in a turn is given from highest to lowest.
    share = 2 if face else 1
    off = f"{length_text(share * analysis.eccentricity_mm)} ± {length_text(share * 2 * analysis.error_mm)}"
    figures = [
        Figure("TIR", length_text(analysis.tir_mm)),
        Figure("Once a turn" if face else "Eccentricity", off),
        Figure("High spot", _high_words(analysis)),
    ]
    if analysis.wobble_deg is not None:
        figures.append(Figure("Wobble", f"{analysis.wobble_deg:.4f}°"))
    return figures + _form_figures(analysis, length_text) if whole else figures


def _form_figures(analysis: Analysis, length_text: LengthText) -> list[Figure]:
    """Return the figures for how oval, three-lobed and out of round the work is; [] if the marks are too few."""
    face, figures = analysis.surface == "face", []
    for lobes, name in (
        (analysis.oval, "Twice a turn" if face else "Oval"),
        (analysis.three_lobes, "Three times a turn" if face else "Three-lobed"),
    ):
        if lobes is not None:
            figures.append(_lobes_figure(name, lobes, length_text))
    form = analysis.out_of_roundness_mm
    if form is not None:
        few = len(analysis.readings_mm) < FOR_OVAL
        figures.append(
            Figure("Out of flat" if face else "Out of round", length_text(form), "too few marks" if few else "")
        )
    return figures


def _high_words(analysis: Analysis) -> str:
    within_deg = analysis.high_spot_within_deg
    if within_deg is None:
        return "not known"
    return f"{mark_words(analysis.high_spot_deg)} ± {number_text(within_deg, 0)}°"


def _lobes_figure(name: str, lobes: Lobes, length_text: LengthText) -> Figure:
    if is_significant(lobes):
        return Figure(name, length_text(lobes.height_mm), f"high at {mark_words(lobes.high_deg)}")
    return Figure(name, f"less than {length_text(2 * lobes.error_mm)}")


def findings_so_far(analysis: Analysis, job: RunoutJob, lathe: Lathe, *, plane: int) -> list[RunoutFinding]:
    """Return the findings while a turn is being read: likely mistakes, and the moves that the readings suggest so far.

    plane: the plane being read, 1 or 2. The moves of jaws and of a flange are calculated from plane 1.
    """
    length_text = lathe.indicator_text
    read, wanted = len(analysis.readings_mm), len(job.angles_deg)
    lines = [RunoutFinding("asked", line) for line in questions(analysis, job, length_text)]
    if read < wanted:
        lines.append(
            RunoutFinding("known", f"So far {read} of {wanted} readings. Each further reading adds certainty.")
        )
    moves_so_far = moves_worth_making(moves(analysis, job, lathe), analysis) if plane == 1 else ()
    return lines + [RunoutFinding("do", f"So far: {move.words(lathe)}.") for move in moves_so_far]


def findings_of(
    result: SetAnalysis, earlier: Sequence[SetAnalysis], job: RunoutJob, lathe: Lathe
) -> list[RunoutFinding]:
    """Return the findings of a complete set: the verdict, the effect of the last move, things to do, and remarks.

    earlier: the complete sets before this set, oldest first.
    """
    length_text, advised = lathe.indicator_text, advice(result, job, lathe)
    lines = [
        RunoutFinding("asked", line) for analysis in result.analyses for line in questions(analysis, job, length_text)
    ]
    # The first sentence repeats the figures.
    lines += [RunoutFinding("verdict", line) for line in advised.summary[1:]]
    if earlier and job.workholding in SEATED_AGAIN:
        lines.append(RunoutFinding("changed", seating_words([one.first for one in (*earlier, result)], length_text)))
    elif earlier:
        lines += [RunoutFinding("changed", line) for line in plane_changes(earlier[-1], result, length_text)]
    # The uncertainty of the eccentricity comes before the moves that depend on it.
    alias_lines = list(dict.fromkeys(line for analysis in result.analyses for line in alias_remarks(analysis)))
    remark_lines = dict.fromkeys(line for analysis in result.analyses for line in remarks(analysis, job, length_text))
    lines += [RunoutFinding("known", line) for line in alias_lines]
    lines += [RunoutFinding("do", line) for line in advised.to_do]
    lines += [RunoutFinding("known", line) for line in advised.expect]
    return lines + [RunoutFinding("known", line) for line in remark_lines if line not in alias_lines]


def plane_changes(before: SetAnalysis, after: SetAnalysis, length_text: LengthText) -> list[str]:
    """Return one sentence for each plane on how a move changed the runout.

    `before` and `after`: the sets of readings before and after the move.
    """
    pairs = list(zip(before.analyses, after.analyses, strict=False))
    words = [change_words(earlier, later, length_text) for earlier, later in pairs]
    if len(words) < 2:
        return words
    return [f"{name.capitalize()}: {line[:1].lower()}{line[1:]}" for name, line in zip(PLANES, words, strict=True)]


def waiting_words(readings: Sequence[float]) -> str:
    """Return a sentence that says why there are no results yet, and which readings are still needed."""
    if len(readings) < 3:
        return "Take three readings or more, spread over at least a third of the turn."
    return "Read more marks around the work. At these marks alone, an offset looks like a change of size."


def expected_figures(job: RunoutJob, lathe: Lathe) -> list[Figure]:
    """Return the figures for a job without readings: what readings at its marks will be able to show."""
    count, graduation = len(job.angles_deg), graduation_of(lathe)
    flat = analyse((0.0,) * count, job.angles_deg, job, graduation_mm=graduation)
    form = "the offset; almost nothing of form"
    if count >= FOR_OVAL:
        form = "offset and oval" if count < FOR_THREE_LOBES else "offset, oval, three lobes"
    planes = f" at each of two planes, {lathe.length_text(job.apart_mm)} apart" if job.apart_mm else ""
    figures = [
        Figure("Readings", f"{count} round one turn{planes}", "and a closing one"),
        Figure("They show", form),
        Figure("Eccentricity to", f"± {lathe.indicator_text(2 * flat.error_mm)}", "from the graduation alone"),
        Figure(
            "Graduation",
            lathe.indicator_text(graduation),
            "" if lathe.indicator else "assumed; the lathe file has none",
        ),
    ]
    return [*figures, Figure("Looks alike", alias_words(job.angles_deg) or "no form of up to five lobes")]


def job_reading_figures(result: SetAnalysis, job: RunoutJob, lathe: Lathe) -> list[Figure]:
    """Return the figures for readings that are part of the job, followed by the verdict and the things to do."""
    figures: list[Figure] = []
    for name, analysis in zip(PLANES, result.analyses, strict=False):
        lead = f"{name.capitalize()}: " if result.second is not None else ""
        figures += [figure._replace(name=lead + figure.name) for figure in figure_words(analysis, lathe.indicator_text)]
    names = {"verdict": "Good enough?", "do": "To do"}
    # Remarks and questions are among the cautions of the plan.
    wanted = [line for line in findings_of(result, (), job, lathe) if line.kind in {"verdict", "do"}]
    return figures + [Figure(names[line.kind], line.words) for line in wanted]


def runout_figures(result: SetAnalysis, job: RunoutJob, lathe: Lathe) -> dict[str, Any]:
    """Return the figures of one set of readings as data for the card. Figures that do not apply are left out."""
    first = result.first
    figures: dict[str, Any] = {
        **_of_a_plane(first),
        "eccentricity_error_mm": first.eccentricity_error_mm,
        "out_of_roundness_mm": first.out_of_roundness_mm,
        "ovality_mm": None if first.oval is None else first.oval.height_mm,
        "three_lobe_mm": None if first.three_lobes is None else first.three_lobes.height_mm,
        "wobble_deg": first.wobble_deg,
        "moves": [move.as_data() for move in moves(first, job, lathe)] or None,
    }
    if job.tolerance_mm is not None:
        figures["verdict"] = verdict(result.analyses, job.tolerance_mm).answer
    if result.second is not None:
        figures["second_plane"] = _of_a_plane(result.second)
    if result.tilt is not None:
        figures["tilt_deg"] = result.tilt.tilt_deg
        figures["tilt_moves"] = [move.as_data() for move in tilt_moves(result.tilt, job, lathe)] or None
        if job.workholding == "between centres":
            figures["taper_mm"] = taper_mm(result.tilt)
    return {key: value for key, value in figures.items() if value is not None}


def move_words(move: Mapping[str, Any], length_text: LengthText) -> str:
    """Return a move in words, from the data that the card holds.

    >>> move_words({"where": "jaw 1", "how": "press", "angle_deg": 0, "amount_mm": 0.08}, "{} mm".format)
    'press jaw 1 in by 0.08 mm'
    """
    where, amount = str(move["where"]), length_text(move["amount_mm"])
    if move["how"] == "shim":
        return f"shim {amount} {'behind the work at' if where.startswith('mark') else 'under'} {where}"
    return f"press {where} in by {amount}" if move["how"] == "press" else f"tap at {where} towards the axis by {amount}"


def _of_a_plane(analysis: Analysis) -> dict[str, float]:
    figures = {"tir_mm": analysis.tir_mm, "eccentricity_mm": analysis.eccentricity_mm}
    # Without an offset the high spot has no direction.
    return figures | ({"high_spot_deg": analysis.high_spot_deg} if analysis.eccentricity_mm > 1e-9 else {})
