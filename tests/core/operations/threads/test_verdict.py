"""What a measured thread is found to be: its limits, marks to go, taper, overshoot and possible uses."""

from typing import Any

import pytest

from core.inputs import Measured, input_from_data
from core.operations.threads.designation import read_thread
from core.operations.threads.measuring import (
    classes_kept,
    is_tapered,
    measured_pitch_diameters,
    other_classes,
    remaining_mm,
    verdict_words,
)
from tests.core.figures import figures
from tests.core.thread_jobs import job_of, lathe
from tests.published import printed_rows

M30 = {"thread": "M30x3.5-6g", "blank": "29.85 mm", "tool_flat": "0.30 mm"}
"""Pitch diameter 27.462 to 27.674, middle 27.568 (ISO 965-2)."""
BORE = {"thread": "M20x1.5-6H", "blank": "18.5 mm"}
"""Pitch diameter 19.026 to 19.216, middle 19.121 (by the formulas of ISO 965-1)."""


def said(marks_left: int = 2, table: dict[str, str] | None = None, **given: Any) -> str:
    """Return the sentences on a measurement."""
    its, job = lathe(), job_of(**(table or M30))
    measured = measured_pitch_diameters(job, its, input_from_data("measured", given))
    return "\n".join(verdict_words(job, its, measured, job.infeed(its), marks_left))


def test_size_inside_the_limits_is_reported() -> None:
    """27.608 is inside the limits, 0.04 from the middle. The error and the marks to go are shown beside it."""
    inside, to_go = said(pitch_diameter_mm=27.608, reading_error_mm=0.01).split("\n")[:2]
    assert figures(inside) >= {"27.608", "0.01", "27.462", "27.674", "0.212"}
    assert figures(to_go) >= {"0.04", "0.01", "2"}


def test_amounts_of_one_mark_and_below_half_a_mark_are_distinguished() -> None:
    """One mark is counted; less than half of one, and the middle itself, leave nothing to count."""
    one, less, none = (said(marks, pitch_diameter_mm=size) for marks, size in ((1, 27.59), (0, 27.575), (0, 27.56)))
    assert "1 more" in one and "more grad" not in less and "more grad" not in none
    assert "less than" in less and "less than" not in none


def test_size_above_the_limits_can_still_be_cut() -> None:
    """27.774 is 0.1 above the largest, which can still be cut."""
    words = said(pitch_diameter_mm=27.774)
    assert "0.1" in figures(words) and "put back" not in words


@pytest.mark.parametrize(
    ("table", "size_mm", "error_mm", "unsure"),
    [(M30, 27.67, 0.01, True), (M30, 27.66, 0.01, False), (M30, 27.455, 0.01, True), (BORE, 19.03, 0.005, True)],
)
def test_near_a_limit_the_measurement_cannot_decide(
    table: dict[str, str], size_mm: float, error_mm: float, unsure: bool
) -> None:
    """A limit nearer than the error: measure again, or let the gauge decide."""
    words = said(table=table, pitch_diameter_mm=size_mm, reading_error_mm=error_mm)
    assert ("gauge" in words) == unsure


def test_overshoot_is_reported_outside_and_inside() -> None:
    """Past by 0.062 outside, by 0.034 inside; a bore is cut too far when it is too large."""
    assert "0.062" in figures(said(pitch_diameter_mm=27.40))
    assert "0.034" in figures(said(table=BORE, pitch_diameter_mm=19.25))


def test_overshoot_names_the_class_the_thread_still_keeps() -> None:
    """8g of M30 reaches 27.339 (ISO 965-2, 27.674 - 0.335): at 27.40 it is still that, at 27.2 nothing any more."""
    assert "8g" in said(pitch_diameter_mm=27.40)
    words = said(pitch_diameter_mm=27.2)
    assert "8g" not in words and "0.262" in figures(words)


def test_the_thicker_end_decides_and_the_thinner_is_reported() -> None:
    """The larger size outside, the smaller inside, decides what to cut; a thin end past the limits is reported."""
    job = job_of(**M30)
    assert remaining_mm(job, (27.668, 27.6)) == pytest.approx(0.05)
    assert remaining_mm(job_of(**BORE), (19.021, 19.2)) == pytest.approx(0.05)
    words = said(pitch_diameter_mm={"shoulder": 27.44, "free": 27.55})
    assert {"0.11", "0.022"} <= figures(words)
    words = said(pitch_diameter_mm={"shoulder": 27.95, "free": 27.7})
    assert {"0.212"} <= figures(words)


@pytest.mark.parametrize(
    ("ends", "reading_error_mm", "tapered"),
    [
        ((27.6, 27.61), 0.0, False),
        ((27.6, 27.62), 0.0, False),
        ((27.6, 27.614), 0.01, False),
        ((27.6, 27.615), 0.01, True),
        ((27.6, 27.607), 0.005, False),
        ((27.6, 27.608), 0.005, True),
        ((27.6, 27.621), 0.01, True),
        ((27.621, 27.6), 0.01, True),
        ((27.6, 27.628), 0.02, False),
        ((27.6, 27.629), 0.02, True),
        ((27.6, 27.63), 0.0, True),
        ((27.6, 27.63), 0.03, False),
    ],
)
def test_taper_is_more_than_the_error_of_two_readings(
    ends: tuple[float, float], reading_error_mm: float, tapered: bool
) -> None:
    """A smaller difference than the root of two errors is not a taper. 0.02 mm is used if the error is unknown."""
    given = {"pitch_diameter_mm": {"shoulder": ends[0], "free": ends[1]}, "reading_error_mm": reading_error_mm}
    assert is_tapered(measured_pitch_diameters(job_of(**M30), lathe(), input_from_data("measured", given))) == tapered


def test_the_error_of_a_pitch_diameter_includes_that_of_the_wires() -> None:
    """Wires known to 0.002 count three times: hypot(0.01, 0.006) = 0.0117."""
    assert "± 0.012 mm" in said(over_wires_mm=30.5, wire_mm=2.05, reading_error_mm=0.01)


def test_inch_lathe_shows_inches_only() -> None:
    """Sentences are in the user's unit and no other."""
    inch = {"per_turn": "0.1 in", "graduation": "0.001 in", "reads": "travel"}
    its = lathe(dial={"cross_slide": inch, "compound": inch})
    job = job_of(its, thread="1/2-13 UNC-2A")
    measured = measured_pitch_diameters(
        job, its, Measured(what="pitch diameter", size_mm=0.46 * 25.4, reading_error_mm=0.0127)
    )
    words = "\n".join(verdict_words(job, its, measured, job.infeed(its), 4))
    assert "0.4600 in ± 0.0005 in" in words and " mm" not in words


def test_a_class_is_kept_up_to_its_published_limits() -> None:
    """M12 6g as ISO 965-2 prints it: its least pitch diameter is 6g, a thousandth less no more; so of its crest."""
    limits = {
        row.quantity: float(row.printed)
        for row in printed_rows("threads_metric")
        if row.inputs["designation"] == "M12 x 1.75 6g"
    }
    fine = read_thread("M12-4h")
    least, crest = limits["external pitch diameter min"], limits["external major diameter min"]
    assert "6g" in classes_kept(fine, least, crest)
    assert "6g" not in classes_kept(fine, least - 0.001, crest)
    assert "6g" not in classes_kept(fine, least, crest - 0.001)


@pytest.mark.parametrize(
    ("text", "side"),
    [
        ("M10", "outside"),
        ("M10", "inside"),
        ("1/4-20 UNC-2A", "outside"),
        ("1/4-20 UNC-2B", "inside"),
        ("1/2 BSW", "outside"),
        ("1/2 BSW", "inside"),
        ("G1/2 A", "outside"),
        ("4 BA", "outside"),
        ("Tr20x4-7e-LH", "outside"),
        ("3/4-6 Acme-2G", "inside"),
    ],
)
def test_other_classes_are_of_the_same_thread(text: str, side: str) -> None:
    """They have the same pitch, hand and side, in every standard with more than one class."""
    thread = read_thread(text, side=side)
    others = other_classes(thread)
    assert others and thread.tolerance_class not in {other.tolerance_class for other in others}
    for other in others:
        same = (other.pitch_mm, other.left_hand, other.internal, other.major_basic_mm, other.system)
        assert same == (thread.pitch_mm, thread.left_hand, thread.internal, thread.major_basic_mm, thread.system)


@pytest.mark.parametrize("text", ["G1/2", "4 BA"])
def test_no_other_class_is_named_if_the_standard_has_only_one(text: str) -> None:
    """Inside, ISO 228-1 and BS 93 have one class only."""
    assert other_classes(read_thread(text, side="inside")) == ()
