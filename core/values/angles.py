"""Angles as text: in decimal degrees, or in degrees, minutes and seconds of arc."""

import re
from fractions import Fraction
from math import floor

from core.values.quantities import number_text

ARCSEC_PER_DEG = 3600
MINUTE = Fraction(1, 60)

_SMALL = Fraction(1, 6)
"""A smaller angle is shown to a tenth of a second of arc [deg]."""
_SEPARATOR = re.compile(r"[;+]|,\s")
_BARE_NUMBER = re.compile(r"-?\s*\d+(?:[.,]\d*)?", re.ASCII)
_ENDINGS = {1: "st", 2: "nd", 3: "rd"}


def angle_text(angle_deg: float, places: int = 2) -> str:
    """Return an angle with its degree sign, rounded to at most `places` decimal places.

    >>> angle_text(29.5), angle_text(89.97, 1)
    ('29.5°', '90°')
    """
    return f"{number_text(angle_deg, places)}°"


def dms_text(angle_deg: Fraction, smallest_deg: Fraction = MINUTE) -> str:
    """Return an angle in degrees and minutes, and in seconds if the dial shows seconds and they are not 0.

    `smallest_deg`: the smallest angle that the dial shows [deg]. The angle is rounded before it is split, so that 60'
    and 60" cannot occur.

    >>> dms_text(Fraction(160)), dms_text(Fraction(-1, 2)), dms_text(Fraction(13, 360), Fraction(1, 360))
    ("160°00'", "-0°30'", '0°02\\'10"')
    """
    per_unit, seconds_places = _shown_units(MINUTE if 60 % angle_deg.denominator == 0 else smallest_deg)
    units = round(abs(angle_deg) * per_unit)
    sign = "-" if angle_deg < 0 and units else ""
    # In whole numbers from here on: a card shows hundreds of angles.
    degrees, part = divmod(units, per_unit)
    minutes, part_min = divmod(part * 60, per_unit)
    text = f"{sign}{degrees}°{minutes:02}'"
    if seconds_places is None:
        return text
    width = 2 if seconds_places == 0 else 3 + seconds_places
    return f'{text}{part_min * 60 / per_unit:0{width}.{seconds_places}f}"'


def whole_seconds_text(angle_deg: Fraction) -> str:
    """Return an angle in degrees, minutes and whole seconds, such as 12°0'30".

    The angle is rounded before it is split, so that 60" cannot occur.

    >>> whole_seconds_text(Fraction(-1, 2)), whole_seconds_text(Fraction("11.99999"))
    ('-0°30\\'0"', '12°0\\'0"')
    """
    seconds = floor(abs(angle_deg) * 3600 + Fraction(1, 2))
    minutes, second = divmod(seconds, 60)
    degree, minute = divmod(minutes, 60)
    return f"{'-' if angle_deg < 0 and seconds else ''}{degree}°{minute}'{second}\""


def _shown_units(smallest_deg: Fraction) -> tuple[int, int | None]:
    """Return how many of the smallest shown units make one degree, and how many decimal places the seconds have.

    The decimal places are None if no seconds are shown. `smallest_deg`: the smallest angle that a dial shows [deg].
    """
    if 60 % smallest_deg.denominator == 0:
        return 60, None
    if 3600 % smallest_deg.denominator == 0:
        return 3600, 0
    return 36_000, 1


def amount_text(angle_deg: Fraction | float) -> str:
    """Return an angle without its sign, in degrees, minutes and seconds. An angle below 10' has tenths of a second.

    The degrees are given even if they are 0, because 17.1" alone would be read as inches.

    >>> amount_text(Fraction(1, 210)), amount_text(Fraction(-1, 30)), amount_text(Fraction(4))
    ('0°00\\'17.1"', "0°02'", "4°00'")
    """
    size_deg = abs(Fraction(angle_deg))
    smallest_deg = Fraction(1, 36_000 if size_deg < _SMALL else 3600)
    return dms_text(size_deg, smallest_deg).replace('.0"', '"').removesuffix('00"')


def mark_words(graduation_deg: Fraction) -> str:
    """Return the angle between two marks in words, in the largest unit of which it is a whole number.

    If it is not a whole number of seconds, return it in degrees, minutes and seconds.

    >>> mark_words(Fraction(1, 30)), mark_words(Fraction(1, 120)), mark_words(Fraction(1))
    ('2 minutes of arc', '30 seconds of arc', '1 degree')
    """
    for per_degree, unit, of_arc in ((1, "degree", ""), (60, "minute", " of arc"), (3600, "second", " of arc")):
        count = graduation_deg * per_degree
        if count.denominator == 1:
            return f"{count} {unit}{'' if count == 1 else 's'}{of_arc}"
    return amount_text(graduation_deg)


def split_angles(text: str) -> list[str]:
    """Return the angles in the text of one field, which are separated by ";", "+" or ", ". A bare number is in degrees.

    >>> split_angles("0; 37.5; 90°30'"), split_angles("0+37,5 deg + 90")
    (['0 deg', '37.5 deg', "90°30'"], ['0 deg', '37,5 deg', '90 deg'])
    """
    parts = (part.strip() for part in _SEPARATOR.split(text))
    return [f"{part} deg" if _BARE_NUMBER.fullmatch(part) else part for part in parts if part]


def ordinal(number: int) -> str:
    """Return the ordinal of a whole number, such as "1st" for 1.

    >>> ordinal(1), ordinal(12), ordinal(32), ordinal(113)
    ('1st', '12th', '32nd', '113th')
    """
    if number % 100 in {11, 12, 13}:
        return f"{number}th"
    return f"{number}{_ENDINGS.get(number % 10, 'th')}"
