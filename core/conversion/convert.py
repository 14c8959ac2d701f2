"""Converts a typed question, such as "1 1/4 in", into all units. Example questions are also defined here."""

import re
from fractions import Fraction
from pathlib import Path
from typing import Literal

from core.conversion.angles import angle_answer, taper_answer
from core.conversion.answers import Conversion
from core.conversion.dimensions import ANGLE, LENGTH, NUMBER, PITCH, ROTATION, SPEED, UnitLookup, Value, with_article
from core.conversion.expression import LONGEST_SUM, evaluate
from core.conversion.lengths import length_answer, pitch_answer
from core.conversion.other_quantities import other_answer, temperature_answer
from core.conversion.speeds import speed_answer
from core.conversion.unit_lookup import unit_lookup
from core.lathe.lathe import Lathe
from core.operations.taper_angles import Taper, per_length, taper_spelled
from core.values.errors import QuantityError
from core.values.plain_text import clean, quoted
from core.values.words import Row

EXAMPLES = "a quantity such as 1 1/4 in, 29.5 deg, 1:20, 8 tpi, 25 m/min at 30 mm, 30 H7/g6 or a sum of lengths"

EXAMPLE_ROWS = (
    Row("a length", "1 1/4 in, 15 thou, 29,80 mm, 1/3 in, #7, letter F"),
    Row("a sum", "1 1/4 in - 2*15 thou + 0.2 mm, (25.4 mm)/3, 40 mm / cos(29.5 deg)"),
    Row("an angle", "29.5 deg, 2 deg 51 min, 12d30m15s, 360 deg / 7"),
    Row("a taper", "1:20, 0.6 tpf, 2 mm per 100 mm, MT 2, metric 80, 7 deg half, 5 %"),
    Row("a pitch", "8 tpi, 3.5 mm pitch"),
    Row("a speed", "25 m/min at 30 mm, 310 rpm at 40 mm, 80 ft/min"),
    Row("limits", "12.5 +0.02 -0.01 mm, 30 ±0.1 mm, 28.98 to 29.00 mm"),
    Row("a fit", "30 H7/g6, 30 H7, 30 g6"),
    Row("a stack", "stack 0.85 mm"),
    Row("anything else", "20 degC, 100 psi, 370 W, 5 lbf*ft"),
)
"""Examples of questions, one for each kind."""

_FIT_MARK = re.compile(r"[A-Za-z]\d", re.ASCII)
_LIMITS_MARK = re.compile(r"[-+±−…]|\bto\b", re.ASCII | re.IGNORECASE)
_STACK = re.compile(r"stack(?: of)? (?P<height>.+)", re.ASCII | re.IGNORECASE)
_AT = re.compile(r"\s(?:at|@)\s", re.ASCII | re.IGNORECASE)
_PER = re.compile(r"\s+per\s+|(?:(?<=in)|(?<=inch)|(?<=\"))\s*/\s*(?=(?:ft|foot)\s*$)", re.ASCII | re.IGNORECASE)
_OF_TAPER = re.compile(r"\s*(?P<angle>.+?)\s+(?P<of>half|included)(?:\s+angle)?\s*", re.ASCII | re.IGNORECASE)
_PITCH = re.compile(r"\s*(?:pitch\s+(?P<after>.+)|(?P<before>.+)\s+pitch)\s*", re.ASCII | re.IGNORECASE | re.DOTALL)
_NO_UNIT = re.compile(r"[\d\s.,+*/()×·÷−-]*(?:pi[\d\s.,+*/()×·÷−-]*)*", re.ASCII | re.IGNORECASE)


def convert(
    text: str, lathe: Lathe | None, cache: Path | None = None, *, units: UnitLookup | None = None
) -> Conversion:
    """Return the answer to a typed question in all units, with readings of the dials of `lathe`.

    - `text`: the question, at most 300 characters long.
    - `lathe`: None for an answer without dial readings.
    - `cache`: the folder in which units looked up in pint are saved. It may be unwritable; None to save none.
    - `units`: a function that looks up units in place of pint and `cache`; None to use pint.

    Raises QuantityError, whose message of under 600 characters says what is wrong and what to enter.

    >>> convert("1 1/4 in", None).figures["mm"]
    31.75
    """
    if len(text) > LONGEST_SUM:
        raise QuantityError(f"The text has {len(text)} characters. Enter at most {LONGEST_SUM}.")
    # Pasted text may hold no-break spaces, and wide or narrow ones.
    asked = re.sub(r"\s", " ", clean(text, LONGEST_SUM)).strip()
    if not asked:
        raise QuantityError(f"There is nothing to convert. Enter {EXAMPLES}.")
    if height := _STACK.fullmatch(asked):
        from core.conversion.stacks import stack_answer

        value = evaluate(height["height"], units or unit_lookup(cache))
        if value.dimension != LENGTH:
            raise QuantityError(
                f"{quoted(asked)} is {with_article(value.dimension)}. Enter a height, such as stack 23.45 mm."
            )
        return stack_answer(asked, value.number, lathe)
    return _spelled(asked, lathe) or _of_value(asked, lathe, units or unit_lookup(cache))


def _spelled(asked: str, lathe: Lathe | None) -> Conversion | None:
    """Return the answer to a fit, limits, a taper or a temperature; None if the question states none of these.

    `asked`: the question. `lathe`: None for an answer without dial readings.
    """
    # Loaded only if the text may need these modules. A command line that asks for a length does not wait for them.
    if _FIT_MARK.search(asked):
        from core.conversion.limits import fit_answer
        from core.values.iso286 import fit_spelled

        if fit := fit_spelled(asked):
            return fit_answer(asked, fit, lathe)
    if _LIMITS_MARK.search(asked):
        from core.conversion.limits import limits_answer
        from core.values.limits import limits_spelled

        if limits := limits_spelled(asked):
            return limits_answer(asked, limits, lathe)
    if taper := taper_spelled(asked):
        return taper_answer(asked, taper, lathe)
    return temperature_answer(asked, asked)


def _of_value(asked: str, lathe: Lathe | None, units: UnitLookup) -> Conversion:
    """Return the answer to a sum such as "1 in + 3 mm", to a pitch, or to a speed at a diameter.

    `asked`: the question. `lathe`: None for an answer without dial readings. `units`: the function that looks up units.
    """
    diameter_mm = None
    summed, *diameter = _AT.split(asked, maxsplit=1)
    if diameter:
        diameter_mm = _length_mm(diameter[0], units)
    if not diameter and (ratio := _PER.split(summed, maxsplit=1))[1:]:
        return _of_ratio(asked, evaluate(ratio[0], units), evaluate(ratio[1], units), lathe, units)
    if named := _OF_TAPER.fullmatch(asked):
        return _of_taper(asked, named, lathe, units)
    as_pitch = _PITCH.fullmatch(summed)
    value = evaluate((as_pitch["after"] or as_pitch["before"]) if as_pitch else summed, units)
    if diameter_mm is not None and value.dimension not in {SPEED, ROTATION}:
        raise QuantityError(
            f"{quoted(asked)} is {with_article(value.dimension)} at a diameter. "
            "Enter a speed at a diameter, such as 25 m/min at 30 mm."
        )
    if as_pitch:
        if value.dimension not in {LENGTH, PITCH}:
            raise QuantityError(f'{quoted(asked)} is not a pitch. Enter "3.5 mm pitch" or "8 tpi", for example.')
        return pitch_answer(asked, _pitch_mm(asked, value))
    return _by_kind(asked, value, diameter_mm, lathe, units)


def _of_ratio(asked: str, above: Value, below: Value, lathe: Lathe | None, units: UnitLookup) -> Conversion:
    """Return the answer to `above` per `below`, such as "3/4 in per foot" or "25 m per min".

    `asked`: the question. `lathe`: None for an answer without dial readings. `units`: the function that looks up units.
    """
    if above.dimension == below.dimension == LENGTH:
        return taper_answer(asked, per_length((above / below).number), lathe)
    return _by_kind(asked, above / below, None, lathe, units)


def _of_taper(asked: str, named: re.Match[str], lathe: Lathe | None, units: UnitLookup) -> Conversion:
    """Return the answer to a taper given by its angle, such as "7 deg half" or "14 deg included".

    `asked`: the question. `named`: the match of the question, with the angle and the word for the kind of angle.
    `lathe`: None for an answer without dial readings. `units`: the function that looks up units.
    """
    value = evaluate(named["angle"], units)
    if value.dimension != ANGLE:
        raise QuantityError(f"{quoted(asked)} is not an angle. Enter the angle of a taper, such as 7 deg half.")
    of: Literal["half", "included"] = "half" if named["of"].casefold() == "half" else "included"
    return taper_answer(asked, Taper(value.number, of, f"the {of} angle of a taper"), lathe)


def _by_kind(
    asked: str, value: Value, diameter_mm: Fraction | None, lathe: Lathe | None, units: UnitLookup
) -> Conversion:
    if value.dimension == LENGTH:
        return length_answer(asked, value.number, lathe)
    if value.dimension == ANGLE:
        return angle_answer(asked, value.number, lathe)
    if value.dimension == PITCH:
        return pitch_answer(asked, _pitch_mm(asked, value))
    if value.dimension in {SPEED, ROTATION}:
        return speed_answer(asked, value, diameter_mm, lathe)
    if value.dimension == NUMBER and _NO_UNIT.fullmatch(asked):
        raise QuantityError(f"{quoted(asked)} has no unit. Enter {EXAMPLES}.")
    return other_answer(asked, value, units)


def _pitch_mm(asked: str, value: Value) -> Fraction:
    if value.dimension == LENGTH:
        return value.number
    if value.number <= 0:
        raise QuantityError(f"{quoted(asked)} is not above 0. Enter a pitch such as 8 tpi.")
    return 1 / value.number


def _length_mm(text: str, units: UnitLookup) -> Fraction:
    value = evaluate(text, units)
    if value.dimension != LENGTH:
        raise QuantityError(
            f'{quoted(text)} is {with_article(value.dimension)}. After "at", enter a diameter such as 30 mm.'
        )
    return value.number


def warm_up() -> None:
    """Load the tables of fits, threads and dividing in advance, so that the first answer comes without delay.

    A worker thread calls this after the first screen has been shown.
    """
    # Imported in this function, so that these modules are not loaded together with this one.
    import core.conversion.limits
    import core.operations.dividing.handle_dial  # noqa: F401
    from core.operations.threads.designation import standard_threads_with_pitch
    from core.values.iso286 import fit_spelled

    fit_spelled("30 H7/g6")
    standard_threads_with_pitch(1)
