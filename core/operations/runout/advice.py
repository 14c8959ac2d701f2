"""Advice on a set of readings: the result, the parts to move, the runout that remains, and the steps of a run."""

from collections.abc import Sequence
from math import sqrt
from typing import NamedTuple

from core import safety
from core.lathe.lathe import SET_UP, Lathe
from core.operations.runout.analysis import Analysis
from core.operations.runout.job import RunoutJob, mark_words
from core.operations.runout.moves import Move, moves, shims_for_flat_jaws
from core.operations.runout.readings import LengthText
from core.operations.runout.remarks import lobes_words, questions, remarks
from core.operations.runout.sets_of_readings import SetAnalysis
from core.operations.runout.tilt import tailstock_words, tilt_moves, tilt_words
from core.operations.runout.verdict import effects_on_work, good_enough_words, judged_tir_mm, verdict
from core.plan import Step
from core.values.plain_text import sentence

NOTHING_TO_MOVE = {
    "screwed on": (
        "Nothing can be moved. Take the work off. Clean the thread and the faces on both sides, and deburr the first "
        "turn of the thread. Seat it on its face, not on the thread, and read again.",
        "Refit it three times and compare. A high spot that stays at the same mark belongs to the work.",
        "Then true the work in place, and mark its position to the spindle.",
    ),
    "between centres": (
        "Nothing can be moved. Clean both centres and the centre holes. Check that the live centre runs true, and "
        "read again.",
        "Any remaining runout is in the centre holes. Cut them again, or true the work in place.",
    ),
}


class Advice(NamedTuple):
    """Advice on one set of readings, as texts of one or two sentences each."""

    summary: tuple[str, ...]
    """What the readings show, whether the runout is small enough, or why the work should not be moved."""
    to_do: tuple[str, ...]
    """What to do, item by item in order; () if the work should not be moved."""
    expect: tuple[str, ...]
    """The runout that should remain after the moves, or the reason why there are no moves."""


def advice(result: SetAnalysis, job: RunoutJob, lathe: Lathe) -> Advice:
    """Return the advice on one set of readings."""
    length_text, moves_found = lathe.indicator_text, moves(result.first, job, lathe)
    worth_making = moves_worth_making(moves_found, result.first)
    to_do = [move.words(lathe) for move in worth_making] or list(_without_moves(result.first, job))
    if result.tilt is not None:
        tilting = [move.words(lathe) for move in tilt_moves(result.tilt, job, lathe)]
        to_do = [*tilting, *to_do] if job.workholding == "flange" else [*to_do, *tilting]
    left = why_no_move(result, job, length_text) if to_do or moves_found else ""
    lines = [summary(result.first, job, length_text), good_enough_words(result.analyses, job, length_text), left]
    to_do = [] if left else to_do
    if result.tilt is not None:
        lines.append(sentence(tilt_words(result.tilt, job, length_text, left=bool(left))))
        if job.workholding == "between centres":
            # The tailstock makes a taper, however true the work runs.
            to_do.append(tailstock_words(result.tilt, length_text))
    return Advice(
        summary=tuple(line for line in lines if line),
        to_do=tuple(map(sentence, to_do)),
        expect=tuple(_optional_moves(worth_making, lathe) if left else _expectations(result, moves_found, job, lathe)),
    )


def why_no_move(result: SetAnalysis, job: RunoutJob, length_text: LengthText) -> str:
    """Return a sentence that says why the work can stay as it is.

    Return "" if the work must be moved, or if the job has no tolerance.
    """
    if job.tolerance_mm is None:
        return ""
    judged = verdict(result.analyses, job.tolerance_mm)
    if judged.answer == "within":
        return "No move is needed."
    form = _form_mm(result)
    if judged.answer == "outside" or form + judged.uncertainty_mm <= job.tolerance_mm:
        return ""
    return (
        f"No move can make this result certain. Even without eccentricity, the reading would be {length_text(form)} ± "
        f"{length_text(judged.uncertainty_mm)}, for a tolerance of {length_text(job.tolerance_mm)}."
    )


def _form_mm(result: SetAnalysis) -> float:
    """Return the total indicator reading that would remain without any eccentricity [mm]."""
    return max(analysis.tir_after_mm((0.0, 0.0)) for analysis in result.analyses)


def _optional_moves(worth_making: Sequence[Move], lathe: Lathe) -> list[str]:
    words = "; ".join(move.words(lathe) for move in worth_making)
    return [f"To improve it anyway: {words}."] if worth_making else []


def summary(analysis: Analysis, job: RunoutJob, length_text: LengthText) -> str:
    """Return one sentence on a turn of readings: total indicator reading, eccentricity, high spot and form."""
    if job.surface == "face":
        off = f"once a turn {length_text(2 * analysis.eccentricity_mm)}"
        if analysis.wobble_deg is not None:
            off += f" (wobble {analysis.wobble_deg:.4f}°)"
    else:
        off = f"eccentricity {length_text(analysis.eccentricity_mm)} ± {length_text(2 * analysis.error_mm)}"
    high = "" if analysis.below_indicator else f", high at {mark_words(analysis.high_spot_deg)}"
    form = analysis.out_of_roundness_mm
    form_words = (
        "" if form is None else f"; out of {'flat' if job.surface == 'face' else 'round'} by {length_text(form)}"
    )
    lobes = lobes_words(analysis, length_text)
    tir = f"Total indicator reading (TIR) {length_text(analysis.tir_mm)}"
    return f"{tir}, {off}{high}{form_words}{f' ({lobes})' if lobes else ''}."


def moves_worth_making(moves_found: Sequence[Move], analysis: Analysis) -> Sequence[Move]:
    """Return the moves worth making; () if the improvement is too small for the indicator to show.

    A move is left out if it is within the uncertainty of the readings, or changes the reading by less than half a
    graduation. Shims are judged by the uncertainty alone.
    """
    gain_mm = judged_tir_mm(analysis) - analysis.tir_after_mm((0.0, 0.0))
    if gain_mm <= _movement_error_mm(analysis):
        return ()
    return [move for move in moves_found if move.amount_mm > 2 * analysis.error_mm and _is_followed(move, analysis)]


def _is_followed(move: Move, analysis: Analysis) -> bool:
    # A shim needs no indicator. Its thickness is measured by itself.
    return move.reading_mm is None or abs(move.reading_mm) >= analysis.graduation_mm / 2


def _movement_error_mm(analysis: Analysis) -> float:
    """Return the uncertainty of a move [mm]: twice the standard error of the difference of two readings."""
    return 2 * sqrt(2) * analysis.reading_error_mm


def _without_moves(analysis: Analysis, job: RunoutJob) -> Sequence[str]:
    """Return advice for work whose workholding has nothing to move; () for any other workholding.

    Return () too if the indicator cannot show the offset, or if the offset is impossible for the diameter.
    """
    if analysis.below_indicator or analysis.larger_than_work:
        return ()
    return NOTHING_TO_MOVE.get(job.workholding or "", ())


def _expectations(result: SetAnalysis, moves_found: Sequence[Move], job: RunoutJob, lathe: Lathe) -> list[str]:
    length_text, first = lathe.indicator_text, result.first
    if not moves_found:
        return [line for line in (_why_none(first, job),) if line]
    lines, form = [], _form_mm(result)
    if job.tolerance_mm is not None and form > job.tolerance_mm:
        lines.append(
            f"The part's own form of {length_text(form)} is more than the tolerance, so no move is enough. "
            "True the part in place."
        )
    if not moves_worth_making(moves_found, first):
        return [*lines, "Leave the offset: the move is smaller than this indicator can show."]
    if job.workholding == "three jaw" and job.surface != "face":
        lines.append(_jaw_faces(first, job, lathe))
    if moves_found[0].how == "shim":
        lines.append("Keep the shims already in place and add these shims.")
    lines.append(_left_words(first, moves_found, length_text))
    return [line for line in lines if line]


def _left_words(analysis: Analysis, moves_found: Sequence[Move], length_text: LengthText) -> str:
    """Return a sentence on the runout that remains after the moves, made with the shims in stock.

    The stated runout is never smaller than the smallest runout that the indicator can show.
    """
    if all(move.none_near for move in moves_found):
        return "None of your shims improves the runout. Thinner shims would."
    last = moves_found[-1]
    if last.left_mm > 2 * analysis.error_mm:
        tir, once_a_turn = length_text(last.tir_left_mm), length_text(2 * last.left_mm)
        return f"Your shims leave a TIR of {tir}, with {once_a_turn} once a turn."
    left = max(last.tir_left_mm, _movement_error_mm(analysis))
    return (
        f"After the moves, expect a TIR of {length_text(left)} at most: the part's own form and the indicator's error."
    )


def _why_none(analysis: Analysis, job: RunoutJob) -> str:
    if analysis.larger_than_work:
        return "Readings and diameter do not agree, so there is no move yet."
    if analysis.below_indicator:
        return "Leave the offset: it is too small for this indicator to show."
    if job.surface == "face" and job.diameter_mm is None:
        return "Enter the diameter to get the shims."
    return "" if job.workholding else "Choose the workholding to get a move. The readings are kept."


def _jaw_faces(analysis: Analysis, job: RunoutJob, lathe: Lathe) -> str:
    """Return a sentence that says for which shape of jaw the shims are calculated.

    Return "" if the lathe file says that the jaws have narrow tips.
    """
    if job.diameter_mm is None:
        return "These shims are for wide flat jaws. To get shims for narrow jaw tips, enter the diameter."
    if shims_for_flat_jaws(job, lathe):
        shift = 0.866 * analysis.eccentricity_mm
        return (
            f"These shims are for flat jaws wider than {lathe.length_text(2 * shift)}. The bar shifts sideways by "
            f"{lathe.length_text(shift)}."
        )
    if lathe.chuck.jaw_face is None:
        return f"These shims are for narrow jaw tips. If your jaws are wide and flat, enter this in {SET_UP}."
    return ""


def move_steps(result: SetAnalysis, job: RunoutJob, lathe: Lathe) -> list[Step]:
    """Return the steps that follow a set of readings: one that shows the result, then one for each thing to do."""
    advised = advice(result, job, lathe)
    result_step = Step(
        action="check",
        title="Check the result",
        text=" ".join((*advised.summary, *advised.expect)),
        extra={"stands": True},
    )
    cautions = (safety.TURN_BY_HAND, safety.SOFT_HAMMER)
    count = len(advised.to_do)
    return [
        result_step,
        *(
            Step(
                action="check",
                title=f"Correct the runout, {number} of {count}",
                text=line,
                cautions=cautions,
                extra={"move": f"{number} of {count}"},
            )
            for number, line in enumerate(advised.to_do, start=1)
        ),
    ]


def reading_cautions(result: SetAnalysis, job: RunoutJob, lathe: Lathe) -> list[str]:
    """Return cautions about readings: likely mistakes first, then remarks, then effects on the work."""
    cautions: list[str] = []
    for sentences in (questions, remarks):
        for analysis in result.analyses:
            cautions += [line for line in sentences(analysis, job, lathe.indicator_text) if line not in cautions]
    if not result.first.below_indicator:
        cautions += effects_on_work(result.first, lathe.indicator_text)
    return cautions
