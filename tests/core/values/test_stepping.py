"""Numbers changed step by step: from mark to mark, in the unit in which they are written."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.values.errors import QuantityError
from core.values.quantities import read_quantity
from core.values.stepping import kind_of_unit, number_at, stepped

MARK = Fraction(1, 20)
THOU = Fraction(254, 10_000)
"""A thousandth of an inch in mm: an inch is 25.4 mm (NIST SP 811, appendix B)."""


@pytest.mark.parametrize(
    ("text", "unit", "size", "steps", "expected"),
    [
        ("20", "mm", MARK, 1, "20.05"),
        ("20", "mm", MARK, -1, "19.95"),
        ("20 mm", "in", MARK, 1, "20.05 mm"),
        ("0.5", "in", THOU, 1, "0.501"),
        ("1-1/4 in", "mm", THOU, -2, "1.248 in"),
        ('3/8"', "in", THOU, 1, '0.376"'),
        ("15 thou", "mm", THOU, 1, "16 thou"),
        ("29,8 mm", "mm", MARK, 1, "29.85 mm"),
        ("24", "", Fraction(1), -1, "23"),
        ("30 deg", "deg", Fraction(1), 1, "31 deg"),
        ("359.5", "deg", Fraction(1, 2), 1, "360"),
        ("12°30'", "deg", Fraction(1, 2), 1, "13°0'0\""),
        ("8 tpi", "tpi", Fraction(1), 1, "9 tpi"),
        ("-0.1", "mm", Fraction(1, 10), 1, "0"),
        ("0", "mm", Fraction(1, 10), -1, "-0.1"),
        ("70 rpm", "rpm", Fraction(10), 1, "80 rpm"),
    ],
)
def test_stepping_a_number_up_or_down_keeps_its_unit(
    text: str, unit: str, size: Fraction, steps: int, expected: str
) -> None:
    """Sums that a turner does in the head."""
    assert stepped(text, unit, size, steps) == expected


def test_stepping_a_number_that_lies_between_two_marks_goes_to_the_adjacent_mark() -> None:
    """20.03 lies between 20.00 and 20.05; both are one key away."""
    assert (stepped("20.03", "mm", MARK, 1), stepped("20.03", "mm", MARK, -1)) == ("20.05", "20")


@pytest.mark.parametrize("text", ["", "0.6, 0.3", "30 H7", "abc", "every 4th", "10 deg", "1e5", "="])
def test_a_text_that_is_not_a_single_number_cannot_be_stepped_up_or_down(text: str) -> None:
    """The sentence says what to do; nothing is guessed."""
    with pytest.raises(QuantityError, match=r"number"):
        stepped(text, "mm", MARK, 1)


@pytest.mark.parametrize(
    ("text", "cursor", "number"),
    [
        ("0.6, 0.3", 0, "0.6"),
        ("0.6, 0.3", 8, "0.3"),
        ("0.6 mm; 0,35 mm; 12 thou", 10, "0,35 mm"),
        ("0.6 mm; 0,35 mm; 12 thou", 6, "0.6 mm"),
        ("0,6", 3, "0,6"),
        ("", 0, ""),
    ],
)
def test_the_cursor_selects_one_number_of_a_list(text: str, cursor: int, number: str) -> None:
    """A semicolon, or a comma with a blank, separates two numbers. A comma without a blank is a decimal comma."""
    start, end = number_at(text, cursor)
    assert text[start:end] == number


@given(
    start=st.integers(-4000, 4000),
    steps=st.integers(1, 60),
    size=st.sampled_from([MARK, Fraction(1, 40), THOU, THOU / 2, Fraction(1, 100), Fraction(127, 10_000)]),
    unit=st.sampled_from(["mm", "in"]),
)
def test_the_same_number_of_steps_up_and_down_restores_the_original_number(
    start: int, steps: int, size: Fraction, unit: str
) -> None:
    """Each key goes one mark on, although its text is rounded: no mark is skipped, and none is stuck at."""
    before = stepped(f"{float(start * size):.4f} mm", "mm", size, 1)
    before = f"{float(read_quantity(before, 'length').value / (1 if unit == 'mm' else Fraction(254, 10))):.6f}"
    text = before
    for _ in range(steps):
        text = stepped(text, unit, size, 1)
    value_mm = read_quantity(f"{text} {unit}", "length").value
    assert float(value_mm / size) == pytest.approx(start + 1 + steps, abs=0.03)
    for _ in range(steps):
        text = stepped(text, unit, size, -1)
    value_mm = read_quantity(f"{text} {unit}", "length").value
    assert float(value_mm / size) == pytest.approx(start + 1, abs=0.03)


def test_units_of_surface_speed_and_time_have_no_step_size() -> None:
    """A surface speed or a time has no natural step."""
    assert kind_of_unit("thou") == "length" and kind_of_unit("arcmin") == "angle"
    assert kind_of_unit("m/min") is None and kind_of_unit("s") is None
