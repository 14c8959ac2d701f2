"""Tolerances and limits of size of metric threads by the formulas of ISO 965-1, in exact fractions.

The standard rounds a formula's result to the nearest preferred number (R40 of ISO 3), then to whole micrometres. Some
printed values depart from this rule, as the standard says: tests/published/metric_tables.csv holds these values.
"""

import json
import re
from bisect import bisect_left
from collections.abc import Callable
from fractions import Fraction
from functools import cache
from itertools import pairwise

from tests.core.exact import power, rounded
from tests.published import printed_rows

MICROMETRE = Fraction(1, 1000)
RANGES_MM = tuple(
    pairwise(map(Fraction, ("0.99", "1.4", "2.8", "5.6", "11.2", "22.4", "45", "90", "180", "355"))),
)
"""Ranges of the major diameter, above the first number and up to the second.

Each range has one tolerance of the pitch diameter.
"""
PLACES_BY_GRADE = {
    "Td": {4: -8, 6: 0, 8: 8},
    "Td2": {3: -12, 4: -8, 5: -4, 6: 0, 7: 4, 8: 8, 9: 12},
    "TD1": {4: -8, 5: -4, 6: 0, 7: 4, 8: 8},
    "TD2": {4: -3, 5: 1, 6: 5, 7: 9, 8: 13},
}
"""Steps along the preferred numbers from grade 6 of Td, Td2 or TD1.

TD2 is counted from Td2, with a factor of 1.32 in grade 6.
"""
_ROOT_OF_3 = power(3, "1/2")
_TABLES = printed_rows("metric_tables")
R40 = [Fraction(str(number)) for row in _TABLES if row.quantity == "R40" for number in json.loads(row.printed)]
"""Preferred numbers of ISO 3 from 1 up to 10."""
_PREFERRED_UM = [number * decade for decade in (1, 10, 100, 1000, 10_000) for number in R40]
_FORMULAS_UM: dict[str, Callable[[Fraction], Fraction]] = {
    "e": lambda pitch: 50 + 11 * pitch,
    "f": lambda pitch: 30 + 11 * pitch,
    "g": lambda pitch: 15 + 11 * pitch,
    "Td": lambda pitch: 180 * power(pitch, "2/3") - Fraction("3.15") / power(pitch, "1/2"),
    "TD1": lambda pitch: (
        433 * pitch - 190 * power(pitch, "1.22") if pitch <= Fraction("0.8") else 230 * power(pitch, "0.7")
    ),
}


def _hand_rounded_um() -> dict[tuple[str, Fraction, Fraction | None], int]:
    """Return the values that the standard did not round by rule, by quantity, pitch and lower end of the range [um]."""
    cells = {}
    for row in _TABLES:
        if "pitch_mm" in row.inputs:
            pitch, over = row.inputs["pitch_mm"], row.inputs.get("over_mm")
            cells[row.quantity, Fraction(str(pitch)), over and Fraction(str(over))] = int(row.printed)
    return cells


HAND_ROUNDED_UM = _hand_rounded_um()


def formula_um(quantity: str, pitch_mm: Fraction, range_mm: tuple[Fraction, Fraction] | None = None) -> Fraction:
    """Return a deviation, or a tolerance of grade 6, by its formula [um]."""
    if range_mm is None:
        return _FORMULAS_UM[quantity](pitch_mm)
    return 90 * power(pitch_mm, "0.4") * power(range_mm[0] * range_mm[1], "0.05")


@cache
def cell_um(
    quantity: str, pitch_mm: Fraction, range_mm: tuple[Fraction, Fraction] | None = None, places: int = 0
) -> int:
    """Return a printed value of the standard, some steps along the preferred numbers from grade 6 [um]."""
    by_hand = HAND_ROUNDED_UM.get((quantity, pitch_mm, range_mm[0] if range_mm else None))
    if by_hand is None:
        return preferred_um(formula_um(quantity, pitch_mm, range_mm), places)
    return preferred_um(Fraction(by_hand), places) if places else by_hand


def preferred_um(value_um: Fraction, places: int = 0) -> int:
    """Return the nearest preferred number, or the number some steps above it, in whole micrometres; 42.5 becomes 42."""
    above = bisect_left(_PREFERRED_UM, value_um)
    nearest = min((above - 1, above), key=lambda place: abs(_PREFERRED_UM[place] - value_um))
    return round(_PREFERRED_UM[nearest + places])


def limits_mm(size_mm: Fraction, pitch_mm: Fraction, tolerance_class: str) -> dict[str, Fraction]:
    """Return the limits of size [mm] of a class such as 4g6g or 6H (ISO 965-1).

    Basic sizes are rounded to 0.001 mm (ISO 724).
    """
    ((pitch_grade, position, crest_grade),) = re.findall(r"^(\d)([a-zA-Z])(\d?)", tolerance_class)
    height = _ROOT_OF_3 / 2 * pitch_mm
    pitch_diameter = rounded(size_mm - height * 3 / 4, MICROMETRE)
    minor = rounded(size_mm - height * 5 / 4, MICROMETRE)
    range_mm = next(ends for ends in RANGES_MM if ends[0] < size_mm <= ends[1])
    outside = position.islower()

    def tolerance(quantity: str, grade: str) -> Fraction:
        of = "Td2" if quantity == "TD2" else quantity
        places = PLACES_BY_GRADE[quantity][int(grade)]
        return cell_um(of, pitch_mm, range_mm if of == "Td2" else None, places) * MICROMETRE

    moved = Fraction(0) if position in "hH" else cell_um(position.lower(), pitch_mm) * MICROMETRE
    of_pitch = tolerance("Td2" if outside else "TD2", pitch_grade)
    of_crest = tolerance("Td" if outside else "TD1", crest_grade or pitch_grade)
    if outside:
        return {
            "external major diameter max": size_mm - moved,
            "external major diameter min": size_mm - moved - of_crest,
            "external pitch diameter max": pitch_diameter - moved,
            "external pitch diameter min": pitch_diameter - moved - of_pitch,
        }
    return {
        "internal major diameter min": size_mm + moved,
        "internal pitch diameter min": pitch_diameter + moved,
        "internal pitch diameter max": pitch_diameter + moved + of_pitch,
        "internal minor diameter min": minor + moved,
        "internal minor diameter max": minor + moved + of_crest,
    }
