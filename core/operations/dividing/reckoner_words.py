"""What the reckoner answers, in words: how a number is divided by each means, and every whole-degree step."""

from fractions import Fraction
from typing import NamedTuple

from core.lathe.lathe import RotaryTable
from core.operations.dividing.by_dial import smallest_deg
from core.operations.dividing.division import WAYS, Way, divide
from core.operations.dividing.means import WayOffered, ways_of, ways_offered
from core.operations.dividing.reckoner import MOST, Division, dividing_table, ways_words
from core.operations.dividing.settings import (
    compound_of_step,
    dial_place_text,
    formula,
    place_text,
    plate_place_text,
    plate_words,
    step_text,
)
from core.operations.dividing.targets import MOST_DIVISIONS, even_targets_deg, whole_degree_divisions
from core.operations.dividing.words import sector_words
from core.values.angles import arcsec_text
from core.values.errors import PlanError, QuantityError
from core.values.quantities import number_text


class Answer(NamedTuple):
    """How one number is divided by one means of a table, in words."""

    way: Way
    means: str
    """Which circle of which plate, or which notches; "" for the dial."""
    step: str
    """From one position to the next, or why it cannot be had."""
    worst: str
    """"exact", or the worst error of any position; "" where it cannot be had."""
    arms: str = ""
    """How the sector arms are set, for a plate."""
    both_circles: str = ""
    """The exact movement on two circles of one plate, where no single circle is exact."""


def read_divisions(text: str) -> int:
    """Return a number of divisions as it is typed; raises QuantityError.

    >>> read_divisions(" 51 ")
    51
    """
    typed = text.strip()
    if not (typed.isascii() and typed.isdecimal() and 2 <= int(typed) <= MOST_DIVISIONS):
        raise QuantityError(f"accepted is a whole number from 2 to {MOST_DIVISIONS}")
    return int(typed)


def answers(table: RotaryTable, divisions: int) -> list[Answer]:
    """Return how a number is divided by each means that a table has, exact ones first."""
    return [_answer(offered) for offered in ways_offered(table, (even_targets_deg(divisions),))]


def _answer(offered: WayOffered) -> Answer:
    way = offered.way
    if not offered.dividing:
        return Answer(way, "", "no notched plate has it", "")
    (dividing,) = offered.dividing
    worst, compound = dividing.worst_error_deg, compound_of_step(dividing)
    means = f"{dividing.circle} notches" if way == "direct" else ""
    if way == "plate":
        means = f"{dividing.circle} circle of {plate_words(dividing)}"
    return Answer(
        way=way,
        means=means,
        step=step_text(dividing),
        worst=f"worst {arcsec_text(worst)}" if worst else "exact",
        arms=sector_words(dividing) if way == "plate" else "",
        both_circles="" if compound is None else formula(compound),
    )


def exact_words(table: RotaryTable, divisions: int) -> tuple[str, str]:
    """Return the step of a number that divides exactly, by the first means that has it, and every means that has.

    >>> exact_words(RotaryTable(ratio=Fraction(40), plates=((15, 17),)), 51)
    ('10/15 + 2/17', 'circles 15 and 17 together')
    """
    found = answers(table, divisions)
    steps = [answer.step if answer.worst == "exact" else answer.both_circles for answer in found]
    return next((step for step in steps if step), ""), ways_words(table, divisions)


class NumberRow(NamedTuple):
    """One line of the table of every number: the step by dial and by plate, each with its worst error."""

    divisions: int
    by_dial: str
    by_plate: str


def number_rows(table: RotaryTable) -> list[NumberRow]:
    """Return every number from 2 to 400 as this table is best set to it; "" where it has not the means."""
    numbers = range(2, MOST + 1)
    by_dial = by_plate = [""] * len(numbers)
    ways = ways_of(table)
    if "dial" in ways:
        smallest = smallest_deg(table)
        # A dial is a circle of as many holes as there are marks in the whole turn of the table.
        lines = dividing_table(1, ((int(360 / smallest),),), numbers)
        by_dial = [
            f"{dial_place_text(table, (line.turns * line.circle + line.holes) * smallest)}{_worst_of(line)}"
            for line in lines
        ]
    if "plate" in ways:
        lines = dividing_table(int(table.ratio), table.plates, numbers)
        by_plate = [f"{plate_place_text(line.turns, line.holes)}{_circle_of(line)}{_worst_of(line)}" for line in lines]
    return [NumberRow(*row) for row in zip(numbers, by_dial, by_plate, strict=True)]


def _circle_of(line: Division) -> str:
    return f" of {line.circle}" if line.holes or not line.exact else ""


def _worst_of(line: Division) -> str:
    return "" if line.exact else f', worst {number_text(line.worst_arcsec, 0)}"'


class WholeDegreeRow(NamedTuple):
    """One line of the table of whole-degree steps in words, by every means; "" where the table has not that one."""

    divisions: int
    step: str
    by_dial: str
    by_plate: str
    direct: str


def whole_degree_rows(table: RotaryTable) -> list[WholeDegreeRow]:
    """Return the 24 divisions whose step is a whole number of degrees, as this table is set to each."""
    ways = ways_of(table)
    return [
        WholeDegreeRow(
            number, f"{360 // number}°", *(_step_by(table, way, number) if way in ways else "" for way in WAYS)
        )
        for number in whole_degree_divisions()
    ]


def _step_by(table: RotaryTable, way: Way, divisions: int) -> str:
    """Return the step of a division by one means; an inexact one with its error, "" where it cannot be had."""
    step_deg = Fraction(360, divisions)
    try:
        dividing = divide(table, way, [Fraction(0), step_deg] if divisions > 1 else [step_deg])
    except PlanError:
        return ""
    last = dividing.positions[-1]
    if way == "direct":
        notches = int(step_deg * (dividing.circle or 1) / 360)
        return f"{notches} of {dividing.circle}"
    off = f" ({arcsec_text(last.error_deg)} off)" if last.error_deg else ""
    is_whole = dividing.place_turns(last.set_deg).denominator == 1
    circle = f" of {dividing.circle}" if way == "plate" and not is_whole else ""
    return f"{place_text(dividing, last.set_deg)}{circle}{off}"
