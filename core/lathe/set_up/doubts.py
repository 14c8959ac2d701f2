"""What is told and may be right, but so seldom is that one should look again."""

from collections.abc import Iterator, Mapping
from fractions import Fraction
from typing import Any

from core.lathe.keys.accessories import ROTARY_TABLE
from core.lathe.lathe import LATHE_FORMAT
from core.lathe.reader import lathe_from
from core.lathe.set_up.chapter import Chapter
from core.lathe.set_up.draft import plain, section_problems
from core.lathe.set_up.usual import unlikely
from core.values.dials import Dial
from core.values.quantities import MM_PER_INCH, mm_text, number_text

_FAR_OFF = Fraction(1, 20)
"""A collar that is not true is off by 16 in 1000 (a metric screw engraved in thou); five in a hundred is a slip."""
_THOU_A_MM = 40
_SET_DIAMETERS = frozenset({"cross_slide", "boring_head"})
_SET_BY = ("dial_graduation", "plates", "direct")


def doubts(chapter: Chapter, table: Mapping[str, Any]) -> tuple[str, ...]:
    """Return, a sentence each, what should be looked at again in a chapter; () where the table is not complete."""
    if section_problems(chapter.section, table):
        return ()
    odd = (unlikely(chapter, question, table, table.get(question.key)) for question in chapter.questions)
    return (*(sentence for sentence in odd if sentence), *_doubts_of_all(chapter, table))


def _doubts_of_all(chapter: Chapter, table: Mapping[str, Any]) -> Iterator[str]:
    """Yield what is odd about answers beside each other, and what is missing for work to come."""
    if lacking(chapter, table):
        yield (
            "Dividing and patterns cannot be planned yet: the turns alone set no angle. Enter at least one of these: "
            "the marks on the handle's dial, the hole circles of the plates, the notches on the spindle."
        )
    if chapter.dial and "graduation" in table:
        tables = {"format": LATHE_FORMAT, "name": "x", "dial": {chapter.dial: plain(table)}}
        yield from _dial_doubts(lathe_from(tables, "set-up").dials[chapter.dial])


def lacking(chapter: Chapter, table: Mapping[str, Any]) -> str:
    """Return in a few words what a part lacks before any work can use it, "" for nothing.

    >>> from core.lathe.set_up.chapters import chapters_of
    >>> table = next(chapter for chapter in chapters_of({}) if chapter.name == "rotary_table")
    >>> lacking(table, {"ratio": 72}), lacking(table, {"ratio": 72, "direct": [24]})
    ('cannot divide yet: no dial marks, plates or notches', '')
    """
    by_ratio_only = chapter.name == ROTARY_TABLE.section and "ratio" in table
    if by_ratio_only and not any(table.get(key) for key in _SET_BY):
        return "cannot divide yet: no dial marks, plates or notches"
    return ""


def _dial_doubts(dial: Dial) -> Iterator[str]:
    if dial.reads_diameter and dial.name not in _SET_DIAMETERS:
        yield "Its numbers are told to be diameter, which is rare here: is that so? An indicator on the slide tells."
    if dial.per_turn is None:
        return
    told_mm = dial.per_turn * (MM_PER_INCH if dial.unit == "in" else 1) / (2 if dial.reads_diameter else 1)
    if dial.lead_mm is not None and abs(dial.lead_mm / told_mm - 1) > _FAR_OFF:
        yield (
            f"One turn truly moves {_in_dial_unit(dial, float(dial.lead_mm))}, though the numbers say "
            f"{_in_dial_unit(dial, float(told_mm))}: is that so? Measure it once more."
        )
    thou = told_mm / MM_PER_INCH * 1000
    if dial.unit == "in" and dial.lead_mm is None and thou % _THOU_A_MM == 0 and thou / _THOU_A_MM < 5:
        yield (
            f"{dial.reading_text(dial.per_turn)} in a turn is often a metric screw that is engraved in inches: measure "
            "ten turns to see whether the engraving is true."
        )


def _in_dial_unit(dial: Dial, length_mm: float) -> str:
    return f"{number_text(length_mm / float(MM_PER_INCH), 5)} in" if dial.unit == "in" else mm_text(length_mm, 4)
