"""The moves of jaws, shims or taps that remove an offset, and the runout to expect after each move."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import combinations_with_replacement
from math import cos, hypot, radians, sin, sqrt
from typing import Any, Literal, NamedTuple

from core.lathe.lathe import Lathe
from core.operations.runout.analysis import Analysis, Vector
from core.operations.runout.harmonics import direction_deg
from core.operations.runout.job import RunoutJob, graduation_of, mark_words
from core.operations.runout.readings import LengthText, other_unit_text
from core.values.errors import PlanError
from core.values.quantities import mm_text

How = Literal["press", "tap", "shim"]
JAWS_DEG = (0.0, 120.0, 240.0)
LARGEST_MOVE_SHARE = 0.9
"""The largest move worth making, as a part of the radius."""
_NOTHING_MM = 1e-6


class Move(NamedTuple):
    """One move of the work. Lengths are in mm. Angles are marks on the work [deg]."""

    where: str
    """Where to press, tap or shim: "jaw 1", or a mark."""
    how: How
    angle_deg: float
    amount_mm: float
    """The distance that the work moves from this mark towards the axis (press, tap), or the thickness of the shim."""
    reading_mm: float | None
    """The change of the reading at this mark. None for a shim, which no indicator shows directly."""
    left_mm: float
    """The eccentricity to expect after this move and earlier ones, with the shims in stock."""
    tir_left_mm: float
    """The total indicator reading to expect after the same moves. It includes the part's own form."""
    turns: float | None = None
    """Turns of the jaw's screw, and as many back at the opposite jaw. None if the screw's lead is not known."""
    pieces_mm: tuple[float, ...] = ()
    """The shims in stock that come nearest, thickest first."""
    none_near: bool = False
    """True if no shim in stock comes nearer to the thickness than no shim at all."""

    def words(self, lathe: Lathe) -> str:
        """Return the instruction for this move and the change of the reading, without a capital letter or a full stop.

        Readings are in the indicator's unit. Shims are in the lathe's unit of length.
        """
        length_text = lathe.length_text if self.how == "shim" else lathe.indicator_text
        if self.how == "press":
            text = f"slacken {_opposite_jaw(self.where)} and press {self.where} in by {length_text(self.amount_mm)}"
            text += "" if self.turns is None else f" ({_turn_words(self.turns)} of each screw)"
        elif self.how == "tap":
            text = f"nip the screws, then tap at {self.where} towards the axis by {length_text(self.amount_mm)}"
            if self.where.startswith("the far end"):
                text = f"tap {self.where}, towards the axis by {length_text(self.amount_mm)} at the second plane"
        else:
            text = f"shim {length_text(self.amount_mm)} under {self.where}"
            if self.where.startswith("mark"):
                text = f"shim {length_text(self.amount_mm)} behind the work at {self.where}"
            if self.pieces_mm:
                pieces = " + ".join(length_text(piece) for piece in self.pieces_mm)
                text += f" (nearest of your shims: {pieces})"
            elif self.none_near:
                text += " (all your shims are too thick: use none)"
        if self.reading_mm is None:
            return text
        change, amount = "falls" if self.reading_mm < 0 else "rises", length_text(abs(self.reading_mm))
        by = "as much" if amount == length_text(self.amount_mm) else amount
        text = f"{text}; the reading at {mark_words(self.angle_deg)} {change} by {by}"
        if lathe.indicator is None:
            return text
        return f"{text}, {other_unit_text(abs(self.reading_mm), 'mm', graduation_of(lathe), length_text)}"

    def as_data(self) -> dict[str, Any]:
        """Return the move as data for the card."""
        return {"where": self.where, "how": self.how, "angle_deg": self.angle_deg, "amount_mm": self.amount_mm}


def moves(analysis: Analysis, job: RunoutJob, lathe: Lathe) -> tuple[Move, ...]:
    """Return the moves that remove the offset of a turn, largest first; () if no move is possible or needed.

    No move is possible if the offset is too small for the indicator to show, if it is impossible for the diameter that
    was entered, or if the workholding has nothing to move.
    """
    if analysis.below_indicator or analysis.larger_than_work:
        return ()
    if job.surface == "face":
        return _face(analysis, job, lathe) if job.workholding not in {"screwed on", "between centres"} else ()
    planner = _PLANNERS.get(job.workholding or "")
    return planner(analysis, job, lathe) if planner else ()


def shims_for_flat_jaws(job: RunoutJob, lathe: Lathe) -> bool:
    """Return whether shims are to be calculated for wide, flat jaws.

    This is so if the lathe file says that the jaws are flat, or if the diameter of the work is not known.
    """
    return lathe.chuck.jaw_face == "wide" or job.diameter_mm is None


def _four_jaw(analysis: Analysis, job: RunoutJob, lathe: Lathe) -> tuple[Move, ...]:
    """Return one move for each pair of opposite jaws: half the difference between the readings at the two jaws."""
    left = list(analysis.work_centre_mm)
    pair_moves = []
    for axis in sorted((0, 1), key=lambda axis: -abs(left[axis])):
        off = left[axis]
        if abs(off) < _NOTHING_MM:
            continue
        left[axis] = 0.0
        jaw = axis if off > 0 else axis + 2
        pair_moves.append(
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
    return tuple(pair_moves)


def _three_jaw(analysis: Analysis, job: RunoutJob, lathe: Lathe) -> tuple[Move, ...]:
    x, y = analysis.work_centre_mm
    radius = None if shims_for_flat_jaws(job, lathe) or job.diameter_mm is None else job.diameter_mm / 2
    exact = shims_mm((-x, -y), radius, lathe.length_text)
    real = [0.0, 0.0, 0.0]
    shim_moves = []
    for jaw in sorted(range(3), key=lambda jaw: -exact[jaw]):
        if exact[jaw] < _NOTHING_MM:
            continue
        pieces = nearest_shims(exact[jaw], lathe.shims_mm)
        real[jaw] = sum(pieces) if lathe.shims_mm else exact[jaw]
        moved = moved_by_mm(real, radius, lathe.length_text)
        left = (x + moved[0], y + moved[1])
        shim_moves.append(
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
    return tuple(shim_moves)


def _flange(analysis: Analysis, job: RunoutJob, lathe: Lathe) -> tuple[Move, ...]:
    x, y = analysis.work_centre_mm
    high = direction_deg(x, y)
    return (
        Move(
            where=f"mark {mark_words(high)}",
            how="tap",
            angle_deg=high,
            amount_mm=hypot(x, y),
            reading_mm=reading_change_mm(job, hypot(x, y)),
            left_mm=0.0,
            tir_left_mm=analysis.tir_after_mm((0.0, 0.0)),
        ),
    )


def _face(analysis: Analysis, job: RunoutJob, lathe: Lathe) -> tuple[Move, ...]:
    """Return the move that puts a shim under the low side of a face; () if the diameter of the face is not known.

    The work tips about the point of the bolt circle that is opposite the shim.
    """
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
            where=f"mark {mark_words(low)}",
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
    """Return the change of the reading at a mark [mm] when the work moves from that mark towards the axis.

    The reading falls, but in a bore it rises. A lever indicator at an angle shows more than the true distance.
    amount_mm: how far the work moves, 0 or more [mm].
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


def shims_mm(move_mm: Vector, radius_mm: float | None, length_text: LengthText = mm_text) -> tuple[float, float, float]:
    """Return the thicknesses of the shims under three jaws that move a bar from the chuck's axis by `move_mm` [mm].

    At least one thickness is 0.
    move_mm: the distances towards mark 0 and towards mark 90 [mm].
    radius_mm: the radius of the bar, held by narrow jaw tips [mm]; None for wide, flat jaws.
    length_text: returns a length [mm] as text.
    Raises PlanError for a move too large for the bar.
    Source: geometry. For a bar of radius R with centre c, a narrow jaw in the direction n touches at n.c + sqrt(R² - (n
    x c)²), a flat jaw at n.c + R. All three jaws close by the same amount, so each shim fills the gap at its jaw. To
    move the bar by e straight away from one jaw, the shim is t = 1.5 e - R + sqrt(R² - 0.75 e²), or 1.5 e for flat
    jaws.

    >>> [round(thickness, 4) for thickness in shims_mm((-1, 0), 10)]
    [1.4624, 0.0, 0.0]
    """
    jaw_positions = _bar_at_jaws(move_mm, radius_mm, length_text)
    first, second, third = jaw_positions
    return max(jaw_positions) - first, max(jaw_positions) - second, max(jaw_positions) - third


def moved_by_mm(thicknesses_mm: Sequence[float], radius_mm: float | None, length_text: LengthText = mm_text) -> Vector:
    """Return the position to which three shims move a bar from the chuck's axis [mm]: the inverse of `shims_mm`.

    The two parts of the position count towards mark 0 and towards mark 90.
    thicknesses_mm: the shims under jaws 1, 2 and 3 [mm].
    radius_mm: the radius of the bar, held by narrow jaw tips [mm]; None for wide, flat jaws.
    length_text: returns a length [mm] as text.
    Raises PlanError for a shim too thick for the bar.

    >>> [round(part, 4) for part in moved_by_mm((1.5, 0, 0), None)]
    [-1.0, 0.0]
    """
    move = (0.0, 0.0)
    for _ in range(60):
        reaches = _bar_at_jaws(move, radius_mm, length_text)
        gaps = [wanted + reached for wanted, reached in zip(thicknesses_mm, reaches, strict=True)]
        # A gap common to all three jaws only opens the chuck further. The bar does not move.
        step_x = -2 / 3 * sum(gap * cos(radians(jaw)) for gap, jaw in zip(gaps, JAWS_DEG, strict=True))
        step_y = -2 / 3 * sum(gap * sin(radians(jaw)) for gap, jaw in zip(gaps, JAWS_DEG, strict=True))
        move = (move[0] + step_x, move[1] + step_y)
        if abs(step_x) + abs(step_y) < 1e-13:
            break
    return move


def nearest_shims(thickness_mm: float, sizes_mm: Sequence[float]) -> tuple[float, ...]:
    """Return the one or two shims whose sum is nearest to a thickness [mm], thickest first; () if no shim is nearer.

    Shims are cut from sheet, so a size may be used twice. Of two equally near choices, the one with fewer pieces is
    taken.
    thickness_mm: the wanted thickness [mm].
    sizes_mm: the thicknesses of the sheets in stock [mm].

    >>> nearest_shims(0.16, (0.05, 0.1, 0.2, 0.5))
    (0.1, 0.05)
    """
    best: tuple[float, ...] = ()
    for pieces in _choices(sizes_mm):
        if abs(sum(pieces) - thickness_mm) < abs(sum(best) - thickness_mm) - 1e-9:
            best = pieces
    return tuple(sorted(best, reverse=True))


def _choices(sizes_mm: Sequence[float]) -> Iterator[tuple[float, ...]]:
    sizes = sorted(set(sizes_mm))
    for count in (1, 2):
        yield from combinations_with_replacement(sizes, count)


def _bar_at_jaws(centre_mm: Vector, radius_mm: float | None, length_text: LengthText) -> list[float]:
    """Return the distance from the chuck's axis to the bar's surface at each jaw, minus the bar's radius [mm].

    `radius_mm`: the radius of the bar, held by narrow jaw tips [mm]; None for wide, flat jaws.
    """
    distances = []
    for jaw in JAWS_DEG:
        x, y = cos(radians(jaw)), sin(radians(jaw))
        along, across = x * centre_mm[0] + y * centre_mm[1], x * centre_mm[1] - y * centre_mm[0]
        if radius_mm is None:
            distances.append(along)
        elif abs(across) > LARGEST_MOVE_SHARE * radius_mm:
            raise PlanError(
                f"A bar of radius {length_text(radius_mm)} cannot move {length_text(abs(across))} to the side in three "
                "jaws. Check the diameter and the readings.",
                field="diameter",
            )
        else:
            # Written so that the difference of two nearly equal numbers keeps its digits.
            distances.append(along - across**2 / (radius_mm + sqrt(radius_mm**2 - across**2)))
    return distances
