"""The tilt of work that was read at two planes along its axis, and the moves that remove this tilt."""

from dataclasses import dataclass
from math import atan, cos, degrees, hypot, radians, sin

from core.lathe.lathe import Lathe
from core.operations.runout.analysis import Analysis, Vector
from core.operations.runout.harmonics import direction_deg
from core.operations.runout.job import RunoutJob, mark_words
from core.operations.runout.moves import Move, nearest_shims, reading_change_mm
from core.operations.runout.readings import LengthText

TAILSTOCK_LENGTH_MM = 100.0
"""The length between centres for which the program says how far to move the tailstock [mm]."""


@dataclass(frozen=True, kw_only=True)
class Tilt:
    """The tilt of the work's axis relative to the spindle's axis, from readings at two planes. Lengths are in mm."""

    first: Analysis
    """The readings of the plane nearer to the chuck."""
    second: Analysis
    apart_mm: float

    @property
    def lean_mm(self) -> Vector:
        """The shift of the work's centre from the first plane to the second [mm]: towards mark 0 and mark 90."""
        (x1, y1), (x2, y2) = self.first.work_centre_mm, self.second.work_centre_mm
        return x2 - x1, y2 - y1

    @property
    def tilt_deg(self) -> float:
        """The angle between the work's axis and the spindle's axis [deg]."""
        return degrees(atan(hypot(*self.lean_mm) / self.apart_mm))

    @property
    def lean_deg(self) -> float:
        """The mark towards which the work's axis leans with growing distance from the chuck [deg]."""
        return direction_deg(*self.lean_mm)

    @property
    def below_indicator(self) -> bool:
        """True if the lean is less than twice its standard error. The tilt may then not be real."""
        return hypot(*self.lean_mm) < 2 * hypot(self.first.error_mm, self.second.error_mm)

    def off_mm(self, along_mm: float) -> Vector:
        """Return the position of the work's centre [mm] at a distance from the first plane [mm].

        The distance is measured away from the chuck. The two parts of the position count towards mark 0 and towards
        mark 90.
        """
        (x, y), (dx, dy), share = self.first.work_centre_mm, self.lean_mm, along_mm / self.apart_mm
        return x + share * dx, y + share * dy


def tilt_moves(tilt: Tilt, job: RunoutJob, lathe: Lathe) -> tuple[Move, ...]:
    """Return the move that removes the tilt; () if there is none.

    In jaws, the turner taps the far end over, and the work pivots at the first plane. A flange gets a shim at its back,
    on the side towards which the work leans, and pivots on the opposite point of the bolt circle. Other workholding
    allows no move, and none is advised if the tilt is too small for the indicator to show.
    """
    if tilt.below_indicator:
        return ()
    x, y = tilt.lean_mm
    lean, angle = hypot(x, y), tilt.lean_deg
    if job.workholding in {"four jaw", "three jaw"}:
        return (_far_end(tilt, job, angle, lean),)
    circle = job.bolt_circle_mm or job.diameter_mm
    if job.workholding != "flange" or circle is None:
        return ()
    amount = lean * circle / tilt.apart_mm
    pieces = nearest_shims(amount, lathe.shims_mm)
    over = lean * (1 - (sum(pieces) / amount if lathe.shims_mm else 1.0))
    left = (over * cos(radians(angle)), over * sin(radians(angle)))
    return (
        Move(
            where=f"mark {mark_words(angle)}",
            how="shim",
            angle_deg=angle,
            amount_mm=amount,
            reading_mm=None,
            pieces_mm=pieces,
            none_near=bool(lathe.shims_mm) and not pieces,
            left_mm=abs(over),
            tir_left_mm=tilt.second.tir_after_mm(left),
        ),
    )


def _far_end(tilt: Tilt, job: RunoutJob, angle_deg: float, lean_mm: float) -> Move:
    return Move(
        where=f"the far end, mark {mark_words(angle_deg)}",
        how="tap",
        angle_deg=angle_deg,
        amount_mm=lean_mm,
        reading_mm=reading_change_mm(job, lean_mm),
        left_mm=0.0,
        tir_left_mm=tilt.second.tir_after_mm((0.0, 0.0)),
    )


def tilt_words(tilt: Tilt, job: RunoutJob, length_text: LengthText, *, left: bool = False) -> str:
    """Return in words how large the offset and the tilt are, and which of them to remove first.

    The order is common practice, without a source. left: True if the work stays as it is, so that no order is given.
    """
    off = hypot(*tilt.first.work_centre_mm)
    if tilt.below_indicator:
        return f"the axes are parallel, as far as this indicator can show. The offset is {length_text(off)}"
    words = (
        f"the offset is {length_text(off)} at the first plane. The axis leans {length_text(hypot(*tilt.lean_mm))} over "
        f"{length_text(tilt.apart_mm)} ({tilt.tilt_deg:.3f}°) towards mark {mark_words(tilt.lean_deg)}"
    )
    if left:
        return words
    if job.workholding in {"four jaw", "three jaw"}:
        return (
            f"{words}. Move the jaws first, by the first plane. Then tap the far end with a soft hammer and read again"
        )
    if job.workholding == "flange":
        return f"{words}. Take out the tilt first: seat or shim the flange and read again. Then tap the offset out"
    if job.workholding == "between centres":
        return f"{words}. The cause is in the centre holes"
    return f"{words}. Clean and seat it first. A tilt that stays comes from a bad seat"


def taper_mm(tilt: Tilt) -> float:
    """Return the taper on the diameter [mm] that a cut between the same centres makes from one plane to the other.

    The indicator must be at centre height and square to the axis, and must move with the carriage without being reset.
    The work's own runout does not change the mean of a turn.
    Source: the slope is the change of the reading divided by the distance, and the taper on the diameter is twice the
    slope (ISO 230-1 practice, from memory).
    """
    return 2 * abs(_mean_change_mm(tilt))


def tailstock_words(tilt: Tilt, length_text: LengthText) -> str:
    """Return how far and in which direction to move the tailstock so that work between centres is turned parallel."""
    change = _mean_change_mm(tilt)
    if abs(change) < 2 * hypot(tilt.first.reading_error_mm, tilt.second.reading_error_mm):
        return "headstock and tailstock are in line, as far as this indicator can show"
    direction = "away from" if change > 0 else "towards"
    along = abs(change) * TAILSTOCK_LENGTH_MM / tilt.apart_mm
    return (
        f"the taper on the diameter is {length_text(taper_mm(tilt))} over {length_text(tilt.apart_mm)}, if the bar "
        f"itself is parallel. Move the tailstock {direction} the indicator's side by {length_text(along)} for every "
        f"{length_text(TAILSTOCK_LENGTH_MM)} between centres. This is right only if the indicator was at centre "
        "height and was moved on the carriage without resetting it"
    )


def _mean_change_mm(tilt: Tilt) -> float:
    """Return the mean reading at the second plane minus the mean reading at the first plane [mm]."""
    return tilt.second.offset.mean - tilt.first.offset.mean
