"""Questions other than plain sizes (drills, tapers), answers that fields accept, and exactness."""

from fractions import Fraction
from itertools import product
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.conversion.answers import text_lines
from core.conversion.convert import EXAMPLE_ROWS, convert
from core.conversion.expression import evaluate
from core.conversion.unit_lookup import unit_value
from core.lathe.reader import example_lathe, lathe_from
from core.values.errors import QuantityError
from core.values.quantities import Kind, read_number, read_quantity, shop_dependent, unit_size
from tests.core.conversion.units_oracle import exact_registry
from tests.published import Printed, printed_rows

INCH = Fraction(254, 10)
LENGTH_UNITS = {
    "mm": "millimeter", "cm": "centimeter", "m": "meter", "um": "micrometer", "in": "inch", "inch": "inch",
    "thou": "thou", "ft": "foot", "feet": "foot",
}  # fmt: skip
FALLING = lathe_from(
    {
        "format": 1,
        "name": "inch, falling",
        "dial": {
            "cross_slide": {"per_turn": "0.2 in", "graduation": "0.001 in", "reads": "diameter"},
            "compound": {"per_turn": "0.1 in", "graduation": "0.001 in", "reads": "travel", "numbers": "fall"},
            "carriage": {"graduation": "0.01 mm", "reads": "travel"},
        },
        "compound": {"scale_zero": "parallel", "scale_end": "60 deg"},
        "spindle": {"speeds": ["100 rpm", "200 rpm"]},
        "rotary_table": {"ratio": 40, "dial_graduation": "5 arcmin"},
    },
    "test",
)


def _printed(name: str, quantity: str) -> list[Printed]:
    return [row for row in printed_rows(name) if row.quantity == quantity]


def _texts(asked: str, lathe: Any = None) -> list[str]:
    return [row.field_text for row in convert(asked, lathe).rows if row.field_text]


# Drills by name.


@pytest.mark.parametrize("row", _printed("drills", "size in"), ids=str)
def test_a_drill_name_is_read_as_the_published_diameter_of_that_drill(row: Printed) -> None:
    """Sizes agree with published drill tables (ASME B94.11M), however the drill is named."""
    name = row.inputs["name"]
    spoken = [f"{name} in"]
    if name[0] == "#":
        number = name[1:]
        spoken = [name, f"no {number}", f"No. {number} drill", f"number {number}", f"drill #{number}", f"{name} drill"]
    elif name.isalpha():
        spoken = [f"letter {name}", f"drill {name}", f"{name} drill", f"letter {name.lower()}", f"drill letter {name}"]
    for asked in spoken:
        answer = convert(asked, None)
        assert answer.kind == "length"
        assert answer.figures["in"] == pytest.approx(float(row.printed), abs=row.tolerance), asked


def test_every_number_and_letter_drill_is_the_nearest_drill_to_its_own_size() -> None:
    """Each of the 106 drills of ASME B94.11M is its own nearest drill, with no difference."""
    for name in [*(f"#{number}" for number in range(1, 81)), *(chr(ord("A") + place) for place in range(26))]:
        near = convert(name if name[0] == "#" else f"letter {name}", None).drills
        assert [one.difference_mm for one in near if one.drill.name == name] == [pytest.approx(0, abs=1e-12)]


def test_a_drill_name_can_be_used_as_a_length_in_an_expression() -> None:
    """A drill is a length like any other: #7 is 0.201 in as printed, and with two thou more 0.203."""
    assert evaluate("#7 + 2 thou", unit_value).number == Fraction("0.203") * INCH
    assert evaluate("2 * (letter F) - no 7 drill", unit_value).number == Fraction("0.313") * INCH


@pytest.mark.parametrize(
    "asked", ["#0", "#81", "#107", "#7.5", "#7 mm", "drill 7", "7 drill", "#", "letter", "drill", "#10-32", "#7 #8"]
)
def test_unknown_and_ambiguous_drill_names_are_refused(asked: str) -> None:
    """The refusal is a sentence."""
    with pytest.raises(QuantityError):
        convert(asked, None)


def test_a_unit_that_resembles_a_drill_name_is_still_read_as_a_unit() -> None:
    """Nominal sizes do too."""
    assert convert("7 N", None).kind == "force"
    assert convert("12 nm", None).kind == "length"


# Tapers and slopes.


@pytest.mark.parametrize("row", _printed("conversion", "half angle"), ids=str)
def test_half_angles_computed_from_tapers_per_foot_match_published_values(row: Printed) -> None:
    """The printed taper per foot of a Morse taper has the printed half angle."""
    for asked in (f"{row.inputs['per_foot']} in per foot", f"{row.inputs['per_foot']} in/ft"):
        answer = convert(asked, None)
        assert answer.kind == "angle"
        assert answer.figures["deg"] / 2 == pytest.approx(float(row.printed), abs=row.tolerance)
        assert answer.figures["taper_per_foot_in"] == pytest.approx(row.inputs["per_foot"])
        half = next(row.field_text for row in answer.rows if row.label == "half angle")
        assert read_quantity(half, "angle").value == pytest.approx(answer.figures["deg"] / 2)


def test_the_word_per_divides_one_quantity_by_another() -> None:
    """25 m per min is a speed, and 8 per inch a pitch."""
    assert convert("25 m per min", None).figures["m_per_min"] == 25
    assert convert("8 per inch", None).figures["pitch_mm"] == 3.175
    assert convert("25.4 mm / 1 ft", None).kind == "number"
    for asked in ("2 mm per 0 mm", "3 per", "per 3 mm", "3 mm per 3 mm per 3 mm", "30 m per min at 3 mm per 2 mm"):
        with pytest.raises(QuantityError):
            convert(asked, None)


def test_an_angle_beyond_the_end_of_the_compounds_scale_is_reported() -> None:
    """On a scale with its zero along the axis, 29.5 from square reads 60.5, beyond its end at 60."""
    assert any("60.5 deg" in line for line in text_lines(convert("29.5 deg", FALLING)))


@pytest.mark.parametrize(
    ("label", "mark_in", "graduation_in"),
    [
        # The mark shown in the answer, worked out by hand from the movement for one division of each dial.
        ("cross-slide, travel", "1.1825", "0.0005"),
        ("cross-slide, diameter", "1.183", "0.001"),
        ("compound, travel", "1.183", "0.001"),
        ("compound, diameter", "1.182", "0.002"),
    ],
)
def test_the_word_more_in_an_answer_means_that_the_mark_is_larger_than_the_exact_size(
    label: str, mark_in: str, graduation_in: str
) -> None:
    """30.04 mm on two inch dials of diameter, one of them with falling numbers."""
    size_in = Fraction("30.04") / INCH
    off_in = Fraction(mark_in) - size_in
    assert abs(off_in) <= Fraction(graduation_in) / 2
    words = next(line for line in text_lines(convert("30.04 mm", FALLING)) if label in line)
    sense = "more" if off_in > 0 else "less"
    assert f", {float(abs(off_in)):.5f}".rstrip("0") + f" in {sense} than asked" in words


# Answers that fields accept.

FIELDS: dict[str, Kind] = {"length": "length", "angle": "angle", "pitch": "pitch", "limits": "length", "fit": "length"}


@settings(max_examples=60, deadline=None)
@given(
    st.fractions(Fraction(1, 500), 300, max_denominator=500),
    st.sampled_from(["mm", "in", "deg", "tpi"]),
    st.sampled_from([example_lathe(), FALLING]),
)
def test_input_fields_read_the_text_of_every_answer_row_as_the_same_value(
    number: Fraction, unit: str, lathe: Any
) -> None:
    """A field of the answer's kind reads each text that a row offers."""
    if number <= 0 or (unit == "in" and number > 100) or (unit == "tpi" and number < 1):
        return
    answer = convert(f"{number.numerator}/{number.denominator} {unit}", lathe)
    base = {"mm": "mm", "in": "mm", "deg": "deg", "tpi": "pitch_mm"}[unit]
    for row in answer.rows:
        if not row.field_text:
            continue
        kind = "pitch" if row.field_text.endswith("tpi") else FIELDS[answer.kind]
        value = float(read_quantity(row.field_text, kind).value)
        if row.label in {"millimetres", "inches", "micrometres", "thou", "degrees", "as a pitch", "pitch"}:
            expected = answer.figures[base] if row.label != "as a pitch" else answer.figures["mm"]
            assert value == pytest.approx(expected, rel=1e-7)


def test_an_exact_fraction_stays_exact_when_copied_into_an_input_field() -> None:
    """A third of an inch goes into a field as 1/3 in, and 127/15 mm as that fraction."""
    assert {"1/3 in", "8 7/15 mm"} <= set(_texts("1/3 in"))
    assert evaluate("(25.4 mm)/3", unit_value).number == INCH / 3
    assert convert("1/3 in", None).field_text == "8 7/15 mm"


def test_a_dial_mark_is_copied_into_an_input_field_as_its_size() -> None:
    """1 mm: 39.37 thou of travel is mark 39 on the compound, whose numbers fall. 79 on the cross-slide is 0.0395 in."""
    texts = {row.label: row.field_text for row in convert("1 mm", FALLING).rows}
    assert (texts["compound, travel"], texts["compound, diameter"]) == ("0.039 in", "0.04 in")
    assert (texts["cross-slide, travel"], texts["cross-slide, diameter"]) == ("0.0395 in", "0.039 in")
    assert (texts["carriage, travel"], texts["carriage, diameter"]) == ("1 mm", "1 mm")


def test_limits_of_size_and_their_middle_can_be_copied_into_an_input_field() -> None:
    """Both limits and the middle are accepted: 12.49, 12.52 and 12.505 mm by hand. 30 H7 ends at 30.021."""
    assert {"12.49 mm", "12.52 mm", "12.505 mm"} <= set(_texts("12.5 +0.02 -0.01 mm"))
    assert {"30 mm", "30.021 mm", "30.0105 mm", "29.98 mm", "29.993 mm", "29.9865 mm"} <= set(_texts("30 H7/g6"))
    assert convert("30 g6", None).field_text == "29.9865 mm"


def test_speeds_but_not_forces_can_be_copied_into_an_input_field() -> None:
    """The nearest speed of the spindle does too. No field accepts a force."""
    assert {"25 m/min", "82.0209974 ft/min", "265.258238 rpm", "200 rpm"} <= set(_texts("25 m/min at 30 mm", FALLING))
    assert {"370 W", "0.37 kW"} <= set(_texts("370 W"))
    assert _texts("5 N") == []


def test_every_example_on_the_conversion_screen_gets_an_answer() -> None:
    """Each example gives an answer without an error."""
    for row in EXAMPLE_ROWS:
        for asked in row.words.split(", "):
            assert convert(asked, example_lathe()).rows, asked


# Exactness, and factors from pint.


@settings(max_examples=80, deadline=None)
@given(st.fractions(Fraction(1, 10**5), 1000, max_denominator=10**6), st.sampled_from(list(LENGTH_UNITS)), st.data())
def test_a_length_converted_to_any_unit_and_back_is_exactly_the_same_fraction(
    number: Fraction, unit: str, data: st.DataObject
) -> None:
    """A value converted there and back is the same fraction, not merely the nearest float."""
    other = data.draw(st.sampled_from(list(LENGTH_UNITS)))
    there = evaluate(f"{number.numerator}/{number.denominator} {unit} / (1 {other})", unit_value).number
    back = evaluate(f"{there.numerator}/{there.denominator} {other} / (1 {unit})", unit_value).number
    assert back == number
    factor = exact_registry().Quantity(Fraction(1), LENGTH_UNITS[unit]).to(LENGTH_UNITS[other]).magnitude
    assert there == number * factor


def test_the_factor_between_any_two_length_units_matches_pint() -> None:
    """The factor between two units is exactly pint's."""
    wrong = {}
    for unit, other in product(LENGTH_UNITS, LENGTH_UNITS):
        expected = exact_registry().Quantity(Fraction(37, 8), LENGTH_UNITS[unit]).to(LENGTH_UNITS[other]).magnitude
        factor = evaluate(f"4 5/8 {unit} / (1 {other})", unit_value).number
        if factor != expected:
            wrong[unit, other] = factor, expected
    assert wrong == {}


@pytest.mark.parametrize("name", ["mm", "um", "thou", "deg", "arcmin", "rpm", "min", "W", "kW", "in"])
def test_input_fields_and_expressions_accept_the_same_units(name: str) -> None:
    """Units in capitals are accepted too, except M."""
    kinds: tuple[Kind, ...] = ("length", "angle", "rotation", "time", "power")
    sizes = [size for kind in kinds if (size := unit_size(name, kind)) is not None]
    assert len(sizes) == 1
    ratio = unit_value(name).number / sizes[0]
    assert ratio in {1, Fraction(1, 60), 10**6}
    assert unit_size("M", "length") is None and unit_size("MM", "length") == 1


def test_units_whose_size_differs_between_shops_are_refused() -> None:
    """Fields and sums give the same reason."""
    for name in ("mil", "Mils", "tenth", "TENTHS"):
        assert shop_dependent(name)
        for ask in (lambda text: read_quantity(text, "length"), lambda text: convert(text, None)):
            with pytest.raises(QuantityError) as refusal:
                ask(f"5 {name}")
            assert shop_dependent(name) in refusal.value.message
    assert shop_dependent("mm") == ""
    assert read_number("1/4") == Fraction(1, 4)
