"""The move that cures an offset, for each way of holding, with what it should leave."""

from collections.abc import Callable, Mapping
from math import cos, hypot, radians, sin
from typing import Any, Literal, NamedTuple

from core.lathe.lathe import Lathe
from core.operations.runout.analysis import Analysis
from core.operations.runout.harmonics import direction_deg
from core.operations.runout.job import RunoutJob, angle_words, graduation_of
from core.operations.runout.readings import in_words
from core.operations.runout.shims import JAWS_DEG, moved_by_mm, nearest_shims, shims_mm

How = Literal["press", "tap", "shim"]
Vector = tuple[float, float]
_NOTHING_MM = 1e-6


class Move(NamedTuple):
    """One thing to do to the work. Lengths in mm, angles marks on the work [deg]."""

    where: str
    """"jaw 1", or the mark."""
    how: How
    angle_deg: float
    amount_mm: float
    """press, tap: how far the work goes from that mark towards the axis; shim: thickness."""
    reading_mm: float | None
    """How the reading at that mark changes; None where no indicator shows it directly (shim)."""
    left_mm: float
    """Eccentricity to expect after this move and those before it, with the pieces where there are any."""
    tir_left_mm: float
    """Total indicator reading to expect then; the part's own form stays."""
    turns: float | None = None
    """Of the jaw's screw, and as much back at the opposite one; None where its lead is not known."""
    pieces_mm: tuple[float, ...] = ()
    """The nearest shims there are, thickest first."""
    none_near: bool = False
    """There are shims at hand, but none at all comes nearer than any of them."""

    def words(self, lathe: Lathe) -> str:
        """Return what to do in a sentence without a stop; what the reading does also in graduations, where known.

        What the indicator shows is said in its unit, shims in the unit that sizes are measured in.
        """
        say = lathe.length_text if self.how == "shim" else lathe.indicator_text
        if self.how == "press":
            text = f"slacken {_opposite_jaw(self.where)} and press {self.where} in by {say(self.amount_mm)}"
            text += "" if self.turns is None else f" ({_turn_words(self.turns)} of each screw)"
        elif self.how == "tap":
            text = f"tap at {self.where} towards the axis by {say(self.amount_mm)}, the screws just nipped"
            if self.where.startswith("the far end"):
                text = f"tap {self.where}, towards the axis by {say(self.amount_mm)} at the second plane"
        else:
            text = f"shim {say(self.amount_mm)} under {self.where}"
            if self.where.startswith("mark"):
                text = f"shim {say(self.amount_mm)} behind the work at {self.where}"
            if self.pieces_mm:
                pieces = " + ".join(say(piece) for piece in self.pieces_mm)
                text += f" (nearest in the drawer: {pieces})"
            elif self.none_near:
                text += " (nothing in the drawer comes nearer than leaving it out)"
        if self.reading_mm is None:
            return text
        way, amount = "falls" if self.reading_mm < 0 else "rises", say(abs(self.reading_mm))
        by = "as much" if amount == say(self.amount_mm) else amount
        text = f"{text}: the reading at {angle_words(self.angle_deg)} {way} by {by}"
        if lathe.indicator is None:
            return text
        return f"{text}, {in_words(abs(self.reading_mm), 'mm', graduation_of(lathe), say)}"

    def as_data(self) -> dict[str, Any]:
        """Return the move as the card prints it."""
        return {"where": self.where, "how": self.how, "angle_deg": self.angle_deg, "amount_mm": self.amount_mm}


def moves(analysis: Analysis, job: RunoutJob, lathe: Lathe) -> tuple[Move, ...]:
    """Return the moves that cure what `analysis` found, largest first; () where nothing can or need be moved.

    None where the offset is below what the indicator can tell, impossible at the
    diameter given, or the holding has nothing to move.
    """
    if analysis.below_indicator or analysis.larger_than_work:
        return ()
    if job.surface == "face":
        return _face(analysis, job, lathe) if job.workholding not in {"screwed on", "between centres"} else ()
    planner = _PLANNERS.get(job.workholding or "")
    return planner(analysis, job, lathe) if planner else ()


def shims_as_flat(job: RunoutJob, lathe: Lathe) -> bool:
    """Tell whether shims are worked out for wide flat faces: the lathe file says so, or no diameter is known."""
    return lathe.chuck.jaw_face == "wide" or job.diameter_mm is None


def _four_jaw(analysis: Analysis, job: RunoutJob, lathe: Lathe) -> tuple[Move, ...]:
    """Each pair alone: the work goes along it by its part of the offset, half of what the pair's readings differ by."""
    left = list(analysis.work_off_mm)
    found = []
    for axis in sorted((0, 1), key=lambda axis: -abs(left[axis])):
        off = left[axis]
        if abs(off) < _NOTHING_MM:
            continue
        left[axis] = 0.0
        jaw = axis if off > 0 else axis + 2
        found.append(
            Move(
                where=f"jaw {jaw + 1}",
                how="press",
                angle_deg=90.0 * jaw,
                amount_mm=abs(off),
                reading_mm=reading_change_mm(job, abs(off)),
                turns=None if lathe.chuck.jaw_lead_mm is None else abs(off) / lathe.chuck.jaw_lead_mm,
                left_mm=hypot(*left),
                tir_left_mm=analysis.tir_after_mm((left[0], left[1])),
            )
        )
    return tuple(found)


def _three_jaw(analysis: Analysis, job: RunoutJob, lathe: Lathe) -> tuple[Move, ...]:
    x, y = analysis.work_off_mm
    radius = None if shims_as_flat(job, lathe) or job.diameter_mm is None else job.diameter_mm / 2
    exact = shims_mm((-x, -y), radius, lathe.length_text)
    real = [0.0, 0.0, 0.0]
    found = []
    for jaw in sorted(range(3), key=lambda jaw: -exact[jaw]):
        if exact[jaw] < _NOTHING_MM:
            continue
        pieces = nearest_shims(exact[jaw], lathe.shims_mm)
        real[jaw] = sum(pieces) if lathe.shims_mm else exact[jaw]
        moved = moved_by_mm(real, radius, lathe.length_text)
        left = (x + moved[0], y + moved[1])
        found.append(
            Move(
                where=f"jaw {jaw + 1}",
                how="shim",
                angle_deg=JAWS_DEG[jaw],
                amount_mm=exact[jaw],
                reading_mm=None,
                pieces_mm=pieces,
                none_near=bool(lathe.shims_mm) and not pieces,
                left_mm=hypot(*left),
                tir_left_mm=analysis.tir_after_mm(left),
            )
        )
    return tuple(found)


def _flange(analysis: Analysis, job: RunoutJob, lathe: Lathe) -> tuple[Move, ...]:
    x, y = analysis.work_off_mm
    high = direction_deg(x, y)
    return (
        Move(
            where=f"mark {angle_words(high)}",
            how="tap",
            angle_deg=high,
            amount_mm=hypot(x, y),
            reading_mm=reading_change_mm(job, hypot(x, y)),
            left_mm=0.0,
            tir_left_mm=analysis.tir_after_mm((0.0, 0.0)),
        ),
    )


def _face(analysis: Analysis, job: RunoutJob, lathe: Lathe) -> tuple[Move, ...]:
    """Shim behind the low side; the work pivots on the opposite point of the bolt circle."""
    if job.diameter_mm is None:
        return ()
    share = (job.bolt_circle_mm or job.diameter_mm) / (job.diameter_mm / 2)
    amount = analysis.eccentricity_mm * share
    low = (analysis.high_spot_deg + 180) % 360
    pieces = nearest_shims(amount, lathe.shims_mm)
    lifted = (sum(pieces) if lathe.shims_mm else amount) / share
    over = analysis.eccentricity_mm - lifted
    high = radians(analysis.high_spot_deg)
    return (
        Move(
            where=f"mark {angle_words(low)}",
            how="shim",
            angle_deg=low,
            amount_mm=amount,
            reading_mm=None,
            pieces_mm=pieces,
            none_near=bool(lathe.shims_mm) and not pieces,
            left_mm=abs(over),
            tir_left_mm=analysis.tir_after_mm((over * cos(high), over * sin(high))),
        ),
    )


_PLANNERS: Mapping[str, Callable[[Analysis, RunoutJob, Lathe], tuple[Move, ...]]] = {
    "four jaw": _four_jaw,
    "three jaw": _three_jaw,
    "flange": _flange,
}


def reading_change_mm(job: RunoutJob, amount_mm: float) -> float:
    """Return how the reading changes at a mark from which the work goes towards the axis: in a bore it rises.

    amount_mm: how far the work goes, 0 or more [mm]. A lever at an angle shows more than the work goes.
    """
    shown_mm = amount_mm / cos(radians(job.stylus_deg))
    return shown_mm if job.surface == "bore" else -shown_mm


def _opposite_jaw(where: str) -> str:
    return f"jaw {(int(where.removeprefix('jaw ')) + 1) % 4 + 1}"


def _turn_words(turns: float) -> str:
    if turns < 1:
        degrees = 360 * turns
        return f"{degrees:.0f}°" if degrees >= 3 else f"{degrees:.1f}°"
    return f"{turns:.2f} turns"
