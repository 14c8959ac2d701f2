"""Answers are compared with printed factors and tables, Python's Fraction, and readings worked out by hand."""

import json
import subprocess
import sys
from fractions import Fraction
from math import atan, degrees, pi

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.conversion.answers import as_data, text_lines
from core.conversion.convert import convert
from core.conversion.lengths import nearest_fraction
from core.lathe.lathe import Lathe
from core.lathe.reader import example_lathe, lathe_from
from core.values.quantities import read_quantity
from tests.published import Printed, printed_rows

PRINTED = printed_rows("conversion")
INCH = Fraction(254, 10)

MIXED = lathe_from(
    {
        "format": 1,
        "name": "half inch, half metric",
        "dial": {
            "cross_slide": {"per_turn": "0.2 in", "graduation": "0.001 in", "reads": "diameter"},
            "compound": {"per_turn": "0.1 in", "graduation": "0.001 in", "reads": "travel", "numbers": "fall"},
            "carriage": {"graduation": "0.01 mm", "reads": "travel"},
            "tailstock": {"per_turn": "0.040 in", "graduation": "0.001 in", "reads": "travel", "lead": "1 mm"},
        },
        "compound": {"scale_zero": "parallel"},
        "spindle": {"range": ["50 rpm", "1200 rpm"], "most_speed": "900 rpm"},
        "rotary_table": {"ratio": 40, "dial_graduation": "5 arcmin", "vernier": "1 arcmin"},
    },
    "test",
)


def _of_quantity(quantity: str) -> list[Printed]:
    return [row for row in PRINTED if row.quantity == quantity]


@pytest.mark.parametrize("row", _of_quantity("exact drill"), ids=str)
def test_every_published_drill_size_is_answered_with_the_name_of_that_drill(row: Printed) -> None:
    """A printed drill size is answered with that drill and no difference."""
    assert row.printed in _exact_drills(row.inputs["asked"])


@pytest.mark.parametrize(("asked", "name"), [("5.1 mm", "5.1 mm"), ("13/64 in", "13/64")])
def test_metric_and_fractional_drills_are_named_by_their_size(asked: str, name: str) -> None:
    """The name of a metric or fractional drill is its size."""
    assert name in _exact_drills(asked)


def _exact_drills(asked: str) -> set[str]:
    drills = as_data(convert(asked, None))["drills"]
    return {drill["name"] for drill in drills if abs(drill["difference_mm"]) < 1e-9}


@given(st.fractions(-100, 100, max_denominator=10**6))
def test_a_length_halfway_between_two_sixty_fourths_of_an_inch_is_rounded_away_from_zero(inches: Fraction) -> None:
    """All other lengths agree with Python's round."""
    nearest = nearest_fraction(inches)
    assert 64 % nearest.denominator == 0
    assert abs(nearest - inches) <= Fraction(1, 128)
    if (inches * 128).denominator == 1 and (inches * 64).denominator != 1:
        assert abs(nearest) > abs(inches)
    else:
        assert nearest == Fraction(round(inches * 64), 64)


@given(st.fractions(Fraction(1, 1000), 900, max_denominator=10**4))
def test_converting_inches_to_millimetres_and_back_gives_the_same_number(inches: Fraction) -> None:
    """Inches converted to millimetres and back give the same fraction."""
    text = f"{inches.numerator}/{inches.denominator}"
    back = convert(f"({text} in) / 1 mm * 1 mm / 1 in", None).figures["value"]
    assert back == float(inches)
    assert convert(f"{text} in", None).figures["mm"] == float(inches * INCH)


@pytest.mark.parametrize(
    ("asked", "fraction", "error_mm"),
    [
        ("1 1/4 in", "1 1/4", 0.0),
        ("1.9999 in", "2", 0.00254),
        ("-1.25 in", "-1 1/4", 0.0),
        ("0 mm", "0", 0.0),
        ("0.5078125 in", "33/64", 0.0078125 * 25.4),
        ("-0.5 mm", "-1/64", 0.103125),
        ("0.1 mm", "0", -0.1),
    ],
)
def test_nearest_inch_fractions_and_their_errors_match_a_hand_calculation(
    asked: str, fraction: str, error_mm: float
) -> None:
    """Fractions are reduced and carried to the whole inch. The error is fraction minus value."""
    figures = convert(asked, None).figures
    assert figures["fraction"] == fraction
    assert figures["fraction_error_mm"] == pytest.approx(error_mm, abs=1e-12)


def test_a_length_is_answered_in_metric_and_inch_units_and_as_threads_per_inch() -> None:
    """By hand, 1 1/4 in is 31.75 mm, 31750 um, 1250 thou, and as a pitch 0.8 threads to the inch."""
    data = as_data(convert("1 1/4 in", None))
    expected = {
        "asked": "1 1/4 in",
        "kind": "length",
        "mm": 31.75,
        "um": 31750.0,
        "in": 1.25,
        "thou": 1250.0,
        "tpi": 0.8,
    }
    assert data.items() >= (expected | {"fraction": "1 1/4", "fraction_error_mm": 0.0}).items()
    assert "dials" not in data
    assert json.loads(json.dumps(data)) == data


def test_the_dial_readings_for_one_millimetre_match_a_hand_calculation() -> None:
    """1 mm is 39.37 thou.

    On the cross-slide (diameter, 200 thou a turn) 1 mm of travel is 78.74 thou: mark 79. The compound's numbers fall
    going in: -39 thou, so it shows 61 before the second turn back. The readout shows 1.00 mm. The tailstock's 1 mm
    screw is marked 40 thou: exactly one turn.
    """
    readings = {(one["dial"], one["as"]): one for one in as_data(convert("1 mm", MIXED))["dials"]}
    cross = readings["cross_slide", "travel"]
    assert (cross["unit"], cross["turns"], cross["reading"]) == ("in", 0, 0.079)
    assert cross["rounding"] == pytest.approx(0.079 - 2 / 25.4)
    assert readings["cross_slide", "diameter"]["reading"] == 0.039
    compound = readings["compound", "travel"]
    assert (compound["turns"], compound["reading"]) == (-1, pytest.approx(0.061))
    assert compound["rounding"] == pytest.approx(-0.039 + 1 / 25.4)
    assert "turns" not in readings["carriage", "travel"]
    assert (readings["carriage", "travel"]["reading"], readings["carriage", "diameter"]["reading"]) == (1.0, 0.5)
    tailstock = readings["tailstock", "travel"]
    assert (tailstock["turns"], tailstock["reading"], tailstock["rounding"]) == (1, 0.0, 0.0)


@settings(max_examples=100, deadline=None)
@given(st.decimals("-300", "300", places=4), st.sampled_from([MIXED, example_lathe()]))
def test_every_dial_reading_in_an_answer_is_the_mark_nearest_to_the_size(size: object, lathe: Lathe) -> None:
    """Turns and reading make a whole number of marks, at most half a mark from the size in the question."""
    size_mm = Fraction(str(size))
    if 0 < abs(size_mm) < Fraction(1, 1000):
        return
    for one in as_data(convert(f"{size_mm.numerator}/{size_mm.denominator} mm", lathe))["dials"]:
        dial = lathe.dials[one["dial"]]
        position = one["reading"] + one.get("turns", 0) * float(dial.per_turn or 0)
        marks = position / float(dial.graduation)
        assert marks == pytest.approx(round(marks), abs=1e-6)
        travel_mm = float(size_mm) / (2 if one["as"] == "diameter" else 1)
        wanted = travel_mm / float(dial.mm_per_unit) * (1 if dial.rising_inwards else -1)
        assert one["rounding"] == pytest.approx(position - wanted, abs=1e-9)
        assert abs(one["rounding"]) <= float(dial.graduation) * 0.500001
        if dial.per_turn is not None:
            assert 0 <= one["reading"] < float(dial.per_turn)


def test_a_length_is_answered_with_the_next_smaller_and_the_next_larger_drills() -> None:
    """5.1 mm: printed charts have 3/16 and 13/64, #8 and #7, no letter below A, and 5.1 mm itself."""
    drills = as_data(convert("5.1 mm", None))["drills"]
    assert [drill["name"] for drill in drills] == ["5.1 mm", "3/16", "13/64", "#8", "#7", "A"]
    assert [drill["difference_mm"] for drill in drills][:3] == pytest.approx([0, 4.7625 - 5.1, 5.159375 - 5.1])


def test_a_length_of_zero_or_below_is_answered_without_drills_or_a_pitch() -> None:
    """The length is still answered in all units."""
    for asked in ("0 mm", "-5 mm"):
        data = as_data(convert(asked, MIXED))
        assert "drills" not in data and "tpi" not in data and data["dials"]


@pytest.mark.parametrize(
    ("asked", "dms"),
    [("-0.5 deg", "-0°30'0\""), ("29.99999 deg", "30°0'0\""), ("12.2625 deg", "12°15'45\""), ("-0.00001 deg",
     "0°0'0\""),
     ("1 rad", "57°17'45\""), ("59.9999 arcmin", "1°0'0\""), ("12°30'15\"", "12°30'15\"")],
)  # fmt: skip
def test_an_angle_is_rounded_to_whole_seconds_before_it_is_split_into_degrees_and_minutes(asked: str, dms: str) -> None:
    """An angle is rounded to whole seconds first, and keeps its sign even below one degree."""
    assert convert(asked, None).figures["dms"] == dms


def test_an_angle_is_converted_to_a_taper_both_as_a_half_angle_and_as_an_included_angle() -> None:
    """60 deg included is 24 tan 30 deg = 13.8564 in per foot, or 1:0.866. As a half angle it is another taper."""
    figures = convert("60 deg", None).figures
    assert figures["taper_per_foot_in"] == pytest.approx(13.85640646)
    assert figures["taper_one_to"] == pytest.approx(0.8660254)
    assert figures["half_taper_one_to"] == pytest.approx(0.2886751)
    assert figures["percent"] == figures["mm_per_100_mm"] == pytest.approx(173.2050808)
    assert convert("1:20", None).figures["taper_one_to"] == pytest.approx(20)
    assert convert("5 %", None).figures["deg"] == pytest.approx(degrees(atan(0.05)))


def test_slope_and_taper_are_omitted_at_angles_where_they_would_be_infinite() -> None:
    """At 90 deg there is no slope, at 180 deg no taper."""
    assert "percent" not in convert("90 deg", None).figures
    assert "half_taper_per_foot_in" not in convert("-90 deg", None).figures
    assert convert("90 deg", None).figures["taper_per_foot_in"] == pytest.approx(24)
    assert "taper_per_foot_in" not in convert("180 deg", None).figures


def test_an_angle_is_converted_to_rotary_table_turns_and_a_compound_scale_reading() -> None:
    """At 40:1 a turn is 9 deg, so 29.5 deg is 3 turns and 2 deg 30'. A scale with its zero parallel reads 60.5."""
    answer = convert("29.5 deg", MIXED)
    assert answer.figures["handle_turns"] == pytest.approx(29.5 / 9)
    (table,) = as_data(answer)["dials"]
    assert table == {"dial": "rotary_table", "unit": "deg", "turns": 3, "reading": 2.5, "rounding": 0.0}
    lines = text_lines(answer)
    assert any("3 turns and 2°30'" in line for line in lines)
    assert any("60.5 deg" in line for line in lines)


def test_a_rotary_table_angle_is_rounded_to_the_nearest_vernier_step() -> None:
    """1/3 deg is exactly 20'. 360/7 deg is 51 deg 25.714': 26' by the vernier, 17.1" more."""
    (table,) = as_data(convert("360 deg / 7", MIXED))["dials"]
    assert table["turns"] == 5
    assert table["reading"] == pytest.approx(6 + 26 / 60)
    assert table["rounding"] * 3600 == pytest.approx(17.142857)


@pytest.mark.parametrize("asked", ["25 m/min at 30 mm", "82.0209973753 ft/min at 30 mm", "265.258238486 rpm @ 30 mm"])
def test_cutting_speed_and_rotation_at_a_diameter_match_a_hand_calculation(asked: str) -> None:
    """v = pi d n gives each of the three from the others: 1000 x 25 / (pi x 30) = 265.26 rpm, 82.02 ft/min."""
    figures = convert(asked, None).figures
    assert figures["m_per_min"] == pytest.approx(25)
    assert figures["ft_per_min"] == pytest.approx(25 / 0.3048)
    assert figures["rpm"] == pytest.approx(1000 * 25 / (pi * 30))


def test_cutting_speed_and_rotation_are_not_converted_into_each_other_without_a_diameter() -> None:
    """A cutting speed gives no turns, and turns give no cutting speed. Turns times a pitch are a feed."""
    assert "rpm" not in convert("25 m/min", None).figures
    assert "m_per_min" not in convert("310 rpm", None).figures
    assert convert("70 rpm * 1.5 mm", None).figures["mm_per_min"] == pytest.approx(105)
    assert convert("25 m/min / (pi * 30 mm)", None).figures["rpm"] == pytest.approx(265.258238)


def test_the_suggested_spindle_speed_does_not_exceed_the_limit_of_the_chuck() -> None:
    """If all speeds are above the chuck maker's limit, the slowest is named."""
    assert any("900 rpm" in line for line in text_lines(convert("1500 rpm at 30 mm", MIXED)))
    assert any("265.258" in line for line in text_lines(convert("25 m/min at 30 mm", MIXED)))
    assert any("50 rpm" in line for line in text_lines(convert("20 rpm", MIXED)))


def test_the_answer_to_a_pitch_names_the_standard_threads_of_that_pitch() -> None:
    """8 to the inch is 3.175 mm and has threads that standards list. So has 1.5 mm. 3.3 mm has none."""
    answer = convert("8 tpi", None)
    assert answer.figures == {"pitch_mm": 3.175, "tpi": 8.0}
    assert {"1-8 UNC", "1-8 BSW"} <= set(answer.threads)
    metric = as_data(convert("1.5 mm pitch", None))
    assert metric["kind"] == "pitch" and metric["tpi"] == pytest.approx(25.4 / 1.5)
    assert {"M10", "M20x1.5"} <= set(metric["threads"])
    assert convert("pitch 3.3 mm", None).threads == ()
    assert convert("19 tpi", None).field_text == "19 tpi"


@pytest.mark.parametrize(
    ("asked", "lower_mm", "upper_mm"),
    [
        ("12.5 +0.02 -0.01 mm", "12.49", "12.52"),
        ("12.5 mm +0.02 -0.01", "12.49", "12.52"),
        ("12,5 +0,02/-0,01 mm", "12.49", "12.52"),
        ("12.5 ±0.02 mm", "12.48", "12.52"),
        ("12.5 mm +/- 0.02 mm", "12.48", "12.52"),
        ("12.5 0 -0.011 mm", "12.489", "12.5"),
        ("12.5 +0.018 0 mm", "12.5", "12.518"),
        ("12.5 +0.035 +0.022 mm", "12.522", "12.535"),
        ("12.5 -0.007 -0.020 mm", "12.48", "12.493"),
        ("12.5 mm +20 -10 um", "12.49", "12.52"),
        ("20 +0.02/0 mm", "20", "20.02"),
        ("20 0/-0.02 mm", "19.98", "20"),
    ],
)
def test_limits_of_size_match_a_hand_calculation(asked: str, lower_mm: str, upper_mm: str) -> None:
    """Limits in every form that drawings use are answered in millimetres."""
    figures = convert(asked, None).figures
    assert (figures["lower_mm"], figures["upper_mm"]) == (float(lower_mm), float(upper_mm))


def test_limits_of_size_are_rounded_inward() -> None:
    """12.49 mm is 0.491732 in and 12.52 mm is 0.492913 in. 1 1/4 in +1 -2 thou is 31.6992 to 31.7754 mm."""
    metric = convert("12.5 +0.02 -0.01 mm", None).figures
    assert (metric["lower_in"], metric["upper_in"]) == (0.4918, 0.4929)
    inch = convert("1 1/4 +0.001 -0.002 in", None).figures
    assert (inch["lower_mm"], inch["upper_mm"]) == (31.7, 31.775)
    assert (inch["lower_in"], inch["upper_in"]) == (1.248, 1.251)


@given(
    st.decimals("0.1", "200", places=3),
    st.decimals("-0.5", "0.5", places=4),
    st.decimals("0.0001", "0.5", places=4),
    st.sampled_from(["mm", "in"]),
)
def test_rounded_limits_of_size_never_lie_outside_the_exact_limits(
    nominal: object, lower: object, width: object, unit: str
) -> None:
    """Rounded limits are inside the exact ones, by less than the step of 0.001 mm or 0.0001 in."""
    size = Fraction(str(nominal)), Fraction(str(lower)), Fraction(str(lower)) + Fraction(str(width))
    exact = [(size[0] + deviation) * (INCH if unit == "in" else 1) for deviation in size[1:]]
    if min(exact) <= Fraction(1, 1000):
        return
    figures = convert(f"{nominal} {float(size[2]):+.4f} {float(size[1]):+.4f} {unit}", None).figures
    for key, factor, step in (("mm", Fraction(1), Fraction(1, 1000)), ("in", INCH, Fraction(1, 10_000))):
        lower_limit, upper_limit = (Fraction(str(figures[f"{end}_{key}"])) * factor for end in ("lower", "upper"))
        assert 0 <= lower_limit - exact[0] < step * factor
        assert 0 <= exact[1] - upper_limit < step * factor
        assert lower_limit <= upper_limit


def test_the_dial_marks_in_an_answer_lie_within_the_limits_of_size() -> None:
    """12.5 +0.02 -0.01 mm on 0.05 mm marks of diameter: only travel 12.50 mm, 25.00 on the dial."""
    dials = [one for one in as_data(convert("12.5 +0.02 -0.01 mm", example_lathe()))["dials"] if one["as"] == "travel"]
    cross = [one for one in dials if one["dial"] == "cross_slide"]
    assert [(one["limit"], one["turns"], one["reading"]) for one in cross] == [("lower", 6, 1.0), ("upper", 6, 1.0)]
    compound = [(one["limit"], one["reading"]) for one in dials if one["dial"] == "compound"]
    assert compound == [("lower", pytest.approx(0.5)), ("upper", pytest.approx(0.52))]


@pytest.mark.parametrize(
    ("asked", "kind"),
    [("1 1/4 in", "length"), ("3 deg", "angle"), ("310 rpm", "speed"), ("25 m/min", "speed"), ("8 tpi", "pitch"),
     ("30 H7/g6", "fit"), ("5 ±1 mm", "limits"), ("5 mm / 2 mm", "number"), ("3 mm * 4 mm", "area"), ("5 N", "force"),
     ("20 °C", "temperature"), ("293.15 K", "temperature"), ("370 W", "power"), ("1.0 s", "time"), ("2 m²/s",
     "quantity")],
)  # fmt: skip
def test_every_answer_can_be_written_as_json_that_states_the_kind_of_answer(asked: str, kind: str) -> None:
    """Each answer can be written as JSON and as lines."""
    answer = convert(asked, MIXED)
    assert answer.kind == kind
    assert json.loads(json.dumps(as_data(answer), allow_nan=False))["kind"] == kind
    assert text_lines(answer)[0] == f"{asked}  ({kind})"
    assert len(text_lines(answer)) > 1


def test_a_temperature_is_answered_in_celsius_fahrenheit_and_kelvin() -> None:
    """20 C is 68 F and 293.15 K.

    -40 is the same in both C and F (common knowledge, by the definition of the scales).
    """
    for asked in ("20 degC", "68 °F", "293.15 K", "20 degrees celsius"):
        values = {one["unit"]: one["value"] for one in convert(asked, None).figures["values"]}
        assert values == pytest.approx({"°C": 20, "°F": 68, "K": 293.15})
    values = {one["unit"]: one["value"] for one in convert("-40 °C", None).figures["values"]}
    assert values["°F"] == -40


@pytest.mark.parametrize(
    ("asked", "kind"),
    [("1 1/4 in", "length"), ("29.5 deg", "angle"), ("8 tpi", "pitch"), ("1.5 mm pitch", "pitch"), ("25 m/min",
     "surface speed"),
     ("310 rpm", "rotation"), ("12.5 +0.02 -0.01 mm", "length")],
)  # fmt: skip
def test_an_input_field_accepts_the_text_that_an_answer_supplies(asked: str, kind: str) -> None:
    """The field reads the answer's value. For limits, the field reads their middle."""
    answer = convert(asked, None)
    quantity = read_quantity(answer.field_text, kind)  # type: ignore[arg-type]
    expected = {"length": "mm", "angle": "deg", "pitch": "pitch_mm", "surface speed": "m_per_min", "rotation": "rpm"}[
        kind
    ]
    middle = answer.figures.get(expected, 12.505)
    assert float(quantity.value) == pytest.approx(middle, abs=1e-6)


@pytest.mark.parametrize(
    "asked", ["1 1/4 in", "29.5 deg", "8 tpi", "30 H7/g6", "370 W", "25 m/min at 30 mm", "20 degC"]
)
def test_common_units_are_converted_without_loading_pint(asked: str) -> None:
    """Units in our own table need no pint, textual or rich."""
    program = (
        "import sys\n"
        "from core.conversion.convert import convert\n"
        "from core.lathe.reader import example_lathe\n"
        f"convert({asked!r}, example_lathe())\n"
        "print(sorted({'pint', 'textual', 'rich'} & set(sys.modules)))"
    )
    assert subprocess.run([sys.executable, "-c", program], capture_output=True, check=True).stdout == b"[]\n"
