"""What is answered: figures under the keys of the JSON form, and the same in words, each number with its unit."""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from math import floor, log10
from typing import Any

from core.conversion.dial_readings import DialReading
from core.quantities import number_text
from core.threads.drills import Drill

_LARGEST_DENOMINATOR = 100
"""Beyond it a fraction tells a turner nothing."""

Row = tuple[str, str]
"""What something is, and its value in words."""


@dataclass(frozen=True, kw_only=True)
class NearDrill:
    """A drill near a length, and by how much it is larger [mm]."""

    drill: Drill
    difference_mm: float


@dataclass(frozen=True, kw_only=True)
class Answer:
    """Every reading of one thing asked."""

    asked: str
    kind: str
    """ "length", "angle", "pitch", "speed", "limits", "fit", "number", or what else it is: "force"."""
    figures: Mapping[str, Any]
    """Keys with their unit at the end, floats not rounded."""
    rows: tuple[Row, ...]
    dials: tuple[DialReading, ...] = ()
    drills: tuple[NearDrill, ...] = ()
    threads: tuple[str, ...] = ()
    """Standard threads that have the pitch."""
    field_text: str = ""
    """What a field would take for it, "" where no field could."""


def as_data(answer: Answer) -> dict[str, Any]:
    """Return an answer as data that JSON can hold."""
    data: dict[str, Any] = {"asked": answer.asked, "kind": answer.kind, **answer.figures}
    if answer.dials:
        data["dials"] = [reading.as_data() for reading in answer.dials]
    if answer.drills:
        data["drills"] = [
            {"name": near.drill.name, "mm": near.drill.mm, "difference_mm": near.difference_mm}
            for near in answer.drills
        ]
    if answer.threads:
        data["threads"] = list(answer.threads)
    return data


def text_lines(answer: Answer) -> list[str]:
    """Return an answer as lines for a terminal, what was asked first."""
    width = max((len(label) for label, _ in answer.rows), default=0)
    return [
        f"{answer.asked}  ({answer.kind})",
        *(f"  {label:<{width}}  {words}" for label, words in answer.rows),
    ]


def figure_text(value: Fraction | float, unit: str = "", digits: int = 7) -> str:
    """Return a number to so many digits, without exponent where it has a common size, with its unit.

    >>> figure_text(Fraction(1, 3), "in"), figure_text(31750, "um"), figure_text(-12.5)
    ('0.3333333 in', '31750 um', '-12.5')
    """
    number = float(value)
    size = abs(number)
    if number and not 1e-9 <= size < 1e15:
        text = f"{number:.{digits}g}"
    else:
        # A leading zero is no digit that counts.
        places = digits - 1 - floor(log10(size)) if size else 0
        text = number_text(number, min(max(places, 0), 15))
    return f"{text} {unit}".rstrip()


def exact_text(value: Fraction, unit: str, shown_digits: int = 7) -> str:
    """Return a number with its unit, and the fraction that it is where decimals cannot say it.

    >>> exact_text(Fraction(1, 3), "in")
    '0.3333333 in (exactly 1/3 in)'
    """
    text = figure_text(value, unit, shown_digits)
    if Fraction(figure_text(value, "", shown_digits)) == value or value.denominator > _LARGEST_DENOMINATOR:
        return text
    return f"{text} (exactly {mixed_text(value)} {unit})"


def mixed_text(value: Fraction) -> str:
    """Return a fraction as it is spoken.

    >>> mixed_text(Fraction(5, 4)), mixed_text(Fraction(-1, 64)), mixed_text(Fraction(2))
    ('1 1/4', '-1/64', '2')
    """
    whole, rest = divmod(abs(value), 1)
    parts = " ".join(str(part) for part in (whole, rest) if part) or "0"
    return f"-{parts}" if value < 0 else parts


def difference_text(difference: Fraction | float, unit: str, digits: int = 3) -> str:
    """Say how far off something is.

    >>> difference_text(-0.0124, "mm"), difference_text(0.0, "mm")
    ('0.0124 mm less', 'exactly')
    """
    if abs(float(difference)) < 1e-9:
        return "exactly"
    return f"{figure_text(abs(float(difference)), unit, digits)} {'more' if difference > 0 else 'less'}"
