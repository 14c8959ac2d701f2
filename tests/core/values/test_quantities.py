"""A text is read as an exact quantity with a unit, or refused with a sentence."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.values.errors import QuantityError
from core.values.quantities import Kind, length_text, read_number, read_quantity

# NIST SP 811 (2008), appendix B.8: inch 2.54 E-02 m exactly, mil 2.54 E-05 m exactly, degree 60 minutes of arc.
ACCEPTED: list[tuple[str, Kind, Fraction]] = [
    ("29.80 mm", "length", Fraction("29.8")),
    ("29,80 mm", "length", Fraction("29.8")),
    ("0,125 mm", "length", Fraction("0.125")),
    ("29.805 mm", "length", Fraction("29.805")),
    ("15 thou", "length", Fraction("0.381")),
    ("1 1/4 in", "length", Fraction("31.75")),
    ("1-1/4 in", "length", Fraction("31.75")),
    ("3/64 in", "length", Fraction("25.4") * 3 / 64),
    ('1/4"', "length", Fraction("6.35")),
    ("2 cm", "length", Fraction(20)),
    ("0.5 m", "length", Fraction(500)),
    ("3 um", "length", Fraction(3, 1000)),
    ("3 µm", "length", Fraction(3, 1000)),
    ("3 μm", "length", Fraction(3, 1000)),
    ("1 inch", "length", Fraction("25.4")),
    ("5 MM", "length", Fraction(5)),
    ("-0.1 mm", "length", Fraction("-0.1")),
    ("30 deg", "angle", Fraction(30)),
    ("12°30'", "angle", Fraction("12.5")),
    ("12d30m15s", "angle", 12 + Fraction(30, 60) + Fraction(15, 3600)),
    ("-0°30'", "angle", Fraction(-1, 2)),
    ("45 arcmin", "angle", Fraction(3, 4)),
    ("10 arcsec", "angle", Fraction(10, 3600)),
    ("8 tpi", "pitch", Fraction("25.4") / 8),
    ("11 1/2 tpi", "pitch", Fraction("25.4") * 2 / 23),
    ("3.5 mm", "pitch", Fraction("3.5")),
    ("70 rpm", "rotation", Fraction(70)),
    ("25 m/min", "surface speed", Fraction(25)),
    ("80 ft/min", "surface speed", Fraction("24.384")),
    ("1.0 s", "time", Fraction(1)),
    ("370 W", "power", Fraction(370)),
]

REFUSED: list[tuple[object, Kind]] = [
    (29.85, "length"),
    (True, "length"),
    (None, "length"),
    (["1 mm"], "length"),
    ("", "length"),
    ("29.85", "length"),
    ("5 mil", "length"),
    ("5 tenths", "length"),
    ("1,234.5 mm", "length"),
    ("1.234,5 mm", "length"),
    ("1 250 mm", "length"),
    ("1,250 mm", "length"),
    ("1'000 mm", "length"),
    ("nan mm", "length"),
    ("inf mm", "length"),
    ("1e3 mm", "length"),
    ("1+1 mm", "length"),
    ("9**9**9 mm", "length"),
    ("1/0 in", "length"),
    ("30 deg", "length"),
    ("3 mm", "angle"),
    ("12°75'", "angle"),
    ("12.5°30'", "angle"),
    ("200 m", "length"),
    ("0.1 um mm", "length"),
    ("0.0000001 mm", "length"),
    ("0 tpi", "pitch"),
    ("5 M", "length"),
    ("٣ mm", "length"),
    ("1 mm" + " " * 40 + "x", "length"),
    ("\x1b[2J5 mm", "length"),
]


@pytest.mark.parametrize(("text", "kind", "value"), ACCEPTED)
def test_every_spelling_of_a_quantity_is_read_exactly(text: str, kind: Kind, value: Fraction) -> None:
    """The list has all spellings that the file formats allow."""
    assert read_quantity(text, kind).value == value


@pytest.mark.parametrize(("text", "kind"), REFUSED)
def test_an_invalid_quantity_is_refused_with_a_printable_message(text: object, kind: Kind) -> None:
    """A refusal is one printable line that quotes the text."""
    with pytest.raises(QuantityError) as refusal:
        read_quantity(text, kind)
    assert refusal.value.message.isprintable()


@given(st.text(max_size=50), st.sampled_from(["length", "angle", "pitch", "rotation"]))
def test_any_text_is_either_read_as_a_quantity_or_refused(text: str, kind: Kind) -> None:
    """No text raises any error but QuantityError."""
    try:
        read_quantity(text, kind)
    except QuantityError as refusal:
        assert refusal.message


@given(st.integers(0, 999), st.integers(0, 63))
def test_every_sixty_fourth_of_an_inch_is_read_exactly(whole: int, parts: int) -> None:
    """A fraction of an inch equals the result of Python's own exact arithmetic."""
    expected = (whole + Fraction(parts, 64)) * Fraction(254, 10)
    assert read_quantity(f"{whole} {parts}/64 in", "length").value == expected


def test_a_number_without_a_unit_is_read_exactly() -> None:
    """A comma before three digits is refused."""
    assert read_number("1-1/4") == Fraction(5, 4)
    assert read_number("0,5") == Fraction(1, 2)
    with pytest.raises(QuantityError):
        read_number("1,250")


def test_lengths_are_shown_in_the_unit_of_the_lathes_dials() -> None:
    """1 mm is 39.37 thou, rounded; common practice, no source."""
    assert length_text(1.0, "in") == "0.0394 in"
    assert length_text(25.4, "in") == "1.0000 in"
