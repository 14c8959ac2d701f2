"""Dials: turns and readings, rounding to marks, true leads, and zeros that cannot be set."""

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.values.dials import Dial
from tests.core.figures import figures


def dial(**changes: object) -> Dial:
    """Return a metric dial of 2 mm a turn in marks of 0.02 mm, with some fields changed."""
    values: dict[str, object] = {
        "name": "compound",
        "unit": "mm",
        "graduation": Fraction(2, 100),
        "per_turn": Fraction(2),
    }
    return Dial(**(values | changes))  # type: ignore[arg-type]


def test_a_dial_that_reads_diameter_counts_twice_the_travel_of_its_slide() -> None:
    """1 mm of travel is 2 mm on the dial."""
    assert dial().at_travel(3.14).position == Fraction("3.14")
    assert dial(reads_diameter=True).at_travel(3.14).position == Fraction("6.28")


def test_the_readings_of_a_dial_with_falling_numbers_stay_between_0_and_one_turn() -> None:
    """The position -0.42 has the reading 1.58. The handle made no full turn, so the words show no turn."""
    falling = dial(rising_inwards=False)
    setting = falling.at_travel(0.42)
    assert (setting.position, setting.turns, setting.reading) == (Fraction("-0.42"), -1, Fraction("1.58"))
    assert falling.setting_text(setting) == "1.58 mm"
    assert figures(falling.setting_text(falling.at_travel(2.42))) == {"1", "1.58"}


def test_a_slide_moves_by_the_true_lead_of_its_screw_instead_of_the_engraved_travel() -> None:
    """A 1 mm screw is marked 40 thou. 10 marks move 0.25 mm, not 0.254 mm."""
    thou = dial(unit="in", graduation=Fraction(1, 1000), per_turn=Fraction(40, 1000), lead_mm=Fraction(1))
    assert thou.travel_mm(10) == pytest.approx(0.25)
    assert thou.at_travel(0.25).position == Fraction("0.010")
    assert thou.at_travel(1.025).turns == 1


def test_the_setting_of_a_digital_readout_has_no_turns() -> None:
    """A digital readout shows the position itself."""
    readout = dial(per_turn=None, graduation=Fraction(1, 100))
    setting = readout.at_travel(12.346)
    assert (setting.position, setting.turns, setting.reading) == (Fraction("12.35"), None, None)
    assert readout.setting_text(setting) == "12.35 mm"


def test_a_travel_halfway_between_two_marks_is_set_to_the_mark_of_the_smaller_cut() -> None:
    """The mark nearer to zero is set, because a later cut can take the difference."""
    assert dial().marks(0.05) == 2
    assert dial().marks(-0.05) == -2
    assert dial().marks(0.0501) == 3


def test_a_dial_that_cannot_be_zeroed_is_set_to_the_mark_nearest_the_exact_size() -> None:
    """The wanted size is counted exactly from the reading at touch-off and then rounded to a mark."""
    pinned = dial(can_zero=False)
    setting = pinned.from_zero(pinned.at_travel(0.4231), Fraction("1.37"))
    assert setting.position == pytest.approx(Fraction("1.80"))
    assert setting.rounding == pytest.approx(1.80 - (1.37 + 0.4231))


@given(
    st.integers(1, 400),
    st.integers(1, 40),
    st.floats(-500, 500, allow_nan=False),
    st.booleans(),
    st.booleans(),
)
def test_every_setting_is_at_the_dial_mark_nearest_to_the_travel(
    marks_a_turn: int, hundredths: int, travel_mm: float, diameter: bool, rising: bool
) -> None:
    """For any travel, the rounding is at most half a mark, and turns and reading give the position."""
    graduation = Fraction(hundredths, 100)
    any_dial = dial(
        graduation=graduation,
        per_turn=graduation * marks_a_turn,
        reads_diameter=diameter,
        rising_inwards=rising,
    )
    setting = any_dial.at_travel(travel_mm)
    assert setting.turns is not None and setting.reading is not None
    position = Fraction(setting.position).limit_denominator(10**6)
    assert (position / graduation).denominator == 1
    assert abs(setting.rounding) <= float(graduation) / 2 * (1 + 1e-5)
    assert 0 <= setting.reading < float(any_dial.per_turn or 0)
    assert math.isclose(setting.turns * float(any_dial.per_turn or 0) + setting.reading, setting.position, abs_tol=1e-9)
    wanted = travel_mm * (2 if diameter else 1) * (1 if rising else -1)
    assert setting.position - setting.rounding == pytest.approx(wanted, abs=1e-9)


@given(st.lists(st.floats(0.01, 0.3), min_size=1, max_size=200))
def test_rounding_errors_of_successive_settings_do_not_accumulate(steps_mm: list[float]) -> None:
    """Targets counted from zero and rounded one by one never drift by more than half a mark."""
    reached = 0.0
    for step in steps_mm:
        reached += step
        assert abs(dial().travel_mm(dial().marks(reached)) - reached) <= 0.01 + 1e-6
