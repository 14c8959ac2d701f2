"""Describes the face of a dial: the marks around a reading, and how far the slide has moved from 0."""

from fractions import Fraction
from typing import NamedTuple

from core.lathe.lathe import ALONG_THE_BED, dial_words
from core.values.dials import Dial
from core.values.errors import QuantityError
from core.values.plain_text import quoted
from core.values.quantities import MM_PER_INCH, read_number, read_quantity
from core.values.words import figure_text

_MOST_TURNS = 10_000
_UNITS = {"mm": "millimetres", "in": "inches", "deg": "degrees"}


def show_reading(dial: Dial, position: str) -> tuple[str, ...]:
    """Return sentences about turning a dial from 0 to a position, such as how far the slide then moves.

    `position`: a number as engraved on the dial ("0.42"), or a length in the dial's own unit ("0.42 mm", "15 thou"). It
    may be more than one turn. Raises QuantityError if `position` is neither a number nor a length in the dial's unit.

    >>> show_reading(Dial(name="compound", unit="mm", graduation=Fraction(2, 100), per_turn=Fraction(2)), "0.42")[1]
    'The slide moves in by 0.42 mm (16.535 thou).'
    """
    wanted = read_position(dial, position)
    marks = dial.marks_at(wanted)
    nearest = round(marks)
    setting = dial.at_marks(nearest)
    lines = [f"The {dial_words(dial.name)} shows {dial.setting_text(setting)}{_mark_words(dial, nearest)}."]
    if marks != nearest:
        lines.append(
            f"One mark is {dial.reading_text(dial.graduation)}. {figure_text(wanted, dial.unit)} is between two marks. "
            "The nearest mark is used."
        )
    travel_mm = nearest * dial.graduation * dial.mm_per_unit
    direction = "in" if travel_mm >= 0 else "out"
    lines.append(f"The slide moves {direction} by {_length_words(dial, abs(travel_mm))}.")
    if dial.name not in ALONG_THE_BED:
        square = "With the compound square to the axis, a" if dial.name == "compound" else "A"
        lines.append(f"{square} diameter changes by {_length_words(dial, 2 * abs(travel_mm))}.")
    if dial.clockwise_goes is not None and travel_mm:
        clockwise = (dial.clockwise_goes == "in") == (travel_mm > 0)
        lines.append(f"Turn the handle {'clockwise' if clockwise else 'anticlockwise'}.")
    lines.append("If an indicator on the slide shows a different movement, correct your answers about this dial.")
    return tuple(lines)


def first_to_do(dial: Dial, position: str) -> str:
    """Return the instruction for taking up the backlash before a dial is turned from 0 to a position.

    `position`: a number as engraved on the dial, or a length in the dial's own unit. Raises QuantityError if `position`
    is neither.

    >>> first_to_do(Dial(name="compound", unit="mm", graduation=Fraction(2, 100), per_turn=Fraction(2)), "0.42")
    'First stop the spindle. Turn the compound in until the backlash is taken up. Then set its dial to 0.'
    """
    name = dial_words(dial.name)
    if dial.per_turn is None:
        return f"First stop the spindle. Set the readout of the {name} to 0."
    direction = "in" if dial.marks_at(read_position(dial, position)) >= 0 else "out"
    backlash = f" ({dial.reading_text(dial.backlash)})" if dial.backlash else ""
    zero = "set its dial to 0" if dial.can_zero else "note its dial's reading, and count from there"
    return f"First stop the spindle. Turn the {name} {direction} until the backlash{backlash} is taken up. Then {zero}."


def _length_words(dial: Dial, length_mm: Fraction) -> str:
    """Return a length [mm] as text in a dial's unit, then in the other system's: "0.42 mm (16.535 thou)"."""
    inches = length_mm / MM_PER_INCH
    if dial.unit == "in":
        return f"{figure_text(inches, 'in', 5)} ({figure_text(length_mm, 'mm', 5)})"
    return f"{figure_text(length_mm, 'mm')} ({figure_text(inches * 1000, 'thou', 5)})"


def read_position(dial: Dial, text: str) -> Fraction:
    """Return a position that the user typed, as a number in the dial's own unit.

    Raises QuantityError if the text is neither a number nor a length, has another unit than the dial, or is more turns
    from 0 than `_MOST_TURNS`.
    """
    try:
        position = read_number(text)
    except QuantityError:
        quantity = read_quantity(text, "length")
        if quantity.is_inch != (dial.unit == "in"):
            raise QuantityError(
                f"The {dial_words(dial.name)} is engraved in {_UNITS[dial.unit]}, but {quoted(text)} has another "
                "unit. Enter the number that the dial shows."
            ) from None
        position = quantity.value / MM_PER_INCH if dial.unit == "in" else quantity.value
    most = _MOST_TURNS * (dial.per_turn or 1)
    if abs(position) > most:
        raise QuantityError(f"{quoted(text)} is too large. Enter at most {figure_text(most, dial.unit)}.")
    return position


def _mark_words(dial: Dial, marks: int) -> str:
    if dial.per_turn is None:
        return ""
    in_a_turn = int(dial.per_turn / dial.graduation)
    place = (marks if dial.rising_inwards else -marks) % in_a_turn
    return f", which is mark {place} of {in_a_turn} in a turn"


_LONG_EVERY = 5
_TRIED_MARKS = 21


class DialMark(NamedTuple):
    """One mark of a dial, as a user who stands in front of the handle sees it.

    The fixed zero line is above the dial.
    """

    offset: int
    """The number of marks from the zero line to the right. Below 0, the mark is on the left."""
    long: bool
    number: str
    """The number engraved at a long mark; "" at the other marks."""


def marks_around(dial: Dial, marks_inwards: int, each_side: int) -> tuple[DialMark, ...]:
    """Return the mark under the zero line and `each_side` marks on either side, from left to right.

    `marks_inwards`: the number of marks from the dial's 0 to the mark under the zero line, counted inwards. When the
    user turns the handle clockwise, the top of the dial moves to the right, so the next mark comes from the left. If
    the direction of the handle is not known, turning clockwise is taken to move the slide in, as on most lathes.
    """
    rising_clockwise = (dial.clockwise_goes != "out") == dial.rising_inwards
    here = marks_inwards if dial.rising_inwards else -marks_inwards
    marks = []
    for offset in range(-each_side, each_side + 1):
        number = here + (-offset if rising_clockwise else offset)
        long = number % _LONG_EVERY == 0
        marks.append(DialMark(offset=offset, long=long, number=_engraved(dial, number) if long else ""))
    return tuple(marks)


def marks_of(dial: Dial, text: str) -> int:
    """Return the number of marks from the dial's 0 to the mark nearest to a typed reading, counted inwards.

    Raises QuantityError if the text is neither a number nor a length in the dial's unit.
    """
    return round(dial.marks_at(read_position(dial, text)))


def example_reading(dial: Dial, unit: str) -> str:
    """Return an example of a reading for the user to try: the reading of the 21st mark inwards from 0.

    `unit`: the unit engraved on the dial, "mm", "in" or "thou".

    >>> example_reading(Dial(name="compound", unit="mm", graduation=Fraction(2, 100), per_turn=Fraction(2)), "mm")
    '0.42'
    """
    position = dial.at_marks(_TRIED_MARKS).position
    return lossless_text(position * 1000) if unit == "thou" else dial.number_text(position)


def _engraved(dial: Dial, mark: int) -> str:
    position = mark * dial.graduation
    if dial.per_turn is not None:
        position %= dial.per_turn
    return dial.number_text(Fraction(position))


def lossless_text(number: Fraction) -> str:
    """Return the shortest text that represents a fraction exactly: a decimal number if possible, otherwise n/d.

    >>> lossless_text(Fraction(1, 8)), lossless_text(Fraction(4)), lossless_text(Fraction(1, 3))
    ('0.125', '4', '1/3')
    """
    for places in range(10):
        if (number * 10**places).denominator == 1:
            return f"{float(number):.{places}f}"
    return f"{number.numerator}/{number.denominator}"
