"""The reading of each dial for a size, taken as travel and as diameter, and the dial's marks between two limits."""

from fractions import Fraction
from math import ceil, floor
from typing import Any, Literal, NamedTuple

from core.lathe.lathe import Lathe, dial_words
from core.values.dials import Dial, Setting
from core.values.quantities import MM_PER_INCH, number_text
from core.values.words import Row, field_text

Counts = Literal["travel", "diameter"]
FitPart = Literal["hole", "shaft"]
_BOTH: tuple[Counts, ...] = ("travel", "diameter")


class DialReading(NamedTuple):
    """One dial's reading for a size, with the words that describe the reading."""

    setting: Setting
    words: str
    counts: Counts | None = None
    """Whether the size counts as travel or as diameter. None for the table's dial, which counts degrees."""
    limit: Literal["lower", "upper", "between"] | None = None
    """The limit inside which this mark is the first or the last one; None for a reading without limits.

    "between" if no mark is between the limits and this mark is the nearest.
    """
    part: FitPart | None = None
    field_text: str = ""
    """The size at this mark, as travel or as diameter like the size in the question."""

    @property
    def label(self) -> str:
        """The name of the dial, followed by the word "travel" or "diameter", which says how the size is taken."""
        parts = [dial_words(self.setting.dial), self.counts, self.part]
        return ", ".join(part for part in parts if part)

    def as_data(self) -> dict[str, Any]:
        """Return the reading as plain data for JSON. For a digital readout, the reading is the position itself."""
        data: dict[str, Any] = {"dial": self.setting.dial, "unit": self.setting.unit}
        if self.counts:
            data["as"] = self.counts
        if self.part:
            data["part"] = self.part
        if self.limit:
            data["limit"] = self.limit
        if self.setting.turns is not None:
            data["turns"] = self.setting.turns
        reading = self.setting.position if self.setting.reading is None else self.setting.reading
        return data | {"reading": float(reading), "rounding": self.setting.rounding}


def readings(lathe: Lathe | None, size_mm: Fraction) -> tuple[DialReading, ...]:
    """Return the reading of every dial for a size [mm], taken as travel from zero and as diameter.

    Without a lathe, return ().
    """
    return tuple(
        DialReading(
            setting=setting,
            counts=counts,
            words=f"{_setting_words(dial, setting)}{_difference_words(dial, counts, setting)}",
            field_text=_size_text(dial, counts, setting),
        )
        for dial in _dials(lathe)
        for counts in _BOTH
        for setting in [dial.at_travel(float(_travel(size_mm, counts)))]
    )


def readings_within(
    lathe: Lathe | None,
    lower_mm: Fraction,
    upper_mm: Fraction,
    counts: tuple[Counts, ...] = _BOTH,
    part: FitPart | None = None,
) -> tuple[DialReading, ...]:
    """Return, for every dial, the readings at the first and the last mark between two limits [mm].

    `lathe`: without a lathe, the result is (). `counts`: whether the limits are taken as travel, as diameter or as
    both. `part`: the hole or shaft of a fit that has the limits; None without a fit.
    """
    return tuple(
        reading
        for dial in _dials(lathe)
        for count in counts
        for reading in _marks_inside(dial, count, _travel(lower_mm, count), _travel(upper_mm, count), part)
    )


def reading_rows(readings_shown: tuple[DialReading, ...]) -> list[Row]:
    """Return dial readings as rows for the answer. The first and the last mark of a dial share one row."""
    rows: dict[str, dict[str, str]] = {}
    for reading in readings_shown:
        rows.setdefault(reading.label, {})[reading.words] = reading.field_text
    return [
        Row(label, " to ".join(ends), next(iter(ends.values())) if len(ends) == 1 else "")
        for label, ends in rows.items()
    ]


def _dials(lathe: Lathe | None) -> list[Dial]:
    return [] if lathe is None else [dial for dial in lathe.dials.values() if dial.unit != "deg"]


def _travel(size_mm: Fraction, counts: Counts) -> Fraction:
    return size_mm / 2 if counts == "diameter" else size_mm


def _size_text(dial: Dial, counts: Counts, setting: Setting) -> str:
    """Return the size at a mark as text, in the unit that is engraved on the dial.

    `counts`: whether the size is travel or diameter.
    """
    marks = dial.marks_at(setting.position)
    travel_mm = marks * dial.graduation * dial.mm_per_unit
    size_mm = 2 * travel_mm if counts == "diameter" else travel_mm
    return field_text(size_mm / MM_PER_INCH, "in") if dial.unit == "in" else field_text(size_mm, "mm")


def _marks_inside(
    dial: Dial,
    counts: Counts,
    lower_mm: Fraction,
    upper_mm: Fraction,
    part: FitPart | None,
) -> list[DialReading]:
    """Return the first and the last mark between two limits [mm].

    If no mark is between the limits, return the mark nearest to the middle between them. `counts`: whether the limits
    are travel or diameter. `part`: the hole or shaft that has the limits; None without a fit.
    """
    mark_mm = dial.graduation * dial.mm_per_unit
    first, last = ceil(lower_mm / mark_mm), floor(upper_mm / mark_mm)
    if first > last:
        setting = dial.at_travel(float((lower_mm + upper_mm) / 2))
        nearest = f"{_setting_words(dial, setting)} is nearest to the middle{_difference_words(dial, counts, setting)}"
        words = f"no mark is between the limits; {nearest}"
        size = _size_text(dial, counts, setting)
        return [DialReading(setting=setting, counts=counts, words=words, limit="between", part=part, field_text=size)]
    ends: tuple[tuple[Literal["lower", "upper"], int, Fraction], ...] = (
        ("lower", first, lower_mm),
        ("upper", last, upper_mm),
    )
    return [
        DialReading(
            setting=setting,
            counts=counts,
            words=_setting_words(dial, setting),
            limit=limit,
            part=part,
            field_text=_size_text(dial, counts, setting),
        )
        for limit, marks, exact_mm in ends
        for setting in [dial.at_marks(marks, float(exact_mm))]
    ]


def _setting_words(dial: Dial, setting: Setting) -> str:
    """Return a setting in words, followed by "going out" if it is outwards of zero."""
    outwards = (setting.position < 0) == dial.rising_inwards and setting.position != 0
    return dial.setting_text(setting) + (" going out" if outwards else "")


def _difference_words(dial: Dial, counts: Counts, setting: Setting) -> str:
    """Return in words by how much the size at a mark differs from the wanted size, in the dial's unit.

    `counts`: whether the size is travel or diameter.
    """
    inwards = setting.rounding if dial.rising_inwards else -setting.rounding
    off_mm = inwards * float(dial.mm_per_unit) * (2 if counts == "diameter" else 1)
    amount = number_text(abs(off_mm / float(MM_PER_INCH) if dial.unit == "in" else off_mm), dial.decimals + 2)
    if amount == "0":
        return ", exactly"
    return f", {amount} {dial.unit} {'more' if off_mm > 0 else 'less'} than asked"
