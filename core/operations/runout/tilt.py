"""Two planes along the axis: offset and tilt told apart, and how to take the tilt out."""

from collections.abc import Callable
from math import atan, cos, degrees, hypot, radians, sin
from typing import NamedTuple

from core.lathe.lathe import Lathe
from core.operations.runout.analysis import Analysis
from core.operations.runout.harmonics import direction_deg
from core.operations.runout.job import RunoutJob, angle_words
from core.operations.runout.moves import Move, nearest_shims, reading_change_mm

Say = Callable[[float], str]
Vector = tuple[float, float]

TAILSTOCK_LENGTH_MM = 100.0
"""Length between centres that the tailstock's move is told for."""


class Tilt(NamedTuple):
    """How the work's axis lies against the spindle's, from readings at two planes. Lengths in mm."""

    first: Analysis
    """The plane nearer to the chuck."""
    second: Analysis
    apart_mm: float

    @property
    def lean_mm(self) -> Vector:
        """How much further off the work's centre lies at the second plane, towards marks 0 and 90."""
        (x1, y1), (x2, y2) = self.first.work_off_mm, self.second.work_off_mm
        return x2 - x1, y2 - y1

    @property
    def tilt_deg(self) -> float:
        """Angle between the two axes."""
        return degrees(atan(hypot(*self.lean_mm) / self.apart_mm))

    @property
    def lean_deg(self) -> float:
        """The mark towards which the work's axis leans, going away from the chuck."""
        return direction_deg(*self.lean_mm)

    @property
    def below_indicator(self) -> bool:
        """The lean is less than twice its standard error."""
        return hypot(*self.lean_mm) < 2 * hypot(self.first.error_mm, self.second.error_mm)

    def off_mm(self, along_mm: float) -> Vector:
        """Return where the work's centre lies [mm] at a distance from the first plane, away from the chuck [mm]."""
        (x, y), (dx, dy), share = self.first.work_off_mm, self.lean_mm, along_mm / self.apart_mm
        return x + share * dx, y + share * dy


def tilt_moves(tilt: Tilt, job: RunoutJob, lathe: Lathe) -> tuple[Move, ...]:
    """Return the move that takes the tilt out; () where the holding has none, or there is none to be told.

    In jaws the far end is tapped over, the work pivoting at the first plane; a flange
    is shimmed behind on the side towards which the work leans, pivoting on the opposite
    point of the bolt circle.
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
            where=f"mark {angle_words(angle)}",
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
        where=f"the far end, mark {angle_words(angle_deg)}",
        how="tap",
        angle_deg=angle_deg,
        amount_mm=lean_mm,
        reading_mm=reading_change_mm(job, lean_mm),
        left_mm=0.0,
        tir_left_mm=tilt.second.tir_after_mm((0.0, 0.0)),
    )


def tilt_words(tilt: Tilt, job: RunoutJob, say: Say, *, left: bool = False) -> str:
    """Say what is offset, what is tilt, and which to take out first. Common practice, no source.

    left: nothing is to be taken out [-].
    """
    off = hypot(*tilt.first.work_off_mm)
    if tilt.below_indicator:
        return f"the axes lie parallel, as far as this indicator can tell: {say(off)} of plain offset"
    words = (
        f"{say(off)} of offset at the first plane, and the axis leans {say(hypot(*tilt.lean_mm))} over "
        f"{say(tilt.apart_mm)} ({tilt.tilt_deg:.3f}°) towards mark {angle_words(tilt.lean_deg)}"
    )
    if left:
        return words
    if job.workholding in {"four jaw", "three jaw"}:
        return f"{words}: first the jaws, by the first plane; then the far end with a soft hammer; then read both again"
    if job.workholding == "flange":
        return f"{words}: first the tilt, by seating or shimming the flange; read again; then tap the offset out"
    if job.workholding == "between centres":
        return f"{words}: that lies in the centre holes"
    return f"{words}: clean and seat it first; a tilt that stays comes from a bad seat"


def taper_mm(tilt: Tilt) -> float:
    """Return the taper on the diameter, over `apart`, that a cut between these centres gets [mm].

    Holds where the indicator stands at centre height, square to the axis, and was
    carried along on the carriage without setting it anew; the mean of a turn is free of
    the work's own runout.
    Source: slope = change of reading / distance, taper on the diameter twice that
    (ISO 230-1 practice, from memory).
    """
    return 2 * abs(_mean_change_mm(tilt))


def tailstock_words(tilt: Tilt, say: Say) -> str:
    """Say how far to move the tailstock and which way, so that work between centres comes out parallel."""
    change = _mean_change_mm(tilt)
    if abs(change) < 2 * hypot(tilt.first.reading_error_mm, tilt.second.reading_error_mm):
        return "headstock and tailstock are in line, as far as this indicator can tell"
    way = "away from" if change > 0 else "towards"
    along = abs(change) * TAILSTOCK_LENGTH_MM / tilt.apart_mm
    return (
        f"{say(taper_mm(tilt))} of taper on the diameter over {say(tilt.apart_mm)}, if the bar itself is parallel: "
        f"move the tailstock {way} the indicator's side by {say(along)} for every {say(TAILSTOCK_LENGTH_MM)} between "
        "the centres (only if the indicator stood at centre height and was carried along without setting it anew)"
    )


def _mean_change_mm(tilt: Tilt) -> float:
    """Return how much further in the plunger is at the second plane [mm], the mean of a turn."""
    return tilt.second.offset.mean - tilt.first.offset.mean
