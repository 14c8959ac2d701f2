"""Finds the position of a blank that was removed from the table and put back, from cuts already made.

At two or three cuts the turner brings the cutter's point into the groove and reads slide and table. A least-squares fit
gives the shift and the turn of the blank. The formulas are derived here, not taken from a source. Lengths in mm, angles
in degrees.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

from core.inputs import PutBack
from core.operations.patterns.elements import Element
from core.operations.patterns.geometry import LengthText
from core.operations.patterns.layers import PatternJob, Point
from core.values.errors import PlanError
from core.values.quantities import mm_text, number_text

SLIPPED_MM = 0.1
"""A cut further than this from its calculated place was misread. Common practice, no source."""
LEAST_APART_MM = 5.0
"""Cuts nearer to each other than this cannot show the turn of the work."""
_WORTH_NAMING_MM = 0.01
_COUNTS = {2: "two", 3: "three", 4: "four"}


class FoundCut(NamedTuple):
    """A cut already on the blank, and the settings of slide and table at which the cutter's point is in that cut."""

    element: Element
    """The groove on the work: a circle, a dot, or a slot. A slot is found at its start."""
    slide_mm: float
    """Distance of the slide from the place where the axes meet, on the job's side."""
    angle_deg: float
    """Angle of the table, positive if it moves positions anticlockwise on the work."""

    @property
    def name(self) -> str:
        """The name of the cut in messages, such as "layer 1, position 3"."""
        return f"layer {self.element.layer}, position {self.element.position}"


class ReadingSlippedError(PlanError):
    """Raised for readings that contradict each other. `slipped`: the cuts to read again."""

    def __init__(self, message: str, slipped: Sequence[FoundCut]) -> None:
        super().__init__(message)
        self.slipped = tuple(slipped)


class FoundAgain(NamedTuple):
    """The position of the blank on the table after it was put back."""

    shift_x_mm: float
    """Shift of the work's centre from the table's axis, with the table at 0."""
    shift_y_mm: float
    turned_deg: float
    """Turn of the work, anticlockwise on its face; from -180 to 180."""
    residual_mm: float
    """Root mean square distance of the cuts from their calculated places."""
    worst: FoundCut
    """The cut furthest from its calculated place."""
    worst_mm: float
    cuts: int
    """Number of cuts found."""

    def words(self, before: PutBack, to_text: LengthText = mm_text) -> str:
        """Return a sentence on how far the blank has moved from its position `before`, and on how well the cuts agree.

        `to_text` returns a length [mm] as text in the unit of the lathe.
        """
        moved_mm = math.dist((self.shift_x_mm, self.shift_y_mm), before.shift_mm)
        turned_deg = (self.turned_deg - before.turn_deg + 180) % 360 - 180
        way = "anticlockwise" if turned_deg >= 0 else "clockwise"
        worst = f"; {self.worst.name} is the worst" if self.cuts > 2 and self.worst_mm >= _WORTH_NAMING_MM else ""
        return (
            f"The work has turned {number_text(abs(turned_deg), 3)}° {way}, and its centre has moved by "
            f"{to_text(moved_mm)}. The {_COUNTS.get(self.cuts, str(self.cuts))} cuts agree to "
            f"{to_text(self.worst_mm)}{worst}."
        )


def put_back(
    job: PatternJob, found: Sequence[FoundCut], most_mm: float = SLIPPED_MM, to_text: LengthText = mm_text
) -> FoundAgain:
    """Return the position of a blank on the table, calculated from cuts that the turner found again.

    The height error and the side of the axis come from the job. `to_text` returns a length [mm] as text in the unit of
    the lathe. Raises PlanError for fewer than two cuts, for cuts too near to each other, and for an arc. Raises
    ReadingSlippedError if a reading differs from the fit by more than `most_mm`. The error names the wrong reading if
    the other readings agree.

    The fit is the rigid motion in the plane with the smallest sum of squared distances. Its turn is the angle of
    sum(conj(p) q) over the points p on the work and q on the table, each counted from their mean.
    """
    _refuse_unusable(found, to_text)
    on_work = [(one.element.x_mm, one.element.y_mm) for one in found]
    on_table = [_on_table_mm(job, one) for one in found]
    fitted = _fitted(on_work, on_table)
    distances_mm = _distances_mm(fitted, on_work, on_table)
    worst_mm = max(distances_mm)
    if worst_mm > most_mm:
        raise _slipped(found, on_work, on_table, most_mm, to_text)
    return FoundAgain(
        *fitted,
        residual_mm=math.sqrt(sum(distance**2 for distance in distances_mm) / len(distances_mm)),
        worst=found[distances_mm.index(worst_mm)],
        worst_mm=worst_mm,
        cuts=len(found),
    )


def _refuse_unusable(found: Sequence[FoundCut], to_text: LengthText) -> None:
    if len(found) < 2:
        raise PlanError("One cut does not show how the work is turned. Find two cuts again, or better three.")
    for one in found:
        if one.element.shape == "arc":
            raise PlanError(
                f"The arc at {one.name} cannot show how the work lies. Find a circle, a dot or the start of a slot."
            )
        if one.slide_mm < 0:
            raise PlanError(
                f"At {one.name} the slide is past the table's axis. Turn the table by 180 deg and read again."
            )
    apart_mm = max(
        math.hypot(one.element.x_mm - other.element.x_mm, one.element.y_mm - other.element.y_mm)
        for one in found
        for other in found
    )
    if apart_mm < LEAST_APART_MM:
        raise PlanError(
            f"These cuts are only {to_text(apart_mm)} apart on the work, too near to show how the work is turned. "
            f"Find cuts at least {to_text(LEAST_APART_MM)} apart, best on opposite sides."
        )


def _on_table_mm(job: PatternJob, cut: FoundCut) -> Point:
    """Return the present place of a cut [mm], counted from the table's axis with the table at 0."""
    x_mm, y_mm = job.comes_out_mm(cut.slide_mm, cut.angle_deg)
    return x_mm + job.eccentric_mm[0], y_mm + job.eccentric_mm[1]


_Motion = tuple[float, float, float]
"""Shift in x and y [mm], and turn [deg]."""


def _fitted(on_work: Sequence[Point], on_table: Sequence[Point]) -> _Motion:
    """Return the motion that moves points on the work to points on the table by a least-squares fit."""
    work_x, work_y = _mean(on_work)
    table_x, table_y = _mean(on_table)
    along = across = 0.0
    for (x_mm, y_mm), (to_x_mm, to_y_mm) in zip(on_work, on_table, strict=True):
        from_x, from_y, to_x, to_y = x_mm - work_x, y_mm - work_y, to_x_mm - table_x, to_y_mm - table_y
        along += from_x * to_x + from_y * to_y
        across += from_x * to_y - from_y * to_x
    turned = math.atan2(across, along)
    cosine, sine = math.cos(turned), math.sin(turned)
    return (
        table_x - work_x * cosine + work_y * sine,
        table_y - work_x * sine - work_y * cosine,
        math.degrees(turned),
    )


def _mean(points: Sequence[Point]) -> Point:
    return sum(x_mm for x_mm, _ in points) / len(points), sum(y_mm for _, y_mm in points) / len(points)


def _distances_mm(motion: _Motion, on_work: Sequence[Point], on_table: Sequence[Point]) -> list[float]:
    """Return how far each point on the table lies from the place that a motion gives for it [mm]."""
    shift_x, shift_y, turned = motion[0], motion[1], math.radians(motion[2])
    cosine, sine = math.cos(turned), math.sin(turned)
    return [
        math.hypot(
            shift_x + x_mm * cosine - y_mm * sine - to_x_mm,
            shift_y + x_mm * sine + y_mm * cosine - to_y_mm,
        )
        for (x_mm, y_mm), (to_x_mm, to_y_mm) in zip(on_work, on_table, strict=True)
    ]


def _slipped(
    found: Sequence[FoundCut],
    on_work: Sequence[Point],
    on_table: Sequence[Point],
    most_mm: float,
    to_text: LengthText,
) -> ReadingSlippedError:
    """Return the error for readings that contradict each other.

    The error names the wrong reading if the other readings agree, and says what to do.
    """
    if len(found) == 2:
        apart_mm, now_mm = math.dist(*on_work), math.dist(*on_table)
        return ReadingSlippedError(
            f"These cuts are {to_text(apart_mm)} apart on the work, but {to_text(now_mm)} apart by the readings. Read "
            "both again, or find a third cut to show which reading is wrong.",
            found,
        )
    agreed = []
    for number, one in enumerate(found):
        rest = [other for other in range(len(found)) if other != number]
        work, table = [on_work[other] for other in rest], [on_table[other] for other in rest]
        motion = _fitted(work, table)
        if max(_distances_mm(motion, work, table)) <= most_mm:
            (off_mm,) = _distances_mm(motion, [on_work[number]], [on_table[number]])
            agreed.append((one, off_mm))
    if len(agreed) == 1:
        one, off_mm = agreed[0]
        return ReadingSlippedError(
            f"The reading of {one.name} is wrong by {to_text(off_mm)}. The other readings agree. Read that cut again.",
            [one],
        )
    doubtful = [one for one, _ in agreed]
    names = "; ".join(one.name for one in doubtful) or "all cuts"
    return ReadingSlippedError(
        f"The readings do not fit together within {to_text(most_mm)}. Read again: {names}.", doubtful or found
    )
