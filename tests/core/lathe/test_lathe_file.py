"""Lathe files: every key is read, and all errors are reported together."""

from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from core.lathe.lathe import CompoundScale, Cutter, Spindle
from core.lathe.reader import example_lathe, lathe_from, read_lathe
from core.values.errors import FileError

FULL = """
format = 1
name = "Bench"
centre_height = "110 mm"
[dial.cross_slide]
per_turn = "4 mm"
graduation = "0.05 mm"
reads = "diameter"
lead = "2 mm"
backlash = "0.4 mm"
clockwise = "in"
numbers = "fall"
can_zero = false
travel = "120 mm"
[dial.compound]
per_turn = "40 thou"
graduation = "1 thou"
reads = "travel"
lead = "1 mm"
[dial.readout]
graduation = "0.005 mm"
reads = "travel"
[dial.boring_head]
per_turn = "0.050 in"
graduation = "0.001 in"
reads = "diameter"
most_speed = "2000 rpm"
least_radius = "3 mm"
most_radius = "1 in"
[compound]
scale_zero = "parallel"
scale_graduation = "1 deg"
scale_end = "60 deg"
[leadscrew]
pitch = "8 tpi"
[thread_dial]
teeth = [14, 15, 16]
lines = [2, 3, 4]
[change_gears]
teeth = [20, 25, 30, 127]
fixed_ratio = "1/2"
[gearbox]
pitches = ["0.5 mm", "20 tpi"]
[spindle]
speeds = ["115 rpm", "70 rpm"]
reaction_time = "1.5 s"
coast_turns = 1.5
nose = "screwed"
most_speed = "1200 rpm"
[rotary_table]
ratio = 72
numbers_rise = "anticlockwise"
dial_graduation = "2 arcmin"
vernier = "10 arcsec"
plates = [[15, 16], [21, 23]]
direct = [24, 60]
backlash = "3 arcmin"
[indicator]
graduation = "0.01 mm"
kind = "lever"
[chuck]
jaw_lead = "4 mm"
jaw_face = "wide"
[stock]
wires = ["1.1 mm", "0.9 mm"]
shims = ["0.05 mm"]
bars = ["16 mm", "0.25 in", "16 mm"]
[[cutter]]
name = "wide"
tip_angle = "120 deg"
tip_flat = "0.2 mm"
reach = "4 mm"
[[cutter]]
name = "round"
tip_angle = "90 deg"
tip_radius = "1/64 in"
"""


def test_the_value_of_every_key_in_a_lathe_file_is_read_exactly(tmp_path: Path) -> None:
    """Every key is read in mm, degrees or as an exact fraction."""
    path = tmp_path / "lathe.toml"
    path.write_text(FULL)
    lathe = read_lathe(path)
    cross, compound = lathe.dials["cross_slide"], lathe.dials["compound"]
    assert (cross.per_turn, cross.graduation, cross.backlash) == (Fraction(4), Fraction(1, 20), Fraction(2, 5))
    assert cross.reads_diameter and not cross.rising_inwards and not cross.can_zero
    assert cross.clockwise_goes == "in"
    assert (compound.unit, compound.per_turn, compound.lead_mm) == ("in", Fraction(4, 100), Fraction(1))
    assert lathe.dials["readout"].per_turn is None
    assert lathe.dials["boring_head"].most_rpm == 2000
    assert lathe.compound == CompoundScale(zero="parallel", graduation_deg=1.0, end_deg=60.0)
    assert lathe.leadscrew_mm == Fraction("3.175")
    assert lathe.thread_dial is not None and lathe.thread_dial.wheels == ((14, 2), (15, 3), (16, 4))
    assert lathe.change_gears is not None and lathe.change_gears.fixed_ratio == Fraction(1, 2)
    assert lathe.gearbox_mm == (Fraction(1, 2), Fraction("1.27"))
    assert lathe.spindle == Spindle(
        speeds_rpm=(70, 115), reaction_time_s=1.5, coast_turns=1.5, nose="screwed", most_rpm=1200
    )
    assert lathe.rotary_table is not None
    assert lathe.rotary_table.dial_graduation_deg == Fraction(1, 30)
    assert lathe.rotary_table.plates == ((15, 16), (21, 23))
    assert lathe.indicator is not None and lathe.indicator.kind == "lever"
    assert lathe.chuck.jaw_lead_mm == 4
    assert lathe.wires_mm == (0.9, 1.1)
    assert (cross.slide_travel_mm, compound.slide_travel_mm) == (120, None)
    head = lathe.dials["boring_head"]
    assert (head.least_radius_mm, head.most_radius_mm) == (3, 25.4)
    assert lathe.rotary_table.numbers_rise == "anticlockwise"
    assert lathe.bars_mm == (6.35, 16, 16)
    assert lathe.cutters == (
        Cutter("wide", 120, tip_flat_mm=0.2, reach_mm=4),
        Cutter("round", 90, tip_radius_mm=25.4 / 64),
    )
    assert lathe.centre_height_mm == 110


HEAD = {"graduation": "0.001 in", "per_turn": "0.05 in", "reads": "diameter"}
WIDE = {"name": "wide", "tip_angle": "90 deg"}
REFUSALS: list[tuple[dict[str, Any], str]] = [
    ({"format": 2}, "format"),
    ({"name": ""}, "name"),
    ({"colour": "grey"}, "colour"),
    ({"dial": {"carriage": {"graduation": "0.03 mm", "per_turn": "2 mm", "reads": "travel"}}}, "graduation"),
    ({"dial": {"carriage": {"graduation": "0.001 in", "per_turn": "2 mm", "reads": "travel"}}}, "graduation"),
    ({"dial": {"carriage": {"per_turn": "2 mm", "reads": "travel"}}}, "graduation"),
    ({"dial": {"carriage": {"graduation": "0.1 mm", "reads": "radius"}}}, "reads"),
    ({"dial": {"carriage": {"graduation": "0.1 mm", "reads": "travel", "lead": "2 mm"}}}, "lead"),
    ({"dial": {"carriage": {"graduation": "-0.1 mm", "reads": "travel"}}}, "graduation"),
    ({"dial": {"carriage": {"graduation": "0.1 mm", "reads": "travel", "can_zero": "no"}}}, "can_zero"),
    ({"dial": {"carriage": 5}}, "carriage"),
    ({"dial": 5}, "dial"),
    ({"dial": {"carriage": {"graduation": "0.1 mm", "reads": "travel", "travel": "0 mm"}}}, "travel"),
    ({"dial": {"carriage": {"graduation": "0.1 mm", "reads": "travel", "travel": "far"}}}, "travel"),
    ({"dial": {"boring_head": {**HEAD, "least_radius": "-1 mm"}}}, "least_radius"),
    ({"dial": {"boring_head": {**HEAD, "least_radius": "30 mm", "most_radius": "1 in"}}}, "least_radius"),
    ({"dial": {"boring_head": {**HEAD, "most_radius": ["1 in"]}}}, "most_radius"),
    ({"rotary_table": {"ratio": 72, "numbers_rise": "left"}}, "numbers_rise"),
    ({"rotary_table": {"ratio": 72, "numbers_rise": 1}}, "numbers_rise"),
    ({"stock": {"bars": ["0 mm"]}}, "bars"),
    ({"stock": {"bars": ["6 mm", 6]}}, "bars"),
    ({"stock": {"bars": "6 mm"}}, "bars"),
    ({"cutter": {"name": "wide", "tip_angle": "90 deg"}}, "cutter"),
    ({"cutter": []}, "cutter"),
    ({"cutter": 5}, "cutter"),
    ({"cutter": ["wide"]}, "cutter"),
    ({"cutter": 41 * [WIDE]}, "cutter"),
    ({"cutter": [{"tip_angle": "90 deg"}]}, "name"),
    ({"cutter": [{**WIDE, "name": ""}]}, "name"),
    ({"cutter": [{**WIDE, "name": "\x1b[2J" * 40}]}, "name"),
    ({"cutter": [WIDE, WIDE]}, "name"),
    ({"cutter": [{"name": "wide"}]}, "tip_angle"),
    ({"cutter": [{**WIDE, "tip_angle": "NaN deg"}]}, "tip_angle"),
    ({"cutter": [{**WIDE, "tip_angle": "180 deg"}]}, "tip_angle"),
    ({"cutter": [{**WIDE, "tip_flat": "-1 mm"}]}, "tip_flat"),
    ({"cutter": [{**WIDE, "tip_flat": "1 mm", "tip_radius": "1 mm"}]}, "tip_radius"),
    ({"cutter": [{**WIDE, "reach": {"a": [1]}}]}, "reach"),
    ({"cutter": [{**WIDE, "colour": 1}]}, "colour"),
    ({"compound": {"scale_zero": "up"}}, "scale_zero"),
    ({"compound": {}}, "scale_zero"),
    ({"leadscrew": {"pitch": "0 mm"}}, "pitch"),
    ({"leadscrew": {"pitch": "-8 tpi"}}, "pitch"),
    ({"thread_dial": {"teeth": [14, 15], "lines": [2]}}, "lines"),
    ({"thread_dial": {"teeth": [14.5], "lines": [2]}}, "teeth"),
    ({"change_gears": {"teeth": [20, "x"]}}, "teeth"),
    ({"change_gears": {"teeth": [20, 30], "fixed_ratio": "0/1"}}, "fixed_ratio"),
    ({"spindle": {"speeds": ["70 rpm"], "range": ["50 rpm", "80 rpm"]}}, "range"),
    ({"spindle": {"range": ["90 rpm", "80 rpm"]}}, "range"),
    ({"spindle": {"range": ["90 rpm"]}}, "range"),
    ({"spindle": {"coast_turns": "1.5"}}, "coast_turns"),
    ({"rotary_table": {"ratio": 0}}, "ratio"),
    ({"rotary_table": {"ratio": 72, "plates": [["fifteen"]]}}, "plates"),
    ({"rotary_table": {"ratio": 72, "dial_graduation": "7 arcmin"}}, "dial_graduation"),
    ({"rotary_table": {"ratio": 72, "vernier": "10 arcsec"}}, "vernier"),
    ({"rotary_table": {"ratio": 72, "dial_graduation": "2 arcmin", "vernier": "50 arcsec"}}, "vernier"),
    ({"rotary_table": {"ratio": 72, "dial_graduation": "2 arcmin", "vernier": "5 arcmin"}}, "vernier"),
    ({"rotary_table": {"ratio": "72"}}, "ratio"),
    ({"rotary_table": {"ratio": 72, "plates": "15, 16"}}, "plates"),
    ({"rotary_table": {"ratio": 72, "plates": [[15, "sixteen"]]}}, "plates"),
    ({"rotary_table": {"ratio": 72, "direct": ["24"]}}, "direct"),
    ({"indicator": {"graduation": "10 deg"}}, "graduation"),
    ({"stock": {"wires": ["0 mm"]}}, "wires"),
    ({"stock": {"holes": ["1 mm"]}}, "holes"),
]


@pytest.mark.parametrize(("changes", "key"), REFUSALS)
def test_each_refusal_of_a_lathe_file_names_the_file_the_table_and_the_key(changes: dict[str, Any], key: str) -> None:
    """The refusal also says what is wrong and what to enter."""
    with pytest.raises(FileError) as refusal:
        lathe_from({"format": 1, "name": "L"} | changes, "mine.toml")
    assert any(message.startswith("mine.toml") and f", {key}: " in message for message in refusal.value.messages)


def test_three_wrong_keys_in_a_lathe_file_give_three_errors() -> None:
    """The user can correct them all together."""
    with pytest.raises(FileError) as refusal:
        lathe_from({"format": 9, "name": "L", "leadscrew": {"pitch": "x"}, "extra": 1}, "mine.toml")
    assert len(refusal.value.messages) == 3


def test_the_built_in_lathe_is_marked_as_an_example() -> None:
    """Screens and cards can therefore say that it is an example."""
    assert example_lathe().example
    assert "example" in example_lathe().name


# For a 60 degree thread the compound goes to at most 30 degrees off square. On a scale with its zero
# parallel, 30 degrees off square reads 60 and 29 reads 61: common practice, no source.
@pytest.mark.parametrize(
    ("scale", "half_angle", "compound_angle", "reading"),
    [
        (CompoundScale(zero="parallel"), 30, 29, 61),
        (CompoundScale(zero="perpendicular"), 30, 29, 29),
        (CompoundScale(zero="parallel", graduation_deg=0.5), 30, 29.5, 60.5),
        (CompoundScale(zero="perpendicular"), 27.5, 27, 27),
        (CompoundScale(zero="perpendicular"), 14.5, 14, 14),
        (CompoundScale(zero="perpendicular", end_deg=25), 30, 25, 25),
        (CompoundScale(zero="perpendicular", graduation_deg=2), 15, 14, 14),
    ],
)
def test_the_largest_mark_of_the_compound_scale_below_the_half_angle_is_found(
    scale: CompoundScale, half_angle: float, compound_angle: float, reading: float
) -> None:
    """The mark and the scale's reading at that mark are found."""
    assert scale.largest_mark_below_deg(half_angle) == pytest.approx(compound_angle)
    assert scale.reading_deg(compound_angle) == pytest.approx(reading)


def test_a_compound_scale_that_ends_too_early_has_no_mark_below_the_half_angle() -> None:
    """A parallel scale that ends at 60 has no 61, so no mark below 30 degrees off square."""
    scale = CompoundScale(zero="parallel", end_deg=60)
    assert not scale.shows(29)
    assert scale.shows(30)
    assert scale.largest_mark_below_deg(30) is None
