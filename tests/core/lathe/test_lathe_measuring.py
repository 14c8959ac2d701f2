"""Answers calculated from measurements at the lathe, for screws with a known travel."""

from fractions import Fraction
from typing import Any

import pytest

from core.lathe.dial_face import example_reading, lossless_text, marks_around, marks_of
from core.lathe.set_up.measuring import MEASURING_METHODS, MeasuringMethod
from core.values.dials import Dial
from core.values.errors import CoreError
from core.values.quantities import read_quantity
from tests.core.figures import figures

MM_IN_INCH = 25.4
"""Millimetres in an inch. NIST SP 811, appendix B."""


def measured_value(finding: MeasuringMethod, table: dict[str, Any], **typed: str) -> Any:
    """Return the value that a measurement gives."""
    assert set(typed) == {measured.key for measured in finding.measured}
    return finding.work_out(table, typed).value


@pytest.mark.parametrize("cut", ["0.5 mm", "20 thou", "-0.5 mm"])
@pytest.mark.parametrize("spring", [1.0, 0.85, 1.15])
def test_a_test_cut_shows_whether_a_dial_reads_travel_or_diameter(cut: str, spring: float) -> None:
    """A travel dial takes twice its numbers off the diameter, even if the cut springs a little."""
    turned = abs(float(read_quantity(cut, "length").value))
    for reads, taken in (("travel", 2 * turned), ("diameter", turned)):
        after = f"{30 - taken * spring:.3f} mm"
        assert measured_value(MEASURING_METHODS["by_cut"], {}, before="30.000 mm", turned=cut, after=after) == reads
        assert measured_value(MEASURING_METHODS["by_circle"], {}, before=after, turned=cut, after="30 mm") == reads
    for reads, share in (("travel", 1.0), ("diameter", 0.5)):
        assert measured_value(MEASURING_METHODS["by_slide"], {}, moved=f"{turned * share:.3f} mm", turned=cut) == reads


@pytest.mark.parametrize("after", ["29.3 mm", "30 mm", "25 mm", "29.9 mm"])
def test_a_test_cut_that_fits_neither_travel_nor_diameter_is_refused(after: str) -> None:
    """A result between the two is not guessed."""
    with pytest.raises(CoreError):
        measured_value(MEASURING_METHODS["by_cut"], {}, before="30 mm", turned="0.5 mm", after=after)
    with pytest.raises(CoreError):
        measured_value(MEASURING_METHODS["by_cut"], {}, before="30 mm", turned="0 mm", after=after)


def test_a_measurement_in_inches_gives_an_answer_in_inches() -> None:
    """20 thou of travel is 0.040 in off a diameter. Ten turns of a 10 tpi screw are 1 in, one turn is 0.1 in."""
    cut = MEASURING_METHODS["by_cut"].work_out({}, {"before": "1.000 in", "turned": "20 thou", "after": "0.960 in"})
    assert cut.value == "travel" and figures(cut.sentence) == {"0.04", "20"}
    lead = MEASURING_METHODS["lead"].work_out({"per_turn": "100 thou"}, {"turns": "10", "moved": "1.000 in"})
    assert figures(lead.sentence) == {"0.1"} and " mm" not in lead.sentence


@pytest.mark.parametrize(("moved", "turned"), [("0.50 in", "0.5 mm"), ("0.25 in", "0.5 mm"), ("0.5 mm", "500 thou")])
def test_a_measurement_in_the_wrong_unit_is_refused_with_that_reason(moved: str, turned: str) -> None:
    """A number 25.4 times too large or small has the wrong unit. The refusal says so."""
    with pytest.raises(CoreError, match=r"\binch"):
        measured_value(MEASURING_METHODS["by_slide"], {}, moved=moved, turned=turned)
    with pytest.raises(CoreError, match=r"^((?!inch).)*$"):
        measured_value(MEASURING_METHODS["by_slide"], {}, moved="3 mm", turned="0.5 mm")


@pytest.mark.parametrize(
    ("per_turn", "reads", "lead_mm", "turns", "answer"),
    [
        ("40 thou", "travel", 1.0, 10, "1 mm"),
        ("0.04 in", "travel", 1.016, 10, None),
        ("4 mm", "diameter", 2.0, 10, None),
        ("100 thou", "travel", 2.5, 20, "2.5 mm"),
        ("100 thou", "travel", 2.54, 10, None),
        ("2.5 mm", "travel", 2.54, 10, "1/10 in"),
        ("50 thou", "travel", 1.25, 10, "1.25 mm"),
        ("1.25 mm", "travel", MM_IN_INCH / 20, 10, "1/20 in"),
        ("200 thou", "diameter", 2.5, 10, "2.5 mm"),
        ("1 mm", "travel", 1.05, 10, "1.05 mm"),
    ],
)
def test_the_travel_over_several_turns_of_a_dial_gives_the_true_lead_of_its_screw(
    per_turn: str, reads: str, lead_mm: float, turns: int, answer: str | None
) -> None:
    """Readings to 0.01 mm show whether the dial is true, and its lead if it is not."""
    moved = f"{lead_mm * turns + 0.004:.2f} mm"
    table = {"per_turn": per_turn, "reads": reads}
    assert measured_value(MEASURING_METHODS["lead"], table, turns=str(turns), moved=moved) == answer


def test_a_travel_measured_too_coarsely_to_determine_the_lead_is_refused() -> None:
    """From a rule, ten turns of 1 mm cannot distinguish 1 mm from 40 thou. To a tenth, turns of 3 mm can."""
    table = {"per_turn": "40 thou", "reads": "travel"}
    for moved in ("10 mm", "10.2 mm", "25/64 in"):
        with pytest.raises(CoreError):
            measured_value(MEASURING_METHODS["lead"], table, turns="10", moved=moved)
    assert (
        measured_value(
            MEASURING_METHODS["lead"], {"per_turn": "120 thou", "reads": "travel"}, turns="10", moved="30.0 mm"
        )
        == "3 mm"
    )


def test_measuring_half_or_twice_the_engraved_travel_shows_that_travel_and_diameter_were_confused() -> None:
    """The answer to travel or diameter was then wrong."""
    with pytest.raises(CoreError, match="diameter"):
        measured_value(MEASURING_METHODS["lead"], {"per_turn": "4 mm", "reads": "travel"}, turns="10", moved="20.00 mm")
    with pytest.raises(CoreError, match="travel"):
        measured_value(
            MEASURING_METHODS["lead"], {"per_turn": "4 mm", "reads": "diameter"}, turns="10", moved="40.00 mm"
        )


@pytest.mark.parametrize("turns", ["0", "-1", "2.5", "x", "201", ""])
def test_a_number_of_turns_that_is_not_whole_is_refused(turns: str) -> None:
    """The refusal is at the field of the turns."""
    with pytest.raises(CoreError) as refusal:
        measured_value(MEASURING_METHODS["leadscrew"], {}, turns=turns, moved="30 mm")
    assert refusal.value.field == "turns"


@pytest.mark.parametrize(("moved", "pitch"), [("30.0 mm", "3 mm"), ("31.7 mm", "1/8 in"), ("1.25 in", "1/8 in")])
def test_the_travel_over_ten_turns_gives_the_pitch_of_a_leadscrew(moved: str, pitch: str) -> None:
    """Ten pitches of 3 mm, and of 8 threads to the inch (ten are 1 1/4 in), give one pitch."""
    assert measured_value(MEASURING_METHODS["leadscrew"], {}, turns="10", moved=moved) == pitch
    assert float(read_quantity(pitch, "pitch").value) == pytest.approx({"3 mm": 3, "1/8 in": MM_IN_INCH / 8}[pitch])


@pytest.mark.parametrize(
    ("per_turn", "marks", "graduation"),
    [
        ("4 mm", "80", "0.05 mm"),
        ("100 thou", "100", "1 thou"),
        ("0.1 in", "100", "0.001 in"),
        ("1 mm", "60", "1/60 mm"),
    ],
)
def test_the_number_of_marks_in_one_turn_gives_the_graduation_of_a_dial(
    per_turn: str, marks: str, graduation: str
) -> None:
    """One mark is exactly one turn divided by the number of marks."""
    value = measured_value(MEASURING_METHODS["marks"], {"per_turn": per_turn}, marks=marks)
    assert value == graduation
    assert read_quantity(value, "length").value * int(marks) == read_quantity(per_turn, "length").value


@pytest.mark.parametrize(
    ("ratio", "marks", "graduation"), [(72, "150", "2 arcmin"), (40, "60", "9 arcmin"), (90, "7", "240/7 arcmin")]
)
def test_the_number_of_marks_in_one_turn_gives_the_graduation_of_a_rotary_table(
    ratio: int, marks: str, graduation: str
) -> None:
    """360 degrees divided by turns and marks, exactly: 5 degrees in 150 marks are 2 minutes each."""
    assert measured_value(MEASURING_METHODS["table_marks"], {"ratio": ratio}, marks=marks) == graduation
    assert read_quantity(graduation, "angle").value * int(marks) * ratio == 360


@pytest.mark.parametrize(
    ("per_turn", "inwards", "outwards", "backlash"),
    [
        ("4 mm", "1.20 mm", "0.80 mm", "0.4 mm"),
        ("4 mm", "0.10 mm", "3.70 mm", "0.4 mm"),
        ("100 thou", "2 thou", "96 thou", "6 thou"),
        ("2 mm", "1.5 mm", "1.5 mm", "0 mm"),
    ],
)
def test_the_backlash_of_a_dial_is_the_difference_between_its_inward_and_outward_readings(
    per_turn: str, inwards: str, outwards: str, backlash: str
) -> None:
    """The difference is right across the zero of the dial too."""
    assert (
        measured_value(MEASURING_METHODS["backlash"], {"per_turn": per_turn}, inwards=inwards, outwards=outwards)
        == backlash
    )


def test_the_backlash_of_a_rotary_table_is_the_angle_between_readings_in_opposite_directions() -> None:
    """At 72 to 1 a turn of the handle is 5 degrees. 1 minute and 4 degrees 58 are 3 minutes apart."""
    value = measured_value(MEASURING_METHODS["table_backlash"], {"ratio": 72}, inwards="1 arcmin", outwards="4d58m")
    assert value == "3 arcmin"
    with pytest.raises(CoreError):
        measured_value(MEASURING_METHODS["table_backlash"], {}, inwards="1 arcmin", outwards="2 arcmin")


def test_marks_and_backlash_cannot_be_measured_before_the_travel_of_one_turn_is_known() -> None:
    """Marks and backlash are refused until the travel of one turn is answered."""
    for method, typed in (
        (MEASURING_METHODS["marks"], {"marks": "80"}),
        (MEASURING_METHODS["backlash"], {"inwards": "1 mm", "outwards": "0 mm"}),
    ):
        with pytest.raises(CoreError):
            measured_value(method, {}, **typed)


@pytest.mark.parametrize("number", [Fraction(1, 3), Fraction(7, 8), Fraction(254, 10), Fraction(1, 60), Fraction(12)])
def test_a_number_written_as_lossless_text_is_read_back_unchanged(number: Fraction) -> None:
    """Python's Fraction reads the text."""
    assert Fraction(lossless_text(number)) == number


@pytest.mark.parametrize(
    ("clockwise", "rising", "left"),
    [("in", True, "0.5"), ("in", False, "1.5"), ("out", True, "0.0"), (None, True, "0.5")],
)
def test_the_marks_that_come_up_when_a_dial_turns_clockwise_are_drawn_on_the_left(
    clockwise: Any, rising: bool, left: str
) -> None:
    """Turned clockwise the top of a dial goes right, so the next numbers are on the left; common practice, no source.

    By hand: 0.1 mm a mark, at 0.4 in. The long marks are 0.0 and 0.5 (falling: at 1.6 of 2, 1.5 and 0.0).
    """
    dial = Dial(
        name="compound",
        unit="mm",
        graduation=Fraction(1, 10),
        per_turn=Fraction(2),
        clockwise_goes=clockwise,
        rising_inwards=rising,
    )
    marks = marks_around(dial, marks_of(dial, "0.4" if rising else "-0.4"), 4)
    numbers = [mark.number for mark in marks if mark.number]
    assert numbers[0] == left
    assert [mark.offset for mark in marks] == list(range(-4, 5))
    assert sorted(numbers) == (["0.0", "0.5"] if rising else ["0.0", "1.5"])


def test_the_example_of_a_dial_reading_is_in_the_unit_engraved_on_the_dial() -> None:
    """A dial in thou has an example in thou."""
    dial = Dial(name="compound", unit="in", graduation=Fraction(1, 1000), per_turn=Fraction(1, 10))
    assert (example_reading(dial, "thou"), example_reading(dial, "in")) == ("21", "0.021")
