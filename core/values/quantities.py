"""Reads quantities from text, and writes them as text. No other module defines the length of an inch.

The program reads numbers exactly, and holds its units as exact fractions. So reading a job needs no unit library, and
no text from a user is ever run as code. An ambiguous entry, such as a missing unit, "mil" or a thousands separator, is
refused with a sentence.
"""

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from core.values.errors import QuantityError
from core.values.plain_text import quoted

Kind = Literal["length", "angle", "pitch", "rotation", "surface speed", "time", "power"]

MM_PER_INCH = Fraction(254, 10)
"""International inch, exact since 1959 (NIST SP 811, appendix B)."""

LONGEST_TEXT = 40
SHORTEST_LENGTH_MM = Fraction(1, 10**6)
LONGEST_LENGTH_MM = Fraction(10**5)

_LENGTHS = {
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
    "um": Fraction(1, 1000),
    "µm": Fraction(1, 1000),  # micro sign U+00B5
    "μm": Fraction(1, 1000),  # Greek mu U+03BC, which many keyboards give
    "in": MM_PER_INCH,
    "inch": MM_PER_INCH,
    '"': MM_PER_INCH,
    "thou": MM_PER_INCH / 1000,
}
_UNITS: dict[Kind, dict[str, Fraction]] = {
    "length": _LENGTHS,
    "pitch": _LENGTHS,
    "angle": {
        "deg": Fraction(1),
        "°": Fraction(1),
        "arcmin": Fraction(1, 60),
        "'": Fraction(1, 60),
        "arcsec": Fraction(1, 3600),
    },
    "rotation": {"rpm": Fraction(1)},
    "surface speed": {"m/min": Fraction(1), "ft/min": 12 * MM_PER_INCH / 1000},
    "time": {"s": Fraction(1), "min": Fraction(60)},
    "power": {"W": Fraction(1), "kW": Fraction(1000)},
}
EXAMPLES: dict[Kind, str] = {
    "length": "a length such as 29.80 mm, 15 thou or 1 1/4 in",
    "pitch": "a pitch such as 3.5 mm or 8 tpi",
    "angle": "an angle such as 29.5 deg, 12°30' or 45 arcmin",
    "rotation": "a speed such as 70 rpm",
    "surface speed": "a cutting speed such as 25 m/min or 80 ft/min",
    "time": "a time such as 1.0 s",
    "power": "a power such as 370 W",
}
"""Examples of entries for each kind of quantity. They follow the word "Enter"."""
_IN_A_FILE: dict[Kind, str] = {
    "length": '"29.80 mm"',
    "pitch": '"3.5 mm"',
    "angle": '"29.5 deg"',
    "rotation": '"70 rpm"',
    "surface speed": '"25 m/min"',
    "time": '"1.0 s"',
    "power": '"370 W"',
}
_MIL = "means a thousandth of an inch in some shops and a millimetre in others. Enter thou or mm."
_TENTH = "means 0.1 mm in some shops and 0.0001 in in others. Enter mm or in."
_SHOP_DEPENDENT = {"mil": _MIL, "mils": _MIL, "tenth": _TENTH, "tenths": _TENTH}

NUMBER_PATTERN = (
    r"(?:\d+-\d+/\d+(?![.,]?\d)|\d+\ +\d+/\d+(?![.,]?\d)|\d+/\d+(?![.,]?\d)"
    r"|\d+[.,]\d+|[.,]\d+|\d+[.,]?)"
)
"""Matches a number as fields accept it: "1-1/4", "1 1/4", "3/64", "29,80", ".5". "1/4 in" starts with one number."""

_NUMBER = r"(?:\d+(?: +|-)\d+/\d+|\d+/\d+|\d+[.,]\d+|[.,]\d+|\d+[.,]?)"
_NUMBER_AND_UNIT = re.compile(rf"([+-]?)\s*({_NUMBER})\s*(.*)", re.ASCII | re.DOTALL)
_PART = r"\d+(?:[.,]\d+)?"
MINUTES, SECONDS = r"(?:arc)?m(?:in(?:utes?)?)?", r"(?:arc)?s(?:ec(?:onds?)?)?"
"""The units of arc that may follow degrees. In "2 deg 51 min" the minutes cannot be minutes of time."""
_DEGREES_MINUTES_SECONDS = re.compile(
    rf"([+-]?)\s*({_PART})\s*(?:°|deg(?:rees?)?|d)\s*(?:({_PART})\s*(?:'|′|{MINUTES})\s*)?"
    rf"(?:({_PART})\s*(?:\"|″|''|{SECONDS})\s*)?",
    re.ASCII,
)
_THOUSANDS = re.compile(r"[+-]?\s*(?:[1-9]\d{0,2}(?:[,.' ]\d{3})+(?:[.,]\d+)?)", re.ASCII)


@dataclass(frozen=True, kw_only=True)
class Quantity:
    """A number with its unit exactly as written, and its exact value in the base unit.

    The base units are mm for a length or a pitch, deg, rpm, m/min, s and W.
    """

    kind: Kind
    number: Fraction
    unit: str
    value: Fraction

    @property
    def is_inch(self) -> bool:
        """True if the quantity is a length in inches or thou, or a pitch in threads per inch."""
        return self.unit in {"in", "inch", '"', "thou", "tpi"}


def read_number(text: str) -> Fraction:
    """Return the exact number that a text states: "1.25", "1,25", "3/64", "1 1/4", "1-1/4" or "-0.5".

    Raises QuantityError if the text is not a number. A comma before exactly three digits is refused, because it may
    separate thousands or decimals.

    >>> read_number("1 1/4")
    Fraction(5, 4)
    """
    match = _NUMBER_AND_UNIT.fullmatch(text.strip())
    if match and not match[3] and _separates_thousands(text.strip()):
        raise _thousands_refusal(text)
    if not match or match[3] or len(text) > LONGEST_TEXT:
        raise QuantityError(f"{quoted(text)} cannot be read as a number. Enter a number such as 1.25, 3/64 or 1 1/4.")
    return _signed(match[1], _plain_number(match[2], text))


def read_quantity(text: object, kind: Kind, examples: str = "") -> Quantity:
    """Return the quantity of a kind, such as a length, that a text states.

    `examples`: entries that the error message suggests; "" for the usual examples of this kind. Raises a QuantityError
    that says what is wrong and what to enter.

    >>> read_quantity("1 1/4 in", "length").value
    Fraction(127, 4)
    """
    try:
        return _read(text, kind)
    except _RefusedError as refused:
        raise QuantityError(f"{refused.complaint}. Enter {examples or EXAMPLES[kind]}.") from None


class _RefusedError(Exception):
    """A text does not state a quantity. The caller adds a sentence that says what to enter."""

    def __init__(self, value: object, complaint: str) -> None:
        super().__init__()
        self.complaint = f"{quoted(value)} {complaint}"


def _read(text: object, kind: Kind) -> Quantity:
    if not isinstance(text, str):
        is_number = isinstance(text, int | float) and not isinstance(text, bool)
        complaint = "has no unit" if is_number else "cannot be read"
        raise QuantityError(f"{quoted(text)} {complaint}. Enter text in quotes, such as {_IN_A_FILE[kind]}.")
    stripped = text.strip()
    if len(stripped) > LONGEST_TEXT:
        raise _RefusedError(text, f"has more than {LONGEST_TEXT} characters")
    if kind == "angle" and (angle := _degrees(stripped)) is not None:
        return Quantity(kind=kind, number=angle, unit="deg", value=angle)
    match = _NUMBER_AND_UNIT.fullmatch(stripped)
    if not match:
        raise _RefusedError(text, "is not a number with a unit")
    if _separates_thousands(stripped):
        raise _thousands_refusal(text)
    number = _signed(match[1], _plain_number(match[2], text))
    return _with_unit(text, number, match[3].strip(), kind)


def unit_size(name: str, kind: Kind) -> Fraction | None:
    """Return the size of a unit in the base unit of `kind`; None if this kind has no such unit.

    Upper and lower case count only if they change the meaning. tpi has no size in this sense, because more threads per
    inch mean a finer pitch.

    >>> unit_size("Thou", "length"), unit_size("thou", "angle")
    (Fraction(127, 5000), None)
    """
    units = _UNITS[kind]
    # A capital M could be mega. All other units are clear in capitals.
    return None if name == "M" else units.get(name, units.get(name.casefold()))


def shop_dependent(name: str) -> str:
    """Return a clause about a unit whose size differs between shops, and what to enter; "" for other units.

    >>> shop_dependent("tenths")
    'means 0.1 mm in some shops and 0.0001 in in others. Enter mm or in.'
    """
    return _SHOP_DEPENDENT.get(name.casefold(), "")


def length_mm(text: object) -> float:
    """Return the length that a text states [mm]. Raises QuantityError if the text is not a length."""
    return float(read_quantity(text, "length").value)


def number_text(value: float | Fraction, decimals: int) -> str:
    """Return a number as text with at most `decimals` decimal places, and without zeros at the end of the decimals.

    >>> number_text(29.850, 3), number_text(-0.0001, 2)
    ('29.85', '0')
    """
    text = f"{float(value):.{decimals}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text


def mm_text(value_mm: float, decimals: int = 3) -> str:
    """Return a length [mm] as text, with at most `decimals` decimal places.

    >>> mm_text(0.42)
    '0.42 mm'
    """
    return f"{number_text(value_mm, decimals)} mm"


def length_text(value_mm: float, unit: str) -> str:
    """Return a length [mm] as text in `unit`: in mm to a micrometre, or in inches to a tenth of a thou.

    `unit`: "mm" or "in", the unit of a lathe's dials.

    >>> length_text(22.1488, "in"), length_text(22.1488, "mm")
    ('0.8720 in', '22.149 mm')
    """
    return f"{value_mm / float(MM_PER_INCH):.4f} in" if unit == "in" else mm_text(value_mm)


def _degrees(text: str) -> Fraction | None:
    """Return the angle [deg] that a text such as "12d30m15s" or "12°30'" states; None for text in another form."""
    match = _DEGREES_MINUTES_SECONDS.fullmatch(text)
    if not match:
        return None
    parts = [part for part in match.groups()[1:] if part is not None]
    if any("." in part or "," in part for part in parts[:-1]):
        raise _RefusedError(text, "has decimals in a part that is not the last")
    sizes = [_plain_number(part, text) for part in match.groups(default="0")[1:]]
    if sizes[1] >= 60 or sizes[2] >= 60:
        raise _RefusedError(text, "has 60 or more minutes or seconds")
    return _signed(match[1], sizes[0] + sizes[1] / 60 + sizes[2] / 3600)


def _plain_number(text: str, whole_text: str) -> Fraction:
    """Return the number that a text without a sign states as a decimal, a fraction or a mixed number.

    `whole_text`: the user's whole entry, for an error message.
    """
    whole, _, fraction = text.replace("-", " ").rpartition(" ")
    if "/" in fraction:
        above, below = (int(part) for part in fraction.split("/"))
        if below == 0:
            raise QuantityError(f"{quoted(whole_text)} divides by 0. Enter a fraction such as 3/64.")
        return int(whole or 0) + Fraction(above, below)
    return Fraction(text.replace(",", ".").rstrip(".") if text[-1] in ".," else text.replace(",", "."))


def _separates_thousands(text: str) -> bool:
    """Return whether a text has what may be a thousands separator, as "1,234.5", "1 250" and "1,250" have."""
    number = _THOUSANDS.match(text)
    if number is None:
        return False
    next_character = text[number.end() : number.end() + 1]
    if next_character.isdigit() or next_character == "/":
        return False
    marks = re.findall(r"[,.' ]", number[0].lstrip("+- "))
    return marks != ["."]


def _thousands_refusal(text: str) -> QuantityError:
    return QuantityError(
        f"{quoted(text)} could have a thousands separator or a decimal comma. Enter the number with neither, such as "
        "1250 or 1.25."
    )


def _signed(sign: str, number: Fraction) -> Fraction:
    return -number if sign == "-" else number


def _with_unit(text: str, number: Fraction, unit: str, kind: Kind) -> Quantity:
    """Return the quantity made of a number and a unit. Raises an error for a wrong unit or an impossible size.

    `text`: the user's entry, for the error message.
    """
    if complaint := shop_dependent(unit):
        raise QuantityError(f"In {quoted(text)}, {unit} {complaint}")
    if kind == "pitch" and unit.casefold() == "tpi":
        if number <= 0:
            raise _RefusedError(text, "is not above 0")
        return _sized(text, Quantity(kind=kind, number=number, unit="tpi", value=MM_PER_INCH / number))
    size = unit_size(unit, kind)
    if size is None:
        raise _RefusedError(text, _unit_complaint(unit, kind))
    known = unit if unit in _UNITS[kind] else unit.casefold()
    return _sized(text, Quantity(kind=kind, number=number, unit=known, value=number * size))


def _unit_complaint(unit: str, kind: Kind) -> str:
    """Return why a quantity of this kind cannot have this unit, as the end of a sentence."""
    if not unit:
        return "has no unit"
    for other, units in _UNITS.items():
        if unit in units:
            return f"is {_with_article(other)}, not {_with_article(kind)}"
    return f"has an unknown unit, {quoted(unit, 20)}"


def _with_article(kind: Kind) -> str:
    return f"{'an' if kind == 'angle' else 'a'} {kind}"


def _sized(text: str, quantity: Quantity) -> Quantity:
    """Return `quantity` unchanged. Raise _RefusedError if no part of a lathe can have its size.

    `text`: the user's entry, for the error message.
    """
    if quantity.kind in {"length", "pitch"} and quantity.value != 0:
        if not SHORTEST_LENGTH_MM <= abs(quantity.value) <= LONGEST_LENGTH_MM:
            raise _RefusedError(text, "is not between 1 nm and 100 m")
    elif abs(quantity.value) > 10**7:
        raise _RefusedError(text, "is too large for any lathe")
    return quantity
