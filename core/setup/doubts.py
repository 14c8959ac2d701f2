"""What is told and may be right, but so seldom is that one should look again."""

from collections.abc import Iterator, Mapping
from fractions import Fraction
from typing import Any

from core.dials import Dial
from core.errors import FileError
from core.lathe import LATHE_FORMAT
from core.lathe_file import lathe_from
from core.quantities import MM_PER_INCH, mm_text
from core.setup.draft import plain
from core.setup.question import Chapter

_FAR_OFF = Fraction(1, 20)
"""A collar that is not true is off by 16 in 1000 (a metric screw engraved in thou); five in a hundred is a slip."""
_MOST_PLAY = Fraction(1, 2)
"""Of a turn; as much play is worn out, or the readings were mixed up. Common practice, no source."""
_THOU_A_MM = 40
_SET_DIAMETERS = frozenset({"cross_slide", "cutter_head"})


def doubts(chapter: Chapter, table: Mapping[str, Any]) -> tuple[str, ...]:
    """Return, a sentence each, what should be looked at again in a chapter; () where the table is not complete."""
    if not chapter.dial or "graduation" not in table:
        return ()
    tables = {"format": LATHE_FORMAT, "name": "x", "dial": {chapter.dial: plain(table)}}
    try:
        dial = lathe_from(tables, "set-up").dials[chapter.dial]
    except FileError:
        return ()
    return tuple(_dial_doubts(dial))


def _dial_doubts(dial: Dial) -> Iterator[str]:
    if dial.reads_diameter and dial.name not in _SET_DIAMETERS:
        yield "Its numbers are told to be diameter, which is rare here: is that so? An indicator on the slide tells."
    if dial.per_turn is None:
        return
    told_mm = dial.per_turn * (MM_PER_INCH if dial.unit == "in" else 1) / (2 if dial.reads_diameter else 1)
    if dial.lead_mm is not None and abs(dial.lead_mm / told_mm - 1) > _FAR_OFF:
        yield (
            f"One turn truly moves {mm_text(float(dial.lead_mm), 4)}, though the numbers say "
            f"{mm_text(float(told_mm), 4)}: is that so? Measure it once more."
        )
    if dial.backlash > dial.per_turn * _MOST_PLAY:
        yield (
            f"{dial.reading_text(dial.backlash)} of play in a turn of {dial.reading_text(dial.per_turn)}: is that so? "
            "Measure it once more."
        )
    thou = dial.per_turn * 1000
    if dial.unit == "in" and dial.lead_mm is None and thou % _THOU_A_MM == 0 and thou / _THOU_A_MM <= 5:
        yield (
            f"{dial.reading_text(dial.per_turn)} in a turn is often a metric screw that is engraved in inches: measure "
            "ten turns to see whether the engraving is true."
        )
