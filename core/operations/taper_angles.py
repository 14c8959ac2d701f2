"""Reads a taper in any usual form, and works out how to set the compound to its angle by scale or by indicator.

A taper of ISO 296 can be entered by its name, such as MT 2.
"""

import re
from fractions import Fraction
from functools import cache
from math import atan, degrees, radians, sin, tan
from typing import Any, Literal, NamedTuple

from core.data import read_table
from core.lathe.lathe import CompoundScale, Lathe
from core.values.angles import whole_seconds_text
from core.values.errors import QuantityError
from core.values.plain_text import quoted
from core.values.quantities import MM_PER_INCH, number_text, read_number, read_quantity
from core.values.words import Row, field_text, figure_text

_DIAMETER_WORDS = "a taper on the diameter"
_SIDE_WORDS = "a slope of one side"

# "1 in 1/4" is a slip for an inch and a quarter, so only a colon can come before a fraction.
_TAPER = re.compile(
    r"\s*(?:(?P<rise>[\d.,/ ]+?)\s*:\s*(?P<run>[\d.,/ ]+?)|1\s*\bin\b\s*(?P<word>[\d.,]+))\s*", re.ASCII
)
_PER_FOOT = re.compile(
    r"\s*(?P<inches>[\d.,/ ]+?|\d+-\d+/\d+)\s*(?:in(?:ch)?|\")?\s*(?:\btpf|taper\s+per\s+foot)\s*",
    re.ASCII | re.IGNORECASE,
)
_PER_LENGTH = re.compile(r"\s*(?P<rise>.+?)(?:\s+per\s+|\s*/\s*(?=ft|foot))(?P<run>.+?)\s*", re.IGNORECASE)
_FOOT = re.compile(r"(?:1\s*)?(?:ft|foot)", re.IGNORECASE)
EXAMPLES = 'a taper such as "1:20", "0.6 in per ft", "MT 2" or "7 deg"'
_PERCENT = re.compile(r"\s*([-+]?[\d.,/ ]+?)\s*%\s*", re.ASCII)
_STANDARD_NAME = re.compile(
    r"\s*(?:ISO\s*296\s*[:,]?\s*)?(?:(?P<morse>MT|MK|Morse(?:\s+taper)?)|(?P<metric>metric(?:\s+taper)?|ME))"
    r"\s*(?:no\.?|number|\#|-)?\s*(?P<size>\d{1,3})\s*",
    re.ASCII | re.IGNORECASE,
)


class Taper(NamedTuple):
    """A taper, stated by its included angle or by the angle between one side and the axis."""

    angle_deg: Fraction
    """The angle as entered, included or half [deg]."""
    of: Literal["included", "half"]
    taken_as: str
    rows: tuple[Row, ...] = ()
    """Rows (name, value) with further facts about the taper."""
    large_mm: Fraction | None = None
    """Diameter of the large end of a standard taper [mm]; None for any other taper."""

    @property
    def half_deg(self) -> Fraction:
        """The angle between one side and the axis [deg]. The compound is set to this angle."""
        return self.angle_deg / 2 if self.of == "included" else self.angle_deg


def taper_spelled(text: str) -> Taper | None:
    """Return the taper for a text such as "1:20", "0.6 tpf", "5 %" or "MT 2"; None for a text of no such form.

    Raises QuantityError for a taper of 0 and for a size that ISO 296 does not have.
    """
    if match := _TAPER.fullmatch(text):
        rise, run = read_number(match["rise"] or "1"), read_number(match["run"] or match["word"])
        if rise <= 0 or run <= 0:
            raise QuantityError(f"{quoted(text)} is not a taper. Enter a taper such as 1:20.")
        return on_diameter(rise / run)
    if match := _PER_FOOT.fullmatch(text):
        return on_diameter(read_number(match["inches"]) / 12)
    if match := _PERCENT.fullmatch(text):
        return of_one_side(read_number(match[1]) / 100)
    if standard := _standard_taper(text):
        inches = figure_text(standard.large_mm / MM_PER_INCH, "in", 4)
        size = f"{figure_text(standard.large_mm, 'mm')} ({inches})"
        return on_diameter(standard.taper)._replace(
            taken_as=f"{standard.name}, {standard.source}",
            rows=(Row("large end", size, field_text(standard.large_mm, "mm")),),
            large_mm=standard.large_mm,
        )
    return None


class StandardTaper(NamedTuple):
    """A standard taper of ISO 296, with its name, its ratio and its large diameter."""

    name: str
    """The name in the standard, such as "Morse 2" or "metric 80"."""
    taper: Fraction
    """The change in diameter over the length [-], exactly as in the standard."""
    large_mm: Fraction
    """Diameter of the large end, in the gauge plane [mm], exactly as in the standard."""
    source: str


@cache
def standard_tapers() -> dict[str, StandardTaper]:
    """Return the standard tapers by name, the smallest first.

    Source: ISO 296; core/data/standard_tapers.csv says which rows are from memory.

    >>> standard_tapers()["metric 80"].taper
    Fraction(1, 20)
    """
    rows = read_table("standard_tapers")
    return {
        name: StandardTaper(
            name=name,
            taper=Fraction(row["diameter_change"]) / Fraction(row["length"]),
            large_mm=Fraction(row["large_mm"]),
            source=row["source"],
        )
        for row in rows
        for name in [f"{row['family']} {row['size']}"]
    }


def _standard_taper(text: str) -> StandardTaper | None:
    """Return the taper for a name such as "MT 2", "Morse no. 2" or "metric 80"; None for a text of no such form.

    Raises QuantityError for a size that ISO 296 does not have.

    >>> _standard_taper("MT2").name
    'Morse 2'
    """
    match = _STANDARD_NAME.fullmatch(text)
    if match is None:
        return None
    family = "Morse" if match["morse"] else "metric"
    taper = standard_tapers().get(f"{family} {int(match['size'])}")
    if taper is None:
        sizes = [name.removeprefix(f"{family} ") for name in standard_tapers() if name.startswith(family)]
        raise QuantityError(
            f"ISO 296 has no taper {quoted(text)}. Enter {family} {', '.join(sizes[:-1])} or {sizes[-1]}."
        )
    return taper


def stated_taper(text: object, of: Literal["included", "half"] | None) -> Taper:
    """Return the taper that an operation states as text.

    `of`: the angle that the text states, "included" or "half"; None if the text does not state an angle. Raises
    QuantityError if the text is not a taper, or if it is an angle and `of` is None.

    >>> float(stated_taper("0.6 in per ft", None).half_deg) == float(stated_taper("1:20", None).half_deg)
    True
    """
    if not isinstance(text, str):
        raise QuantityError(f"{quoted(text)} needs quotes in a job file. Enter {EXAMPLES}.")
    spelled = taper_spelled(text) or _amount_per_length(text)
    if spelled is not None:
        if of:
            raise QuantityError(f'{quoted(text)} is not an angle. Delete "of", or enter an angle such as 7 deg.')
        return spelled
    try:
        angle_deg = read_quantity(text, "angle").value
    except QuantityError:
        raise QuantityError(f"{quoted(text)} is not a taper. Enter {EXAMPLES}.") from None
    if not of:
        raise QuantityError(
            f'{quoted(text)} may be the whole angle or the angle of one side. Enter of = "included" or of = "half".'
        )
    return Taper(angle_deg, of, f"the {of} angle of a taper")


def _amount_per_length(text: str) -> Taper | None:
    """Return the taper for a text such as "0.625 in per ft" or "5 mm per 100 mm"; None for a text of no such form."""
    parts = _PER_LENGTH.fullmatch(text)
    if parts is None:
        return None
    run_mm = 12 * MM_PER_INCH if _FOOT.fullmatch(parts["run"]) else read_quantity(parts["run"], "length").value
    rise_mm = read_quantity(parts["rise"], "length").value
    if run_mm <= 0:
        raise QuantityError(f"{quoted(text)} is not a taper. Enter {EXAMPLES}.")
    return on_diameter(rise_mm / run_mm)


def on_diameter(taper: Fraction) -> Taper:
    """Return the taper for a change in diameter divided by the length [-], such as 0.05 for 1:20.

    Source: included angle = 2 atan(taper / 2).
    """
    return Taper(Fraction(2 * degrees(atan(taper / 2))), "included", _DIAMETER_WORDS)


def of_one_side(slope: Fraction) -> Taper:
    """Return the taper whose side has the given slope against the axis [-], such as 0.025 for 1:20."""
    return Taper(Fraction(degrees(atan(slope))), "half", _SIDE_WORDS)


def per_length(ratio: Fraction) -> Taper:
    """Return the taper for a ratio [-] such as 0.125 in per 3 in. The ratio is on the diameter, as on drawings.

    One of the taper's `rows` says which half angle would result if the ratio were the slope of one side.
    """
    side = of_one_side(ratio)
    words = f"half angle {figure_text(side.half_deg, 'deg')}, {whole_seconds_text(side.half_deg)}"
    return on_diameter(ratio)._replace(rows=(Row("if of one side", words, field_text(side.half_deg, "deg")),))


def taper_figures(taper: Taper, lathe: Lathe | None) -> dict[str, Any]:
    """Return the angles and indicator movements of a taper, by the keys that the plan of a `taper` operation has.

    If the compound scale of the lathe is known, its readings are added. `lathe`: None for figures without a lathe.
    """
    half_deg = float(taper.half_deg)
    figures: dict[str, Any] = {
        "included_deg": 2 * half_deg,
        "half_angle_deg": half_deg,
        "indicator_per_100_compound_mm": 100 * sin(radians(half_deg)),
    }
    if abs(half_deg) < 90:
        figures["indicator_per_100_carriage_mm"] = 100 * tan(radians(half_deg))
    if taper.large_mm is not None:
        figures["large_mm"] = float(taper.large_mm)
    if lathe is not None and lathe.compound is not None and 0 <= half_deg <= 90:
        figures["compound_scale_reads_deg"] = lathe.compound.reading_deg(90 - half_deg)
        mark_deg = lathe.compound.nearest_mark_deg(90 - half_deg)
        if mark_deg is not None:
            figures["nearest_mark_deg"] = mark_deg
    return figures


def taper_rows(taper: Taper, lathe: Lathe | None) -> list[Row]:
    """Return rows of text about a taper: both angles, the ratio, and how to set the compound.

    `lathe`: the lathe in use; None for an answer without a lathe.
    """
    half_deg = taper.half_deg
    return [
        Row("taken as", taper.taken_as),
        angle_row("half angle", half_deg, after=": the angle of the compound"),
        angle_row("included angle", 2 * half_deg),
        *ratio_rows("taper", half_deg),
        *setting_rows(half_deg, lathe),
        *taper.rows,
    ]


def angle_row(label: str, angle_deg: Fraction, *, before: str = "", after: str = "") -> Row:
    """Return a row with an angle in decimal degrees, followed by the angle in degrees, minutes and seconds.

    `before` and `after`: words to put before and after the angle.
    """
    words = f"{before}{figure_text(angle_deg, 'deg')}, {whole_seconds_text(angle_deg)}{after}"
    return Row(label, words, field_text(angle_deg, "deg"))


def ratio_rows(label: str, half_deg: Fraction) -> list[Row]:
    """Return a row with the ratio of a taper on the diameter for a half angle [deg]; [] at 90 deg.

    Source: taper = 2 tan(half angle); a foot is 12 in.
    """
    if abs(half_deg) >= 90:
        return []
    taper = 2 * tan(radians(half_deg))
    one_to = f"1:{figure_text(1 / taper)}, " if abs(taper) > 1e-9 else ""
    return [Row(label, f"{one_to}{figure_text(12 * taper)} in per foot on the diameter")]


def setting_rows(half_deg: Fraction, lathe: Lathe | None, indent: str = "") -> list[Row]:
    """Return rows that say how to set a compound to a half angle [deg] by its scale and by an indicator.

    An indicator square to the axis moves by tan(half angle) times the carriage's travel along the finished taper, and
    by sin(half angle) times the compound's travel along a cylinder. Return [] for angles of 90 deg or more, or below 0.
    `lathe`: the lathe in use; None for an answer without a lathe. `indent`: the text before each label.
    """
    if not 0 <= half_deg < 90:
        return []
    angle = radians(half_deg)
    inches = lathe is not None and lathe.unit == "in"
    rows = [
        Row(f"{indent}indicator, carriage", f"{_per_length(tan(angle), inches)}, along the taper"),
        Row(f"{indent}indicator, compound", f"{_per_length(sin(angle), inches)}, along a cylinder"),
    ]
    if lathe is not None and lathe.compound is not None:
        rows.insert(0, Row(f"{indent}compound scale", taper_scale_words(lathe.compound, float(half_deg))))
    return rows


def taper_scale_words(scale: CompoundScale, half_deg: float) -> str:
    """Return in words the reading of a compound's scale for a half angle [deg], and the error that the nearest mark
    gives.

    >>> taper_scale_words(CompoundScale(zero="parallel"), 1.25)
    '1.25 deg; at mark 1 deg the half angle is 0.25 deg too small'
    """
    reading_deg, mark_deg = scale.reading_deg(90 - half_deg), scale.nearest_mark_deg(90 - half_deg)
    reading = f"{number_text(reading_deg, 2)} deg"
    if mark_deg is None:
        return f"{reading}, which is past its end, {figure_text(scale.end_deg or 0, 'deg')}: use the indicator"
    more_deg = mark_deg - reading_deg if scale.zero == "parallel" else reading_deg - mark_deg
    if abs(more_deg) < 1e-9:
        return f"{reading}, a mark"
    sense = "large" if more_deg > 0 else "small"
    off = figure_text(abs(more_deg), "deg", 2)
    return f"{reading}; at mark {figure_text(mark_deg, 'deg')} the half angle is {off} too {sense}"


def _per_length(slope: float, inches_first: bool) -> str:
    """Return in words how far an indicator moves over 100 mm and over 1 inch.

    `slope`: the indicator's movement divided by the travel [-]. `inches_first`: True to state the movement over 1 inch
    first.
    """
    both = [f"{figure_text(100 * slope, 'mm', 4)} in 100 mm", f"{figure_text(1000 * slope, 'thou', 4)}/in"]
    return ", ".join(reversed(both) if inches_first else both)
