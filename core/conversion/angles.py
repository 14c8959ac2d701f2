"""An angle in every reading a turner needs; tapers told apart by half and included angle."""

import re
from fractions import Fraction
from math import atan, degrees, floor, radians, tan

from core.conversion.answers import Answer
from core.conversion.dial_readings import DialReading
from core.conversion.wording import Row, exact_text, field_text, figure_text, unit_row
from core.errors import PlanError, QuantityError
from core.lathe import CompoundScale, Lathe
from core.plain_text import quoted
from core.quantities import read_number

LARGEST_DEG = 10**7
TAPER_WORDS = "taper on the diameter: its included angle"
SLOPE_WORDS = "slope: its angle"

# "1 in 1/4" is a slip for an inch and a quarter, so that only the colon takes a fraction behind it.
_TAPER = re.compile(r"\s*1\s*(?::\s*(?P<colon>[\d.,/ ]+?)|\bin\b\s*(?P<word>[\d.,]+))\s*", re.ASCII)
_PERCENT = re.compile(r"\s*([-+]?[\d.,/ ]+?)\s*%\s*", re.ASCII)


def angle_spelled(text: str) -> tuple[Fraction, str] | None:
    """Return the angle [deg] that a taper "1:20" or a slope "5 %" is, and what it was taken as.

    None where the text is neither. Raises QuantityError for a taper of nothing.
    """
    if match := _TAPER.fullmatch(text):
        length = read_number(match["colon"] or match["word"])
        if length <= 0:
            raise QuantityError(f"found {quoted(text)}; accepted is a taper such as 1:20")
        return taper_deg(1 / length), TAPER_WORDS
    if match := _PERCENT.fullmatch(text):
        return slope_deg(read_number(match[1]) / 100), SLOPE_WORDS
    return None


def taper_deg(taper: Fraction) -> Fraction:
    """Return the included angle [deg] of a taper on the diameter [-]."""
    return Fraction(2 * degrees(atan(taper / 2)))


def slope_deg(slope: Fraction) -> Fraction:
    """Return the angle [deg] of a slope [-]."""
    return Fraction(degrees(atan(slope)))


def angle_answer(asked: str, angle_deg: Fraction, lathe: Lathe | None, taken_as: str = "") -> Answer:
    """Return all readings of an angle [deg]; raises QuantityError beyond ten million degrees."""
    if abs(angle_deg) > LARGEST_DEG:
        raise QuantityError(f"found {quoted(asked)}, which is beyond anything on a lathe; accepted are 10000000 deg")
    figures: dict[str, object] = {
        "deg": float(angle_deg),
        "dms": dms_text(angle_deg),
        "arcmin": float(angle_deg * 60),
        "arcsec": float(angle_deg * 3600),
        "rad": radians(angle_deg),
    }
    taper_figures, taper_rows = _tapers(float(angle_deg))
    dials, table_figures, lathe_rows = _on_lathe(angle_deg, lathe)
    rows: list[Row] = [
        *([Row("taken as", taken_as)] if taken_as else []),
        unit_row("degrees", angle_deg, "deg"),
        Row("degrees, minutes", dms_text(angle_deg), dms_text(angle_deg)),
        Row("minutes of arc", figure_text(angle_deg * 60, "arcmin"), field_text(angle_deg * 60, "arcmin")),
        Row("seconds of arc", figure_text(angle_deg * 3600, "arcsec"), field_text(angle_deg * 3600, "arcsec")),
        Row("radians", figure_text(radians(angle_deg), "rad")),
        *taper_rows,
        *lathe_rows,
    ]
    return Answer(
        asked=asked,
        kind="angle",
        figures=figures | taper_figures | table_figures,
        rows=tuple(rows),
        dials=dials,
        field_text=field_text(angle_deg, "deg"),
    )


def dms_text(angle_deg: Fraction) -> str:
    """Return degrees, minutes and seconds; rounded to whole seconds before it is split, so never 60.

    >>> dms_text(Fraction(-1, 2)), dms_text(Fraction("11.99999"))
    ('-0°30\\'0"', '12°0\\'0"')
    """
    seconds = floor(abs(angle_deg) * 3600 + Fraction(1, 2))
    minutes, second = divmod(seconds, 60)
    degree, minute = divmod(minutes, 60)
    return f"{'-' if angle_deg < 0 and seconds else ''}{degree}°{minute}'{second}\""


def _tapers(angle_deg: float) -> tuple[dict[str, object], list[Row]]:
    """Return the angle as a slope, and as a taper on the diameter: as its included and as its half angle.

    Source: taper = 2 tan(half angle); a foot is 12 in. The half angle is what a compound is set to.
    """
    figures: dict[str, object] = {}
    rows: list[Row] = []
    if abs(angle_deg) < 90:
        slope = tan(radians(angle_deg))
        figures |= {"percent": 100 * slope, "mm_per_100_mm": 100 * slope}
        rows += [Row("slope", f"{figure_text(100 * slope)} %, {figure_text(100 * slope)} mm per 100 mm")]
    for name, before, half_deg in (("included", "", angle_deg / 2), ("half", "half_", angle_deg)):
        if abs(half_deg) >= 90:
            continue
        taper = 2 * tan(radians(half_deg))
        figures[f"{before}taper_per_foot_in"] = 12 * taper
        words = f"{figure_text(12 * taper)} in per foot on the diameter"
        if abs(taper) > 1e-9:
            figures[f"{before}taper_one_to"] = 1 / taper
            words += f", 1:{figure_text(1 / taper)}"
        rows += [Row(f"as the {name} angle", words), _other_angle(name, Fraction(angle_deg))]
    return figures, rows


def _other_angle(name: str, angle_deg: Fraction) -> Row:
    """Return the half angle of an included one, or the included of a half one."""
    other, other_deg = ("half", angle_deg / 2) if name == "included" else ("included", angle_deg * 2)
    words = f"its {other} angle is {figure_text(other_deg, 'deg')}, {dms_text(other_deg)}"
    return Row("", words, field_text(other_deg, "deg"))


def _on_lathe(angle_deg: Fraction, lathe: Lathe | None) -> tuple[tuple[DialReading, ...], dict[str, object], list[Row]]:
    """Return what the rotary table's handle and the compound's scale show."""
    dials: tuple[DialReading, ...] = ()
    figures: dict[str, object] = {}
    rows: list[Row] = []
    if lathe is not None and lathe.rotary_table is not None:
        # Dividing is read only where a table asks for it.
        from core.indexing.by_dial import handle_turns

        turns = handle_turns(lathe.rotary_table, angle_deg)
        figures["handle_turns"] = float(turns)
        rows.append(Row("table handle", exact_text(turns, "turns")))
        dials = _table_readings(angle_deg, lathe)
        rows += [Row(reading.label, reading.words, reading.field_text) for reading in dials]
    if lathe is not None and lathe.compound is not None and 0 <= angle_deg <= 90:
        rows += _compound_rows(lathe.compound, float(angle_deg))
    return dials, figures, rows


def _compound_rows(scale: CompoundScale, angle_deg: float) -> list[Row]:
    """Return what the compound's scale reads, the angle counted from square to the axis and from the axis itself."""
    rows = []
    for set_over_deg, counted in (
        (angle_deg, "set over by this from square to the axis"),
        (90 - angle_deg, "for a taper of this half angle"),
        (90 - angle_deg / 2, "for a taper of this included angle"),
    ):
        end = "" if scale.shows(set_over_deg) else ", beyond its end,"
        rows.append(Row("compound scale", f"{figure_text(scale.reading_deg(set_over_deg), 'deg', 6)}{end} {counted}"))
    return rows


def _table_readings(angle_deg: Fraction, lathe: Lathe) -> tuple[DialReading, ...]:
    """Return what the table's dial shows, () where it has none."""
    from core.indexing.angle_text import arcsec_text
    from core.indexing.angle_text import dms_text as table_text
    from core.indexing.by_dial import dial_setting, nearest_mark_deg, table_dial

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
        f"{arcsec_text(abs(mark - angle_deg))} {'more' if mark > angle_deg else 'less'} than asked"
    )  # fmt: skip
    turns = dial.handle_turns(setting) or 0
    back = " going back" if mark < 0 else ""
    words = f"{turns} turn{'' if turns == 1 else 's'} and {table_text(reading, dial.graduation)}{back}, {off}"
    return (DialReading(setting=setting, words=words, field_text=field_text(mark, "deg")),)
