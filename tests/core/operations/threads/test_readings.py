"""Measured sizes: the error of each reading, and the pitch diameter that follows from it."""

import math
from typing import Any

import pytest

from core.inputs import input_from_data
from core.operations.threads.measuring import WIRE_ERROR_MM, limits_words, measured_pitch_diameters, read_size
from core.values.errors import QuantityError
from tests.core.figures import figures
from tests.core.thread_jobs import job_of, lathe, plan_of

M10 = {"thread": "M10", "blank": "9.9 mm", "wire": "0.9 mm"}


@pytest.mark.parametrize(
    ("text", "unit", "size_mm", "error_mm"),
    [
        ("29.85", "mm", 29.85, 0.01),
        ("29,85 mm", "in", 29.85, 0.01),
        ("29.9", "mm", 29.9, 0.1),
        ("30", "mm", 30, 1),
        ("29.852", "mm", 29.852, 0.002),  # No hand micrometer is more exact.
        ("1.1745", "in", 29.8323, 0.00254),
        ("1.174 in", "mm", 29.8196, 0.0254),
        ("1 1/4 in", "mm", 31.75, 25.4 / 8),  # Half of a quarter.
        ("29.85 +-0.005", "mm", 29.85, 0.005),
        ("29.85+/-5 um", "mm", 29.85, 0.005),
        ("29.85 ± 0.05", "mm", 29.85, 0.05),
        ("29.85+-0.0002 in", "mm", 29.85, 0.00508),
    ],
)
def test_the_error_of_a_reading_is_taken_as_one_unit_of_its_last_decimal_place(
    text: str, unit: str, size_mm: float, error_mm: float
) -> None:
    """An error entered after the reading counts instead: common practice, no source. One inch is 25.4 mm."""
    reading = read_size(text, unit)
    assert reading.size_mm == pytest.approx(size_mm, abs=1e-9)
    assert reading.error_mm == pytest.approx(error_mm, abs=1e-9)


@pytest.mark.parametrize("text", ["", "x", "0", "-3", "29.85 +-", "29.85 +-x", "29.85 +-0", "30 deg", "1/0 in", "+-1"])
def test_a_reading_that_is_not_a_length_is_refused(text: str) -> None:
    """The refusal quotes the text, and nothing is guessed."""
    with pytest.raises(QuantityError):
        read_size(text, "mm")


def _mean(**given: Any) -> tuple[float, float]:
    measured = measured_pitch_diameters(job_of(**M10), lathe(), input_from_data("measured", given))
    return measured.diameters_mm[0], measured.error_mm


def test_the_pitch_diameter_from_three_wires_matches_the_published_formula() -> None:
    """M10, wires 0.9 mm: 10.427 = 9.026 + 3 x 0.9 - 0.866025 x 1.5 mm (handbook formula). The lead adds 0.002 mm."""
    assert _mean(over_wires_mm=10.427)[0] == pytest.approx(9.026, abs=0.0005)


def test_wires_thicker_by_0_1_mm_raise_the_size_over_three_wires_by_0_3_mm() -> None:
    """On the same thread, wires thicker by 0.1 mm read 0.3 mm more."""
    assert _mean(over_wires_mm=10.727, wire_mm=1.0)[0] == pytest.approx(9.026, abs=0.0005)


def test_the_size_over_one_wire_averages_the_crest_diameter_and_the_size_over_three_wires() -> None:
    """Half of 10.427 mm on the side of the wire and half of 9.9 mm on the other side make 10.1635 mm."""
    assert _mean(over_one_wire_mm=10.1635, major_mm=9.9)[0] == pytest.approx(9.026, abs=0.0005)


@pytest.mark.parametrize("key", ["over_wires_mm", "over_one_wire_mm"])
def test_the_error_of_a_pitch_diameter_matches_small_changes_of_the_readings(key: str) -> None:
    """Each input is changed by its own error, and the changes are added in squares (GUM 5.1.2)."""
    given = {key: 10.3, "wire_mm": 0.9, **({"major_mm": 9.9} if key == "over_one_wire_mm" else {})}
    error_mm = 0.01
    steps = {key: error_mm, "wire_mm": WIRE_ERROR_MM, "major_mm": error_mm}
    moved = [_mean(**{**given, name: given[name] + steps[name]})[0] - _mean(**given)[0] for name in given]
    assert _mean(**given, reading_error_mm=error_mm)[1] == pytest.approx(math.hypot(*moved), rel=1e-6)


def test_the_diameter_at_the_shoulder_end_is_listed_before_that_at_the_free_end() -> None:
    """An end that was not measured is absent."""
    given = {"pitch_diameter_mm": {"shoulder": 9.03, "free": 9.05}}
    assert measured_pitch_diameters(job_of(**M10), lathe(), input_from_data("measured", given)).diameters_mm == (
        9.03,
        9.05,
    )
    given = {"pitch_diameter_mm": {"shoulder": 9.03, "free": None}}
    assert measured_pitch_diameters(job_of(**M10), lathe(), input_from_data("measured", given)).diameters_mm == (9.03,)


@pytest.mark.parametrize(
    ("what", "major_mm", "said"),
    [
        # M10-6g: pitch diameter 8.862 to 8.994 (ISO 965-2).
        ("pitch diameter", None, {"8.862", "8.994"}),
        ("over wires", None, {"10.263", "10.395"}),
        ("over one wire", 9.9, {"10.081", "10.147"}),
        ("over one wire", 9.8, {"10.031", "10.097"}),
    ],
)
def test_the_wanted_size_is_shown_for_each_kind_of_measurement(
    what: str, major_mm: float | None, said: set[str]
) -> None:
    """Over three wires: 8.862 + 2.7 - 1.299 = 10.263 mm. Over one wire: half of that and half the crest."""
    assert figures(limits_words(lathe(), plan_of(**M10).figures, what, major_mm)) == said


def test_a_custom_thread_shows_its_basic_size_as_the_wanted_size() -> None:
    """M10 by angle and sizes: basic pitch diameter 9.026 mm, over 0.9 mm wires 10.427 mm."""
    own = {"form": "60 deg", "major": "10 mm", "pitch": "1.5 mm", "wire": "0.9 mm"}
    assert "Basic: 10.427 mm" in limits_words(lathe(), plan_of(**own).figures, "over wires")
