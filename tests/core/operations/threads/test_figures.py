"""Figures of a thread on the card, calculated again from the other figures next to them."""

import math
from fractions import Fraction
from math import prod
from typing import Any

import pytest

from core.operations.threads.designation import read_thread
from tests.core.thread_jobs import lathe, plan_of

WHEELS = {"teeth": [20, 25, 30, 35, 40, 45, 50, 55, 60, 63, 65, 70, 75, 80]}


@pytest.mark.parametrize("thread", ["M27x3-6g", "M20x2", "G1/2", "1-8 UNC", "1/2 BSW", "M24xPh6P3", "3/4-6 Acme"])
@pytest.mark.parametrize("fixed_ratio", ["1/1", "1/2"])
def test_the_displayed_lead_error_agrees_with_the_displayed_change_gears(thread: str, fixed_ratio: str) -> None:
    """Lead, parts per million and the error over 40 mm follow from the wheels, in exact fractions."""
    its = lathe(leadscrew={"pitch": "3 mm"}, change_gears={**WHEELS, "fixed_ratio": fixed_ratio})
    figures = plan_of(its, thread=thread, length="40 mm").figures
    wanted = read_thread(thread).exact_lead
    errors = []
    for train in figures["change_gears"]:
        cut = Fraction(3) * Fraction(fixed_ratio) * Fraction(prod(train["drivers"]), prod(train["driven"]))
        ppm = float((cut - wanted) / wanted * 10**6)
        assert train["lead_mm"] == pytest.approx(float(cut), rel=1e-12)
        assert train["error_ppm"] == pytest.approx(ppm, rel=1e-9, abs=1e-9)
        errors.append(abs(ppm))
    assert errors == sorted(errors)
    turns = 40 / float(wanted)
    first = figures["change_gears"][0]
    assert figures["length_error_mm"] == pytest.approx(turns * (first["lead_mm"] - float(wanted)), abs=1e-9)
    assert figures["pitch_error_ppm"] == first["error_ppm"]


@pytest.mark.parametrize(
    ("table", "keys", "absent"),
    [
        (
            {"thread": "M20x2"},
            {"over_wires_max_mm", "over_one_wire_min_mm", "tool_radius_wanted_mm", "clearance_holes"},
            {"bar_most_mm", "tapping_drill", "over_wires_basic_mm", "tool_flat_wanted_mm", "length_error_mm"},
        ),
        (
            {"thread": "M20x1.5-6H"},
            {"bar_most_mm", "point_stands_out_mm", "tapping_drill", "tapping_basis", "tool_flat_wanted_mm"},
            {"over_wires_max_mm", "wire_mm", "over_one_wire_max_mm"},
        ),
        (
            {"form": "60 deg", "major": "20 mm", "pitch": "2 mm"},
            {"over_wires_basic_mm", "over_one_wire_basic_mm"},
            {"over_wires_max_mm", "pitch_diameter_max_mm", "clearance_holes"},
        ),
        ({"thread": "Tr20x4-7e"}, {"wire_lead_correction_mm", "tool_flat_wanted_mm"}, {"clearance_holes"}),
    ],
)
def test_only_the_figures_that_apply_to_a_thread_are_shown(
    table: dict[str, Any], keys: set[str], absent: set[str]
) -> None:
    """A figure that does not apply is absent, and no figure is None."""
    figures = plan_of(**table).figures
    assert keys <= set(figures)
    assert not absent & set(figures)
    assert None not in figures.values()


def test_a_thread_without_limits_shows_its_basic_size_over_wires() -> None:
    """60 degrees, 20 x 2 mm, wires of 1.35 mm: 18.701 + 4.05 - 1.732 = 21.019 mm (handbook formula)."""
    figures = plan_of(form="60 deg", major="20 mm", pitch="2 mm", blank="20 mm", wire="1.35 mm").figures
    assert figures["over_wires_basic_mm"] == pytest.approx(21.019, abs=0.001)
    assert figures["over_one_wire_basic_mm"] == pytest.approx((21.019 + 20) / 2, abs=0.001)


def test_the_lead_angle_is_larger_at_the_root_than_at_the_pitch_diameter() -> None:
    """The angle at each diameter d is atan(lead / (pi d))."""
    figures = plan_of(thread="Tr20x4-7e", tool_flat="1.3 mm").figures
    root = math.degrees(math.atan(4 / (math.pi * figures["root_mm"])))
    assert figures["lead_angle_root_deg"] == pytest.approx(root)
    assert figures["leading_clearance_deg"] == pytest.approx(root + 3)
    assert figures["lead_angle_root_deg"] > figures["lead_angle_deg"]
