"""What is usual for every number that set-up asks for: one far from it is asked about once more.

All ranges are common practice, no source. They are wide: outside of them a wrong unit
or a lost decimal point is likelier than such a lathe. Nothing is refused by them.
"""

from collections.abc import Iterator, Mapping
from fractions import Fraction
from math import floor, log10
from typing import Any, Literal, NamedTuple, cast

from core.errors import QuantityError
from core.quantities import MM_PER_INCH, Kind, Quantity, number_text, read_number, read_quantity
from core.setup.question import Chapter, Question

_FIGURES_OF_A_RANGE = 2


class Usual(NamedTuple):
    """A range, ends included; a number of 0 is never doubted."""

    kind: Kind | Literal["count", "ratio"]
    least: float
    """In the base unit of the kind: mm, deg, rpm, s; of a pitch the mm from crest to crest."""
    most: float
    of: str = ""
    """A key of the same table: then least and most are shares of what is told there."""


_TURN_MM = Usual("length", 0.25, 60)
_FINE_TURN_MM = Usual("length", 0.5, 10.2)
_MARK_MM = Usual("length", 0.001, 1)
_FINE_MARK_MM = Usual("length", 0.001, 0.26)
_MARKS_OF_A_TURN = Usual("length", 1 / 600, 1 / 15, of="per_turn")
_SPEED_RPM = Usual("rotation", 10, 6000)

_USUAL: Mapping[tuple[str, str], tuple[Usual, ...]] = {
    ("", "centre_height"): (Usual("length", 25, 400),),
    ("dial", "per_turn"): (_TURN_MM,),
    ("dial.cross_slide", "per_turn"): (_FINE_TURN_MM,),
    ("dial.compound", "per_turn"): (_FINE_TURN_MM,),
    ("dial", "graduation"): (_MARK_MM, _MARKS_OF_A_TURN),
    ("dial.cross_slide", "graduation"): (_FINE_MARK_MM, _MARKS_OF_A_TURN),
    ("dial.compound", "graduation"): (_FINE_MARK_MM, _MARKS_OF_A_TURN),
    ("dial", "lead"): (_TURN_MM, Usual("length", 0.25, 4, of="per_turn")),
    ("dial", "backlash"): (Usual("length", 0.002, 2), Usual("length", 0, 0.5, of="per_turn")),
    ("dial", "most_speed"): (_SPEED_RPM,),
    ("compound", "scale_graduation"): (Usual("angle", 1 / 12, 5),),
    ("compound", "scale_end"): (Usual("angle", 20, 360),),
    # An 8 without its unit is threads to the inch far more often than a pitch of 8 mm.
    ("leadscrew", "pitch"): (Usual("pitch", 0.8, 6.5),),
    ("chasing_dial", "teeth"): (Usual("count", 8, 80),),
    ("chasing_dial", "lines"): (Usual("count", 1, 24),),
    ("change_gears", "teeth"): (Usual("count", 12, 150),),
    ("change_gears", "fixed_ratio"): (Usual("ratio", 1 / 8, 8),),
    ("gearbox", "pitches"): (Usual("pitch", 0.1, 6.5),),
    ("spindle", "speeds"): (_SPEED_RPM,),
    ("spindle", "range"): (_SPEED_RPM,),
    ("spindle", "reaction_time"): (Usual("time", 0.2, 5),),
    ("spindle", "run_down"): (Usual("count", 0.05, 20),),
    ("spindle", "most_speed"): (Usual("rotation", 200, 6000),),
    ("rotary_table", "ratio"): (Usual("count", 1, 180),),
    ("rotary_table", "dial_graduation"): (Usual("angle", 5 / 3600, 2),),
    ("rotary_table", "vernier"): (Usual("angle", 1 / 3600, 1 / 6),),
    ("rotary_table", "plates"): (Usual("count", 5, 130),),
    ("rotary_table", "direct"): (Usual("count", 3, 180),),
    ("rotary_table", "backlash"): (Usual("angle", 1 / 3600, 1),),
    ("indicator", "graduation"): (Usual("length", 0.0005, 0.1),),
    ("chuck", "jaw_lead"): (Usual("length", 1, 10.2),),
    ("stock", "wires"): (Usual("length", 0.15, 6.5),),
    ("stock", "packing"): (Usual("length", 0.01, 12.6),),
}


def usual_for(chapter: Chapter, question: Question) -> tuple[Usual, ...]:
    """Return the ranges that an answer should lie in, () for what is no number."""
    name = chapter.name
    own = _USUAL.get((name, question.key))
    return own or _USUAL.get((name.partition(".")[0], question.key), ())


def unlikely(chapter: Chapter, question: Question, table: Mapping[str, Any], value: Any) -> str:
    """Return what is odd about an answer: how it is understood, in both units, and what is usual; "" for nothing.

    `table`: the chapter's table so far; `value`: the answer as it stands in a lathe file.
    """
    for item in _items(value):
        for usual in usual_for(chapter, question):
            if words := _odd_words(chapter, usual, table, item):
                return words
    return ""


def _items(value: Any) -> Iterator[Any]:
    """Yield the single numbers of an answer, lists within lists too."""
    if isinstance(value, list | tuple):
        for inner in value:
            yield from _items(inner)
    elif value is not None:
        yield value


def _odd_words(chapter: Chapter, usual: Usual, table: Mapping[str, Any], item: Any) -> str:
    size, share = _size(usual, item), Fraction(1)
    if usual.of:
        share = _size(usual, table.get(usual.of)) or Fraction(0)
    if not size or not share or _bound(usual.least) <= abs(size / share) <= _bound(usual.most):
        return ""
    understood = f"Understood as {item}{_other_unit(usual, item)}"
    if usual.of:
        label = next((question.label for question in chapter.questions if question.key == usual.of), usual.of)
        return f"{understood}, with {label} {table[usual.of]}: that is rare."
    return f"{understood}; usual is {_range_words(usual, item)}.{_meant_words(usual, item)}"


def _size(usual: Usual, item: Any) -> Fraction | None:
    """Return a number in the base unit, None where it cannot be read: what is wrong with it others say."""
    try:
        if usual.kind in {"count", "ratio"}:
            return read_number(item) if isinstance(item, str) else Fraction(item)
        return read_quantity(item, cast(Kind, usual.kind)).value
    except (QuantityError, ValueError, TypeError, OverflowError):
        return None


def _bound(end: float) -> Fraction:
    """Return the end of a range exactly as it is written, 0.001 as 1/1000."""
    return Fraction(end).limit_denominator(100_000)


def _quantity(usual: Usual, item: Any) -> Quantity | None:
    return None if usual.kind in {"count", "ratio"} else read_quantity(item, cast(Kind, usual.kind))


def _other_unit(usual: Usual, item: Any) -> str:
    """Return in brackets what a number is in the other unit, "" where there is one unit only."""
    quantity = _quantity(usual, item)
    if quantity is None:
        return ""
    others = {
        "length": "mm" if quantity.is_inch else "in",
        "pitch": "mm" if quantity.is_inch else "tpi",
        "angle": "arcmin" if quantity.unit in {"deg", "°"} else "deg",
    }
    unit = others.get(quantity.kind)
    return f" ({_in_unit(quantity.value, unit)})" if unit else ""


def _range_words(usual: Usual, item: Any) -> str:
    """Return the range in the unit that the number was given in."""
    quantity = _quantity(usual, item)
    if quantity is None:
        return f"{_rounded(usual.least)} to {_rounded(usual.most)}"
    unit = {"inch": "in", '"': "in", "°": "deg", "'": "arcmin"}.get(quantity.unit, quantity.unit)
    ends = [usual.least, usual.most]
    if unit == "tpi":
        ends.reverse()
    return " to ".join(_in_unit(_bound(end), unit, _FIGURES_OF_A_RANGE) for end in ends)


def _meant_words(usual: Usual, item: Any) -> str:
    """Return the same number with another unit, where that is usual."""
    quantity = _quantity(usual, item)
    if quantity is None or usual.kind not in {"length", "pitch"}:
        return ""
    number = number_text(quantity.number, 6)
    units = ("mm", "thou", "in") if usual.kind == "length" else ("mm", "in", "tpi")
    for unit in units:
        size = _size(usual, f"{number} {unit}")
        if size and _bound(usual.least) <= size <= _bound(usual.most):
            return f" Was it {number} {unit}?"
    return ""


def _in_unit(value: Fraction, unit: str, figures: int = 4) -> str:
    """Return a value of the base unit in a unit, to so many figures."""
    sizes = {
        "in": MM_PER_INCH,
        "thou": MM_PER_INCH / 1000,
        "cm": Fraction(10),
        "m": Fraction(1000),
        "um": Fraction(1, 1000),
        "arcmin": Fraction(1, 60),
        "arcsec": Fraction(1, 3600),
        "min": Fraction(60),
    }
    number = MM_PER_INCH / value if unit == "tpi" else value / sizes.get(unit, Fraction(1))
    return f"{_rounded(number, figures)} {unit}"


def _rounded(number: Fraction | float, figures: int = 4) -> str:
    """Return a number to so many figures; those before the decimal point all stay.

    >>> _rounded(Fraction(2286, 100)), _rounded(0.0000254), _rounded(25400)
    ('22.86', '0.0000254', '25400')
    """
    places = figures - 1 - floor(log10(abs(float(number))))
    return number_text(number, max(places, 0))
