"""What to do about what was found, in words: how it stands, what to move, what that leaves, what cannot be moved."""

from collections.abc import Callable, Sequence
from math import sqrt
from typing import NamedTuple

from core.lathe.lathe import SET_UP, Lathe
from core.operations.runout.analysis import Analysis
from core.operations.runout.job import RunoutJob, angle_words
from core.operations.runout.moves import Move, moves, shims_as_flat
from core.operations.runout.remarks import lobes_words
from core.operations.runout.sets_of_readings import Findings
from core.operations.runout.tilt import tailstock_words, tilt_moves, what_first
from core.operations.runout.verdict import good_enough_words, judged_tir_mm, verdict
from core.values.plain_text import sentence

Say = Callable[[float], str]

NOTHING_TO_MOVE = {
    "screwed on": (
        "Nothing can be moved. Take it off, clean thread and faces on both sides, deburr the first thread, seat it on "
        "its face, not on the thread, and read again.",
        "Refit it three times and compare: a high spot that stays at the same mark of the work belongs to the work.",
        "What is left is best trued in place, and its position to the spindle marked.",
    ),
    "between centres": (
        "Nothing can be moved. Clean both centres and the centre holes, look whether the live centre runs true, and "
        "read again.",
        "What is left lies in the centre holes: cut them anew, or true the work in place.",
    ),
}


class Advice(NamedTuple):
    """What one round of readings comes to, each item a sentence or two."""

    stands: tuple[str, ...]
    """What was found, whether it is good enough, and why it is best left where it is."""
    to_do: tuple[str, ...]
    """One thing each, in order; () where it is best left."""
    expect: tuple[str, ...]
    """What the moves should leave, or why there are none."""


def advice(found: Findings, job: RunoutJob, lathe: Lathe) -> Advice:
    """Return what to do about one round of readings."""
    say, moving = lathe.indicator_text, moves(found.first, job, lathe)
    worth = worth_making(moving, found.first)
    to_do = [move.words(lathe) for move in worth] or list(_without_moves(found.first, job))
    if found.tilt is not None:
        tilting = [move.words(lathe) for move in tilt_moves(found.tilt, job, lathe)]
        to_do = [*tilting, *to_do] if job.workholding == "flange" else [*to_do, *tilting]
    left = why_left(found, job, say) if to_do or moving else ""
    stands = [found_words(found.first, job, say), good_enough_words(found.analyses, job, say), left]
    to_do = [] if left else to_do
    if found.tilt is not None:
        stands.append(sentence(what_first(found.tilt, job, say, left=bool(left))))
        if job.workholding == "between centres":
            # It makes a taper, however true the work runs.
            to_do.append(tailstock_words(found.tilt, say))
    return Advice(
        stands=tuple(line for line in stands if line),
        to_do=tuple(map(sentence, to_do)),
        expect=tuple(_to_better_it(worth, lathe) if left else _expectations(found, moving, job, lathe)),
    )


def why_left(found: Findings, job: RunoutJob, say: Say) -> str:
    """Say why no move is called for by the tolerance, "" where one is or there is no tolerance."""
    if job.tolerance_mm is None:
        return ""
    judged = verdict(found.analyses, job.tolerance_mm)
    if judged.answer == "within":
        return "No move is needed for that."
    form = _form_mm(found)
    if judged.answer == "outside" or form + judged.uncertainty_mm <= job.tolerance_mm:
        return ""
    return (
        f"No move would settle it: with no eccentricity at all {say(form)} ± {say(judged.uncertainty_mm)} would stand "
        f"against {say(job.tolerance_mm)}."
    )


def _form_mm(found: Findings) -> float:
    """Return the total indicator reading that stays once no eccentricity is left [mm]."""
    return max(analysis.tir_after_mm((0.0, 0.0)) for analysis in found.analyses)


def _to_better_it(worth: Sequence[Move], lathe: Lathe) -> list[str]:
    """Return the moves of work that is best left, as something one may do."""
    words = "; ".join(move.words(lathe) for move in worth)
    return [f"To better it all the same: {words}."] if worth else []


def found_words(analysis: Analysis, job: RunoutJob, say: Say) -> str:
    """Return one turn of readings in a sentence: movement, eccentricity, high spot, form."""
    if job.surface == "face":
        off = f"once a turn {say(2 * analysis.eccentricity_mm)}"
        if analysis.wobble_deg is not None:
            off += f" (wobble {analysis.wobble_deg:.4f}°)"
    else:
        off = f"eccentricity {say(analysis.eccentricity_mm)} ± {say(2 * analysis.error_mm)}"
    high = "" if analysis.below_indicator else f", high at {angle_words(analysis.high_spot_deg)}"
    form = analysis.out_of_roundness_mm
    rest = "" if form is None else f"; out of {'flat' if job.surface == 'face' else 'round'} by {say(form)}"
    lobes = lobes_words(analysis, say)
    return f"Total indicator reading (TIR) {say(analysis.tir_mm)}, {off}{high}{rest}{f' ({lobes})' if lobes else ''}."


def worth_making(moving: Sequence[Move], analysis: Analysis) -> Sequence[Move]:
    """Return the moves worth making: none where the indicator could not tell afterwards that they were made.

    Of two pairs of jaws one may have less to do than can be told, or followed on the
    indicator: half a mark at least.
    """
    gain_mm = judged_tir_mm(analysis) - analysis.tir_after_mm((0.0, 0.0))
    if gain_mm <= _movement_error_mm(analysis):
        return ()
    return [move for move in moving if move.amount_mm > 2 * analysis.error_mm and _is_followed(move, analysis)]


def _is_followed(move: Move, analysis: Analysis) -> bool:
    """Tell whether the indicator shows that a move is made: a shim is measured by itself."""
    return move.reading_mm is None or abs(move.reading_mm) >= analysis.graduation_mm / 2


def _movement_error_mm(analysis: Analysis) -> float:
    """Return twice the standard error of a movement, the difference of two readings [mm]."""
    return 2 * sqrt(2) * analysis.reading_error_mm


def _without_moves(analysis: Analysis, job: RunoutJob) -> Sequence[str]:
    """Return what can be done where nothing can be moved; () where nothing need be, or the readings are wrong."""
    if analysis.below_indicator or analysis.larger_than_work:
        return ()
    return NOTHING_TO_MOVE.get(job.workholding or "", ())


def _expectations(found: Findings, moving: Sequence[Move], job: RunoutJob, lathe: Lathe) -> list[str]:
    say, first = lathe.indicator_text, found.first
    if not moving:
        return [line for line in (_why_none(first, job),) if line]
    lines, form = [], _form_mm(found)
    if job.tolerance_mm is not None and form > job.tolerance_mm:
        lines.append(
            f"The part's own form of {say(form)} is more than the tolerance: moving it does not get it within; "
            "true it in place."
        )
    if not worth_making(moving, first):
        return [*lines, "Leave the offset: what there is to move is less than this indicator can tell."]
    if job.workholding == "three jaw" and job.surface != "face":
        lines.append(_jaw_faces(first, job, lathe))
    if moving[0].how == "shim":
        lines.append("Shims that are in already stay: this comes on top of them.")
    lines.append(_left_words(first, moving, say))
    return [line for line in lines if line]


def _left_words(analysis: Analysis, moving: Sequence[Move], say: Say) -> str:
    """Say what the moves leave, with the shims at hand; the indicator's own doubt stays."""
    if all(move.none_near for move in moving):
        return "No shims at hand better it; thinner ones would."
    last = moving[-1]
    if last.left_mm > 2 * analysis.error_mm:
        return f"The shims at hand leave {say(last.tir_left_mm)} of movement, {say(2 * last.left_mm)} once a turn."
    left = max(last.tir_left_mm, _movement_error_mm(analysis))
    return f"The moves should leave no more than {say(left)} of movement: the part's own form and what marks hide."


def _why_none(analysis: Analysis, job: RunoutJob) -> str:
    if analysis.larger_than_work:
        return "No move is given before reading and diameter agree."
    if analysis.below_indicator:
        return "Leave the offset: it is already below what the indicator can tell."
    if job.surface == "face" and job.diameter_mm is None:
        return "Without diameter the shims cannot be told."
    return "" if job.workholding else "Say how the work is held: then a move can be worked out. The readings stay."


def _jaw_faces(analysis: Analysis, job: RunoutJob, lathe: Lathe) -> str:
    """Say for which shape of jaws the shims are, where the lathe file leaves it open or it matters."""
    if job.diameter_mm is None:
        return "Shims as for wide flat jaws or a large bar: give diameter for the exact thickness under narrow tips."
    if shims_as_flat(job, lathe):
        shift = 0.866 * analysis.eccentricity_mm
        return (
            f"Right for flat faces wider than {lathe.length_text(2 * shift)}: the bar shifts sideways by half of that."
        )
    if lathe.chuck.jaw_face is None:
        return f"Reckoned for narrow jaw tips; wide flat faces are told by jaw_face in the lathe file, or in {SET_UP}."
    return ""
