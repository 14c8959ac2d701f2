"""A compound swung off the axis and corrected, compared with numpy's sines and arc sines."""

from pathlib import Path

import numpy as np
import pytest

from core.lathe.lathe import Lathe
from core.lathe.reader import lathe_from, read_lathe
from core.operations.swung_compound import SwungCompound
from tests.core.figures import figures

SAMPLES = Path(__file__).parents[3] / "sample_jobs"
METRIC, INCH = read_lathe(SAMPLES / "metric_lathe.toml"), read_lathe(SAMPLES / "inch_lathe.toml")


@pytest.mark.parametrize(("lathe", "reach_mm"), [(METRIC, 5.0), (INCH, 0.5)])
@pytest.mark.parametrize("half", [0.5, 1.4321, 7.0, 30.0])
def test_the_check_of_the_compound_angle_stays_within_the_indicators_travel(
    lathe: Lathe, reach_mm: float, half: float
) -> None:
    """A plunger has 5 mm of travel, a lever 0.5 mm (common practice, no source). A steep angle gets a shorter check."""
    swung = SwungCompound(half_deg=half, length_mm=60.0, lathe=lathe)
    assert 0 < swung.shown_mm <= reach_mm + 1e-9
    assert swung.shown_mm == pytest.approx(swung.tried_mm * np.sin(np.radians(half)))
    # One mark more over the same travel, by the arc sine.
    off = np.degrees(np.arcsin((swung.shown_mm + swung.mark_mm) / swung.tried_mm)) - half
    assert swung.one_mark_deg == pytest.approx(off)


@pytest.mark.parametrize(("cut", "way"), [(7.1, "nearer"), (6.9, "further")])
def test_the_correction_of_a_compound_angle_states_the_angle_and_two_indicator_movements(cut: float, way: str) -> None:
    """0.1 deg is 6 minutes; 100 sin(0.1 deg) = 0.175 mm at 100 mm; 20 (sin 7 - sin 7.1) over 20 mm."""
    text = SwungCompound(half_deg=7.0, length_mm=30.0, lathe=METRIC).correct(cut).text
    change = 20 * abs(np.sin(np.radians(cut)) - np.sin(np.radians(7.0)))
    assert way in text and "0°06'00\"" in text
    assert {"100", "0.175", "20.00", f"{change:.3f}"} <= figures(text)


def test_a_compound_scale_that_ends_before_the_angle_gets_a_caution() -> None:
    """With its zero square the scale would read 83 for 7 deg, but ends at 60. For 35 deg it reads 55."""
    assert "60°" in figures(SwungCompound(half_deg=7.0, length_mm=30.0, lathe=INCH).caution())
    assert not SwungCompound(half_deg=35.0, length_mm=30.0, lathe=INCH).caution()


def test_compound_travel_is_given_in_readings_of_the_compounds_own_dial() -> None:
    """A metric compound on an inch lathe has round travels in mm. A 1 mm screw marked 40 thou: 2000 thou are 50 mm.

    Worked by hand. Each text has as many places as the dial's marks need. A travel between two marks goes up to the
    next mark.
    """
    metric = {"per_turn": "2 mm", "graduation": "0.02 mm", "reads": "travel"}
    thou = {"per_turn": "40 thou", "graduation": "1 thou", "reads": "travel", "lead": "1 mm"}
    for compound, wound, travel_mm in ((metric, "50.00 mm", 50.0), (thou, "2.000 in", 50.0)):
        inch_sizes = dict(INCH.data)
        inch_sizes |= {"dial": {**inch_sizes["dial"], "compound": compound}, "indicator": {"graduation": "0.01 mm"}}
        swung = SwungCompound(half_deg=1.4307, length_mm=64.0, lathe=lathe_from(inch_sizes, "test"))
        assert swung.tried_mm == pytest.approx(travel_mm)
        text = swung.indicate().text
        assert f"then wind on {wound} by its dial" in text
        assert f"{travel_mm * np.sin(np.radians(1.4307)):.3f} mm" in text
    assert swung.by_dial(64.0) == f"{64 * 0.04:.3f} in"
    assert swung.by_dial(64.01) == "2.561 in"
