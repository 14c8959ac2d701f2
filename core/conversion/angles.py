"""An angle in every unit that a turner needs, and a taper as half angle, included angle and ratio."""

from fractions import Fraction
from math import radians, tan

from core.conversion.answers import Conversion
from core.conversion.dial_readings import DialReading
from core.lathe.lathe import CompoundScale, Lathe
from core.operations.taper_angles import Taper, angle_row, ratio_rows, setting_rows, taper_figures, taper_rows
from core.values.angles import whole_seconds_text
from core.values.errors import PlanError, QuantityError
from core.values.plain_text import quoted
from core.values.words import Row, exact_text, field_text, figure_text, unit_row

LARGEST_DEG = 10**7


def angle_answer(asked: str, angle_deg: Fraction, lathe: Lathe | None, taper: Taper | None = None) -> Conversion:
    """Return the answer for an angle [deg] in all units.

    `asked`: the question, which the answer repeats. `lathe`: None for an answer without dial readings. `taper`: the
    taper, if the question gave the angle as a half or included angle; otherwise None.

    Raises QuantityError if the angle is larger than ten million degrees.
    """
    if abs(angle_deg) > LARGEST_DEG:
        raise QuantityError(f"{quoted(asked)} is too large. Enter an angle of at most {LARGEST_DEG} deg.")
    figures: dict[str, object] = {
        "deg": float(angle_deg),
        "dms": whole_seconds_text(angle_deg),
        "arcmin": float(angle_deg * 60),
        "arcsec": float(angle_deg * 3600),
        "rad": radians(angle_deg),
        **_ratios(float(angle_deg)),
        **(taper_figures(taper, lathe) if taper else {}),
    }
    dials, table_figures, table_rows = _on_table(angle_deg, lathe)
    rows = taper_rows(taper, lathe) if taper else _plain_rows(angle_deg, lathe)
    if not taper and lathe is not None and lathe.compound is not None and 0 <= angle_deg <= 90:
        rows += [_from_square(lathe.compound, float(angle_deg))]
    return Conversion(
        asked=asked,
        kind="angle",
        figures=figures | table_figures,
        rows=(*rows, *table_rows),
        dials=dials,
        field_text=field_text(taper.half_deg if taper else angle_deg, "deg"),
    )


def taper_answer(asked: str, taper: Taper, lathe: Lathe | None) -> Conversion:
    """Return the answer for a taper: half angle, included angle, ratio, and readings of the compound's scale.

    `asked`: the question, which the answer repeats. `lathe`: None for an answer without readings of the scale.
    """
    return angle_answer(asked, taper.angle_deg, lathe, taper)


def _ratios(angle_deg: float) -> dict[str, object]:
    """Return the slope of an angle [deg], and the tapers that have it as included angle and as half angle.

    Source: taper = 2 tan(half angle); a foot is 12 in.
    """
    figures: dict[str, object] = {}
    if abs(angle_deg) < 90:
        slope = tan(radians(angle_deg))
        figures |= {"percent": 100 * slope, "mm_per_100_mm": 100 * slope}
    for before, half_deg in (("", angle_deg / 2), ("half_", angle_deg)):
        if abs(half_deg) >= 90:
            continue
        taper = 2 * tan(radians(half_deg))
        figures[f"{before}taper_per_foot_in"] = 12 * taper
        if abs(taper) > 1e-9:
            figures[f"{before}taper_one_to"] = 1 / taper
    return figures


def _plain_rows(angle_deg: Fraction, lathe: Lathe | None) -> list[Row]:
    """Return rows with an angle [deg] in every unit, and with the tapers that have it as included or half angle.

    `lathe`: None for rows without dial readings.
    """
    slope = 100 * tan(radians(angle_deg)) if abs(angle_deg) < 90 else None
    rows = [
        unit_row("degrees", angle_deg, "deg"),
        Row("degrees, minutes", whole_seconds_text(angle_deg), whole_seconds_text(angle_deg)),
        Row("minutes of arc", figure_text(angle_deg * 60, "arcmin"), field_text(angle_deg * 60, "arcmin")),
        Row("seconds of arc", figure_text(angle_deg * 3600, "arcsec"), field_text(angle_deg * 3600, "arcsec")),
        Row("radians", figure_text(radians(angle_deg), "rad")),
    ]
    if slope is not None:
        rows.append(Row("its slope", f"{figure_text(slope)} %, {figure_text(slope)} mm per 100 mm"))
    for name, other, half_deg in (("half", "included", angle_deg), ("included", "half", angle_deg / 2)):
        other_deg = 2 * half_deg if name == "half" else half_deg
        rows += [
            angle_row(
                f"as a {name} angle" if name == "half" else f"as an {name} angle",
                other_deg,
                before=f"its {other} angle is ",
            ),
            *ratio_rows("  taper", half_deg),
            *setting_rows(half_deg, lathe, "  "),
        ]
    return rows


def _on_table(angle_deg: Fraction, lathe: Lathe | None) -> tuple[tuple[DialReading, ...], dict[str, object], list[Row]]:
    """Return the dial readings, figures and rows for setting an angle [deg] on the rotary table.

    All three are empty if `lathe` is None or has no rotary table.
    """
    dials: tuple[DialReading, ...] = ()
    figures: dict[str, object] = {}
    rows: list[Row] = []
    if lathe is not None and lathe.rotary_table is not None:
        # The modules of dividing are loaded only if the lathe has a rotary table.
        from core.operations.dividing.handle_dial import handle_turns

        turns = handle_turns(lathe.rotary_table, angle_deg)
        figures["handle_turns"] = float(turns)
        rows.append(Row("table handle", exact_text(turns, "turns")))
        dials = _table_readings(angle_deg, lathe)
        rows += [Row(reading.label, reading.words, reading.field_text) for reading in dials]
    return dials, figures, rows


def _from_square(scale: CompoundScale, angle_deg: float) -> Row:
    """Return the row with the reading of the compound's scale for an angle [deg] measured from square to the axis."""
    end = "" if scale.shows(angle_deg) else ", beyond its end"
    reading = figure_text(scale.reading_deg(angle_deg), "deg", 6)
    return Row("compound angle", f"from square to the axis, as for a thread: the compound's scale reads {reading}{end}")


def _table_readings(angle_deg: Fraction, lathe: Lathe) -> tuple[DialReading, ...]:
    """Return the readings of the rotary table's dial for an angle [deg]; () if there is no table or no dial on it."""
    from core.operations.dividing.handle_dial import dial_setting, nearest_mark_deg, table_dial
    from core.values.angles import amount_text
    from core.values.angles import dms_text as table_text

    if lathe.rotary_table is None:
        return ()
    try:
        dial = table_dial(lathe.rotary_table)
    except PlanError:
        return ()
    mark = nearest_mark_deg(angle_deg, dial.graduation)
    setting = dial_setting(dial, mark, angle_deg)
    reading = Fraction(0) if dial.per_turn is None else mark % dial.per_turn
    off = "exactly" if mark == angle_deg else (
        f"{amount_text(abs(mark - angle_deg))} {'more' if mark > angle_deg else 'less'} than asked"
    )  # fmt: skip
    turns = dial.handle_turns(setting) or 0
    back = " going back" if mark < 0 else ""
    words = f"{turns} turn{'' if turns == 1 else 's'} and {table_text(reading, dial.graduation)}{back}, {off}"
    return (DialReading(setting=setting, words=words, field_text=field_text(mark, "deg")),)
