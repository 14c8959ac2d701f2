"""Drawings of an operation's dials for a printed page, as the user sees the marks from the handle.

The dials of the slides and the dial on a rotary table's handle are drawn, each at one reading.
"""

import math
from collections.abc import Iterable, Iterator
from fractions import Fraction

from core.drawing import Bounds, Drawing, Name, Stroke
from core.lathe.dial_face import marks_around
from core.lathe.lathe import Lathe, RotaryTable, dial_words
from core.operations.dividing.handle_dial import TABLE, handle_turns
from core.operations.dividing.words import reading_words, turns_text
from core.plan import Plan, Step
from core.values.angles import dms_text
from core.values.dials import Dial, Setting

_EACH_SIDE = 10
_LONG_EVERY = 5
_LONG, _SHORT, _ZERO_LINE = 1.6, 0.9, 1.4
"""Lengths of the dial's marks and of the zero line above them, if the distance between two marks is 1."""


def dial_drawings(plan: Plan, lathe: Lathe) -> Iterator[tuple[str, Drawing]]:
    """Yield the name and the drawing of every dial that the steps of a plan set.

    Each dial is drawn at the last reading to which it is set.
    """
    last: dict[str, tuple[Step, Setting]] = {}
    for step in plan.steps:
        if step.zeroed_dials:
            continue
        for setting in step.settings:
            if isinstance(setting, Setting):
                last[setting.dial] = step, setting
    for name, (step, setting) in last.items():
        dial, table = lathe.dials.get(name), lathe.rotary_table
        title = f"{dial_words(name).capitalize()} dial at"
        if dial is not None and dial.per_turn is not None:
            words = f"{title} {dial.setting_text(setting)}: {step.name}"
            yield words, dial_drawing(dial, round(dial.marks_at(setting.position)))
        elif name == TABLE and table is not None and table.dial_graduation_deg is not None:
            set_deg = Fraction(setting.position)
            turns = handle_turns(table, set_deg % 360) // 1
            after = f"{turns_text(turns)} and " if turns else ""
            yield f"{title} {after}{reading_words(table, set_deg)}: {step.name}", table_dial_drawing(table, set_deg)


def dial_drawing(dial: Dial, marks_inwards: int) -> Drawing:
    """Return the drawing of a slide's dial with one mark at the zero line and the neighbouring marks beside it.

    `marks_inwards`: the number of the mark at the zero line, counted inwards from 0.
    """
    marks = marks_around(dial, marks_inwards, _EACH_SIDE)
    return _drawn((float(mark.offset), mark.long, mark.number) for mark in marks)


def table_dial_drawing(table: RotaryTable, set_deg: Fraction) -> Drawing:
    """Return the drawing of the dial on a rotary table's handle, at an angle of the table [deg].

    If the dial has a vernier, the zero line can be between two marks. The dial's numbers rise when the handle turns
    clockwise (common practice, no source).
    """
    graduation_deg, per_turn_deg = table.dial_graduation_deg or Fraction(1), Fraction(360) / table.ratio
    reading = set_deg % per_turn_deg / graduation_deg
    first = math.ceil(reading - _EACH_SIDE)
    marks = []
    for mark in range(first, math.floor(reading + _EACH_SIDE) + 1):
        is_long = mark % _LONG_EVERY == 0
        number = dms_text(mark * graduation_deg % per_turn_deg, graduation_deg) if is_long else ""
        # When the handle turns clockwise, the top of the dial moves to the right. So higher numbers come from the left.
        marks.append((float(reading - mark), is_long, number))
    return _drawn(marks)


def _drawn(marks: Iterable[tuple[float, bool, str]]) -> Drawing:
    """Return the drawing of a dial.

    `marks`: for each mark, its distance from the zero line in spaces between marks, whether its line is long, and its
    number as text; "" for a mark without a number.
    """
    strokes = [Stroke(((0.0, _ZERO_LINE), (0.0, 0.1)), "tool")]
    names = []
    for x, is_long, number in marks:
        strokes.append(Stroke(((x, 0.0), (x, -(_LONG if is_long else _SHORT)))))
        if number:
            names.append(Name(number, (x, -_LONG - 0.6)))
    edge = _EACH_SIDE + 0.5
    strokes.append(Stroke(((-edge, 0.0), (edge, 0.0))))
    return Drawing(bounds=Bounds(-edge, edge, -_LONG - 1.0, _ZERO_LINE), strokes=tuple(strokes), names=tuple(names))
