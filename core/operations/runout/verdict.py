"""Good enough or not, with what is known of the readings; whether a move helped; what it means for the work."""

from collections.abc import Callable, Iterator, Sequence
from math import hypot, radians, sqrt, tan
from typing import Literal, NamedTuple

from core.operations.runout.analysis import Analysis
from core.operations.runout.job import RunoutJob

Say = Callable[[float], str]
Answer = Literal["within", "outside", "cannot be told"]

GOOD_SCREWED_ON_MM = 0.02
"""Total indicator reading of a screwed-on adaptor that is a good result; common practice, no source."""


class Verdict(NamedTuple):
    """How the total indicator reading stands to its tolerance. Lengths in mm."""

    answer: Answer
    tir_mm: float
    """The largest of all planes; twice the eccentricity where the readings missed the high spot."""
    between_marks: bool
    """`tir_mm` is twice the eccentricity."""
    uncertainty_mm: float
    """Twice the standard error of a difference of two readings."""
    tolerance_mm: float
    graduation_mm: float

    def sentence(self, say: Say) -> str:
        """Return the verdict with its numbers, one sentence."""
        numbers = f"{say(self.tir_mm)} ± {say(self.uncertainty_mm)} against {say(self.tolerance_mm)}"
        if self.between_marks:
            numbers += " (twice the eccentricity: the high spot lies between two marks)"
        if self.answer != "cannot be told":
            return f"{self.answer.capitalize()} the tolerance: total indicator reading {numbers}."
        finer = (
            f"; the tolerance is smaller than its graduation of {say(self.graduation_mm)}"
            if self.tolerance_mm < self.graduation_mm
            else ""
        )
        return f"Cannot be told with this indicator: total indicator reading {numbers}{finer}."


def verdict(analyses: Sequence[Analysis], tolerance_mm: float) -> Verdict:
    """Return how the readings of all planes stand to a tolerance of the total indicator reading.

    analyses: one for each plane [-]; tolerance_mm: [mm] above 0.
    Source: within and outside only where the expanded uncertainty (k = 2) leaves no
    doubt, as ISO 14253-1 has it; a reading's from GUM F.2.2.1 or the repeatability seen.
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
    """Return the movement to judge by [mm]: the high spot may lie between two marks."""
    return max(analysis.tir_mm, 2 * analysis.eccentricity_mm)


def good_enough_words(analyses: Sequence[Analysis], job: RunoutJob, say: Say) -> str:
    """Return the verdict in words; without a tolerance only what practice calls good, "" where it says nothing."""
    if job.tolerance_mm is not None:
        return verdict(analyses, job.tolerance_mm).sentence(say)
    if job.workholding != "screwed on":
        return ""
    found = "more than that" if verdict(analyses, GOOD_SCREWED_ON_MM).answer == "outside" else "one"
    return f"About {say(GOOD_SCREWED_ON_MM)} at a screwed-on part is a good result (common practice); this is {found}."


def change_words(before: Analysis, after: Analysis, say: Say) -> str:
    """Say whether a move helped: how much of the way the work went, or that it went astray."""
    (x1, y1), (x2, y2) = before.work_off_mm, after.work_off_mm
    ends = f"Eccentricity {say(before.eccentricity_mm)} before, {say(after.eccentricity_mm)} now"
    moved, wanted = hypot(x2 - x1, y2 - y1), hypot(x1, y1)
    if moved < 2 * hypot(before.error_mm, after.error_mm):
        return f"{ends}: it has not moved, as far as this indicator can tell."
    towards = ((x1 - x2) * x1 + (y1 - y2) * y1) / wanted if wanted else 0.0
    if after.below_indicator:
        return f"{ends}: cured, as far as this indicator can tell."
    if towards < -moved / 2:
        return f"{ends}: it went the wrong way, further out. Look at + and - again: + is plunger pushed in."
    if towards < moved / 2:
        return f"{ends}: it went sideways. Are the marks counted in the order in which they pass the indicator?"
    share = f"it went {say(towards)} of the {say(wanted)} wanted"
    return f"{ends}: {share}." if after.eccentricity_mm < before.eccentricity_mm else f"{ends}: too far, {share}."


def effects_on_work(
    analysis: Analysis,
    say: Say,
    *,
    tip_angle_deg: float | None = None,
    depth_mm: float | None = None,
    tip_flat_mm: float = 0.0,
) -> tuple[str, ...]:
    """Return what the runout found does to work cut on it, one line each with its numbers.

    tip_angle_deg: included angle of the cutter's point [deg], 0 to 180; depth_mm: of the
    groove [mm]; tip_flat_mm: of the point [mm].
    Source: a groove goes deeper by the total indicator reading on one side than on the
    other, so its width changes by 2 TIR tan(tip / 2).
    """
    found = []
    if analysis.surface == "face":
        if analysis.wobble_deg is not None:
            square = 1000 * tan(radians(analysis.wobble_deg))
            found.append(f"A bore made square to this face leans by {say(square)} in {say(1000)}.")
    else:
        found.append(
            f"A thread or spigot cut as it stands sits {say(analysis.eccentricity_mm)} off this surface; "
            f"a wall between the two varies by {say(2 * analysis.eccentricity_mm)}."
        )
    return (*found, *_of_the_groove(analysis.tir_mm, say, tip_angle_deg, depth_mm, tip_flat_mm))


def _of_the_groove(
    tir_mm: float, say: Say, tip_angle_deg: float | None, depth_mm: float | None, tip_flat_mm: float
) -> Iterator[str]:
    half_mm = tir_mm / 2
    leaves = depth_mm is not None and depth_mm < half_mm
    if tip_angle_deg is not None:
        change = groove_change_mm(tir_mm, tip_angle_deg)
        ends = ""
        if depth_mm is not None and not leaves:
            depths = (depth_mm - half_mm, depth_mm + half_mm)
            wide = [tip_flat_mm + groove_change_mm(depth, tip_angle_deg) for depth in depths]
            ends = f", from {say(wide[0])} to {say(wide[1])} at a depth of {say(depth_mm)}"
        yield f"A groove of a {tip_angle_deg:g}° point varies by {say(change)} in width round the work{ends}."
    if depth_mm is not None and leaves:
        yield (
            f"At a depth of {say(depth_mm)} the cutter leaves the surface: it stands {say(half_mm)} "
            "higher and lower than its mean."
        )


def groove_change_mm(tir_mm: float, tip_angle_deg: float) -> float:
    """Return by how much the width of a pointed groove varies round the work [mm].

    tir_mm: [mm]; tip_angle_deg: included angle of the point [deg], 0 to 180.

    >>> round(groove_change_mm(0.05, 120), 3)
    0.173
    """
    return 2 * tir_mm * tan(radians(tip_angle_deg / 2))
