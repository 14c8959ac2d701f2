"""Dials and the swung compound on the printed page, compared with angles and readings worked out here."""

import math
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from core.jobs.job import read_job
from core.lathe.lathe import CompoundScale, RotaryTable
from core.lathe.reader import example_lathe
from core.operations.taper_drawing import taper_drawing
from core.pages.dial_drawing import dial_drawings, table_dial_drawing

SAMPLES = Path(__file__).parents[3] / "sample_jobs"
TABLE = RotaryTable(ratio=Fraction(72), dial_graduation_deg=Fraction(2, 60))


def marks(table: RotaryTable, set_deg: Fraction) -> dict[str, float]:
    """Return the distance of each numbered mark from the zero line, in marks."""
    return {name.text: name.at[0] for name in table_dial_drawing(table, set_deg).names}


def test_the_dial_on_the_handle_of_the_rotary_table_is_drawn_at_its_reading() -> None:
    """72:1 is 5 deg a turn, 150 marks of 2'. At 12°10' the dial reads 2°10', mark 65.

    Higher numbers are on the left.
    """
    shown = marks(TABLE, Fraction(12) + Fraction(1, 6))
    assert shown == {"2°10'": 0, "2°20'": -5, "2°30'": -10, "2°00'": 5, "1°50'": 10}


def test_the_numbers_on_a_drawn_dial_start_again_at_0_after_one_turn() -> None:
    """At 5° the dial shows 0. The marks before the 0 are those at the end of the previous turn."""
    shown = marks(TABLE, Fraction(5))
    assert shown["0°00'"] == 0 and shown["4°50'"] == 5 and shown["0°10'"] == -5


def test_a_vernier_setting_is_drawn_between_two_marks_of_the_dial() -> None:
    """10" are a twelfth of a mark of 2', so the zero line is past the mark by this much."""
    fine = TABLE._replace(vernier_deg=Fraction(10, 3600))
    shown = marks(fine, Fraction(2) + Fraction(10, 3600))
    assert shown["2°00'"] == pytest.approx(1 / 12)


def test_the_printed_page_of_a_dividing_operation_shows_the_dial_of_the_rotary_table() -> None:
    """24 divisions on a table of 90:1: the last one, 345 deg, is 86 turns of 4 deg and 1 deg."""
    operation = read_job(SAMPLES / "hour_lines.toml").operations[0]
    names = [name for name, _ in dial_drawings(operation.plan, read_job(SAMPLES / "hour_lines.toml").lathe)]
    assert any("86 turns and 1°00'" in name for name in names)


@pytest.mark.parametrize("half_deg", [1.432, 14.04, 30.0, 44.0, 60.0, 80.0])
def test_the_compound_and_the_tapered_work_are_drawn_at_the_half_angle_of_the_taper(half_deg: float) -> None:
    """Both long sides of the slide are parallel to the near side of the work, which grows towards the chuck."""
    strokes = taper_drawing(half_deg, example_lathe()).strokes
    work, slide = (stroke.points for stroke in (strokes[2], strokes[3]))
    slope = math.tan(math.radians(half_deg))
    near = sorted(place for place in work if place[1] < 0)[1:]
    assert (near[1][1] - near[0][1]) / (near[1][0] - near[0][0]) == pytest.approx(slope)
    assert near[1][0] > near[0][0] and near[1][1] > near[0][1]
    (x1, y1), (x2, y2), (x3, y3), (x4, y4) = slide
    assert (y2 - y1) / (x2 - x1) == pytest.approx(slope) and (y4 - y3) / (x4 - x3) == pytest.approx(slope)


@pytest.mark.parametrize(("zero", "reading"), [("parallel", 30.0), ("perpendicular", 60.0)])
@pytest.mark.parametrize("half_deg", [30.0, 60.0])
def test_the_arc_on_the_drawn_compound_scale_spans_the_angle_of_its_reading(
    zero: str, reading: float, half_deg: float
) -> None:
    """A scale with its zero along the axis reads the half angle.

    A scale with its zero square to it reads the rest of 90 deg.
    """
    lathe = replace(example_lathe(), compound=CompoundScale(zero=zero))  # type: ignore[arg-type]
    drawing = taper_drawing(half_deg, lathe)
    zero_line, arc = drawing.strokes[-2].points, drawing.strokes[-1].points
    pivot = zero_line[0]
    angles = [math.degrees(math.atan2(y - pivot[1], x - pivot[0])) for x, y in (arc[0], arc[-1])]
    wanted = reading if half_deg == 30 else 90 - reading
    assert abs((angles[1] - angles[0] + 180) % 360 - 180) == pytest.approx(wanted)
    to_axis = math.degrees(math.atan2(zero_line[1][1] - pivot[1], zero_line[1][0] - pivot[0]))
    assert abs(math.sin(math.radians(to_axis))) == pytest.approx(0 if zero == "parallel" else 1, abs=1e-9)
    assert any(f"{wanted:g}°" in name.text for name in drawing.names)
