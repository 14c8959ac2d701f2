"""The amount by which one press of the key < or > changes a number field, such as one mark of a dial or one degree."""

from collections.abc import Mapping
from fractions import Fraction
from typing import Any, NamedTuple

from core.lathe.lathe import Lathe, dial_words
from core.operations.form import Entry
from core.values.angles import dms_text
from core.values.quantities import MM_PER_INCH, length_text
from core.values.stepping import kind_of_unit

INDICATOR, COMPOUND_SCALE = "indicator", "compound scale"
"""Names in `Entry.set_on` for values that are read on an indicator or on the compound's scale."""
_WITHOUT_DIAL_MM: Mapping[str, Fraction] = {"in": 5 * MM_PER_INCH / 1000}
_TPI = "tpi"
_USUAL_MM, _USUAL_RPM = Fraction(1, 10), Fraction(10)
_MINUTE_DEG = Fraction(1, 60)


class NaturalStep(NamedTuple):
    """The amount by which one press of the key < or > changes a number field, as a number and in words."""

    size: Fraction
    """The amount in mm, deg or rpm. For a count it is a plain number."""
    words: str
    """The amount in words, such as "1 mark of the cross-slide, 0.025 mm"."""


def natural_step(entry: Entry, table: Mapping[str, Any], lathe: Lathe) -> NaturalStep | None:
    """Return the amount by which one press of the key < or > changes a field; None if the field is not a single number.

    `table`: the operation's table, which may name the dial on which the user sets the value.
    """
    if entry.listed:
        return None
    if entry.whole or entry.unit == _TPI:
        return NaturalStep(Fraction(1), f"1 {entry.unit}".strip())
    match kind_of_unit(entry.unit):
        case "length":
            return _of_dial(entry, table, lathe) or _of_indicator(entry, lathe) or _plain(entry.unit)
        case "angle":
            return _of_angle(entry, lathe)
        case "rotation":
            return NaturalStep(_USUAL_RPM, f"{_USUAL_RPM} rpm")
        case _:
            return None


def _of_dial(entry: Entry, table: Mapping[str, Any], lathe: Lathe) -> NaturalStep | None:
    names = (str(table.get(name, name)) for name in entry.set_on)
    dial = next((lathe.dials[name] for name in names if name in lathe.dials), None)
    if dial is None:
        return None
    size = dial.graduation * dial.mm_per_unit * (2 if entry.is_across else 1)
    return NaturalStep(size, f"1 mark of the {dial_words(dial.name)}, {length_text(float(size), entry.unit)}")


def _of_indicator(entry: Entry, lathe: Lathe) -> NaturalStep | None:
    if INDICATOR not in entry.set_on or lathe.indicator is None:
        return None
    size = Fraction(str(lathe.indicator.graduation_mm))
    return NaturalStep(size, f"1 mark of the indicator, {length_text(float(size), entry.unit)}")


def _plain(unit: str) -> NaturalStep:
    size = _WITHOUT_DIAL_MM.get(unit, _USUAL_MM)
    return NaturalStep(size, length_text(float(size), unit))


def _of_angle(entry: Entry, lathe: Lathe) -> NaturalStep:
    if entry.unit == "arcmin":
        return NaturalStep(_MINUTE_DEG, "1 arcmin")
    if COMPOUND_SCALE in entry.set_on and lathe.compound is not None:
        size = Fraction(str(lathe.compound.graduation_deg))
        return NaturalStep(size, f"1 mark of the compound's scale, {dms_text(size)}")
    return NaturalStep(Fraction(1), "1 deg")
