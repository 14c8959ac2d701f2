"""Converts typed answers to values of a lathe file, and such values to text.

Only the file's reader checks the values.
"""

import re
from collections.abc import Mapping
from typing import Any

from core.lathe.keys.entry import DIAL_UNIT, UNIT, Question
from core.values.errors import QuantityError
from core.values.quantities import read_number, read_quantity

_BETWEEN_ITEMS = re.compile(r"\s*;\s*|,\s+|\s*\n\s*")
_COMMA = re.compile(r"\s*,\s*")
_TO = re.compile(r"(?<=[\w.])\s*(?:-|–|\bto\b)\s*(?=[\d.])")
_TO_ONE_TURN = re.compile(r"^1\s*[:/]\s*(?=\d)|(?<=\d)\s*[:/]\s*1$")
"""Matches the ":1" of "72:1", as makers print the ratio of a worm."""
_LISTS = frozenset({"quantities", "range"})
_UNIT_WORDS = {
    "mm": ("millimetres", "in or thou"),
    "in": ("inches", "mm or thou"),
    "thou": ("thou", "mm or in"),
    "tpi": ("threads per inch", "mm"),
    "deg": ("degrees", "arcmin"),
    "arcmin": ("minutes of arc", "deg or arcsec"),
    "arcsec": ("seconds of arc", "deg or arcmin"),
    "rpm": ("turns per minute (rpm)", ""),
    "s": ("seconds", ""),
}
"""For each unit: its name, and the other units that may be entered."""
_PITCHES = frozenset({"pitch", "pitches"})
_PLATES = re.compile(r"\s*/\s*|\s*;\s*")
_BLANKS = re.compile(r"[\s,]+")
_POINT_FIRST = re.compile(r"[.,]\d", re.ASCII)
_PLAIN = re.compile(r"\d*[.,]?\d+", re.ASCII)
_FRACTION = re.compile(r"\d+/\d+", re.ASCII)
_POINTS = re.compile(r"\d*\.\d+(?:,\d*\.\d+)+", re.ASCII)
_UNIT_AT_END = re.compile(r"(?:[^\W\d]+|\")\Z")
_WITH_UNIT = re.compile(rf"{_PLAIN.pattern}\s*[^\W\d]+", re.ASCII)
_ALL_WITH_UNITS = re.compile(rf"{_WITH_UNIT.pattern}(?:\s+{_WITH_UNIT.pattern})+", re.ASCII)


def typed_text(question: Question, value: Any) -> str:
    """Return a value of a lathe file as the text that a user would type to enter this value; "" for None."""
    if value is None:
        return ""
    if question.form.name == "plates" and isinstance(value, list | tuple):
        return " / ".join(" ".join(str(circle) for circle in _listed(plate)) for plate in value)
    if question.form.name == "wholes" and isinstance(value, list | tuple):
        return " ".join(str(item) for item in value)
    if question.form.name in _LISTS and isinstance(value, list | tuple):
        return "; ".join(str(item) for item in value)
    return str(value)


def value_of(question: Question, text: str, unit: str = "") -> Any:
    """Return the lathe file's value for a typed answer.

    An empty text gives None. An unreadable text is returned unchanged, and the reader of the file reports it.

    `unit`: the unit of a number without a unit, also in a list; "" if such numbers have no unit.
    """
    text = text.strip()
    if not text:
        return None
    if question.form.name == "plates":
        plates = [plate for plate in _PLATES.split(text) if plate]
        groups = text.split(",")
        # A comma between groups of circles separates plates, as a / does.
        if len(plates) == 1 and len(groups) > 1 and all(len(group.split()) > 1 for group in groups):
            plates = groups
        return [_wholes(plate) for plate in plates]
    if question.form.name == "wholes":
        return _wholes(text)
    if question.form.name in _LISTS:
        between = _TO.sub("; ", text) if question.form.name == "range" else text
        return _with_units(_items(_COMMA.sub("; ", between) if unit == "rpm" else between), unit)
    if question.form.name == "whole":
        return _whole(_TO_ONE_TURN.sub("", text))
    if question.form.name == "ratio":
        return text.replace(":", "/")
    if question.form.name == "number":
        return _number(text)
    return _with_unit(text, unit)


def unit_of(question: Question, table: Mapping[str, Any], sizes_in: str = "mm") -> str:
    """Return the unit that a number without a unit has in the answer to a question; "" if it has none.

    `table`: the answers about the part so far. `sizes_in`: the unit in which the user measures, "mm" or "in". With
    "in", a pitch is in threads per inch.
    """
    if question.form.unit == DIAL_UNIT:
        return dial_unit(table)
    if question.form.unit == "mm" and sizes_in == "in":
        return "tpi" if question.key in _PITCHES else "in"
    return question.form.unit


def unit_words(question: Question, unit: str) -> str:
    """Return a sentence that states the unit of a number typed without a unit, and which other units are accepted.

    Return "" if the question has options to choose from, or if its answer has no unit.
    """
    if question.options or unit not in _UNIT_WORDS:
        return ""
    name, others = _UNIT_WORDS[unit]
    if question.form.unit == DIAL_UNIT:
        return f"A number without a unit is in {name}, as on this dial."
    if unit == "mm" and question.key in _PITCHES:
        return f"A number without a unit is in {name}. For threads per inch, enter the unit too, such as 8 tpi."
    more = f" For {others}, enter the unit too." if others else ""
    return f"A number without a unit is in {name}.{more}"


def is_bare(text: str) -> bool:
    """Return whether a text is a number without a unit."""
    try:
        read_number(text)
    except QuantityError:
        return False
    return True


def _items(text: str) -> list[str]:
    """Return the items in the text of a list.

    Semicolons separate the items. Without semicolons, commas followed by blanks separate them. Without either, blanks
    alone separate them.
    """
    return [item for part in _BETWEEN_ITEMS.split(text) if part for item in _parts(part)]


def _parts(text: str) -> list[str]:
    """Return the numbers in a text, split at blanks. Either each number has a unit, or only the last one has a unit.

    A text of another form stays one item. A fraction after a whole number is part of that number, as in "1 1/4".

    >>> _parts("0.05 .1"), _parts("45thou 0.9 mm"), _parts("1 1/4 in"), _parts("0.05 0.1 mm")
    (['0.05', '.1'], ['45thou', '0.9 mm'], ['1 1/4 in'], ['0.05', '0.1 mm'])
    >>> _parts("1/16 3/32"), _parts("0.9,1.1")
    (['1/16', '3/32'], ['0.9', '1.1'])
    """
    words = (text.replace(",", " ") if _POINTS.fullmatch(text) else text).split()
    if _are_numbers(words):
        return words
    *numbers, last = words
    if len(numbers) > 1 and _are_numbers(numbers) and _UNIT_AT_END.fullmatch(last):
        return [*numbers[:-1], f"{numbers[-1]} {last}"]
    return _WITH_UNIT.findall(text) if _ALL_WITH_UNITS.fullmatch(text) else [text]


def _with_unit(text: str, unit: str) -> str:
    if _POINT_FIRST.match(text):
        text = f"0{text}"
    return f"{text} {unit}" if unit and is_bare(text) else text


def _are_numbers(words: list[str]) -> bool:
    """Return whether all words are decimal numbers, or all are fractions.

    So "1 1/4", one number in two words, gives False.
    """
    return any(all(kind.fullmatch(word) for word in words) for kind in (_PLAIN, _FRACTION))


def _with_units(items: list[str], unit: str) -> list[str]:
    """Return the items, each with a unit. A bare number gets the unit of the next item that has one, otherwise `unit`.

    >>> _with_units(["0.9", "1.1 mm", "1.35"], "in")
    ['0.9 mm', '1.1 mm', '1.35 in']
    """
    complete: list[str] = []
    spoken = unit
    for item in reversed(items):
        if not is_bare(item):
            own = _UNIT_AT_END.search(item)
            spoken = own[0] if own else unit
        complete.append(_with_unit(item, spoken))
    return complete[::-1]


def _wholes(text: str) -> list[Any]:
    return [_whole(word) for word in _BLANKS.split(text.strip()) if word]


def _whole(text: str) -> int | str:
    return int(text) if text.isascii() and text.isdecimal() and len(text) <= 9 else text


def _number(text: str) -> float | int | str:
    try:
        number = read_number(text)
    except QuantityError:
        return text
    return int(number) if number.denominator == 1 else float(number)


def _listed(plate: Any) -> list[Any]:
    return list(plate) if isinstance(plate, list | tuple) else [plate]


_IN_DIAL_UNIT = ("per_turn", "graduation", "backlash")


_EITHER = re.compile(r"\{([^|}]*)\|([^|}]*)\}")


def in_unit(sentence: str, unit: str) -> str:
    """Return a sentence in which each "{0.5 mm|20 thou}" is replaced by one of its two texts.

    The first text is for the unit "mm", the second text for "in" and "thou".

    >>> in_unit("Go in by {0.5 mm|20 thou}.", "thou")
    'Go in by 20 thou.'
    """
    return _EITHER.sub(lambda match: match[1] if unit == "mm" else match[2], sentence)


def sizes_in(tables: Mapping[str, Any]) -> str:
    """Return the unit in which the user measures, "mm" or "in", derived from the dials in the tables of a lathe.

    The result is the unit of the cross-slide's dial, otherwise of the first dial; "mm" if there is no dial.

    >>> sizes_in({"dial": {"cross_slide": {"per_turn": "100 thou"}}})
    'in'
    """
    dials = tables.get("dial", {})
    first = [dials["cross_slide"]] if "cross_slide" in dials else list(dials.values())
    return "in" if first and dial_unit(first[0]) != "mm" else "mm"


def dial_unit(table: Mapping[str, Any], unknown: str = "mm") -> str:
    """Return the unit engraved on a dial: "mm", "in" or "thou". Return `unknown` if the dial's table names no unit.

    >>> dial_unit({"per_turn": "100 thou"})
    'thou'
    """
    if UNIT in table:
        return str(table[UNIT])
    units = (_unit_of(table.get(key)) for key in ("per_turn", "graduation"))
    return next((unit for unit in units if unit), unknown)


def in_another_unit(table: Mapping[str, Any], engraved: str) -> tuple[str, ...]:
    """Return the keys of a dial's table whose values are metric on an inch dial, or in inches on a metric dial.

    `engraved`: the unit of the dial, "mm", "in" or "thou".

    >>> in_another_unit({"per_turn": "4 mm", "graduation": "1 thou", "lead": "2 mm"}, "in")
    ('per_turn',)
    """
    units = ((key, _unit_of(table.get(key))) for key in _IN_DIAL_UNIT)
    return tuple(key for key, unit in units if unit and (unit == "mm") != (engraved == "mm"))


def _unit_of(length: Any) -> str:
    try:
        unit = read_quantity(length, "length").unit
    except QuantityError:
        return ""
    return unit if unit in {"in", "thou"} else "in" if unit in {"inch", '"'} else "mm"
