"""Measured sizes: how far each may be wrong, and the pitch diameter that it means."""

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
        ("29.852", "mm", 29.852, 0.002),  # no hand micrometer is surer
        ("1.1745", "in", 29.8323, 0.00254),
        ("1.174 in", "mm", 29.8196, 0.0254),
        ("1 1/4 in", "mm", 31.75, 25.4 / 8),  # half a quarter
        ("29.85 +-0.005", "mm", 29.85, 0.005),
        ("29.85+/-5 um", "mm", 29.85, 0.005),
        ("29.85 ± 0.05", "mm", 29.85, 0.05),
        ("29.85+-0.0002 in", "mm", 29.85, 0.00508),
    ],
)
def test_the_error_of_a_reading_is_its_last_place(text: str, unit: str, size_mm: float, error_mm: float) -> None:
    """One step of the last place, or the error entered after it: common practice, no source; inches at 25.4 mm."""
    reading = read_size(text, unit)
    assert reading.size_mm == pytest.approx(size_mm, abs=1e-9)
    assert reading.error_mm == pytest.approx(error_mm, abs=1e-9)


@pytest.mark.parametrize("text", ["", "x", "0", "-3", "29.85 +-", "29.85 +-x", "29.85 +-0", "30 deg", "1/0 in", "+-1"])
def test_bad_readings_are_refused(text: str) -> None:
    """The message quotes the text; nothing is guessed."""
    with pytest.raises(QuantityError):
        read_size(text, "mm")


def _mean(**given: Any) -> tuple[float, float]:
    measured = measured_pitch_diameters(job_of(**M10), lathe(), input_from_data("measured", given))
    return measured.diameters_mm[0], measured.error_mm


def test_three_wires_match_the_published_formula() -> None:
    """M10, wires 0.9: 10.427 = 9.026 + 3 x 0.9 - 0.866025 x 1.5, the handbook's formula; the lead adds 0.002."""
    assert _mean(over_wires_mm=10.427)[0] == pytest.approx(9.026, abs=0.0005)


def test_a_thicker_wire_raises_the_reading_by_three_times_its_excess() -> None:
    """A wire thicker by 0.1 reads 0.3 more on the same thread."""
    assert _mean(over_wires_mm=10.727, wire_mm=1.0)[0] == pytest.approx(9.026, abs=0.0005)


def test_the_size_over_one_wire_is_half_that_over_three_plus_half_the_crest() -> None:
    """Half of 10.427 on the side of the wire, half of 9.9 on the other: 10.1635."""
    assert _mean(over_one_wire_mm=10.1635, major_mm=9.9)[0] == pytest.approx(9.026, abs=0.0005)


@pytest.mark.parametrize("key", ["over_wires_mm", "over_one_wire_mm"])
def test_errors_match_the_formula_with_varied_sizes(key: str) -> None:
    """The error of the answer is that of its inputs carried through by small steps, added in squares (GUM 5.1.2)."""
    given = {key: 10.3, "wire_mm": 0.9, **({"major_mm": 9.9} if key == "over_one_wire_mm" else {})}
    error_mm = 0.01
    steps = {key: error_mm, "wire_mm": WIRE_ERROR_MM, "major_mm": error_mm}
    moved = [_mean(**{**given, name: given[name] + steps[name]})[0] - _mean(**given)[0] for name in given]
    assert _mean(**given, reading_error_mm=error_mm)[1] == pytest.approx(math.hypot(*moved), rel=1e-6)


def test_two_ends_keep_their_order() -> None:
    """The shoulder comes first, then the free end. An end that was not measured is absent."""
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
def test_the_wanted_size_is_shown(what: str, major_mm: float | None, said: set[str]) -> None:
    """Over three wires it is 8.862 + 2.7 - 1.299 = 10.263; over one wire half of that and half the crest."""
    assert figures(limits_words(lathe(), plan_of(**M10).figures, what, major_mm)) == said


def test_without_limits_the_basic_size_is_shown() -> None:
    """M10 by angle and sizes: basic pitch diameter 9.026, over 0.9 wires 10.427."""
    own = {"form": "60 deg", "major": "10 mm", "pitch": "1.5 mm", "wire": "0.9 mm"}
    assert "Basic: 10.427 mm" in limits_words(lathe(), plan_of(**own).figures, "over wires")
