"""Tolerance zones of ISO 286 from the formulas of its annex, in exact fractions [um].

The standard rounds the results of its formulas. Only its tables count. They differ from the rounded results in the
cells named in `BY_HAND`, and have letters without a formula (j, p, r, and a to c, rounded by hand throughout). Such a
cell is taken from the printed rows of tests/published/iso286.csv if it follows from one.
"""

import json
import re
from collections.abc import Callable
from fractions import Fraction
from functools import cache
from itertools import pairwise

from tests.core.exact import power, rounded
from tests.published import printed_rows

EDGES_MM = (0, 3, 6, 10, 18, 30, 50, 80, 120, 180, 250, 315, 400, 500)
FINE_EDGES_MM = (
    *(0, 3, 6, 10, 14, 18, 24, 30, 40, 50, 65, 80, 100, 120),
    *(140, 160, 180, 200, 225, 250, 280, 315, 355, 400, 450, 500),
)
"""Steps of sizes, each above one edge up to and including the next. The finer steps are for r to u."""
_UNITS_BY_GRADE = {5: 7, 6: 10, 7: 16, 8: 25, 9: 40, 10: 64, 11: 100}
"""Tolerance units i. Beyond grade 11 a tolerance is ten times that of the grade five steps before."""
_FORMULAS_UM: dict[str, Callable[[Fraction], Fraction]] = {
    "d": lambda mean: 16 * power(mean, "0.44"),
    "e": lambda mean: 11 * power(mean, "0.41"),
    "f": lambda mean: Fraction("5.5") * power(mean, "0.41"),
    "g": lambda mean: Fraction("2.5") * power(mean, "0.34"),
    "k": lambda mean: Fraction("0.6") * power(mean, "1/3"),
    "n": lambda mean: 5 * power(mean, "0.34"),
}
_BEYOND_IT7 = {"s": "0.4", "t": "0.63", "u": "1"}
"""The part of the mean size that is added to IT7; for s only above 50 mm."""
BY_HAND = {
    "IT6": (3, 6, 400, 500),
    "IT7": (3, 10, 18, 500),
    "IT9": (3, 6),
    "IT10": (3, 6, 10, 18),
    "IT11": (3, 6, 50, 80, 400, 500),
    "d": (10,),
    "e": (120, 400),
    "f": (3, 400, 500),
    "g": (3,),
    "k": (3,),
    "m": (3,),
    "n": (3, 120),
    "t": (3, 6, 10, 14, 18, 24, 30, 40, 50),
    "u": (3, 6, 10, 14, 18, 24, 450, 500),
}
"""Upper ends of the steps of sizes for which the table differs from the rounded formula, or for t has no value."""


class NoFormulaError(LookupError):
    """The standard gives this cell only in its table, and no printed row shows it."""


def zone_um(size_mm: int, code: str) -> tuple[Fraction, Fraction]:
    """Return both deviations of a code such as H7 or g6 [um]. Raises NoFormulaError if they are not known.

    Holes by the rule of the standard: the shaft's zone mirrored, K to N to grade 8 and P to U to grade 7 shifted by
    IT(n) - IT(n - 1) above 3 mm; N beyond grade 8 has 0 as its upper deviation.
    """
    ((letter, digits),) = re.findall(r"^([A-Za-z]+)(\d+)$", code)
    grade, low = int(digits), letter.lower()
    tolerance = tolerance_um(size_mm, grade)
    if low == "js":
        return -tolerance / 2, tolerance / 2
    nearest = deviation_um(size_mm, low)
    above = low in "defgh"
    if letter.islower():
        return (-nearest - tolerance, -nearest) if above else (nearest, nearest + tolerance)
    if above:
        return nearest, nearest + tolerance
    upper = -nearest
    if letter == "N" and grade > 8 and size_mm > 3:
        upper = Fraction(0)
    elif size_mm > 3 and grade <= (8 if letter in "KMN" else 7):
        upper += tolerance - tolerance_um(size_mm, grade - 1)
    return upper - tolerance, upper


@cache
def tolerance_um(size_mm: int, grade: int) -> Fraction:
    """Return IT5 to IT16 [um] from i = 0.45 D^(1/3) + 0.001 D, rounded as the standard rounds.

    Up to 100 um to 1 um, up to 200 um to 5, above to 10.
    """
    if grade > 11:
        return 10 * tolerance_um(size_mm, grade - 5)
    step = _step(EDGES_MM, size_mm)
    if step[1] in BY_HAND.get(f"IT{grade}", ()):
        return _printed_cell_um(f"IT{grade}", step)
    mean = _mean_mm(step)
    value = _UNITS_BY_GRADE[grade] * (Fraction("0.45") * power(mean, "1/3") + mean / 1000)
    return rounded(value, 1 if value <= 100 else 5 if value <= 200 else 10)


@cache
def deviation_um(size_mm: int, letter: str) -> Fraction:
    """Return the deviation nearest to the zero line, without its sign [um]. For k, that of grades 4 to 7."""
    if letter == "h":
        return Fraction(0)
    step = _step_of(letter, size_mm)
    if step[1] in BY_HAND.get(letter, ()):
        return _printed_cell_um(letter, step)
    if letter == "m":
        return tolerance_um(size_mm, 7) - tolerance_um(size_mm, 6)
    if letter in _FORMULAS_UM:
        value = _FORMULAS_UM[letter](_mean_mm(step))
    elif letter in _BEYOND_IT7 and (letter != "s" or size_mm > 50):
        value = tolerance_um(size_mm, 7) + Fraction(_BEYOND_IT7[letter]) * _mean_mm(step)
    else:
        return _printed_cell_um(letter, step)
    return _rounded_deviation(value, above=letter in "defg")


def _rounded_deviation(value: Fraction, *, above: bool) -> Fraction:
    """Return a deviation rounded as ISO 286-1 does; rule from memory. d to g and k to u have steps of their own."""
    for up_to, for_above, for_below in ((45, 1, 1), (60, 2, 1), (100, 5, 1), (200, 5, 2), (300, 10, 2), (500, 10, 5)):
        if value <= up_to:
            return rounded(value, for_above if above else for_below)
    return rounded(value, 10 if above else 5)


def _step(edges: tuple[int, ...], size_mm: int) -> tuple[int, int]:
    return next(step for step in pairwise(edges) if step[0] < size_mm <= step[1])


def _step_of(letter: str, size_mm: int) -> tuple[int, int]:
    return _step(FINE_EDGES_MM if letter in "rstu" else EDGES_MM, size_mm)


def _mean_mm(step: tuple[int, int]) -> Fraction:
    """Return the geometric mean of a step of sizes [mm]. Below 3 mm, that of 1 and 3."""
    return power(max(step[0], 1) * step[1], "1/2")


def _printed_cell_um(name: str, step: tuple[int, int]) -> Fraction:
    if (name, step) not in _PRINTED_UM:
        raise NoFormulaError(f"{name} up to {step[1]} mm")
    return _PRINTED_UM[name, step]


def _printed_um() -> dict[tuple[str, tuple[int, int]], Fraction]:
    """Return the tolerances and the shafts' deviations that printed limits and fits show, by step of sizes [um]."""
    zones = []
    for row in printed_rows("iso286"):
        size_mm, printed = row.inputs["d"], json.loads(row.printed)
        if row.quantity == "limits um" and not row.from_memory:
            zones.append((size_mm, row.inputs["code"], printed))
        elif row.quantity == "fit" and not row.from_memory:
            for code, part in zip(row.inputs["code"].split("/"), ("hole", "shaft"), strict=True):
                zones.append((size_mm, code, [round(1000 * (end - size_mm)) for end in printed[part]]))
    printed_um = {}
    for size_mm, code, (lower, upper) in zones:
        ((letter, grade),) = re.findall(r"^([A-Za-z]+)(\d+)$", code)
        printed_um[f"IT{grade}", _step(EDGES_MM, size_mm)] = Fraction(upper - lower)
        if letter.islower():
            printed_um[letter, _step_of(letter, size_mm)] = Fraction(min(abs(lower), abs(upper)))
    return printed_um


_PRINTED_UM = _printed_um()
