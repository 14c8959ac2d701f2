"""Fits and tolerances of ISO 286: texts such as "30 H7/g6", and the exact tolerance zone of each letter and grade."""

import re
from bisect import bisect_left
from fractions import Fraction
from functools import cache
from typing import NamedTuple

from core.data import read_table
from core.values.errors import QuantityError
from core.values.plain_text import quoted
from core.values.quantities import NUMBER_PATTERN, read_number, read_quantity

LARGEST_MM = 500
_CODE = re.compile(r"([A-Za-z]{1,2})(\d{1,2})", re.ASCII)
# "1e3" is a slip for a thousand, so the letter e of a shaft needs a space before it.
_FIT = re.compile(
    rf"\s*[Øø⌀]?\s*(?P<size>{NUMBER_PATTERN})\s*(?P<unit>mm\b|in\b|\")?(?P<first>(?<![\d.,])[A-Za-z]{{1,2}}\d{{1,2}}"
    r"|(?![eE])[A-Za-z]{1,2}\d{1,2}|\s+[A-Za-z]{1,2}\d{1,2})"
    r"(?:\s*[-/ ]\s*(?P<second>[A-Za-z]{1,2}\d{1,2}))?\s*",
    re.ASCII,
)


class Zone(NamedTuple):
    """The tolerance zone of a hole (H7) or a shaft (g6): its lower and upper deviation from the nominal size [um]."""

    code: str
    lower_um: Fraction
    upper_um: Fraction

    @property
    def is_hole(self) -> bool:
        """True if the zone is that of a hole, whose code begins with a capital letter."""
        return self.code[0].isupper()

    def sizes_mm(self, nominal_mm: Fraction) -> tuple[Fraction, Fraction]:
        """Return the smallest and the largest size of this hole or shaft [mm] at a nominal size [mm]."""
        return nominal_mm + self.lower_um / 1000, nominal_mm + self.upper_um / 1000


class Fit(NamedTuple):
    """A nominal size with the tolerance zone of a hole, of a shaft, or of both."""

    nominal_mm: Fraction
    hole: Zone | None
    shaft: Zone | None

    @property
    def only(self) -> Zone | None:
        """The zone of the hole or of the shaft if the fit has only one of these zones; None if the fit has both."""
        if self.hole is not None and self.shaft is not None:
            return None
        return self.shaft if self.hole is None else self.hole


def zone(nominal_mm: Fraction, code: str) -> Zone:
    """Return the tolerance zone of a code, such as "H7", at a nominal size.

    `nominal_mm`: the nominal size, more than 0 and at most 500 [mm]. Raises QuantityError for a size, letter or grade
    that the tables do not contain. Source: ISO 286-1, tables and rules for holes. core/data/iso286.csv says which
    values are from memory.

    >>> k6 = zone(Fraction(25), "k6")
    >>> int(k6.lower_um), int(k6.upper_um)
    (2, 15)
    """
    match = _CODE.fullmatch(code)
    if not 0 < nominal_mm <= LARGEST_MM:
        raise QuantityError(
            f"The table for {quoted(code)} does not contain this size. Enter a size above 0 and up to {LARGEST_MM} mm."
        )
    if match is None:
        raise _unknown(code)
    letter, grade = match[1], int(match[2])
    _check_grade(code, letter, grade)
    if nominal_mm <= 1:
        _check_below_1_mm(code, letter, grade)
    tolerance = _entry(f"IT{grade}", nominal_mm, code)
    if letter.lower() == "js":
        return Zone(code=code, lower_um=-tolerance / 2, upper_um=tolerance / 2)
    if letter.isupper():
        return _hole(code, letter, grade, nominal_mm, tolerance)
    side, deviation = _shaft_deviation(letter, grade, nominal_mm, code)
    if side == "es":
        return Zone(code=code, lower_um=deviation - tolerance, upper_um=deviation)
    return Zone(code=code, lower_um=deviation, upper_um=deviation + tolerance)


def fit_spelled(text: str) -> Fit | None:
    """Return the fit that a text states; None if the text is not a fit.

    Raises QuantityError for two holes or two shafts, and for a tolerance that the tables do not contain.

    >>> fit_spelled("30 H7/g6").shaft.code
    'g6'
    """
    match = _FIT.fullmatch(text)
    if match is None:
        return None
    size = read_number(match["size"])
    if match["unit"]:
        size = read_quantity(f"{match['size']} {match['unit']}", "length").value
    zones = [zone(size, code.strip()) for code in (match["first"], match["second"]) if code]
    holes = [each for each in zones if each.is_hole]
    shafts = [each for each in zones if not each.is_hole]
    if len(holes) > 1 or len(shafts) > 1 or (len(zones) == 2 and not zones[0].is_hole):
        raise QuantityError(
            f"{quoted(text)} is not a fit of a hole and a shaft. Enter the hole in capitals, then the shaft, such "
            "as 30 H7/g6."
        )
    return Fit(nominal_mm=size, hole=holes[0] if holes else None, shaft=shafts[0] if shafts else None)


def _hole(code: str, letter: str, grade: int, nominal_mm: Fraction, tolerance: Fraction) -> Zone:
    """Return the tolerance zone of a hole: the mirrored zone of the shaft with the same letter and grade.

    By a rule of ISO 286-1, some zones are also shifted by IT(n) - IT(n-1) for sizes above 3 mm: zones K, M and N up to
    grade 8, and zones P to U up to grade 7. `code`: the code of the hole, such as "H7". `tolerance`: the width of the
    zone [um].
    """
    if f"ES {code}" in _rows() and _cell(f"ES {code}", nominal_mm):
        upper = _entry(f"ES {code}", nominal_mm, code)
        return Zone(code=code, lower_um=upper - tolerance, upper_um=upper)
    # The table of k is for grades 4 to 7. The hole K uses that table in all grades.
    side, deviation = _shaft_deviation(letter.lower(), 6 if letter == "K" else grade, nominal_mm, code)
    if side == "es":
        return Zone(code=code, lower_um=-deviation, upper_um=tolerance - deviation)
    upper = -deviation
    if letter == "N" and grade > 8 and nominal_mm > 3:
        upper = Fraction(0)
    elif nominal_mm > 3 and grade <= (8 if letter in {"K", "M", "N"} else 7):
        upper += tolerance - _entry(f"IT{grade - 1}", nominal_mm, code)
    return Zone(code=code, lower_um=upper - tolerance, upper_um=upper)


def _shaft_deviation(letter: str, grade: int, nominal_mm: Fraction, code: str) -> tuple[str, Fraction]:
    """Return the name, "es" or "ei", and the value [um] of the shaft's deviation that is nearer to the zero line."""
    for side in ("es", "ei"):
        for name in (f"{side} {letter}{grade}", f"{side} {letter}"):
            if name in _rows():
                outside = letter == "k" and not 4 <= grade <= 7
                return side, Fraction(0) if outside else _entry(name, nominal_mm, code)
    raise _unknown(code)


def _check_grade(code: str, letter: str, grade: int) -> None:
    """Raise QuantityError if ISO 286 has no such letter, or does not use the grade with this letter."""
    column = "hole_grades" if letter[0].isupper() else "shaft_grades"
    if letter in {"js", "JS"}:
        allowed = ["1-18"]
    else:
        low = letter.lower() if letter.isupper() or letter.islower() else ""
        names = {f"es {low}", f"ei {low}", f"es {low}{grade}", f"ei {low}{grade}", f"ES {code}"}
        allowed = [row[column] for name, row in _rows().items() if name in names and row[column]]
    if not allowed:
        raise _unknown(code)
    ranges = [tuple(int(end) for end in text.split("-")) for text in allowed]
    if not any(low <= grade <= high for low, high in ranges):
        first, last = ranges[0]
        raise QuantityError(
            f"{quoted(code)} is not in the tables of ISO 286. With {letter}, enter a grade from {first} to {last}."
        )


def _check_below_1_mm(code: str, letter: str, grade: int) -> None:
    """Raise QuantityError if ISO 286-1 does not use a zone for sizes up to 1 mm.

    Source: notes of its tables, from memory.
    """
    if letter.lower() in {"a", "b"}:
        raise QuantityError(f"{quoted(code)} is not used for sizes up to 1 mm. Enter a letter from c on, such as h6.")
    most = 8 if letter == "N" else 13
    if grade > most:
        raise QuantityError(f"{quoted(code)} is not used for sizes up to 1 mm. Enter a grade of at most {most}.")


def _unknown(code: str) -> QuantityError:
    return QuantityError(
        f"{quoted(code)} is not in the tables of ISO 286. Enter a hole such as H7 (A to H, JS, J, K, M, N, P to U) "
        "or a shaft such as g6 (the same in small letters)."
    )


def _entry(name: str, nominal_mm: Fraction, code: str) -> Fraction:
    text = _cell(name, nominal_mm)
    if not text:
        raise QuantityError(
            f"The tables have {quoted(code)} for larger sizes only. Enter a larger size or another code."
        )
    return Fraction(text)


def _cell(name: str, nominal_mm: Fraction) -> str:
    """Return the entry for a nominal size in the row `name` of a published table; "" if the table has none.

    Each column is for sizes above the previous column's size, up to and including its own size.
    """
    sizes = _sizes()
    return _rows()[name][str(sizes[bisect_left(sizes, nominal_mm)])]


@cache
def _rows() -> dict[str, dict[str, str]]:
    return {row["quantity"]: row for row in read_table("iso286")}


@cache
def _sizes() -> tuple[int, ...]:
    return tuple(int(name) for name in _rows()["IT7"] if name.isdecimal())
