"""Converts speeds along a path and speeds of rotation, and converts each into the other at a given diameter."""

from fractions import Fraction
from math import pi

from core.conversion.answers import Conversion
from core.conversion.dimensions import ROTATION, Value
from core.conversion.lengths import check_length
from core.conversion.units import PI
from core.lathe.lathe import Lathe
from core.values.errors import QuantityError
from core.values.plain_text import quoted
from core.values.quantities import MM_PER_INCH
from core.values.words import Row, field_text, figure_text, unit_row

FASTEST = 10**7
_MM_PER_FOOT = 12 * MM_PER_INCH


def speed_answer(asked: str, speed: Value, diameter_mm: Fraction | None, lathe: Lathe | None) -> Conversion:
    """Return the answer for a speed [mm/s or turns/s] in all units.

    If a diameter [mm] is given, the answer has both the cutting speed and the spindle speed. `diameter_mm`: None if the
    question names no diameter. `asked`: the question, which the answer repeats. `lathe`: None for an answer without the
    lathe's own spindle speeds.

    Raises QuantityError for a diameter that is not above 0, and for a speed that no lathe has. Source: v = pi d n.
    """
    per_minute = speed.number * 60
    if abs(per_minute) > FASTEST * (1 if speed.dimension == ROTATION else 1000):
        raise QuantityError(f"{quoted(asked)} is too fast for any lathe. Enter a speed such as 70 rpm or 25 m/min.")
    rpm, mm_per_min = (per_minute, None) if speed.dimension == ROTATION else (None, per_minute)
    if diameter_mm is not None:
        if diameter_mm <= 0:
            raise QuantityError(f"In {quoted(asked)}, the diameter is not above 0. Enter a diameter such as 30 mm.")
        check_length(asked, diameter_mm)
        around_mm = PI * diameter_mm
        rpm, mm_per_min = (rpm, rpm * around_mm) if rpm is not None else (per_minute / around_mm, mm_per_min)
    rows: list[Row] = []
    figures: dict[str, float] = {}
    if diameter_mm is not None:
        figures["diameter_mm"] = float(diameter_mm)
        rows.append(unit_row("at a diameter of", diameter_mm, "mm"))
    if mm_per_min is not None:
        figures |= _travel_figures(mm_per_min)
        rows += [
            Row("cutting speed", figure_text(mm_per_min / per, unit), field_text(mm_per_min / per, unit))
            for per, unit in ((1000, "m/min"), (_MM_PER_FOOT, "ft/min"))
        ]
        if diameter_mm is None:
            feed = f"{figure_text(mm_per_min, 'mm/min')}, {figure_text(mm_per_min / MM_PER_INCH, 'in/min')}"
            rows.append(Row("feed", feed))
    if rpm is not None:
        figures["rpm"] = float(rpm)
        rows.append(Row("turns", figure_text(rpm, "rpm"), field_text(rpm, "rpm")))
        rows += _spindle_rows(float(rpm), diameter_mm, lathe)
    if diameter_mm is None:
        wanted = "turns" if rpm is None else "cutting speed"
        rows.append(Row(wanted, 'add a diameter, such as "at 30 mm"'))
    return Conversion(asked=asked, kind="speed", figures=figures, rows=tuple(rows), field_text=_field_text(speed))


def _travel_figures(mm_per_min: Fraction) -> dict[str, float]:
    return {
        "m_per_min": float(mm_per_min / 1000),
        "ft_per_min": float(mm_per_min / _MM_PER_FOOT),
        "mm_per_min": float(mm_per_min),
        "in_per_min": float(mm_per_min / MM_PER_INCH),
    }


def _spindle_rows(rpm: float, diameter_mm: Fraction | None, lathe: Lathe | None) -> list[Row]:
    """Return a row with the lathe's fastest spindle speed that is not above a wanted speed [rpm].

    The row adds the cutting speed if the diameter is known. Return [] if `rpm` is not above 0 or the lathe's speeds are
    not known.
    """
    spindle = None if lathe is None else lathe.spindle
    if spindle is None or rpm <= 0 or not (spindle.speeds_rpm or spindle.range_rpm):
        return []
    most = min(rpm, spindle.most_rpm or rpm)
    speed_rpm = spindle.fastest_up_to(most)
    if speed_rpm is None:
        slowest = figure_text(spindle.slowest_rpm or 0, "rpm")
        return [Row("this spindle", f"cannot run that slowly; its slowest speed is {slowest}", slowest)]
    words = f"{figure_text(speed_rpm)} rpm is its fastest speed that is not above this"
    if diameter_mm is not None:
        words += f": {figure_text(pi * float(diameter_mm) * speed_rpm / 1000, 'm/min', 4)}"
    return [Row("this spindle", words, field_text(speed_rpm, "rpm"))]


def _field_text(speed: Value) -> str:
    if speed.dimension == ROTATION:
        return field_text(speed.number * 60, "rpm")
    return field_text(speed.number * 60 / 1000, "m/min")
