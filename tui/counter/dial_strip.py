"""Draws the scale of a dial in a few rows: the mark to set under the zero line, and the present reading."""

from collections.abc import Sequence

from core.lathe.dial_face import DialMark
from core.run.step_pictures import DialPicture
from core.values.plain_text import wrapped
from tui.glyphs import Glyphs

_COLUMNS_A_MARK = 3
_MOST_EACH_SIDE = 12


def strip_lines(dial: DialPicture, columns: int, glyphs: Glyphs) -> list[str]:
    """Return the drawing of a dial in rows of at most `columns` characters.

    The rows from the top: name and full turns, zero line, marks, numbers, present reading, marks still to turn.

    >>> from fractions import Fraction
    >>> from core.values.dials import Dial
    >>> compound = Dial(name="compound", unit="mm", graduation=Fraction(1, 10), per_turn=Fraction(2))
    >>> picture = DialPicture(dial=compound, wanted_marks=24, turns="1 full turn and", now_marks=Fraction(22))
    >>> print("\\n".join(strip_lines(picture, 34, Glyphs("braille"))))
    Compound: 1 full turn and 0.4 mm
             0.4 ▼
     ┬──┬──┬──┼──┬──┬──┬──┬──┼
             0.5            0.0
                       ▲ now
    Now 0.2: 2 marks to go.
    """
    each_side = min(max((columns // _COLUMNS_A_MARK - 2) // 2, 1), _MOST_EACH_SIDE)
    middle = _COLUMNS_A_MARK * each_side + 1
    marks = dial.around(each_side)
    head = " ".join(filter(None, (f"{dial.name.capitalize()}:", dial.turns, f"{dial.number} {dial.dial.unit}")))
    wanted = f"{dial.number} {glyphs['more_below']}"
    rows = [
        *wrapped(glyphs.text(head), columns),
        " " * (middle - len(wanted) + 1) + wanted,
        f" {(glyphs['horizontal'] * (_COLUMNS_A_MARK - 1)).join(_tick(mark, glyphs) for mark in marks)}",
        _numbers(marks, middle),
    ]
    offset = dial.now_offset
    if offset and abs(offset) <= each_side:
        rows.append(_now(middle + _COLUMNS_A_MARK * offset, glyphs))
    elif offset:
        side = glyphs["left"] if offset < 0 else glyphs["right"]
        rows.append(f" {side} now" if offset < 0 else f"now {side}".rjust(2 * middle - 1))
    return [*rows, *wrapped(glyphs.text(dial.now_words), columns)] if dial.now_words else rows


def _tick(mark: DialMark, glyphs: Glyphs) -> str:
    return glyphs["long_mark"] if mark.long else glyphs["short_mark"]


def _numbers(marks: Sequence[DialMark], middle: int) -> str:
    numbers = [" "] * (2 * middle + 2 * _COLUMNS_A_MARK)
    for mark in marks:
        start = middle + _COLUMNS_A_MARK * mark.offset - (len(mark.number) - 1) // 2
        if mark.number and start >= 0:
            numbers[start : start + len(mark.number)] = mark.number
    return "".join(numbers).rstrip()


def _now(column: int, glyphs: Glyphs) -> str:
    return " " * column + f"{glyphs['more_above']} now"
