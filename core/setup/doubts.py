"""What is told and may be right, but so seldom is that one should look again."""

from collections.abc import Iterator, Mapping
from fractions import Fraction
from typing import Any

from core.dials import Dial
from core.errors import FileError
from core.lathe import LATHE_FORMAT
from core.lathe_file import lathe_from
from core.quantities import MM_PER_INCH, mm_text, number_text, read_quantity
from core.setup.draft import plain, section_problems
from core.setup.question import Chapter

_FAR_OFF = Fraction(1, 20)
"""A collar that is not true is off by 16 in 1000 (a metric screw engraved in thou); five in a hundred is a slip."""
_MOST_PLAY = Fraction(1, 2)
"""Of a turn; as much play is worn out, or the readings were mixed up. Common practice, no source."""
_THOU_A_MM = 40
_LEAST_TURN_MM, _MOST_TURN_MM = Fraction(1, 5), 60
_LEAST_MARK_MM = Fraction(1, 1000)
"""Of slide travel; finer or coarser is a wrong unit far more often than a dial. Common practice, no source."""
_LEAST_CENTRE_MM = 25
_COARSEST_MM = Fraction(13, 2)
"""An 8 without its unit is threads to the inch far more often than a pitch of 8 mm. Common practice, no source."""
_SET_DIAMETERS = frozenset({"cross_slide", "cutter_head"})


def doubts(chapter: Chapter, table: Mapping[str, Any]) -> tuple[str, ...]:
    """Return, a sentence each, what should be looked at again in a chapter; () where the table is not complete."""
    if not chapter.dial:
        return () if section_problems(chapter.section, table) else tuple(_size_doubts(chapter.name, table))
    if "graduation" not in table:
        return ()
    tables = {"format": LATHE_FORMAT, "name": "x", "dial": {chapter.dial: plain(table)}}
    try:
        dial = lathe_from(tables, "set-up").dials[chapter.dial]
    except FileError:
        return ()
    return tuple(_dial_doubts(dial))


def _size_doubts(name: str, table: Mapping[str, Any]) -> Iterator[str]:
    """Yield what is more often a size in the wrong unit."""
    height = table.get("centre_height")
    if name == "" and height is not None and read_quantity(height, "length").value < _LEAST_CENTRE_MM:
        yield f"A centre height of {height} is very low: is the unit right?"
    pitches = {"leadscrew": [table.get("pitch")], "gearbox": table.get("pitches", [])}.get(name, [])
    for pitch in pitches:
        if pitch is not None and read_quantity(pitch, "pitch").value > _COARSEST_MM:
            yield f"A pitch of {pitch} is very coarse: is the unit right?"


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
    if dial.backlash > dial.per_turn * _MOST_PLAY:
        yield (
            f"{dial.reading_text(dial.backlash)} of play in a turn of {dial.reading_text(dial.per_turn)}: is that so? "
            "Measure it once more."
        )
    if not _LEAST_TURN_MM <= told_mm <= _MOST_TURN_MM or dial.mark_mm < _LEAST_MARK_MM:
        yield (
            f"One turn moves {_in_dial_unit(dial, float(told_mm))} and one mark {_in_dial_unit(dial, dial.mark_mm)}: "
            "is that so, and the unit right?"
        )
    thou = told_mm / MM_PER_INCH * 1000
    if dial.unit == "in" and dial.lead_mm is None and thou % _THOU_A_MM == 0 and thou / _THOU_A_MM < 5:
        yield (
            f"{dial.reading_text(dial.per_turn)} in a turn is often a metric screw that is engraved in inches: measure "
            "ten turns to see whether the engraving is true."
        )


def _in_dial_unit(dial: Dial, length_mm: float) -> str:
    return f"{number_text(length_mm / float(MM_PER_INCH), 5)} in" if dial.unit == "in" else mm_text(length_mm, 4)
