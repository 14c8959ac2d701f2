"""Sentences about a measured thread: its limits, marks to go, taper, overshoot and remaining uses."""

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
"""Pitch diameter 27.462 to 27.674 mm, middle 27.568 mm (ISO 965-2)."""
BORE = {"thread": "M20x1.5-6H", "blank": "18.5 mm"}
"""Pitch diameter 19.026 to 19.216 mm, middle 19.121 mm (by the formulas of ISO 965-1)."""


def said(marks_left: int = 2, table: dict[str, str] | None = None, **given: Any) -> str:
    """Return the sentences about a measurement."""
    its, job = lathe(), job_of(**(table or M30))
    measured = measured_pitch_diameters(job, its, input_from_data("measured", given))
    return "\n".join(verdict_words(job, its, measured, job.infeed(its), marks_left))


def test_a_pitch_diameter_inside_the_limits_is_reported_with_its_error() -> None:
    """27.608 mm is inside the limits, 0.04 mm from the middle. The marks to go are shown too."""
    inside, to_go = said(pitch_diameter_mm=27.608, reading_error_mm=0.01).split("\n")[:2]
    assert figures(inside) >= {"27.608", "0.01", "27.462", "27.674", "0.212"}
    assert figures(to_go) >= {"0.04", "0.01", "2"}


def test_less_than_half_a_mark_still_to_go_is_not_counted_as_a_mark() -> None:
    """At one mark from the middle one mark is reported, and at the middle itself none."""
    one, less, none = (said(marks, pitch_diameter_mm=size) for marks, size in ((1, 27.59), (0, 27.575), (0, 27.56)))
    assert "1 more" in one and "more mark" not in less and "more mark" not in none
    assert "less than" in less and "less than" not in none


def test_a_thread_above_its_limits_is_not_reported_as_spoiled() -> None:
    """27.774 mm is 0.1 mm above the largest size."""
    words = said(pitch_diameter_mm=27.774)
    assert "0.1" in figures(words) and "put back" not in words


@pytest.mark.parametrize(
    ("table", "size_mm", "error_mm", "unsure"),
    [(M30, 27.67, 0.01, True), (M30, 27.66, 0.01, False), (M30, 27.455, 0.01, True), (BORE, 19.03, 0.005, True)],
)
def test_a_size_closer_to_a_limit_than_its_error_is_reported_as_uncertain(
    table: dict[str, str], size_mm: float, error_mm: float, unsure: bool
) -> None:
    """The advice is to measure again, or to use the gauge."""
    words = said(table=table, pitch_diameter_mm=size_mm, reading_error_mm=error_mm)
    assert ("gauge" in words) == unsure


def test_external_and_internal_threads_past_their_limits_are_reported() -> None:
    """The sizes are past by 0.062 mm outside and by 0.034 mm inside. A bore is past its limits if it is too large."""
    assert "0.062" in figures(said(pitch_diameter_mm=27.40))
    assert "0.034" in figures(said(table=BORE, pitch_diameter_mm=19.25))


def test_a_thread_outside_its_limits_is_reported_with_the_class_that_it_still_meets() -> None:
    """8g of M30 goes down to 27.339 mm (ISO 965-2, 27.674 - 0.335).

    A thread of 27.40 is in this class, one of 27.2 in none.
    """
    assert "8g" in said(pitch_diameter_mm=27.40)
    words = said(pitch_diameter_mm=27.2)
    assert "8g" not in words and "0.262" in figures(words)


def test_the_end_with_more_metal_decides_the_depth_still_to_go() -> None:
    """This end is the larger size outside and the smaller size inside. A thin end past the limits is reported."""
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
def test_a_thread_counts_as_tapered_only_beyond_the_combined_error_of_two_readings(
    ends: tuple[float, float], reading_error_mm: float, tapered: bool
) -> None:
    """The limit is the root of the squared errors. Without a known error, the limit is 0.02 mm."""
    given = {"pitch_diameter_mm": {"shoulder": ends[0], "free": ends[1]}, "reading_error_mm": reading_error_mm}
    assert is_tapered(measured_pitch_diameters(job_of(**M30), lathe(), input_from_data("measured", given))) == tapered


def test_the_error_of_a_pitch_diameter_includes_the_error_of_the_wires() -> None:
    """Wires known to 0.002 mm count three times: hypot(0.01, 0.006) = 0.0117 mm."""
    assert "± 0.012 mm" in said(over_wires_mm=30.5, wire_mm=2.05, reading_error_mm=0.01)


def test_a_measured_thread_on_an_inch_lathe_is_reported_only_in_inches() -> None:
    """The example is a pitch diameter of 0.4600 in with its error."""
    inch = {"per_turn": "0.1 in", "graduation": "0.001 in", "reads": "travel"}
    its = lathe(dial={"cross_slide": inch, "compound": inch})
    job = job_of(its, thread="1/2-13 UNC-2A")
    measured = measured_pitch_diameters(
        job, its, Measured(what="pitch diameter", size_mm=0.46 * 25.4, reading_error_mm=0.0127)
    )
    words = "\n".join(verdict_words(job, its, measured, job.infeed(its), 4))
    assert "0.4600 in ± 0.0005 in" in words and " mm" not in words


def test_a_thread_meets_its_class_down_to_the_published_minimum_diameter() -> None:
    """The least pitch diameter of M12 6g (ISO 965-2) meets 6g; 0.001 mm less does not. The same holds for the crest."""
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
def test_other_classes_of_a_thread_have_the_same_pitch_hand_and_side(text: str, side: str) -> None:
    """The test covers every standard with more than one class."""
    thread = read_thread(text, side=side)
    others = other_classes(thread)
    assert others and thread.tolerance_class not in {other.tolerance_class for other in others}
    for other in others:
        same = (other.pitch_mm, other.left_hand, other.internal, other.major_basic_mm, other.system)
        assert same == (thread.pitch_mm, thread.left_hand, thread.internal, thread.major_basic_mm, thread.system)


@pytest.mark.parametrize("text", ["G1/2", "4 BA"])
def test_internal_pipe_and_ba_threads_have_no_other_class(text: str) -> None:
    """ISO 228-1 and BS 93 have only one class for internal threads."""
    assert other_classes(read_thread(text, side="inside")) == ()
