"""Finds unusual answers.

An unusual answer may be right, so set-up asks the user to confirm the answer and never refuses it.
"""

from collections.abc import Iterator, Mapping
from fractions import Fraction
from math import floor, log10
from typing import Any

from core.lathe.keys.accessories import ROTARY_TABLE
from core.lathe.keys.entry import Bound, Ends, Question
from core.lathe.lathe import LATHE_FORMAT
from core.lathe.reader import lathe_from
from core.lathe.set_up.chapters import Chapter, section_problems, without_own_keys
from core.values.dials import Dial
from core.values.errors import QuantityError
from core.values.quantities import MM_PER_INCH, Kind, mm_text, number_text, read_number, read_quantity

_FIGURES_OF_A_RANGE = 2


def unusual_number(chapter: Chapter, question: Question, table: Mapping[str, Any], value: Any) -> str:
    """Return a sentence about an unusual number, with the usual range; "" if the number is usual. 0 is never unusual.

    `table`: the chapter's answers so far. `value`: the answer in the form in which a lathe file holds it. The sentence
    shows the number in both of its units.
    """
    for item in _items(value):
        if size := _size(question.form.kind, item):
            understood = f"Read as {item}{_other_unit(question.form.kind, item)}"
            if question.usual and not _is_within(abs(size), *question.usual):
                usual = _range_words(question.form.kind, question.usual, item)
                return (
                    f"{understood}. The usual range is {usual}.{_meant_words(question.form.kind, question.usual, item)}"
                )
            if question.share and (words := _share_words(chapter, question, table, size)):
                return f"{understood}, {words}"
    return ""


def _items(value: Any) -> Iterator[Any]:
    """Yield the individual numbers of an answer. An answer may be a number, a list, or a list of lists."""
    if isinstance(value, list | tuple):
        for inner in value:
            yield from _items(inner)
    elif value is not None:
        yield value


def _share_words(chapter: Chapter, question: Question, table: Mapping[str, Any], size: Fraction) -> str:
    """Return a clause if the ratio of a number to the value of a related key is unusual; "" if the ratio is usual.

    `size`: the number in its base unit.
    """
    assert question.share is not None
    of, least, most = question.share
    whole = _size(question.form.kind, table.get(of))
    if not whole or _is_within(abs(size / whole), least, most):
        return ""
    label = next((other.label for other in chapter.questions if other.key == of), of)
    return f"which is rare if {label} is {table[of]}."


def _is_within(number: Fraction, least: Bound, most: Bound) -> bool:
    return _bound(least) <= number <= _bound(most)


def _size(kind: Kind | None, item: Any) -> Fraction | None:
    """Return a number in its base unit; None if the number cannot be read.

    The reader of the lathe file reports unreadable numbers.
    """
    try:
        if kind is None:
            return read_number(item) if isinstance(item, str) else Fraction(item)
        return read_quantity(item, kind).value
    except (QuantityError, ValueError, TypeError, OverflowError):
        return None


def _bound(end: Bound) -> Fraction:
    """Return one end of a range as an exact fraction: 0.001 becomes 1/1000."""
    return Fraction(str(end))


def _other_unit(kind: Kind | None, item: Any) -> str:
    """Return a number in its other unit, in brackets, such as " (25.4 mm)" for 1 in; "" if there is no other unit.

    `kind`: the kind of quantity; None for a number without a unit.
    """
    if kind is None:
        return ""
    quantity = read_quantity(item, kind)
    others = {
        "length": "mm" if quantity.is_inch else "in",
        "pitch": "mm" if quantity.is_inch else "tpi",
        "angle": "arcmin" if quantity.unit in {"deg", "°"} else "deg",
    }
    unit = others.get(quantity.kind)
    return f" ({_in_unit(quantity.value, unit)})" if unit else ""


def _range_words(kind: Kind | None, usual: Ends, item: Any) -> str:
    """Return the usual range `usual` as text, in the unit in which the user entered the number `item`.

    `kind`: the kind of quantity; None for a number without a unit.
    """
    if kind is None:
        return " to ".join(_rounded(end) for end in usual)
    quantity = read_quantity(item, kind)
    unit = {"inch": "in", '"': "in", "°": "deg", "'": "arcmin"}.get(quantity.unit, quantity.unit)
    ends = list(usual)
    if unit == "tpi":
        ends.reverse()
    return " to ".join(_in_unit(_bound(end), unit, _FIGURES_OF_A_RANGE) for end in ends)


def _meant_words(kind: Kind | None, usual: Ends, item: Any) -> str:
    """Return a question such as " Did you mean 4 mm?" if the number would be usual in another unit; "" otherwise.

    `kind`: the kind of quantity; None for a number without a unit.
    """
    if kind not in {"length", "pitch"}:
        return ""
    number = number_text(read_quantity(item, kind).number, 6)
    units = ("mm", "thou", "in") if kind == "length" else ("mm", "in", "tpi")
    for unit in units:
        size = _size(kind, f"{number} {unit}")
        if size and _is_within(size, *usual):
            return f" Did you mean {number} {unit}?"
    return ""


def _in_unit(value: Fraction, unit: str, figures: int = 4) -> str:
    """Return a value in the base unit as text in `unit`, rounded to `figures` significant figures."""
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
    """Return a number as text, rounded to `figures` significant figures.

    All digits before the decimal point are kept, even if there are more than `figures`.

    >>> _rounded(Fraction(2286, 100)), _rounded(0.0000254), _rounded(25400)
    ('22.86', '0.0000254', '25400')
    """
    places = figures - 1 - floor(log10(abs(float(number))))
    return number_text(number, max(places, 0))


_FAR_OFF = Fraction(1, 20)
"""The largest relative error of a dial's engraving that is likely. A larger error is probably a mistake.

A metric screw engraved in thou is off by 16 parts in 1000. This limit is about three times as much.
"""
_THOU_A_MM = 40
_SET_DIAMETERS = frozenset({"cross_slide", "boring_head"})
_SET_BY = ("dial_graduation", "plates", "direct")


def unusual_answers(chapter: Chapter, table: Mapping[str, Any]) -> tuple[str, ...]:
    """Return a sentence for each unusual answer of a chapter; () if the chapter's table has errors."""
    if section_problems(chapter.section, table):
        return ()
    odd = (unusual_number(chapter, question, table, table.get(question.key)) for question in chapter.questions)
    return (*(sentence for sentence in odd if sentence), *_unusual_together(chapter, table))


def _unusual_together(chapter: Chapter, table: Mapping[str, Any]) -> Iterator[str]:
    """Yield sentences about answers that rarely occur in combination, and about missing answers that work needs."""
    if missing_for_work(chapter, table):
        yield (
            "Dividing and patterns cannot be planned yet, because whole turns alone cannot set every angle. "
            "Enter the marks of the handle's dial, the hole circles of the plates, or the notches on the spindle."
        )
    if chapter.dial and "graduation" in table:
        tables = {"format": LATHE_FORMAT, "name": "x", "dial": {chapter.dial: without_own_keys(table)}}
        yield from _unusual_dial(lathe_from(tables, "set-up").dials[chapter.dial])


def missing_for_work(chapter: Chapter, table: Mapping[str, Any]) -> str:
    """Return a short text about the answers without which the part cannot be used; "" if none are missing.

    >>> from core.lathe.set_up.chapters import chapters_of
    >>> table = next(chapter for chapter in chapters_of({}) if chapter.name == "rotary_table")
    >>> missing_for_work(table, {"ratio": 72}), missing_for_work(table, {"ratio": 72, "direct": [24]})
    ('cannot divide yet: no dial marks, plates or notches', '')
    """
    by_ratio_only = chapter.name == ROTARY_TABLE.section and "ratio" in table
    if by_ratio_only and not any(table.get(key) for key in _SET_BY):
        return "cannot divide yet: no dial marks, plates or notches"
    return ""


def _unusual_dial(dial: Dial) -> Iterator[str]:
    if dial.reads_diameter and dial.name not in _SET_DIAMETERS:
        yield (
            "You answered that the numbers count diameter, which is rare on this dial. Check this with an "
            "indicator on the slide."
        )
    if dial.per_turn is None:
        return
    engraved_mm = dial.per_turn * (MM_PER_INCH if dial.unit == "in" else 1) / (2 if dial.reads_diameter else 1)
    if dial.lead_mm is not None and abs(dial.lead_mm / engraved_mm - 1) > _FAR_OFF:
        yield (
            f"You answered that one turn moves the slide by {_in_dial_unit(dial, float(dial.lead_mm))}, but the "
            f"numbers say {_in_dial_unit(dial, float(engraved_mm))}. Measure the travel again."
        )
    thou = engraved_mm / MM_PER_INCH * 1000
    if dial.unit == "in" and dial.lead_mm is None and thou % _THOU_A_MM == 0 and thou / _THOU_A_MM < 5:
        yield (
            f"A dial with {dial.reading_text(dial.per_turn)} per turn often has a metric screw. Measure ten turns "
            "to see whether the engraving is true."
        )


def _in_dial_unit(dial: Dial, length_mm: float) -> str:
    return f"{number_text(length_mm / float(MM_PER_INCH), 5)} in" if dial.unit == "in" else mm_text(length_mm, 4)
