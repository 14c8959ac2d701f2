"""Division tables to print for the workshop, and the numbers that a rotary table divides exactly."""

from collections.abc import Iterable, Sequence
from fractions import Fraction
from math import gcd
from typing import NamedTuple

from core.lathe.lathe import RotaryTable
from core.operations.dividing.division import (
    MEANS,
    MOST_DIVISIONS,
    Means,
    MeansOffered,
    divide,
    even_targets_deg,
    means_of,
    means_offered,
    whole_degree_divisions,
)
from core.operations.dividing.handle_dial import smallest_deg
from core.operations.dividing.plates import compound_pairs
from core.operations.dividing.setting_table import (
    compound_of_step,
    dial_place_text,
    formula,
    place_text,
    plate_place_text,
    plate_words,
    step_text,
)
from core.operations.dividing.words import sector_words
from core.values.angles import ARCSEC_PER_DEG, amount_text
from core.values.errors import PlanError, QuantityError
from core.values.plain_text import quoted

ARCSEC_PER_TURN = 360 * 3600
MOST_LISTED = 400
"""The highest number of divisions in a printed table. Few users need more."""


class DividingTableRow(NamedTuple):
    """One row of a dividing table: one step of a division on its best single hole circle."""

    divisions: int
    circle: int
    turns: int
    holes: int
    """The nearest number of holes after the whole turns, 0 <= holes < circle."""
    worst_arcsec: float
    """Largest error of any position counted from zero. 0 if the hole circle is exact."""

    @property
    def exact(self) -> bool:
        """True if every position falls exactly on a hole."""
        return self.worst_arcsec == 0


def dividing_table(
    ratio: int, plates: Sequence[Sequence[int]], divisions: Iterable[int] = range(2, MOST_LISTED + 1)
) -> list[DividingTableRow]:
    """Return the best single hole circle for every number of divisions.

    The best circle has the smallest error at its worst position. Of equally good circles, the one with the fewest holes
    is taken. `ratio`: handle turns for one turn of the table. `plates`: the hole circles of each plate.

    >>> dividing_table(40, [(15, 16, 17, 18, 19, 20)], [9])[0][1:4]
    (18, 4, 8)
    """
    circles = sorted({circle for plate in plates for circle in plate})
    return [_best_division(number, ratio, circles) for number in divisions]


def _best_division(divisions: int, ratio: int, circles: Sequence[int]) -> DividingTableRow:
    best, least = circles[0], 1.0
    for circle in circles:
        # Positions divide each space between holes into `parts`. The worst is half-way between holes, or next to that.
        parts = divisions // gcd(ratio * circle, divisions)
        worst = (parts // 2) / (parts * circle)
        if worst < least:
            best, least = circle, worst
            if worst == 0:
                break
    whole, rest = divmod(ratio * best, divisions)
    turns, holes = divmod(whole + (2 * rest > divisions), best)
    return DividingTableRow(divisions, best, turns, holes, least * ARCSEC_PER_TURN / ratio)


def exact_means(table: RotaryTable, divisions: int) -> tuple[str, ...]:
    """Return, in words, each means by which this table divides a full turn exactly into `divisions`.

    >>> exact_means(RotaryTable(ratio=Fraction(40), plates=((15, 17),), direct=(24,)), 51)
    ('circles 15 and 17 together',)
    """
    step_deg = Fraction(360, divisions)
    means = []
    if table.dial_graduation_deg is not None and (step_deg / smallest_deg(table)).denominator == 1:
        means.append("dial")
    needed = (table.ratio / divisions).denominator
    circles = [circle for plate in table.plates for circle in plate if circle % needed == 0]
    means += [f"circle {circle}" for circle in sorted(set(circles))]
    if not circles:
        means += [f"circles {one} and {other} together" for one, other in compound_pairs(needed, table.plates)]
    means += [f"notches {notches}" for notches in sorted(set(table.direct)) if notches % divisions == 0]
    return tuple(means)


def exact_means_text(table: RotaryTable, divisions: int) -> str:
    """Return as short text each means that divides a full turn exactly into `divisions`; "" if there is none.

    >>> exact_means_text(RotaryTable(ratio=Fraction(40), plates=((15, 16, 18),), direct=(24,)), 6)
    'circles 15, 18; notches 24'
    """
    all_means = exact_means(table, divisions)
    circles = [means.removeprefix("circle ") for means in all_means if means.startswith("circle ")]
    words = [means for means in all_means if not means.startswith(("circle ", "notches "))]
    if circles:
        all_of_them = len(circles) == len({circle for plate in table.plates for circle in plate})
        words.append("any circle" if all_of_them else f"circle{'s' * (len(circles) > 1)} {', '.join(circles)}")
    return "; ".join([*words, *(means for means in all_means if means.startswith("notches "))])


def exact_divisions(table: RotaryTable, most: int = MOST_LISTED) -> dict[int, tuple[str, ...]]:
    """Return every number of divisions from 2 to `most` that this table sets exactly, with the means that do so."""
    all_means = {number: exact_means(table, number) for number in range(2, most + 1)}
    return {number: means for number, means in all_means.items() if means}


class DivisionAnswer(NamedTuple):
    """How one means of setting a rotary table (dial, plate or notches) divides a full turn into a number of
    divisions.
    """

    means: Means
    plate_text: str
    """Which hole circle of which plate, or which notches; "" for the dial."""
    step: str
    """The move from one position to the next, or the reason why this table cannot divide into the number."""
    worst: str
    """"exact", or the largest error of any position; "" if this table cannot divide into the number."""
    arms: str = ""
    """How to set the sector arms of a dividing plate; "" for the dial and for notches."""
    both_circles: str = ""
    """The exact movement on two circles of one plate, if no single circle is exact; "" otherwise."""


def read_divisions(text: str) -> int:
    """Return the number of divisions that a user entered. Raises QuantityError if it is not a whole number in the
    allowed range.

    >>> read_divisions(" 51 ")
    51
    """
    typed = text.strip()
    if not (typed.isascii() and typed.isdecimal() and 2 <= int(typed) <= MOST_DIVISIONS):
        raise QuantityError(
            f"{quoted(typed)} is not a number of divisions. Enter a whole number from 2 to {MOST_DIVISIONS}, such as 7."
        )
    return int(typed)


def division_answers(table: RotaryTable, divisions: int) -> list[DivisionAnswer]:
    """Return how each means of a table (dial, plate or notches) divides a full turn into `divisions`, exact means
    first.
    """
    return [_answer(offered) for offered in means_offered(table, (even_targets_deg(divisions),))]


def _answer(offered: MeansOffered) -> DivisionAnswer:
    means = offered.means
    if not offered.dividing:
        return DivisionAnswer(means, "", "no direct-index plate has it", "")
    (dividing,) = offered.dividing
    worst, compound = dividing.worst_error_deg, compound_of_step(dividing)
    plate = f"{dividing.circle} notches" if means == "direct" else ""
    if means == "plate":
        plate = f"{dividing.circle} circle of {plate_words(dividing)}"
    return DivisionAnswer(
        means=means,
        plate_text=plate,
        step=step_text(dividing),
        worst=f"worst {amount_text(worst)}" if worst else "exact",
        arms=sector_words(dividing) if means == "plate" else "",
        both_circles="" if compound is None else formula(compound),
    )


def exact_step_and_means(table: RotaryTable, divisions: int) -> tuple[str, str]:
    """Return the step by the first exact means, and the names of all exact means; two empty strings if no means is
    exact.

    >>> exact_step_and_means(RotaryTable(ratio=Fraction(40), plates=((15, 17),)), 51)
    ('10/15 + 2/17', 'circles 15 and 17 together')
    """
    answers = division_answers(table, divisions)
    steps = [answer.step if answer.worst == "exact" else answer.both_circles for answer in answers]
    return next((step for step in steps if step), ""), exact_means_text(table, divisions)


class NumberRow(NamedTuple):
    """One row of the table of all numbers of divisions: the step by dial and the step by plate, each with its largest
    error.
    """

    divisions: int
    by_dial: str
    by_plate: str


def number_rows(table: RotaryTable) -> list[NumberRow]:
    """Return one row with the best settings for each number of divisions from 2 to 400.

    The setting by dial is "" if the table has no dial, and the setting by plate is "" if it has no plates.
    """
    numbers = range(2, MOST_LISTED + 1)
    by_dial = by_plate = [""] * len(numbers)
    has = means_of(table)
    if "dial" in has:
        smallest = smallest_deg(table)
        # A dial acts as a hole circle with as many holes as there are marks in one turn of the table.
        lines = dividing_table(1, ((int(360 / smallest),),), numbers)
        by_dial = [
            f"{dial_place_text(table, (line.turns * line.circle + line.holes) * smallest)}{_worst_of(line)}"
            for line in lines
        ]
    if "plate" in has:
        lines = dividing_table(int(table.ratio), table.plates, numbers)
        by_plate = [f"{plate_place_text(line.turns, line.holes)}{_circle_of(line)}{_worst_of(line)}" for line in lines]
    return [NumberRow(*row) for row in zip(numbers, by_dial, by_plate, strict=True)]


def _circle_of(line: DividingTableRow) -> str:
    return f" of {line.circle}" if line.holes or not line.exact else ""


def _worst_of(line: DividingTableRow) -> str:
    return "" if line.exact else f", worst {amount_text(Fraction(round(line.worst_arcsec), ARCSEC_PER_DEG))}"


class WholeDegreeRow(NamedTuple):
    """One row of the table of whole-degree steps, in words. A step is "" if the rotary table cannot be set by that
    means.
    """

    divisions: int
    step: str
    by_dial: str
    by_plate: str
    direct: str


def whole_degree_rows(table: RotaryTable) -> list[WholeDegreeRow]:
    """Return the table's settings for the 24 numbers of divisions whose step is a whole number of degrees."""
    has = means_of(table)
    return [
        WholeDegreeRow(
            number, f"{360 // number}°", *(_step_by(table, means, number) if means in has else "" for means in MEANS)
        )
        for number in whole_degree_divisions()
    ]


def _step_by(table: RotaryTable, means: Means, divisions: int) -> str:
    """Return in words one step of a division by one means, with its error if it has one; "" if the step cannot
    be set.
    """
    step_deg = Fraction(360, divisions)
    try:
        dividing = divide(table, means, [Fraction(0), step_deg] if divisions > 1 else [step_deg])
    except PlanError:
        return ""
    last = dividing.positions[-1]
    if means == "direct":
        notches = int(step_deg * (dividing.circle or 1) / 360)
        return f"{notches} of {dividing.circle}"
    off = f" ({amount_text(last.error_deg)} off)" if last.error_deg else ""
    is_whole = dividing.place_turns(last.set_deg).denominator == 1
    circle = f" of {dividing.circle}" if means == "plate" and not is_whole else ""
    return f"{place_text(dividing, last.set_deg)}{circle}{off}"
