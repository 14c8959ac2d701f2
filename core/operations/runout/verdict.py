"""The verdict on a runout: whether it is within tolerance, whether a move helped, and its effect on the work."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import hypot, radians, sqrt, tan
from typing import Literal

from core.operations.runout.analysis import Analysis
from core.operations.runout.job import RunoutJob
from core.operations.runout.readings import LengthText

Answer = Literal["within", "outside", "cannot be told"]

GOOD_SCREWED_ON_MM = 0.02
"""Total indicator reading of a screwed-on adaptor that counts as good [mm]; common practice, no source."""


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """A total indicator reading and the tolerance to compare it with. Lengths are in mm."""

    answer: Answer
    tir_mm: float
    """The largest of all planes. It is twice the eccentricity if no reading was taken at the high spot."""
    between_marks: bool
    """True if `tir_mm` is twice the eccentricity."""
    uncertainty_mm: float
    """Twice the standard error of the difference between two readings."""
    tolerance_mm: float
    graduation_mm: float

    def sentence(self, length_text: LengthText) -> str:
        """Return the verdict with its numbers, in a sentence or two."""
        tolerance = f"the tolerance of {length_text(self.tolerance_mm)}"
        answer = f"{self.answer.capitalize()} {tolerance}"
        if self.answer == "cannot be told":
            answer = f"Too close to {tolerance} to be certain"
        words = f"{answer}: total indicator reading {length_text(self.tir_mm)} ± {length_text(self.uncertainty_mm)}"
        if self.between_marks:
            words += " (twice the eccentricity, as the high spot is between two marks)"
        if self.answer == "cannot be told" and self.tolerance_mm < self.graduation_mm:
            return f"{words}. The indicator's graduation of {length_text(self.graduation_mm)} is too coarse."
        return f"{words}."


def verdict(analyses: Sequence[Analysis], tolerance_mm: float) -> Verdict:
    """Return whether the largest total indicator reading of the planes is within a tolerance.

    analyses: one for each plane.
    tolerance_mm: the largest allowed total indicator reading, above 0 [mm].
    Source: ISO 14253-1. The answer is "within" or "outside" only if the expanded uncertainty (k = 2) leaves no doubt.
    The uncertainty of a reading is from GUM F.2.2.1, or is the measured repeatability.
    """
    worst = max(analyses, key=judged_tir_mm)
    tir, uncertainty = judged_tir_mm(worst), 2 * sqrt(2) * worst.reading_error_mm
    answer: Answer = "cannot be told"
    if tir + uncertainty <= tolerance_mm:
        answer = "within"
    elif tir - uncertainty > tolerance_mm:
        answer = "outside"
    return Verdict(
        answer=answer,
        tir_mm=tir,
        between_marks=tir > worst.tir_mm * (1 + 1e-9),
        uncertainty_mm=uncertainty,
        tolerance_mm=tolerance_mm,
        graduation_mm=worst.graduation_mm,
    )


def judged_tir_mm(analysis: Analysis) -> float:
    """Return the total indicator reading to compare with the tolerance [mm].

    It is at least twice the eccentricity, because the high spot may be between two marks.
    """
    return max(analysis.tir_mm, 2 * analysis.eccentricity_mm)


def good_enough_words(analyses: Sequence[Analysis], job: RunoutJob, length_text: LengthText) -> str:
    """Return the verdict in words.

    Without a tolerance, the words say whether the runout is good by common practice; "" if practice gives no answer.
    """
    if job.tolerance_mm is not None:
        return verdict(analyses, job.tolerance_mm).sentence(length_text)
    if job.workholding != "screwed on":
        return ""
    rating = "worse" if verdict(analyses, GOOD_SCREWED_ON_MM).answer == "outside" else "as good"
    usual = f"About {length_text(GOOD_SCREWED_ON_MM)} is a good result for a screwed-on part (common practice)."
    return f"{usual} This part is {rating}."


def change_words(before: Analysis, after: Analysis, length_text: LengthText) -> str:
    """Return a sentence that says how much of the necessary move was made, or that the work moved the wrong way.

    `before` and `after`: the analyses before and after the move.
    """
    (x1, y1), (x2, y2) = before.work_centre_mm, after.work_centre_mm
    sizes = f"Eccentricity {length_text(before.eccentricity_mm)} before, {length_text(after.eccentricity_mm)} now."
    moved, wanted = hypot(x2 - x1, y2 - y1), hypot(x1, y1)
    if moved < 2 * hypot(before.error_mm, after.error_mm):
        return f"{sizes} The work has not moved, as far as this indicator can show."
    towards = ((x1 - x2) * x1 + (y1 - y2) * y1) / wanted if wanted else 0.0
    if after.below_indicator:
        return f"{sizes} The work runs true, as far as this indicator can show."
    if towards < -moved / 2:
        return f"{sizes} The work moved the wrong way, further out. Check the signs: a plunger pushed in reads +."
    if towards < moved / 2:
        return f"{sizes} The work moved sideways. Are the marks counted in the order in which they pass the indicator?"
    too_far = "" if after.eccentricity_mm < before.eccentricity_mm else ", too far"
    return f"{sizes} The work moved {length_text(towards)}{too_far}. Wanted: {length_text(wanted)}."


def effects_on_work(
    analysis: Analysis,
    length_text: LengthText,
    *,
    tip_angle_deg: float | None = None,
    depth_mm: float | None = None,
    tip_flat_mm: float = 0.0,
) -> tuple[str, ...]:
    """Return the effects that a runout has on work cut with it, one sentence each, with numbers.

    tip_angle_deg: included angle of the cutter's point, 0 to 180 [deg]; None without a groove.
    depth_mm: depth of the groove [mm]; None without a groove.
    tip_flat_mm: width of the flat at the point [mm].
    Source: geometry. A groove is deeper on one side of the work than on the other by the total indicator reading (TIR),
    so its width changes by 2 TIR tan(tip / 2).
    """
    effects = []
    if analysis.surface == "face":
        if analysis.wobble_deg is not None:
            square = 1000 * tan(radians(analysis.wobble_deg))
            effects.append(f"A bore cut square to this face leans by {length_text(square)} in {length_text(1000)}.")
    else:
        effects.append(
            f"A thread or spigot cut now is eccentric to this surface by {length_text(analysis.eccentricity_mm)}. "
            f"A wall between the two varies by {length_text(2 * analysis.eccentricity_mm)}."
        )
    return (*effects, *_effects_on_groove(analysis.tir_mm, length_text, tip_angle_deg, depth_mm, tip_flat_mm))


def _effects_on_groove(
    tir_mm: float, length_text: LengthText, tip_angle_deg: float | None, depth_mm: float | None, tip_flat_mm: float
) -> Iterator[str]:
    half_mm = tir_mm / 2
    leaves = depth_mm is not None and depth_mm < half_mm
    if tip_angle_deg is not None:
        change = groove_change_mm(tir_mm, tip_angle_deg)
        ends = ""
        if depth_mm is not None and not leaves:
            depths = (depth_mm - half_mm, depth_mm + half_mm)
            wide = [tip_flat_mm + groove_change_mm(depth, tip_angle_deg) for depth in depths]
            ends = f", from {length_text(wide[0])} to {length_text(wide[1])} at a depth of {length_text(depth_mm)}"
        point = f"A groove cut with a {tip_angle_deg:g}° point"
        yield f"{point} varies in width by {length_text(change)} round the work{ends}."
    if depth_mm is not None and leaves:
        yield (
            f"At a depth of {length_text(depth_mm)} the cutter leaves the surface, which varies by "
            f"{length_text(half_mm)} above and below its mean."
        )


def groove_change_mm(tir_mm: float, tip_angle_deg: float) -> float:
    """Return by how much the width of a V-groove varies around the work because of runout [mm].

    tir_mm: total indicator reading [mm].
    tip_angle_deg: included angle of the cutter's point, 0 to 180 [deg].

    >>> round(groove_change_mm(0.05, 120), 3)
    0.173
    """
    return 2 * tir_mm * tan(radians(tip_angle_deg / 2))
